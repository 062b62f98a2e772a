"""Readings on the way out: the store's raw values with clock, calibration and flags applied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from ..arrow_arrays import Times, Values
from ..store.store import Readings, read
from ..store.taken import Intake
from .calibration import ClockReading, SaltReading, correct_clock, correct_humidity
from .joining import default_max_gap_ms, usual_step_ms
from .quality import Flags, believed, flag_series

# Clocks are corrected by up to this when a span of true times is looked for among shown ones.
_CLOCK_ROOM_MS = 24 * 3_600_000


class LoggerLike(Protocol):
    """What is needed of a logger: ``Logger`` of the study fits."""

    @property
    def id(self) -> str: ...
    @property
    def clock(self) -> Sequence[ClockReading]: ...
    @property
    def salt_points(self) -> Sequence[SaltReading]: ...


@dataclass(frozen=True, slots=True)
class Series:
    """One logger's readings of one quantity, corrected. ``times`` (n,) ms since 1970 UTC, increasing;
    ``values`` (n,) NaN where absent; ``flags`` (n,) bits of ``quality``; ``cautions``: in plain words."""

    logger: str
    quantity: str
    times: Times
    values: Values
    flags: Flags
    cautions: tuple[str, ...] = ()

    @property
    def believed(self) -> Values:
        """The values with NaN where a flag says not to believe them: what joins use."""
        return believed(self.values, self.flags)

    @property
    def step_ms(self) -> int:
        return usual_step_ms(self.times)

    @property
    def max_gap_ms(self) -> int:
        return default_max_gap_ms(self.times)


def load_series(
    study: Path,
    logger: LoggerLike,
    since_ms: int | None = None,
    until_ms: int | None = None,
    intaken: Sequence[Intake] | None = None,
) -> dict[str, Series]:
    """All that a logger measured, by quantity, corrected and flagged.

    ``since_ms`` (included) and ``until_ms`` (excluded) are true times. Flags look at what lies within them,
    so leave some room around the moments of interest. Raises ProblemError where a stored file is damaged.
    """
    room = _CLOCK_ROOM_MS if logger.clock else 0
    raw = read(
        study, logger.id,
        None if since_ms is None else since_ms - room,
        None if until_ms is None else until_ms + room,
        intaken,
    )  # fmt: skip
    times = correct_clock(raw.times, logger.clock)
    inside = slice(
        0 if since_ms is None else int(times.searchsorted(since_ms)),
        len(times) if until_ms is None else int(times.searchsorted(until_ms)),
    )
    return {q: _one(raw, q, times, inside, logger) for q in raw.values}


def _one(raw: Readings, quantity: str, times: Times, inside: slice, logger: LoggerLike) -> Series:
    at, values = times[inside], raw.values[quantity][inside]
    # Flags look at what the sensor showed: a pinned sensor shows 100 whatever the correction makes of it.
    flags = flag_series(quantity, at, values, raw.conflict[quantity][inside])
    cautions: tuple[str, ...] = ()
    if quantity == "humidity_pct":
        values, cautions = correct_humidity(at, values, logger.salt_points)
    return Series(logger.id, quantity, at, values, flags, cautions)
