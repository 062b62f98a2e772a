"""What was heard, kept: appended at once, each once, committed day by day as an ordinary intake."""

from __future__ import annotations

import hashlib
import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from ...readings.store import (
    Day,
    Intake,
    LiveRow,
    PartWriter,
    append,
    commit,
    day_path,
    live_taken,
    new_id,
    newest_packets,
    read_days,
)
from ...readings.trust import refresh_newest
from ...study import Declaration

_RECENT = 20_000
# How long to wait before the next try.
WAITS_S = (1.0, 2.0, 5.0, 10.0, 30.0)


class Keeper:
    """The day files of one study. ``put`` returns once its readings are on the disk: then they may be acknowledged."""

    def __init__(self, study: Path) -> None:
        self.study = study
        self.damaged = 0
        self._committing = threading.Lock()
        self._order: deque[str] = deque(maxlen=_RECENT)
        self._packets: set[str] = set()
        # Of each logger what was said of each time.
        self._said: dict[str, dict[int, set[tuple[str, float]]]] = {}
        self.lines: dict[str, tuple[int, ...]] = {}
        for day in self._open_days():
            self.damaged += day.damaged
            if day.lines:
                self.lines[day.file] = day.lines
            for logger, times in day.times.items():
                said = self._said.setdefault(logger, {})
                for quantity, values in day.values[logger].items():
                    for at, value in zip(times.tolist(), values.tolist(), strict=True):
                        said.setdefault(at, set()).add((quantity, value))
        # Those of days in the store too: what was kept and not yet acknowledged is sent again after any stop.
        for packet in newest_packets(study, _RECENT):
            self._remember(packet)

    def newest_packet(self) -> str:
        """The id of the packet that was kept last; "" where there is none."""
        return self._order[-1] if self._order else ""

    def _open_days(self) -> list[Day]:
        return read_days(self.study, live_taken(self.study))

    def _remember(self, packet: str) -> None:
        if packet and packet not in self._packets:
            if len(self._order) == _RECENT:
                self._packets.discard(self._order[0])
            self._order.append(packet)
            self._packets.add(packet)

    def knows(self, packet: str) -> bool:
        """Whether a packet of this id was kept already."""
        return packet in self._packets

    def put(self, rows: Iterable[LiveRow]) -> int:
        """Keep readings; how many were new. Raises OSError where the disk refuses, and then keeps none.

        What a payload said of a time counts once. Readings that came within a millisecond, as from a broker that kept
        them, are as many readings, a millisecond apart.
        """
        fresh: list[LiveRow] = []
        for row in rows:
            said = self._said.setdefault(row.logger, {})
            if row.timed:
                new = {q: v for q, v in row.values.items() if (q, v) not in said.get(row.at_ms, ())}
                row = replace(row, values=new)
            while not row.timed and row.at_ms in said:
                row = replace(row, at_ms=row.at_ms + 1)
            if row.values:
                said.setdefault(row.at_ms, set()).update(row.values.items())
                fresh.append(row)
        try:
            append(self.study, fresh)
        except OSError:
            for row in fresh:
                said = self._said[row.logger]
                said[row.at_ms] -= set(row.values.items())
                if not said[row.at_ms]:
                    del said[row.at_ms]
            raise
        for row in fresh:
            self._remember(row.packet)
        return len(fresh)

    def commit_days(self, now: datetime, before_ms: int | None = None) -> list[Intake]:
        """Make intakes of the day files; with ``before_ms`` only of days that are over by then."""
        with self._committing:  # what stops may come upon what looks around
            return [
                self._commit(day, now)
                for day in self._open_days()
                if before_ms is None or day.file < day_path(self.study, before_ms).name
            ]

    def _commit(self, day: Day, now: datetime) -> Intake:
        path = self.study / "readings" / "live" / day.file
        with path.open("rb") as stream:
            stream.seek(day.since)
            digest = hashlib.sha256(stream.read(day.until - day.since)).hexdigest()
        name, parts, kept = new_id(), [], 0
        for logger, times in day.times.items():
            values = day.values[logger]
            writer = PartWriter(self.study, name, logger, tuple(values))
            try:
                writer.write(times, values)
                parts.append(writer.place())
            except BaseException:
                writer.discard()
                raise
            kept += len(times)
        intake = Intake(
            name, f"live/{day.file}", digest, day.until - day.since, now.isoformat(), tuple(parts),
            kept=kept, refused=day.damaged, layout={"live": {"file": day.file, "since": day.since, "until": day.until}},
        )  # fmt: skip
        commit(self.study, intake)
        return intake

    def refresh(self, declared: Declaration) -> None:
        """``newest.json`` anew, for the recorder."""
        refresh_newest(self.study, declared)


Say = Callable[[str], None]
