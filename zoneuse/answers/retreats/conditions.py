"""Used against unused retreats at the same check, and what animals do when it has been dry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.choice import ChoiceFit, fit_choice
from ...stats.drying import Interval, against_usual, clustered_mean, dry_spells, slope
from ...stats.intervals import t_quantile
from ...stats.resampling import moved
from ...study import QUANTITIES, Declaration, moisture, to_ms
from ...tables import adjustments, conditions
from ..question import Question
from .checks import Checks
from .dry_or_hot import HEAT_COLUMNS, TEMPERATURE, dry_or_hot

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A quantity takes part where it is known in two retreats or more at this part of the checks.
LEAST_KNOWN = 0.5
_MS_H = 3_600_000
_MOST_TIMES = 20_000

CHOICE_COLUMNS = [
    "enclosure", "who", "quantity", "fit", "step", "odds", "odds_low", "odds_high", "used", "unused", "choices",
    "checks",
]  # fmt: skip
DRY_COLUMNS = [
    "enclosure", "quantity", "spells", "dry_checks", "checks", "moved_dry", "moved_dry_low", "moved_dry_high",
    "moved_other", "moved_other_low", "moved_other_high", "moister_dry", "moister_dry_low", "moister_dry_high",
    "moister_other", "moister_other_low", "moister_other_high",
    "than_usual", "than_usual_low", "than_usual_high", "moves_dry", "moving_by_10", "moving_by_10_low",
    "moving_by_10_high", "checks_with_moves_dry", "days_with_moves_dry", *HEAT_COLUMNS,
]  # fmt: skip


def stepped(name: str) -> float | None:
    """A difference of a quantity that is worth a word (ten points of moisture, one degree); None for the others."""
    return QUANTITIES[name].step if name in QUANTITIES else None


@dataclass(frozen=True, slots=True)
class Known:
    """By quantity: ``at`` checks x retreats, NaN where unknown; ``since`` its mean over retreats and hours since
    the check before (NaN at the first)."""

    at: dict[str, Floats]
    since: dict[str, Floats]

    @property
    def moisture(self) -> str | None:
        return next((q for q in moisture() if q in self.at), None)


def known_conditions(question: Question, every: Sequence[Checks]) -> list[Known]:
    """What the loggers in the retreats showed at the checks and between them, enclosure by enclosure.

    The stored readings are read once for all. Raises ProblemError where a stored file is damaged.
    """
    declared = question.declared
    if not declared.loggers:
        return [Known({}, {}) for _ in every]
    grids = [_times(checks) for checks in every]
    times = np.concatenate([np.r_[at, grid] for at, grid in grids])
    changes = adjustments(question.journals)
    found = conditions(declared, times, changes, readings=question.readings)
    result, start = [], 0
    for checks, (at, grid) in zip(every, grids, strict=True):
        span = slice(start, start + len(at) + len(grid))
        start = span.stop
        values = {q: _by_retreat(declared, checks, v[span]) for q, v in found.values.items() if stepped(q)}
        result.append(_known(checks, values, at, grid))
    return result


def _times(checks: Checks) -> tuple[Ints, Ints]:
    """The checks, and every hour between the first and the last (or fewer, in a study of many years)."""
    at = np.array([to_ms(when) for when in checks.at], np.int64)
    step = max(_MS_H, int((at[-1] - at[0]) // _MOST_TIMES))
    return at, np.arange(at[0] + step // 2, at[-1], step, dtype=np.int64)


def _by_retreat(declared: Declaration, checks: Checks, values: Floats) -> Floats:
    """Times x retreats: the mean over a retreat's zones in this enclosure."""
    total, count = (
        np.zeros((len(values), len(checks.retreats))),
        np.zeros((len(values), len(checks.retreats))),
    )
    for z, zone in enumerate(declared.zones.values()):
        if zone.enclosure == checks.enclosure and zone.place in checks.retreats:
            j = checks.retreats.index(zone.place)
            there = np.isfinite(values[:, z])
            total[there, j] += values[there, z]
            count[there, j] += 1
    mean = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    return np.asarray(mean, np.float64)


def _known(checks: Checks, values: dict[str, Floats], at: Ints, grid: Ints) -> Known:
    step = np.searchsorted(at, grid)
    here, since = {}, {}
    for quantity, v in values.items():
        several = np.isfinite(v[: len(at)]).sum(axis=1) >= 2
        if several.mean() < LEAST_KNOWN:
            continue
        here[quantity] = np.where(checks.capacity > 0, v[: len(at)], np.nan)
        hourly = _row_mean(v[len(at) :])
        ok = np.isfinite(hourly)
        sums = np.bincount(step[ok], hourly[ok], len(at) + 1)[: len(at)]
        known = np.bincount(step[ok], minlength=len(at) + 1)[: len(at)]
        every = np.bincount(step, minlength=len(at) + 1)[: len(at)]
        enough = (known > 0) & (2 * known >= every)
        since[quantity] = np.divide(sums, known, out=np.full(len(at), np.nan), where=enough)
    return Known(here, since)


def _row_mean(values: Floats) -> Floats:
    """The mean of what is known in each row, each column first brought to the mean level of all.

    A logger that is silent for a while would otherwise make the whole enclosure look drier or moister.
    """
    known = np.isfinite(values)
    count = known.sum(axis=0)
    level = np.divide(
        np.where(known, values, 0).sum(axis=0), count, out=np.zeros(len(count)), where=count > 0
    )
    centred = np.where(known, values - level, 0).sum(axis=1)
    rows = known.sum(axis=1)
    middle = float(level[count > 0].mean()) if (count > 0).any() else 0.0
    mean = np.divide(centred, rows, out=np.full(len(rows), np.nan), where=rows > 0)
    return np.asarray(mean + middle, np.float64)


def choices_table(every: Sequence[Checks], known: Sequence[Known]) -> pd.DataFrame:
    """How much readier a retreat is chosen for each step of a quantity (conditional logit, McFadden 1974).

    Animals told apart choose when they move, among the retreats looked into at that check without the one
    they left; of groups every animal counted is a choice. Alternatives weigh by capacity; errors are by check
    (jackknife), for groups by week, for their counts repeat each other. ``alone``: one quantity; ``by changes
    within retreats``: with a constant for each retreat, so that only what changed there counts.
    """
    rows: list[tuple[Any, ...]] = []
    for checks, there in zip(every, known, strict=True):
        for quantity in there.at:
            if checks.animals:
                chosen = _moves(checks, there.at[quantity])
                rows += _fits(checks, "animals that moved", quantity, chosen)
            for group, counts in checks.groups.items():
                rows += _fits(checks, group, quantity, _counts(checks, counts, there.at[quantity]))
    return pd.DataFrame(rows, columns=CHOICE_COLUMNS)


@dataclass(frozen=True, slots=True)
class _Choices:
    """Choices x retreats: what each offered, whether (or how many times) it was chosen, the cluster, the check."""

    values: Floats
    chosen: Floats
    share: Floats
    cluster: Ints
    check: Ints


def _moves(checks: Checks, values: Floats) -> _Choices:
    arrived = moved(checks.where)
    t, who = np.nonzero(arrived)
    last = np.where(checks.where >= 0, np.arange(len(checks))[:, None], -1)
    last = np.maximum.accumulate(last, axis=0)
    old = checks.where[last[t - 1, who], who]
    share = np.where(checks.looked[t] & np.isfinite(values[t]), checks.capacity[t], 0.0)
    share[np.arange(len(t)), old] = 0.0
    chosen = np.zeros(share.shape)
    chosen[np.arange(len(t)), checks.where[t, who]] = 1.0
    return _Choices(values[t], chosen, share, t, t)


def _counts(checks: Checks, counts: Ints, values: Floats) -> _Choices:
    share = np.where(checks.looked & np.isfinite(values), checks.capacity, 0.0)
    week = np.array([day.toordinal() // 7 for day in checks.days], np.int64)
    return _Choices(values, counts.astype(np.float64), share, week, np.arange(len(checks)))


def _fits(checks: Checks, who: str, quantity: str, choice: _Choices) -> Iterator[tuple[Any, ...]]:
    chosen = np.where(choice.share > 0, choice.chosen, 0.0)
    good = ((choice.share > 0).sum(axis=1) >= 2) & (chosen.sum(axis=1) > 0)
    row, column = np.nonzero((choice.share > 0) & good[:, None])
    if not len(row):
        return
    step = QUANTITIES[quantity].step or 1.0
    value = choice.values[row, column]
    weight = chosen[row, column]
    taken, left = value[weight > 0], value[_empty(checks, choice)[row, column]]
    used = float(np.average(taken, weights=weight[weight > 0]))
    unused = float(left.mean()) if len(left) else np.nan
    x = (value - value.mean())[:, None] / step
    dummies = (column[:, None] == np.arange(1, len(checks.retreats))).astype(np.float64)
    for name, design in (("alone", x), ("by changes within retreats", np.column_stack([x, dummies]))):
        fit = _fit(design, row, weight, np.log(choice.share[row, column]), choice.cluster[row])
        value_, low, high = (np.nan, np.nan, np.nan) if fit is None else _odds(fit)
        yield (
            checks.enclosure, who, quantity, name, step, value_, low, high, used, unused,
            int(weight.sum()), len(set(choice.check[row])),
        )  # fmt: skip


def _empty(checks: Checks, choice: _Choices) -> Flags:
    return np.asarray(checks.counts[choice.check] == 0, np.bool_)


def _fit(x: Floats, moment: Ints, chosen: Floats, offset: Floats, cluster: Ints) -> ChoiceFit | None:
    try:
        return fit_choice(x, moment, chosen, offset=offset, cluster=cluster)
    except (ValueError, np.linalg.LinAlgError):
        return None


def _odds(fit: ChoiceFit) -> tuple[float, float, float]:
    """How many times as readily for each step, with 95 % limits; NaN where it cannot be estimated."""
    error = float(fit.se_cr3[0])
    if not fit.estimable[0] or not np.isfinite(error) or fit.clusters < 3:
        return np.nan, np.nan, np.nan
    half = t_quantile(0.975, fit.clusters - 1) * error
    value = float(fit.coef[0])
    return tuple(float(np.exp(min(max(v, -50.0), 50.0))) for v in (value, value - half, value + half))  # type: ignore[return-value]


def moving_table(checks: Checks, known: Known) -> pd.DataFrame:
    """One row a check: how dry it was since the one before, how many animals were followed and moved, and
    how much moister than the retreats they left those are that they went to."""
    quantity = known.moisture
    values = known.at[quantity] if quantity else np.full(checks.capacity.shape, np.nan)
    since = known.since[quantity] if quantity else np.full(len(checks), np.nan)
    dry, _ = dry_spells(since)
    followed, went = _followed(checks)
    gains = _gains(checks, values, went)
    days = np.array([np.nan, *np.diff([at.timestamp() for at in checks.at]) / 86_400])
    return pd.DataFrame(
        {
            "enclosure": checks.enclosure, "at": list(checks.at), "days": days[: len(checks)],
            "moisture_since": since, "dry": dry, "followed": followed.sum(axis=1), "moved": went.sum(axis=1),
            "moister": [float(np.nanmean(g)) if np.isfinite(g).any() else np.nan for g in gains],
        }
    )  # fmt: skip


def _followed(checks: Checks) -> tuple[Flags, Flags]:
    """Checks x animals: found in a retreat at this check and the one before; of these, in another one."""
    where = checks.where
    followed, went = np.zeros(where.shape, bool), np.zeros(where.shape, bool)
    followed[1:] = (where[1:] >= 0) & (where[:-1] >= 0)
    went[1:] = followed[1:] & (where[1:] != where[:-1])
    return followed, went


def _gains(checks: Checks, values: Floats, went: Flags) -> Floats:
    """Checks x animals: moisture of the new minus the old retreat, both at this check; NaN for who stayed."""
    gains = np.full(checks.where.shape, np.nan)
    t, who = np.nonzero(went)
    gains[t, who] = values[t, checks.where[t, who]] - values[t, checks.where[t - 1, who]]
    return gains


def dry_table(every: Sequence[Checks], known: Sequence[Known]) -> pd.DataFrame:
    """What animals told apart did in dry spells and at other times, one row an enclosure with moisture known."""
    rows = []
    for checks, there in zip(every, known, strict=True):
        if there.moisture is not None and checks.animals:
            rows.append(_dry(checks, there, there.moisture))
    return pd.DataFrame(rows, columns=DRY_COLUMNS)


def _dry(checks: Checks, known: Known, quantity: str) -> tuple[Any, ...]:
    since = known.since[quantity]
    dry, spells = dry_spells(since)
    other = np.isfinite(since) & ~dry
    followed, went = _followed(checks)
    gains = _gains(checks, known.at[quantity], went)
    check = np.broadcast_to(np.arange(len(checks))[:, None], gains.shape)

    def over(values: Floats, cells: Flags) -> Interval:
        return clustered_mean(values[cells], check[cells])

    told = [over(went.astype(np.float64), followed & part[:, None]) for part in (dry, other)]
    known_gain = np.isfinite(gains)
    told += [over(gains, known_gain & part[:, None]) for part in (dry, other)]
    told.append(_than_usual(checks, known.at[quantity], went, dry, other))
    cells = known_gain & dry[:, None]
    by_check = np.divide(
        went.sum(axis=1), followed.sum(axis=1), out=np.full(len(checks), np.nan), where=followed.any(axis=1)
    )
    days = np.array([np.nan, *np.diff([at.timestamp() for at in checks.at]) / 86_400])[: len(checks)]
    by_10 = slope(by_check, since / 10, days)
    active = np.flatnonzero(cells.any(axis=1))
    heat = dry_or_hot(checks, known.at[quantity], known.at.get(TEMPERATURE), went, dry=dry, other=other)
    limits = [v for one in told for v in (one.value, one.low, one.high)]
    return (
        checks.enclosure, quantity, spells, int(dry.sum()), int(np.isfinite(since).sum()), *limits, int(cells.sum()),
        by_10.value, by_10.low, by_10.high, len(active), len({checks.days[i] for i in active}), *heat.columns(),
    )  # fmt: skip


def _than_usual(checks: Checks, values: Floats, went: Flags, dry: Flags, other: Flags) -> Interval:
    """Moisture of the retreats gone to in dry spells, over that of the usual choice at the same check."""
    t, who = np.nonzero(went)
    to, left = checks.where[t, who], checks.where[t - 1, who]
    spell, rest = dry[t], other[t]
    there = np.where(checks.looked, values, np.nan)
    return against_usual(there[t[spell]], to[spell], left[spell], t[spell], to[rest], usual_check=t[rest])
