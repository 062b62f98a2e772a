"""Is there a gradient, and when must water go in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...readings.trust import age_words
from ...study import DERIVED, Declaration, spoken_time, to_ms
from ...tables import adjustments
from .. import reasons
from ..columns import empty, typed
from ..filters import Filters
from ..finding import TOO_EARLY, Caution, Finding, in_words
from ..phrases import counted, listed
from ..quantities_said import label, said
from ..question import Question
from ..showing.plain import rows
from .columns import PARTS, ROWS
from .cycles import DRIES
from .drawn.by_hour import by_hour
from .drying import DRYING, RECHARGE, STEADY, Drying, all_drying, backtest, chart, responses
from .gradients import gradients
from .judge import OUTSIDE, drying, not_serving, outside
from .judge import gradients as no_gradients
from .limits import needs_keeper, out_of_limits
from .series import DAY_MS, Climate, at_time, climate_series
from .serves import serving
from .shown import ClimateAnswer
from .summary import summary
from .untold import untold
from .water import felt_by_hand, water_notes
from .words import offers, sentence, widest_said

# Without any clock nothing is young.
_LATE = datetime(2100, 1, 1, tzinfo=UTC)
_WHY = ["zone", "quantity", "why"]


@dataclass(frozen=True)
class _Seen:
    """What was computed, before anything is said."""

    climate: Climate
    zones: pd.DataFrame
    gradients: pd.DataFrame
    serves: pd.DataFrame
    dried: list[Drying]
    responses: pd.DataFrame


def climate(
    question: Question,
    *,
    now: datetime | None = None,
    clock: datetime | None = None,
    with_backtest: bool = False,
) -> ClimateAnswer:
    """Whether the zones differ, in what and when; which retreat is drying, and when water must go in.

    ``now``: count days from then instead of each zone's newest reading; readings after it are not looked at.
    ``clock``: the time on the wall, only to say how old the newest reading is. ``since``, ``until`` and ``slot`` of
    the filters bound what is summed up and compared; cycles are looked for in all readings before ``until``.
    """
    declared, filters = question.declared, question.filters
    ends = [t for t in (now, filters.until) if t is not None]
    series = climate_series(declared, min(ends) if ends else None, question.readings)
    if not series.values:
        return _nothing(question, now or clock or _LATE)
    keep = _kept(declared, series, filters)
    changes = adjustments(question.journals)
    dried = all_drying(declared, changes, series, None if now is None else to_ms(now))
    seen = _Seen(
        series, summary(declared, series, keep), gradients(declared, series, keep),
        serving(declared, series, keep), dried,
        responses(dried, declared, changes, _ms(filters.since), _ms(filters.until)),
    )  # fmt: skip
    felt = felt_by_hand(declared, series, question.journals)
    labels = {**question.labels, **{z.id: _name(declared, z.id) for z in declared.zones.values()}}
    tested = backtest(declared, dried) if with_backtest else None
    alerts = _alerts(declared, seen, labels)
    parts = {
        "zones": seen.zones, "gradients": seen.gradients, "serves": seen.serves, "responses": seen.responses,
        "felt": felt, "chart": chart(dried),
        "by_hour": by_hour(declared, series, keep, question.rows), "alerts": pd.DataFrame(alerts, columns=_WHY),
        "untold": pd.DataFrame(untold(declared, series, now or clock or _newest(seen), labels), columns=_WHY),
    }  # fmt: skip
    if tested is not None:
        parts["backtest"] = tested
    return ClimateAnswer(
        answer="climate", study=declared.title, filters=_of_readings(filters),
        table=typed(_table(seen), ROWS, {**labels, **{q: label(q) for q in seen.zones["quantity"]}}),
        findings=in_words(_findings(declared, seen), lambda f: sentence(f, declared, labels)),
        cautions=_cautions(declared, seen, labels, tested, filters), effort=_effort(seen, keep),
        notes=tuple(water_notes(declared, series, seen.responses, felt, labels)),
        parts={name: typed(part, PARTS[name], labels) for name, part in parts.items()},
        seed=question.seed, labels=labels,
        headline=_headline(declared, seen, labels, now, clock, days=_days(series, keep)),
        fahrenheit=declared.fahrenheit,
        drying=tuple(dried), old_days=_old_days(seen, now, clock), told_at=now is not None,
    )  # fmt: skip


def _of_readings(filters: Filters) -> Filters:
    """What readings can be filtered by: times."""
    return Filters(since=filters.since, until=filters.until, slot=filters.slot)


def _name(declared: Declaration, zone: str) -> str:
    """A zone's label; with its enclosure where a study has several."""
    one = declared.zones[zone]
    return f"{one.label} ({one.enclosure})" if declared.several else one.label


def _nothing(question: Question, when: datetime) -> ClimateAnswer:
    declared = question.declared
    found = [Finding((), TOO_EARLY, reason=reasons.NO_READINGS, unit="day")]
    return ClimateAnswer(
        answer="climate", study=declared.title, filters=_of_readings(question.filters), table=empty(ROWS),
        findings=in_words(found, lambda f: sentence(f, declared, question.labels)),
        parts={
            "alerts": pd.DataFrame(columns=_WHY),
            "untold": pd.DataFrame(untold(declared, None, when, question.labels), columns=_WHY),
        },
    )  # fmt: skip


def _ms(at: datetime | None) -> int | None:
    return None if at is None else to_ms(at)


def _kept(declared: Declaration, series: Climate, filters: Filters) -> NDArray[np.bool_]:
    keep = np.ones(len(series.times), np.bool_)
    if filters.since is not None:
        keep &= series.times >= to_ms(filters.since)
    if filters.until is not None:
        keep &= series.times < to_ms(filters.until)
    if filters.slot is not None:
        # Enclosures may have lights of their own; the first one's decide what is summed up together.
        keep &= series.slots[next(iter(declared.enclosures))] == filters.slot
    return keep


def _table(seen: _Seen) -> pd.DataFrame:
    table = seen.zones.copy()
    by_key = {(d.cycles.zone, d.cycles.quantity): d for d in seen.dried}
    for name in ("drying_per_day", "days_left", "days_left_low", "days_left_high"):
        table[name] = np.nan
    for i, row in enumerate(table[["zone", "quantity"]].itertuples(index=False)):
        one = by_key.get((row[0], row[1]))
        if one is not None:
            table.loc[i, ["drying_per_day", "days_left", "days_left_low", "days_left_high"]] = [
                one.per_day,
                *one.days,
            ]
    return table


def _findings(declared: Declaration, seen: _Seen) -> list[Finding]:
    """What needs the keeper first: recharges, limits, drying; then gradients and purposes."""
    found: list[Finding] = []
    told: set[tuple[str, str]] = set()
    keyed = {(r["zone"], r["quantity"]): r for r in rows(seen.zones)}
    for one in seen.dried:
        key = one.cycles.zone, one.cycles.quantity
        if key not in keyed:
            continue
        finding = drying(declared, one, _held(seen.responses, *key), keyed[key])
        if finding is not None:
            found.append(finding)
        if one.limit is not None and one.verdict == RECHARGE:
            told.add(key)
    # Hours below the limit before the last water are over and done with.
    watered = {
        (one.cycles.zone, one.cycles.quantity): one.cycles.at_ms(max(t.day for t in one.cycles.recharges))
        for one in seen.dried
        if one.cycles.recharges
    }
    found += [outside(o) for o in out_of_limits(declared, seen.climate, seen.zones, told, watered)]
    order = {RECHARGE: 0, OUTSIDE: 1, DRYING: 2, STEADY: 3, TOO_EARLY: 4}
    found.sort(key=lambda f: order[f.verdict])
    level: dict[str, list[float]] = {}
    for zone, value in _median_humidity(seen):
        level.setdefault(declared.zones[zone].enclosure, []).append(value)
    usual = {e: float(np.median(v)) for e, v in level.items()}
    return [*found, *no_gradients(declared, seen.gradients, usual), *not_serving(seen.serves)]


def _held(responses: pd.DataFrame, zone: str, quantity: str) -> list[tuple[float, bool]]:
    """How long each earlier charge held, days, and whether it ended at the limit."""
    mine = responses[(responses["zone"] == zone) & (responses["quantity"] == quantity)]
    over = mine[mine["held_until"].isin(["limit", "next water"])]
    return list(zip(over["held_days"], over["held_until"] == "limit", strict=True))


def _median_humidity(seen: _Seen) -> list[tuple[str, float]]:
    moist = seen.zones[seen.zones["quantity"] == "humidity_pct"]
    return list(zip(moist["zone"], moist["median"], strict=True))


def _alerts(declared: Declaration, seen: _Seen, labels: Mapping[str, str]) -> list[dict[str, Any]]:
    found = needs_keeper(declared, seen.climate, labels)
    keys = {(a["zone"], a["quantity"]) for a in found}
    for one in seen.dried:
        zone, quantity = one.cycles.zone, one.cycles.quantity
        if one.verdict == RECHARGE and (zone, quantity) not in keys:
            why = (
                "the 24-hour median is below your limit"
                if one.reason == "below"
                else "by the forecast at most a day is left"
            )
            newest = spoken_time(at_time(one.cycles.at_ms(one.cycles.newest)), declared.timezone)
            says = f"{labels[zone]}: recharge now, {why} (newest reading {newest})."
            found.append({"zone": zone, "quantity": quantity, "why": says})
    return found


def _days(climate: Climate, keep: NDArray[np.bool_]) -> int:
    """Study days with a reading among the times asked for; a night's hours are a day as well."""
    known = np.zeros(len(climate.times), np.bool_)
    for values in climate.values.values():
        known |= ~np.isnan(values).all(axis=1)
    return len(np.unique(climate.day[keep & known]))


def _newest(seen: _Seen) -> datetime:
    return at_time(max(n.at_ms for n in seen.climate.newest.values()))


def _effort(seen: _Seen, keep: NDArray[np.bool_]) -> dict[str, Any]:
    newest = {
        f"{zone} {quantity}": at_time(one.at_ms).isoformat()
        for (zone, quantity), one in seen.climate.newest.items()
        if quantity not in DERIVED
    }
    times = seen.climate.times[keep]
    return {
        "from": at_time(int(times[0])).isoformat() if len(times) else None,
        "to": at_time(int(times[-1])).isoformat() if len(times) else None,
        "days": _days(seen.climate, keep),
        "step_s": seen.climate.step_ms / 1000,
        "zones": int(seen.zones["zone"].nunique()),
        "newest": newest,
    }


def _headline(
    declared: Declaration, seen: _Seen, labels: Mapping[str, str], now: datetime | None, clock: datetime | None,
    *, days: int,
) -> str:  # fmt: skip
    zones = seen.zones["zone"].nunique()
    newest = max((n.at_ms for n in seen.climate.newest.values()), default=0)
    # Where a time is asked for, nothing is told from another.
    age = f", {age_words(newest, now or clock)}" if clock is not None else ""
    counted_from = (
        f"counted from {spoken_time(now, declared.timezone)}" if now else "counted from each zone's newest reading"
    )  # fmt: skip
    first = (
        f"Readings of {counted(zones, 'zone')} on {counted(days, 'day')}, the newest of "
        f"{spoken_time(at_time(newest), declared.timezone)}{age}. Days left are {counted_from}."
    )
    return f"{first} {widest_said(declared, seen.gradients, labels)}".strip()


def _old_days(seen: _Seen, now: datetime | None, clock: datetime | None) -> int:
    at = now or clock
    newest = max((n.at_ms for n in seen.climate.newest.values()), default=0)
    return 0 if at is None or not newest else max(round((to_ms(at) - newest) / DAY_MS), 0)


def _usual_accuracy(zones: pd.DataFrame, fahrenheit: bool) -> list[Caution]:
    """Which loggers' accuracy is not declared, and what was taken in its place."""
    guessed = zones[~zones["accuracy_declared"].astype(bool) & ~zones["quantity"].isin(DERIVED)]
    if guessed.empty:
        return []
    usual = "; ".join(
        f"{label(str(q))} ±{said(str(q), v, fahrenheit, difference=True)}"
        for q, v in guessed.groupby("quantity", sort=False)["accuracy"].max().items()
    )
    who = ", ".join(sorted({n for text in guessed["loggers"] for n in text.split(", ")}))
    says = f"No accuracy is declared for {who}; the usual one is taken ({usual}). Set accuracy in study.toml."
    return [Caution("usual-accuracy", says)]


def _cautions(
    declared: Declaration, seen: _Seen, labels: Mapping[str, str], tested: pd.DataFrame | None, filters: Filters
) -> tuple[Caution, ...]:  # fmt: skip
    cautions = [Caution("found-water", text) for text in offers(declared, seen.dried, labels)]
    cautions += _usual_accuracy(seen.zones, declared.fahrenheit)
    cautions += _check_cautions(seen, labels)
    cautions += _stuck_cautions(seen, labels)
    unlogged = [labels[z] for z in seen.climate.zones if not any(k[0] == z for k in seen.climate.newest)]
    if unlogged:
        cautions.append(Caution("no-logger", f"No readings in: {', '.join(unlogged)}."))
    thin = [
        labels[r["zone"]]
        for r in seen.zones.to_dict("records")
        if r["covered"] < 0.8 and r["quantity"] in DRIES
    ]
    if thin:
        says = (
            f"Less than 80 % of the time is covered in: {', '.join(thin)}; hours outside limits may be more."
        )
        cautions.append(Caution("coverage", says))
    if tested is not None:
        cautions.append(Caution("backtest", _tested_said(tested)))
    if filters != _of_readings(filters):
        says = (
            "Readings know no animals, behaviours, treatments or phases: filters by these were not applied."
        )
        cautions.append(Caution("filters", says))
    return tuple(cautions)


def _stuck_cautions(seen: _Seen, labels: Mapping[str, str]) -> list[Caution]:
    """Sensors that may be stuck at their ceiling: the figure with those times, and without."""
    found = []
    for row in seen.zones[seen.zones["median_undoubted"].notna()].to_dict("records"):
        says = (
            f"{labels[row['zone']]}: its humidity stood at the sensor's ceiling where temperature, or dry sensors "
            f"beside it, speak against it. Median {row['median']:.0f} % with those times, "
            f"{row['median_undoubted']:.0f} % without."
        )
        found.append(Caution("stuck-wet", says))
    return found


def _check_cautions(seen: _Seen, labels: Mapping[str, str]) -> list[Caution]:
    moist = seen.zones[seen.zones["quantity"] == "humidity_pct"]
    found = []
    never = [labels[z] for z in moist[moist["checked"].isna()]["zone"]]
    if never:
        sensor = "sensor" if len(never) == 1 else "sensors"
        says = f"No salt check is on record for the humidity {sensor} of {listed(never)}."
        found.append(Caution("unchecked", says))
    for row in moist[moist["check_age_days"] > 180].to_dict("records"):
        says = (
            f"{labels[row['zone']]}: last salt check {row['check_age_days']:.0f} days before its newest reading; treat "
            f"±{row['accuracy']:.0f} points as unknown."
        )
        found.append(Caution("old-check", says))
    return found


def _tested_said(tested: pd.DataFrame) -> str:
    made = tested[tested["held"].notna()]
    if not len(made):
        return "Backtest: no finished crossing of a limit is on record yet, so earlier forecasts cannot be tried."
    held = int(made["held"].astype(bool).sum())
    error = float(made["error"].abs().replace(np.inf, np.nan).median())
    endless = int(np.isinf(made["days_left_high"].astype(float)).sum())
    open_ended = f" {endless} of them had no upper end and say little." if endless else ""
    return (
        f"Backtest: {held} of {len(made)} earlier forecasts (6, 4 and 2 days before a crossing) held it within their "
        f"80 % interval; the median error was {error:.1f} days.{open_ended}"
    )  # fmt: skip
