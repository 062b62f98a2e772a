"""When a key was pressed: the wall clock for the record, the monotonic clock for every duration."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True, slots=True)
class Instant:
    """``at`` is aware (UTC), ``mono`` are monotonic seconds; both belong to the same instant."""

    at: datetime
    mono: float

    def shifted(self, seconds: float) -> Instant:
        """The instant so many seconds later (earlier where negative).

        >>> from datetime import UTC
        >>> Instant(datetime(2026, 3, 4, 18, tzinfo=UTC), 100.0).shifted(-0.5).mono
        99.5
        """
        return Instant(self.at + timedelta(seconds=seconds), self.mono + seconds)


def read_clocks() -> Instant:
    """The wall clock and the monotonic clock, now: for the faces only."""
    return Instant(datetime.now(UTC), time.monotonic())
