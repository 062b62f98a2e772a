"""Every zone's readings on one clock: what a question about climate starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import numpy as np
from numpy.typing import NDArray

from ...readings.trust import (
    CEILING,
    DRIER,
    FORMULAS,
    PINNED,
    Series,
    believed,
    checks_of,
    interpolate,
    load_all,
    span_ms,
)
from ...readings.trust.cross_checks import Loaded
from ...stats.arrays import Floats
from ...study import QUANTITIES, Declaration, Logger, Placement, slot_at, study_day, to_ms
from ...tables.conditions import Readings

Millis = NDArray[np.int64]
DAY_MS = 86_400_000
# A grid finer than ten minutes tells a keeper nothing more, and a year of minutes would be slow.
_FINEST_MS, _COARSEST_MS = 600_000, 3_600_000


@dataclass(frozen=True, slots=True)
class NewestReading:
    """A zone's newest believed reading of a quantity."""

    at_ms: int
    value: float


@dataclass(frozen=True)
class Climate:
    """``values[quantity]`` (times x zones) on an even grid ``times`` (ms), NaN where no logger could tell.

    ``slots[enclosure]``: the slot of each time, from its lights; ``day``: the study day of each time, as a number.

    ``wet`` (times x zones): 1 where the humidity stands at the sensor's ceiling, which means at least that much, 0
    where it does not, NaN where nothing is known; ``doubted``: the same where that sensor may be stuck there.
    ``raw[zone, quantity]``: the believed readings themselves, as times (ms) and values. ``newest_of_all[zone,
    quantity]``: the time (ms) of the newest reading, believed or not.

    ``spans[zone, quantity]``: from the first to the last reading, ms. ``loggers[zone, quantity]``: which told.
    """

    zones: tuple[str, ...]
    times: Millis
    step_ms: int
    values: Mapping[str, Floats]
    newest: Mapping[tuple[str, str], NewestReading]
    spans: Mapping[tuple[str, str], tuple[int, int]]
    loggers: Mapping[tuple[str, str], tuple[str, ...]]
    slots: Mapping[str, NDArray[np.str_]]
    day: Millis
    wet: Floats
    doubted: Floats
    raw: Mapping[tuple[str, str], tuple[Millis, Floats]]
    newest_of_all: Mapping[tuple[str, str], int] = field(default_factory=dict)

    def of(self, zone: str, quantity: str) -> Floats:
        return np.asarray(self.values[quantity][:, self.zones.index(zone)], np.float64)

    def has(self, zone: str, quantity: str) -> bool:
        return quantity in self.values and bool((~np.isnan(self.of(zone, quantity))).any())


def at_time(at_ms: float) -> datetime:
    return datetime.fromtimestamp(at_ms / 1000, UTC)


def climate_series(
    declared: Declaration, until: datetime | None = None, readings: Readings | None = None
) -> Climate:
    """Corrected and believed readings of every zone, on a grid of the loggers' usual step (10 min to 1 h).

    A hide that is drier than the open is believed here: elsewhere such readings are left out as misplaced, but
    here just that is a finding. Raises ProblemError where a stored file is damaged.
    """
    if readings is not None and until is None:
        loaded = readings()
    else:
        loaded = load_all(declared.folder, declared, None, None if until is None else to_ms(until))
    zones = tuple(declared.zones)
    steps = [s.step_ms for by_q in loaded.values() for s in by_q.values() if len(s.times) > 1]
    step = int(np.clip(np.median(steps), _FINEST_MS, _COARSEST_MS)) if steps else _FINEST_MS
    first = [int(s.times[0]) for by_q in loaded.values() for s in by_q.values() if len(s.times)]
    last = [int(s.times[-1]) for by_q in loaded.values() for s in by_q.values() if len(s.times)]
    if not first:
        nothing = np.empty(0, np.int64)
        none = np.empty((0, len(zones)))
        return Climate(zones, nothing, step, {}, {}, {}, {}, {}, nothing, none, none, {})
    times = np.arange(-(-min(first) // step) * step, max(last) + 1, step, dtype=np.int64)
    return _joined(declared, loaded, zones, times, step)


def _joined(
    declared: Declaration, loaded: Loaded, zones: tuple[str, ...], times: Millis, step: int
) -> Climate:
    sums: dict[str, Floats] = {}
    counts: dict[str, Floats] = {}
    newest: dict[tuple[str, str], NewestReading] = {}
    spans: dict[tuple[str, str], tuple[int, int]] = {}
    told: dict[tuple[str, str], tuple[str, ...]] = {}
    raw: dict[tuple[str, str], tuple[Millis, Floats]] = {}
    unheard: dict[tuple[str, str], int] = {}
    wet, doubted = (np.full((len(times), len(zones)), np.nan) for _ in range(2))
    for name, by_quantity in loaded.items():
        for placement in declared.loggers[name].placed:
            column = zones.index(placement.zone)
            for quantity, series in by_quantity.items():
                at, values = _placed(series, placement)
                good = np.flatnonzero(~np.isnan(values))
                if not len(good):
                    continue
                key = placement.zone, quantity
                told[key] = tuple(dict.fromkeys((*told.get(key, ()), name)))
                low, high = int(at[good[0]]), int(at[good[-1]])
                spans[key] = min(low, spans.get(key, (low, high))[0]), max(high, spans.get(key, (0, high))[1])
                unheard[key] = max(int(at[-1]), unheard.get(key, 0))
                if key not in newest or newest[key].at_ms < high:
                    newest[key] = NewestReading(high, float(values[good[-1]]))
                inside = slice(*np.searchsorted(times, [low, high + 1]))
                joined = interpolate(times[inside], at, values, series.max_gap_ms)
                if quantity == "humidity_pct":
                    _mark(wet[inside, column], series, placement, CEILING, times[inside])
                    _mark(doubted[inside, column], series, placement, PINNED, times[inside])
                before = raw.get(key, (at[:0], values[:0]))
                raw[key] = np.r_[before[0], at[good]], np.r_[before[1], values[good]]
                there = ~np.isnan(joined)
                shape = len(times), len(zones)
                sums.setdefault(quantity, np.zeros(shape))[inside, column] += np.where(there, joined, 0)
                counts.setdefault(quantity, np.zeros(shape))[inside, column] += there
    means = {
        q: np.divide(s, counts[q], out=np.full(s.shape, np.nan), where=counts[q] > 0) for q, s in sums.items()
    }
    _add_moisture(means, zones, newest, spans, told)
    slots = {enclosure: slots_of(declared, enclosure, times) for enclosure in declared.enclosures}
    days = _days_of(declared, times)
    return Climate(zones, times, step, means, newest, spans, told, slots, days, wet, doubted, raw, unheard)


def _mark(cells: Floats, series: Series, placement: Placement, flag: int, times: Millis) -> None:
    """Write into ``cells`` whether a flag holds at each time; where several loggers tell, all of them must have it."""
    part = slice(*np.searchsorted(series.times, span_ms(placement)))
    known = ~np.isnan(series.values[part])
    on = ((series.flags[part] & flag) > 0).astype(np.float64)
    share = interpolate(times, series.times[part], np.where(known, on, np.nan), series.max_gap_ms)
    here = np.where(np.isnan(share), np.nan, share >= 0.5)
    cells[:] = np.where(np.isnan(cells), here, np.where(np.isnan(here), cells, np.minimum(cells, here)))


def _placed(series: Series, placement: Placement) -> tuple[Millis, Floats]:
    part = slice(*np.searchsorted(series.times, span_ms(placement)))
    return series.times[part], believed(series.values[part], series.flags[part] & ~np.uint16(DRIER))


def _add_moisture(
    means: dict[str, Floats], zones: tuple[str, ...], newest: dict[tuple[str, str], NewestReading],
    spans: dict[tuple[str, str], tuple[int, int]], told: dict[tuple[str, str], tuple[str, ...]],
) -> None:  # fmt: skip
    if not {"temperature_c", "humidity_pct"} <= set(means):
        return
    warm, moist = means["temperature_c"], means["humidity_pct"]
    for quantity, formula in FORMULAS.items():
        means[quantity] = formula(warm, moist)
        for zone in zones:
            both = (zone, "temperature_c"), (zone, "humidity_pct")
            if all(key in newest for key in both):
                t, h = (newest[key] for key in both)
                newest[zone, quantity] = NewestReading(
                    min(t.at_ms, h.at_ms), float(formula(t.value, h.value))
                )
                spans[zone, quantity] = spans[zone, "humidity_pct"]
                told[zone, quantity] = tuple(dict.fromkeys(told[both[0]] + told[both[1]]))


def slots_of(declared: Declaration, enclosure: str, times: Millis) -> NDArray[np.str_]:
    """The slot of each time, from the lights; one look-up a quarter of an hour serves all times within it."""
    quarter = times // 900_000
    distinct, place = np.unique(quarter, return_inverse=True)
    names = [slot_at(declared, enclosure, at_time(int(q) * 900_000)) for q in distinct]
    return np.asarray(names, np.str_)[place] if names else np.empty(0, np.str_)


def _days_of(declared: Declaration, times: Millis) -> Millis:
    hours, place = np.unique(times // 3_600_000, return_inverse=True)
    days = [study_day(declared, at_time(int(h) * 3_600_000)).toordinal() for h in hours]
    return np.asarray(days, np.int64)[place] if days else np.empty(0, np.int64)


# --- what a sensor can tell ---------------------------------------------------------------------------------

CHECKED_HUMIDITY = 3.0
CHECK_GETS_OLD_DAYS, OLD_CHECK_ADDS = 180, 5.0


@dataclass(frozen=True, slots=True)
class Accuracy:
    """How far a zone's value may be off; ``declared``: by the keeper; ``checked``: its last salt check."""

    value: float
    declared: bool
    checked: date | None


def accuracy_of(declared: Declaration, climate: Climate, zone: str, quantity: str) -> Accuracy:
    """The accuracy of the worst logger that told of a zone. Not for what is derived (see ``derived_accuracy``).

    A humidity whose last salt check lies more than 180 days before its newest reading counts 5 points worse.
    """
    newest = climate.newest[zone, quantity].at_ms
    each = [
        _accuracy(declared.loggers[n], quantity, at_time(newest).date())
        for n in climate.loggers[zone, quantity]
    ]
    return max(each, key=lambda a: a.value)


def _accuracy(logger: Logger, quantity: str, on: date) -> Accuracy:
    own = logger.accuracy.get(quantity)
    if quantity != "humidity_pct":
        return Accuracy(QUANTITIES[quantity].accuracy if own is None else own, own is not None, None)
    checks = [c.on for c in checks_of(logger.salt_points) if c.on <= on]
    last = max(checks) if checks else None
    usual = QUANTITIES[quantity].accuracy if last is None else CHECKED_HUMIDITY
    old = last is not None and (on - last).days > CHECK_GETS_OLD_DAYS
    return Accuracy((usual if own is None else own) + (OLD_CHECK_ADDS if old else 0.0), own is not None, last)


def doubt_of(declared: Declaration, climate: Climate, zone: str, quantity: str) -> float:
    """How far a zone's value may be off, drift included: what an old check adds is added day by day.

    From the last salt check, or without one from the first reading on.
    """
    accuracy = accuracy_of(declared, climate, zone, quantity)
    first, newest = climate.spans[zone, quantity]
    since = at_time(first).date() if accuracy.checked is None else accuracy.checked
    days = (at_time(newest).date() - since).days
    if accuracy.checked is not None and days > CHECK_GETS_OLD_DAYS:
        return accuracy.value
    return accuracy.value + OLD_CHECK_ADDS * min(max(days, 0) / CHECK_GETS_OLD_DAYS, 1.0)


def derived_accuracy(quantity: str, warm: float, moist: float, warm_by: float, moist_by: float) -> float:
    """How far a dew point or vapour pressure deficit may be off, from temperature and humidity in quadrature.

    >>> round(derived_accuracy("dew_point_c", 20.0, 60.0, 0.5, 3.0), 1)
    0.9
    """
    formula = FORMULAS[quantity]
    here = float(formula(warm, moist))
    by_warmth = float(formula(warm + warm_by, moist)) - here
    # In very dry air a sensor's doubt reaches beyond 0 %, where there is no dew point.
    by_moisture = float(formula(warm, max(moist - moist_by, 0.5))) - here
    return float(np.hypot(by_warmth, by_moisture))


# --- what rests on the sensor's ceiling ---------------------------------------------------------------------

# At its ceiling a humidity says "at least this much", and at most saturation. A dew point from it is then at least
# what it says, and at most the air's temperature; a vapour pressure deficit is at most what it says, and at least none.
AT_LEAST, AT_MOST = "at least", "at most"
# Which way a figure from readings at the ceiling is bounded.
SIDES = {"humidity_pct": AT_LEAST, "dew_point_c": AT_LEAST, "vpd_kpa": AT_MOST}
# A median lies at the ceiling where half of the readings do; a mean is moved by any that are more than a few.
_HALF, _FEW = 0.5, 0.05


def at_ceiling(climate: Climate, zone: str, there: NDArray[np.bool_]) -> float:
    """The share of these times at which a zone's humidity stood at its sensor's ceiling; NaN where none is known."""
    wet = climate.wet[there, climate.zones.index(zone)]
    return float(np.nanmean(wet)) if (~np.isnan(wet)).any() else float("nan")


def median_bound(quantity: str, share: float) -> str | None:
    """``at least`` or ``at most`` where a median rests on the ceiling. ``share``: of the time at it."""
    return SIDES.get(quantity) if share >= _HALF else None


def one_sided(
    climate: Climate, zone: str, quantity: str, median: float, accuracy: float
) -> tuple[float, float]:
    """How far below and above a median at the ceiling the truth may lie, in the quantity's unit.

    Toward saturation as far as that is; the other way what the sensor can tell.
    """
    if quantity == "vpd_kpa":
        return max(median, 0.0), accuracy
    most = 100.0
    if quantity == "dew_point_c":
        most = float(np.nanmedian(climate.of(zone, "temperature_c")))
    return accuracy, max(most - median, 0.0)


def difference_bound(
    climate: Climate, quantity: str, zone: str, other: str, there: NDArray[np.bool_], *, mean: bool
) -> str | None:
    """Whether a difference between two zones, the first the greater, is at least what the readings give.

    So it is where only the moister of both stood at its ceiling. ``mean``: the difference is one of means.
    """
    side = SIDES.get(quantity)
    if side is None:
        return None
    moist, dry = (zone, other) if side == AT_LEAST else (other, zone)
    enough = _FEW if mean else _HALF
    return AT_LEAST if at_ceiling(climate, moist, there) >= enough > at_ceiling(climate, dry, there) else None
