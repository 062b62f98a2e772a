"""The order of one logger's times in a file: steps, gaps, and what cannot be true of a clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrow_arrays import Times

_SAMPLE = 4096
_DAY_MS = 86_400_000
# A silence this long inside one file is a clock that was set to another year, or two files in one.
LEAP_MS = 300 * _DAY_MS
_MONTH_MS = (27 * _DAY_MS, 32 * _DAY_MS)


@dataclass(frozen=True, slots=True)
class RowStep:
    """From one row to the next: its line, and both times (ms)."""

    line: int
    from_ms: int
    to_ms: int


class Order:
    """Notes the steps between rows as they come. ``back``: how often time went against the file's direction."""

    def __init__(self) -> None:
        self.steps: list[int] = []
        self.back = self.gaps = self.months = 0
        self.first_back: RowStep | None = None
        self.leap: RowStep | None = None
        self.longest_gap_ms = 0
        self._last: int | None = None
        self._direction = 0

    @property
    def usual_step_ms(self) -> int:
        return int(np.median(self.steps)) if self.steps else 0

    def _note_usual(self, times: Times, steps: Times) -> None:
        if not len(steps) or len(self.steps) >= 200:
            return
        # In order of time, so that a file that is in none has a step all the same.
        part = np.diff(np.sort(times[:_SAMPLE])) if self._unordered(steps) else np.abs(steps[:_SAMPLE])
        part = part[part > 0]
        if len(part):
            self.steps.append(int(np.median(part)))

    def note(self, times: Times, lines: Times) -> tuple[int, int]:
        """Take in the next rows. Returns the least and the greatest step between neighbours, ms."""
        steps = np.diff(times)
        self._note_usual(times, steps)
        low, high = (int(steps.min()), int(steps.max())) if len(steps) else (1, 1)
        # One glance at the extremes spares looking at each step of the usual, orderly file.
        falling, rising = 0, len(steps)
        if low <= 0:
            falling, rising = int((steps < 0).sum()), int((steps > 0).sum())
        if self._direction == 0 and falling + rising:
            self._direction = 1 if rising >= falling else -1
        wrong = falling if self._direction >= 0 else rising
        across = 0 if self._last is None else int(times[0]) - self._last
        if across * self._direction < 0:
            self._note_back(int(lines[0]), self._last or 0, int(times[0]), 1)
        if wrong:
            row = int(np.flatnonzero(steps * (self._direction or 1) < 0)[0])
            self._note_back(int(lines[row + 1]), int(times[row]), int(times[row + 1]), wrong)
        longest = max(abs(low), abs(high))
        self._note_gaps(steps, longest, abs(across))
        if max(longest, abs(across)) > _MONTH_MS[0]:
            self._note_leaps(
                np.r_[self._last if self._last is not None else times[0], times], np.r_[lines[0], lines]
            )
        self._last = int(times[-1])
        return low, high

    @staticmethod
    def _unordered(steps: Times) -> bool:
        return bool((steps[:_SAMPLE] < 0).any() and (steps[:_SAMPLE] > 0).any())

    def _note_back(self, line: int, from_ms: int, to_ms: int, count: int) -> None:
        self.back += count
        if self.first_back is None:
            self.first_back = RowStep(line, from_ms, to_ms)

    def _note_leaps(self, times: Times, lines: Times) -> None:
        steps = np.abs(np.diff(times))
        # A date whose day and month changed places goes on by the clock, and leaps by a month at midnight.
        usual = self.usual_step_ms
        goes_on = np.abs(steps % _DAY_MS - usual) <= 0.1 * usual
        self.months += int(((steps > _MONTH_MS[0]) & (steps < _MONTH_MS[1]) & goes_on).sum())
        far = np.flatnonzero(steps > LEAP_MS)
        if len(far) and self.leap is None:
            row = int(far[0])
            self.leap = RowStep(int(lines[row + 1]), int(times[row]), int(times[row + 1]))

    def _note_gaps(self, steps: Times, longest: int, across: int) -> None:
        limit = 2.5 * self.usual_step_ms
        if limit and max(longest, across) > limit:
            self.gaps += int((np.abs(steps) > limit).sum()) + (across > limit)
            self.longest_gap_ms = max(self.longest_gap_ms, longest, across)

    def settle(self, times: Times) -> None:
        """Steps and gaps anew from all times of the file, where it is in no order (``times`` in any order)."""
        steps = np.asarray(np.diff(np.unique(times)), np.int64)
        self.steps = [int(np.median(steps))] if len(steps) else []
        self.gaps = self.longest_gap_ms = 0
        if len(steps):
            self._note_gaps(steps, int(steps.max()), 0)
