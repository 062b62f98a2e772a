"""Which readings not to believe, flagged and never deleted: one bit for each reason.

Thresholds are those of keepers' practice, with margins: a flag is worth a look, and a flagged reading stays
out of joins unless it is asked for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...study import QUANTITIES
from ..arrow_arrays import Times, Values
from .joining import interpolate, usual_step_ms

Flags = NDArray[np.uint16]
Mask = NDArray[np.bool_]

GAP, STUCK, PINNED, SPIKE, IMPOSSIBLE, CONFLICT, LAMP, DRIER, SWAPPED, CEILING = (
    1 << bit for bit in range(10)
)
# A reading after a gap is as good as any other; the gap itself is kept out by the join's longest gap.
# At its ceiling a sensor says "at least this much": saturated air is what a moist hide is built for. Pinned is the
# doubt that it may be stuck there; both figures are shown then, and neither is thrown out.
NOT_BELIEVED = STUCK | SPIKE | IMPOSSIBLE | CONFLICT | LAMP | DRIER | SWAPPED
FLAG_WORDS = {
    GAP: "after a gap",
    STUCK: "stuck at one value",
    PINNED: "at its ceiling where the air must have moved it (is the sensor stuck?)",
    SPIKE: "a spike",
    IMPOSSIBLE: "impossible",
    CONFLICT: "files disagree",
    LAMP: "the sensor sees the lamp",
    DRIER: "a hide drier than the open (is it where it should be?)",
    SWAPPED: "two loggers swapped?",
}

_HOUR_MS = 3_600_000
_SATURATED, _CAP_FROM, _CAP_RUN = 99.9, 95.0, 12
_STUCK_MS, _STUCK_RUN = 24 * _HOUR_MS, 24
_SPIKE_STEP_MS = 15 * 60_000
_CROWD, _CROWDED = 9, 3


def flag_series(quantity: str, times_ms: Times, values: Values, conflict: Mask | None = None) -> Flags:
    """Flags (n,) of one logger's readings of one quantity, from that series alone.

    ``times_ms`` (n,) increasing; ``values`` (n,), NaN where absent, which gets no flag. ``conflict``: where
    files disagree.

    >>> flag_series("humidity_pct", np.arange(3), np.array([50.0, 180.0, np.nan])).tolist()
    [0, 16, 0]
    """
    flags = np.zeros(len(times_ms), np.uint16)
    present = np.flatnonzero(~np.isnan(values))
    if conflict is not None:
        flags[conflict] |= CONFLICT
    if len(present) == 0:
        return flags
    times, known = times_ms[present], values[present]
    q = QUANTITIES[quantity]
    found = np.zeros(len(present), np.uint16)
    found[(known < q.low) | (known > q.high)] |= IMPOSSIBLE
    step = usual_step_ms(times)
    if step > 0:
        found[1:][np.diff(times) > 2 * step] |= GAP
    found[_runs(quantity, times, known)] |= STUCK
    if quantity == "humidity_pct":
        possible = (found & IMPOSSIBLE) == 0
        found[np.flatnonzero(possible)[at_ceiling(known[possible])]] |= CEILING
        found[(found & CEILING) > 0] &= ~np.uint16(STUCK)
    if q.leap is not None:
        found[_spikes(times, known, q.leap, step)] |= SPIKE
    flags[present] |= found
    return flags


def believed(values: Values, flags: Flags) -> Values:
    """The values with NaN where a flag says not to believe them."""
    return np.where((flags & NOT_BELIEVED) > 0, np.nan, values)


def count_flags(flags: Flags) -> dict[int, int]:
    """How many readings carry each flag; flags nobody carries are left out."""
    return {bit: count for bit in FLAG_WORDS if (count := int(((flags & bit) > 0).sum()))}


def _run_bounds(same: Mask) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Starts and ends (excluded) of runs; ``same[i]``: element i + 1 belongs to the run of element i."""
    starts = np.flatnonzero(np.r_[True, ~same])
    return starts, np.r_[starts[1:], len(same) + 1]


def _marked(size: int, starts: NDArray[np.intp], ends: NDArray[np.intp]) -> Mask:
    edges = np.zeros(size + 1, np.int64)
    np.add.at(edges, starts, 1)
    np.add.at(edges, ends, -1)
    return np.cumsum(edges[:-1]) > 0


def _runs(quantity: str, times: Times, known: Values) -> Mask:
    """Readings of a run of one value too long for that sensor's steps."""
    if QUANTITIES[quantity].may_stay or len(known) < _STUCK_RUN:
        return np.zeros(len(known), np.bool_)
    leaps = np.abs(np.diff(known))
    finest = float(leaps[leaps > 0].min()) if (leaps > 0).any() else 0.0
    # A sensor of half-degree steps may well show one value through a still day in a cellar.
    longest = _STUCK_MS * (3 if finest >= 0.4 else 1)
    starts, ends = _run_bounds(leaps == 0)
    long = (ends - starts >= _STUCK_RUN) & (times[ends - 1] - times[starts] >= longest)
    return _marked(len(known), starts[long], ends[long])


def at_ceiling(known: Values) -> Mask:
    """Humidities at the sensor's ceiling: 99.9 % and more, or the highest value it ever shows where it lies above 95 %
    and is held for 12 readings on end, as sensors do that are capped below 100 %.

    >>> at_ceiling(np.array([80.0, 100.0, 101.2])).tolist()
    [False, True, True]
    """
    high = known >= _SATURATED
    if high.any() or not len(known):
        return np.asarray(high, np.bool_)
    top = known == known.max()
    starts, ends = _run_bounds(top[1:] & top[:-1])
    capped = known.max() >= _CAP_FROM and bool(((ends - starts >= _CAP_RUN) & top[starts]).any())
    return np.asarray(top if capped else high, np.bool_)


# What saturated air cannot do unless the water keeps up with it at once: stay saturated while it warms this fast.
_WARMS_C, _WARMS_MS, _WARMS_TIMES = 5.0, 2 * _HOUR_MS, 2
_DAYS_MS, _DRY_PCT = 3 * 24 * _HOUR_MS, 60.0


def stuck_at_ceiling(
    times_ms: Times, ceiling: Mask, temperature_c: Values, neighbours: list[tuple[Times, Values]]
) -> Mask:
    """Runs at the ceiling that other evidence speaks against. Returns (n,).

    Either the air warmed by 5 °C within two hours, twice or more, and the sensor did not move; or it stood at its
    ceiling for three days on end while every other sensor of the enclosure stayed below 60 %. ``neighbours``: times
    and humidities of those.
    """
    out = np.zeros(len(times_ms), np.bool_)
    if not ceiling.any():
        return out
    starts, ends = _run_bounds(ceiling[1:] == ceiling[:-1])
    for start, end in zip(starts, ends, strict=True):
        if not ceiling[start] or end - start < _CAP_RUN:
            continue
        part = slice(int(start), int(end))
        if _warmings(times_ms[part], temperature_c[part]) >= _WARMS_TIMES:
            out[part] = True
        elif times_ms[end - 1] - times_ms[start] >= _DAYS_MS and neighbours:
            beside = [
                v[slice(*np.searchsorted(t, [times_ms[start], times_ms[end - 1]]))] for t, v in neighbours
            ]
            out[part] = all(len(v) > 0 and np.nanmax(v, initial=0.0) < _DRY_PCT for v in beside)
    return out


def _warmings(times_ms: Times, temperature_c: Values) -> int:
    """How often the air warmed by 5 °C within two hours, each hour of warming counted once."""
    before = np.searchsorted(times_ms, times_ms - _WARMS_MS)
    with np.errstate(invalid="ignore"):
        fast = temperature_c - temperature_c[np.minimum(before, len(times_ms) - 1)] >= _WARMS_C
    found, last = 0, -(1 << 60)
    for at in times_ms[fast]:
        if at - last > 6 * _HOUR_MS:
            found += 1
            last = int(at)
    return found


def _spikes(times: Times, known: Values, leap: float, step: int) -> Mask:
    """Single readings that leap from both neighbours, which agree with each other."""
    spikes = np.zeros(len(known), np.bool_)
    if len(known) < 3:
        return spikes
    up, down = known[1:-1] - known[:-2], known[1:-1] - known[2:]
    least = np.minimum(np.abs(up), np.abs(down))
    # Where readings are far apart an animal's lamp or a door may do in one step what takes minutes.
    needed = leap * (1.0 if step <= _SPIKE_STEP_MS else 3.0)
    near = times[2:] - times[:-2] <= max(4 * step, 1)
    spikes[1:-1] = (up * down > 0) & (least > needed) & (np.abs(known[2:] - known[:-2]) < least / 2) & near
    # Many leaps in a row are no single reading gone wrong: two recordings are mixed, or the air is unquiet.
    crowd = np.convolve(spikes, np.ones(_CROWD, np.int64))[_CROWD // 2 :][: len(spikes)]
    return spikes & (crowd < _CROWDED)


def sees_lamp(
    times_ms: Times, temperature_c: Values, humidity_pct: Values, lit: list[tuple[int, int]]
) -> Mask:
    """Readings of a sensor that the lamp shines on: with the lights its temperature leaps and humidity falls.

    ``lit``: when the lights were on, as (on, off) in ms. A day counts where within a quarter of an hour of
    lights-on the temperature rises by 3 °C and the humidity falls by 8 %; the sensor is held to see the lamp
    where this is so on most days, at least three. Returns (n,): all readings while lit on such days.
    """
    out = np.zeros(len(times_ms), np.bool_)
    days = []
    for on, off in lit:
        before = slice(*np.searchsorted(times_ms, [on - _HOUR_MS // 2, on]))
        after = slice(*np.searchsorted(times_ms, [on + 60_000, on + 20 * 60_000]))
        if before.stop == before.start or after.stop == after.start:
            continue
        rise = np.nanmax(temperature_c[after], initial=-np.inf) - temperature_c[before][-1]
        fall = humidity_pct[before][-1] - np.nanmin(humidity_pct[after], initial=np.inf)
        days.append((bool(rise >= 3 and fall >= 8), on, off))
    leaping = [d for d in days if d[0]]
    if len(leaping) >= 3 and len(leaping) * 2 > len(days):
        for _, on, off in leaping:
            out[slice(*np.searchsorted(times_ms, [on, off]))] = True
    return out


def drier_than_open(
    times_ms: Times,
    hide_pct: Values,
    open_times: Times,
    open_pct: Values,
    by_pct: float = 5.0,
    *,
    hours: float = 6.0,
) -> Mask:
    """Readings of a hide that were drier than the open by ``by_pct`` for ``hours`` on end: is it in the hide?"""
    outside = interpolate(times_ms, open_times, open_pct, 2 * _HOUR_MS)
    with np.errstate(invalid="ignore"):
        drier = outside - hide_pct > by_pct
    if not drier.any():
        return drier
    starts, ends = _run_bounds(drier[1:] == drier[:-1])
    long = drier[starts] & (times_ms[ends - 1] - times_ms[starts] >= hours * _HOUR_MS)
    return _marked(len(times_ms), starts[long], ends[long])


def _both_jump(own: tuple[Values, Values], cut: int, apart: float) -> bool:
    """Whether both daily series jump at a day, one up and one down, each by a good part of what they change."""
    # Two days after against two before, less what both went on drifting as over the days before.
    jumps = []
    for daily in own:
        drift = float(daily[cut - 1] - daily[max(cut - 4, 0)]) / max(min(3, cut - 1), 1)
        jumps.append(float(np.mean(daily[cut : cut + 2]) - np.mean(daily[cut - 2 : cut])) - 2 * drift)
    return jumps[0] * jumps[1] < 0 and min(abs(j) for j in jumps) > 0.25 * apart


def _signs_turn(daily: Values, least_days: int) -> list[int]:
    """The days from which all differences have one sign and before which all have the other.

    Only there can both medians be larger than what their side differs by, so only there is more worked out.
    """
    low, high = np.minimum.accumulate(daily), np.maximum.accumulate(daily)
    low_after, high_after = (f.accumulate(daily[::-1])[::-1] for f in (np.minimum, np.maximum))
    turns = ((low[:-1] > 0) & (high_after[1:] < 0)) | ((high[:-1] < 0) & (low_after[1:] > 0))
    return [int(i) + 1 for i in np.flatnonzero(turns) if least_days <= i + 1 <= len(daily) - least_days]


def _means(times: Times, values: Values, bin_ms: int, low: int, high: int) -> Values:
    """The mean of each bin from ``low`` to ``high`` (both included), NaN where it holds nothing."""
    place = times // bin_ms - low
    good = ~np.isnan(values) & (place >= 0) & (place <= high - low)
    count = np.bincount(place[good], minlength=high - low + 1)
    total = np.bincount(place[good], values[good], high - low + 1)
    means = np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
    return np.asarray(means, np.float64)


def swapped_at(first: tuple[Times, Values], second: tuple[Times, Values], least_days: int = 3) -> int | None:
    """When two loggers seem to have changed places, ms; None where they do not.

    Day by day, one is above the other by about as much as it is below it from some day on, the difference
    is large beside its own unrest, and both jump at that day, in opposite directions: two zones whose
    conditions merely cross do not.
    """
    bin_ms = max(_HOUR_MS, 2 * usual_step_ms(first[0]), 2 * usual_step_ms(second[0]))
    low = max(int(t[0]) if len(t) else 0 for t, _ in (first, second)) // bin_ms
    high = min(int(t[-1]) if len(t) else -1 for t, _ in (first, second)) // bin_ms
    if high < low:
        return None
    # An hour's means stand for its readings: days are compared, and there may be a thousand pairs of loggers.
    one, other = (_means(*series, bin_ms, low, high) for series in (first, second))
    good = ~np.isnan(one) & ~np.isnan(other)
    if not good.any():
        return None
    day = (low + np.flatnonzero(good)) * bin_ms // (24 * _HOUR_MS)
    days, place = np.unique(day, return_inverse=True)
    if len(days) < 2 * least_days:
        return None
    count = np.bincount(place)
    own = np.bincount(place, one[good]) / count, np.bincount(place, other[good]) / count
    daily = own[0] - own[1]
    strengths = {cut: _turned_over(own, cut) for cut in _signs_turn(daily, least_days)}
    best = max(strengths, key=lambda cut: strengths[cut], default=None)
    return None if best is None or not strengths[best] else int(days[best]) * 24 * _HOUR_MS


def _turned_over(own: tuple[Values, Values], cut: int) -> float:
    """By how many times its unrest the difference of two loggers' days turns at a day; 0 where it does not."""
    daily = own[0] - own[1]
    before, after = float(np.median(daily[:cut])), float(np.median(daily[cut:]))
    unrest = max(float(np.ptp(daily[:cut])), float(np.ptp(daily[cut:])), 0.1)
    like = abs(abs(before) - abs(after)) <= 0.35 * max(abs(before), abs(after))
    large = before * after < 0 and like and min(abs(before), abs(after)) > 1.5 * unrest
    return abs(before - after) / unrest if large and _both_jump(own, cut, abs(before - after)) else 0.0
