"""One logger's rows of one intake on their way into the store: placed in UTC, each once, counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import tzinfo
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...study import QUANTITIES
from ..arrow_arrays import Times, Values
from ..layout import Hints
from ..store.store import PartWriter, parts_of, read
from ..store.taken import Intake, Part
from .order import Order
from .rows import Refused
from .summer_time import SummerClock

Mask = NDArray[np.bool_]
_SAMPLE = 4096
_MINUTE_MS = 60_000


class Sink:
    """Takes chunks of one logger in file order. ``close`` returns the finished part, not yet committed."""

    def __init__(
        self, study: Path, intake: str, logger: str, quantities: tuple[str, ...], *, zone: tzinfo, hints: Hints,
        intaken: Sequence[Intake], to_the_second: bool = True,
    ) -> None:  # fmt: skip
        """``to_the_second``: whether the file's times are written with seconds."""
        self.logger, self.quantities = logger, quantities
        self._study, self._intaken, self._to_the_second = study, intaken, to_the_second
        self._clock = SummerClock(zone, hints.doubled, hints.zone is not None, hints.as_written)
        self._writer = PartWriter(study, intake, logger, quantities)
        self.order = Order()
        self.given = self.rows = self.doubles = self.conflicts = self.clashes = self.twice = 0
        self.low: dict[str, float] = {}
        self.high: dict[str, float] = {}
        self.sample: list[tuple[Times, dict[str, Values]]] = []
        self._sampled = 0
        self._last: tuple[int, dict[str, float]] | None = None

    @property
    def refused(self) -> list[Refused]:
        return self._clock.refused

    def push(
        self, times: Times, utc: bool, lines: Times, values: Mapping[str, Values], last: bool = False
    ) -> None:
        """Take in rows; ``utc`` says that their times are placed already. ``last``: no more come."""
        columns = tuple(values[q] for q in self.quantities)
        if not utc:
            times, lines, columns = self._clock.push(times, lines, columns, last)
        if len(times) == 0:
            return
        self.given += len(times)
        named = dict(zip(self.quantities, columns, strict=True))
        least, most = self.order.note(times, lines)
        if least <= 0 <= most:
            times, named = self._once(times, named)
        times, named = self._not_the_last(times, named)
        self._keep_sample(times, named)
        times, named = self._new(times, named)
        if len(times) == 0:
            return
        self.rows += len(times)
        for q, v in named.items():
            low, high = float(np.fmin.reduce(v)), float(np.fmax.reduce(v))
            if not np.isnan(low):
                self.low[q] = min(self.low.get(q, np.inf), low)
                self.high[q] = max(self.high.get(q, -np.inf), high)
        self._writer.write(times, named)

    def flush(self) -> None:
        """Place the rows that waited for the ones after them."""
        empty = np.empty(0, np.int64)
        self.push(empty, False, empty, {q: np.empty(0) for q in self.quantities}, last=True)

    def close(self) -> Part:
        return self._writer.place()

    def discard(self) -> None:
        self._writer.discard()

    @property
    def first_ms(self) -> int:
        return self._writer.first_ms

    @property
    def last_ms(self) -> int:
        return self._writer.last_ms

    @property
    def usual_step_ms(self) -> int:
        return self.order.usual_step_ms

    def settle_order(self) -> None:
        """After the last row: steps and gaps of a file that is in no order, from all that was written."""
        if self.order.back and self.rows:
            self.order.settle(self._writer.times())

    def _once(self, times: Times, values: dict[str, Values]) -> tuple[Times, dict[str, Values]]:
        """Rows that stand twice in the file once; rows that contradict each other are both kept."""
        order = np.argsort(times, kind="stable")
        twice = np.diff(times[order]) == 0
        if not twice.any():
            return times, values
        equal = np.ones(len(twice), np.bool_)
        clash = np.zeros(len(twice), np.bool_)
        for v in values.values():
            a, b = v[order][:-1], v[order][1:]
            both = ~(np.isnan(a) | np.isnan(b))
            equal &= (a == b) | (np.isnan(a) & np.isnan(b))
            clash |= both & (a != b)
        self.clashes += max(int((twice & clash).sum()), *(_clashes_of(times, v) for v in values.values()))
        drop = order[1:][twice & equal]
        self.doubles += len(drop)
        self.twice += len(drop)
        keep = np.ones(len(times), np.bool_)
        keep[drop] = False
        return times[keep], {q: v[keep] for q, v in values.items()}

    def _not_the_last(self, times: Times, values: dict[str, Values]) -> tuple[Times, dict[str, Values]]:
        """The same for the first row, beside the last one of the rows before."""
        if len(times) == 0:
            return times, values
        first = {q: float(v[0]) for q, v in values.items()}
        last, self._last = self._last, (int(times[-1]), {q: float(v[-1]) for q, v in values.items()})
        if last is None or last[0] != times[0]:
            return times, values
        both = [(a, first[q]) for q, a in last[1].items() if a == a and first[q] == first[q]]
        self.clashes += any(a != b for a, b in both)
        if len(both) < sum(v == v for v in first.values()) or any(a != b for a, b in both):
            return times, values
        self.doubles, self.twice = self.doubles + 1, self.twice + 1
        return times[1:], {q: v[1:] for q, v in values.items()}

    def _new(self, times: Times, values: dict[str, Values]) -> tuple[Times, dict[str, Values]]:
        """Rows the store does not hold yet."""
        # A minute of room: one of both may lack the seconds.
        low, high = int(times.min()) - _MINUTE_MS, int(times.max()) + _MINUTE_MS
        held = parts_of(self._intaken, self.logger)
        if not any(p.first_ms < high and p.last_ms >= low for _, p in held):
            return times, values
        stored = read(self._study, self.logger, low, high, self._intaken)
        if len(stored.times) == 0:
            return times, values
        place, there = self._same_times(stored.times, times)
        same = there.copy()
        differs = np.zeros(len(times), np.bool_)
        for q, v in values.items():
            old = stored.values[q][place] if q in stored.values else np.full(len(times), np.nan)
            with np.errstate(invalid="ignore"):
                near = np.abs(old - v) <= QUANTITIES[q].near
            same &= near | np.isnan(v)
            differs |= there & (stored.times[place] == times) & ~near & ~np.isnan(v) & ~np.isnan(old)
        self.doubles += int(same.sum())
        self.conflicts += int(differs.sum())
        return times[~same], {q: v[~same] for q, v in values.items()}

    def _same_times(self, stored: Times, times: Times) -> tuple[NDArray[np.intp], Mask]:
        """Where each time stands in the store, and whether it does. A program that leaves out the seconds writes
        the minute begun: it is the same time as one within that minute."""
        place = np.minimum(np.searchsorted(stored, times), len(stored) - 1)
        there = stored[place] == times
        if there.all() or self.usual_step_ms < _MINUTE_MS:
            return place, there
        if not self._to_the_second:
            # The store may hold the seconds: its first time in that minute.
            near = stored[place] // _MINUTE_MS == times // _MINUTE_MS
        else:
            # The store may lack them: the whole minute before.
            minute = times // _MINUTE_MS * _MINUTE_MS
            early = np.minimum(np.searchsorted(stored, minute), len(stored) - 1)
            near = (stored[early] == minute) & ~there
            place = np.where(near, early, place)
        return place, there | near

    def _keep_sample(self, times: Times, values: dict[str, Values]) -> None:
        """Some rows from every part of the file, to compare with what is stored."""
        if self._sampled < _SAMPLE * 4:
            part = slice(0, _SAMPLE)
            self.sample.append((times[part], {q: v[part] for q, v in values.items()}))
            self._sampled += min(len(times), _SAMPLE)

    def sampled(self) -> tuple[Times, dict[str, Any]]:
        if not self.sample:
            return np.empty(0, np.int64), {}
        times = np.concatenate([t for t, _ in self.sample])
        return times, {q: np.concatenate([v[q] for _, v in self.sample]) for q in self.quantities}


def _clashes_of(times: Times, values: Values) -> int:
    """How many readings of one quantity have the time of another and differ, also where other rows stand between."""
    there = ~np.isnan(values)
    if there.all():
        return 0
    times, values = times[there], values[there]
    order = np.argsort(times, kind="stable")
    return int(((np.diff(times[order]) == 0) & (np.diff(values[order]) != 0)).sum())
