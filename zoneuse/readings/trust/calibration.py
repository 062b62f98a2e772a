"""Put right what a hygrometer and a clock show, from the keeper's own checks.

Applied when readings are read, never when they are stored: a better check mends old readings too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol

import numpy as np

from ...study import to_ms
from ..arrow_arrays import Times, Values
from .salts import salt_humidity_pct

_EPOCH = date(1970, 1, 1)
_DAY_MS = 86_400_000
# Points taken within two weeks are one check of the sensor.
_ONE_CHECK_DAYS = 14
OLD_DAYS = 180
# Nearer salts than this do not tell a gain from an offset: 2 % of doubt at each would make 20 % of gain.
_LEAST_SPAN_PCT = 20.0


class SaltReading(Protocol):
    """What a sensor showed above a saturated salt (``SaltPoint`` of the study)."""

    @property
    def salt(self) -> str: ...
    @property
    def at_c(self) -> float: ...
    @property
    def shown_pct(self) -> float: ...
    @property
    def on(self) -> date: ...


class ClockReading(Protocol):
    """What a logger's clock showed at a true time (``ClockCheck`` of the study)."""

    @property
    def true(self) -> datetime: ...
    @property
    def shown(self) -> datetime: ...


@dataclass(frozen=True, slots=True)
class Calibration:
    """True humidity = ``gain`` x shown + ``offset``, from checks made on ``on``.

    ``low`` and ``high``: the span of true humidity the points cover; one point has no span.
    """

    gain: float
    offset: float
    low: float
    high: float
    on: date
    cautions: tuple[str, ...] = ()

    def apply(self, shown_pct: Values) -> Values:
        """Corrected humidity (n,) in %, kept within 0 to 100."""
        return np.clip(self.gain * shown_pct + self.offset, 0.0, 100.0)


def calibrate(points: Sequence[SaltReading]) -> Calibration:
    """The correction from salt points of one check.

    One point, or points too near each other, give an offset; two give gain and offset; more, the line of
    least squares. Raises ValueError for an unknown salt, a temperature it is not published for, or no point.

    >>> from zoneuse.study.model import SaltPoint
    >>> made = calibrate([SaltPoint("NaCl", 20.0, 78.2, date(2026, 2, 20))])
    >>> round(made.offset, 2), made.gain
    (-2.72, 1.0)
    """
    if not points:
        raise ValueError("no salt points")
    true = np.array([salt_humidity_pct(p.salt, p.at_c) for p in points])
    shown = np.array([p.shown_pct for p in points])
    on = max(p.on for p in points)
    span = float(true.max() - true.min())
    cautions: list[str] = []
    gain, offset = 1.0, float((true - shown).mean())
    if span >= _LEAST_SPAN_PCT and shown.max() > shown.min():
        gain, offset = (float(x) for x in np.polyfit(shown, true, 1))
        if not 0.5 < gain < 2.0:
            cautions.append(f"a gain of {gain:.2f} is more than a sensor drifts: check the points again")
    elif len(points) > 1:
        cautions.append("the salt points lie too near each other for a gain; only the offset is used")
    if abs(offset) > 15 and gain == 1.0:
        cautions.append(f"the sensor was {abs(offset):.0f} % off: too much to correct, replace it")
    return Calibration(gain, offset, float(true.min()), float(true.max()), on, tuple(cautions))


def checks_of(points: Sequence[SaltReading]) -> list[Calibration]:
    """One calibration for each check, oldest first: points within two weeks belong to one."""
    groups: list[list[SaltReading]] = []
    for point in sorted(points, key=lambda p: p.on):
        if groups and (point.on - groups[-1][0].on).days <= _ONE_CHECK_DAYS:
            groups[-1].append(point)
        else:
            groups.append([point])
    return [calibrate(group) for group in groups]


def correct_humidity(
    times_ms: Times, shown_pct: Values, points: Sequence[SaltReading]
) -> tuple[Values, tuple[str, ...]]:
    """Humidity (n,) corrected by the check nearest in time to each reading, and what to be careful about."""
    if not points or len(times_ms) == 0:
        return shown_pct, ()
    checks = checks_of(points)
    at = np.array([(c.on - _EPOCH).days * _DAY_MS + _DAY_MS // 2 for c in checks], np.int64)
    nearest = np.searchsorted((at[:-1] + at[1:]) // 2, times_ms)
    corrected = np.array(shown_pct)
    cautions: list[str] = []
    for number, check in enumerate(checks):
        here = nearest == number
        if not here.any():
            continue
        corrected[here] = check.apply(shown_pct[here])
        cautions += _cautions(check, corrected[here], np.abs(times_ms[here] - at[number]))
    return corrected, tuple(cautions)


def _cautions(check: Calibration, corrected: Values, away_ms: Times) -> list[str]:
    found = list(check.cautions)
    old = int((away_ms > OLD_DAYS * _DAY_MS).sum())
    if old:
        found.append(
            f"{old:,} readings lie more than {OLD_DAYS} days from the salt check of {check.on}: repeat it"
        )
    if check.high > check.low:
        beyond = int(((corrected < check.low - 5) | (corrected > check.high + 5)).sum())
        if beyond:
            found.append(
                f"{beyond:,} readings lie outside the salt points of {check.on} "
                f"({check.low:.0f} to {check.high:.0f} %), where the correction is a guess"
            )
    return found


def correct_clock(times_ms: Times, checks: Sequence[ClockReading]) -> Times:
    """True times (n,) of a logger whose clock was compared with a true one.

    One check shifts all times by what the clock was off; between two the error grows evenly, and beyond
    the first and last it goes on at the drift of the nearest two.

    >>> from datetime import UTC
    >>> from zoneuse.study.model import ClockCheck
    >>> at = datetime(2026, 3, 1, tzinfo=UTC)
    >>> fast = ClockCheck(true=at, shown=at + timedelta(seconds=130))
    >>> correct_clock(np.array([1_000_000]), [fast]).tolist()
    [870000]
    """
    if not checks or len(times_ms) == 0:
        return times_ms
    ordered = sorted(checks, key=lambda c: c.shown)
    shown = np.array([to_ms(c.shown) for c in ordered], np.int64)
    late = np.array([to_ms(c.shown) - to_ms(c.true) for c in ordered], np.float64)
    if len(ordered) == 1 or shown[0] == shown[-1]:
        return times_ms - int(late[-1])
    segment = np.clip(np.searchsorted(shown, times_ms, "right") - 1, 0, len(shown) - 2)
    length = np.maximum(shown[segment + 1] - shown[segment], 1)
    slope = (late[segment + 1] - late[segment]) / length
    error = late[segment] + slope * (times_ms - shown[segment])
    return np.asarray(times_ms - np.rint(error).astype(np.int64), np.int64)


def drift_s_per_day(checks: Sequence[ClockReading]) -> float | None:
    """How many seconds a day the clock gains, from its first check to its last; None for fewer than two."""
    ordered = sorted(checks, key=lambda c: c.shown)
    if len(ordered) < 2 or ordered[0].true == ordered[-1].true:
        return None
    first, last = ordered[0], ordered[-1]
    gained = (last.shown - last.true) - (first.shown - first.true)
    return gained.total_seconds() / ((last.true - first.true) / timedelta(days=1))


@dataclass(frozen=True, slots=True)
class SideBySide:
    """How loggers lying together compared: each one's mean distance from their common mean."""

    quantity: str
    moments: int
    offsets: dict[str, float]
    spread: float


def side_by_side(
    quantity: str, series: dict[str, tuple[Times, Values]], max_gap_ms: int
) -> SideBySide | None:
    """Compare loggers that lay together for a while: at the first one's times, each against the mean of all.

    ``series``: times and values by logger, of that while only. Returns None without a common time.
    """
    from .joining import interpolate

    names = list(series)
    if len(names) < 2:
        return None
    times = series[names[0]][0]
    together = np.array([interpolate(times, t, v, max_gap_ms) for t, v in series.values()])
    common = ~np.isnan(together).any(axis=0)
    if not common.any():
        return None
    away = together[:, common] - together[:, common].mean(axis=0)
    offsets = {name: float(away[i].mean()) for i, name in enumerate(names)}
    return SideBySide(quantity, int(common.sum()), offsets, max(offsets.values()) - min(offsets.values()))
