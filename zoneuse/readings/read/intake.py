"""Take in an export: understood, read through once, shown, and committed only then.

``stage`` reads a file into the store's folder without making it count; ``Staged.commit`` makes it count,
``Staged.discard`` leaves no trace. A crash in between leaves the store as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

from zoneuse.study import fault

from ...study import sha256_of
from ..layout import Hints, Layout
from ..recognise.understand import understand
from ..store.store import commit, intakes, undo
from ..store.taken import Intake, Mark
from .clock_column import settle_dates
from .doubts import check_file
from .file_reader import MOST_MARKS, Counts, FileReader
from .shifted import hours_shifted
from .sink import Sink
from .workbook import as_text_table, is_workbook


@dataclass(slots=True)
class Staged:
    """A file read through, waiting for a yes."""

    study: Path
    path: Path
    layout: Layout
    sinks: dict[str, Sink]
    marks: list[Mark]
    counts: Counts
    samples: list[tuple[str, int, int, dict[str, float]]]
    sha256: str
    size: int
    intake: str
    part_of_file: dict[str, Any]
    committed: bool = False

    @property
    def kept(self) -> int:
        return sum(s.rows for s in self.sinks.values())

    @property
    def doubles(self) -> int:
        return sum(s.doubles for s in self.sinks.values())

    def commit(self, made: datetime) -> Intake:
        """Make the readings count. ``made``: when, on the wall clock."""
        parts = tuple(s.close() for s in self.sinks.values() if s.rows)
        for sink in self.sinks.values():
            if not sink.rows:
                sink.discard()
        record = self.layout.record() | {
            "refused": [{"line": r.line, "reason": r.reason, "text": r.text} for r in self.counts.refused],
            "refused_by_reason": dict(self.counts.reasons),
            "read_as_missing": dict(self.counts.missing),
            "lines_after_the_table": self.counts.footer,
            "rows_without_values": self.counts.empty,
            "part_of_file": self.part_of_file,
        }
        intake = Intake(
            id=self.intake,
            file=self.path.name,
            sha256=self.sha256,
            size=self.size,
            made=made.isoformat(),
            parts=parts,
            marks=tuple(self.marks[:MOST_MARKS]),
            kept=self.kept,
            doubles=self.doubles,
            refused=self.counts.refused_count,
            layout=record,
        )
        # From here on the record may be in place: whatever happens now, the files it names must stay.
        self.committed = True
        commit(self.study, intake)
        return intake

    def discard(self) -> None:
        """Leave no trace; nothing happens once the readings were committed."""
        for sink in self.sinks.values() if not self.committed else ():
            sink.discard()


def _part_of_file(hints: Hints) -> dict[str, Any]:
    """Which part of a file was asked for: another part of the same file is not the same intake."""
    return {
        "where": [list(p) for p in hints.where],
        "columns": [list(p) for p in hints.columns],
        "by": list(hints.by),
    } | ({"sheet": hints.sheet} if hints.sheet else {})


def already_taken_in(path: Path, hints: Hints, intaken: Sequence[Intake]) -> Intake | None:
    """The intake of the very same file (by size and sha256), under whatever name it came.

    Other rows, columns or sheets of it, asked for by name, are not the same; nor is the file where it is given for
    a logger of which that intake holds nothing.
    """
    try:
        size = path.stat().st_size
    except OSError:
        return None
    wanted = _part_of_file(hints)
    same = [
        i
        for i in intaken
        if i.size == size
        and i.layout.get("part_of_file", wanted) == wanted
        and (hints.logger is None or not i.parts or any(p.logger == hints.logger for p in i.parts))
    ]
    if not same or not path.is_file():
        return None
    digest = sha256_of(path)
    return next((i for i in same if i.sha256 == digest), None)


def stage(
    study: Path, path: Path, loggers: Sequence[str], zone: tzinfo, hints: Hints, *, intaken: Sequence[Intake]
) -> Staged:
    """Read a file through and write its readings aside, not yet counting.

    ``loggers``: the ids of the study's loggers; ``zone``: its time zone; ``intaken``: what is stored already.
    Raises UndecidedError where two readings of the file fit, ProblemError where it cannot be used; either
    way nothing is left behind.
    """
    if is_workbook(path):
        with as_text_table(path, hints.sheet) as text:
            staged = _stage_text(study, text, path, loggers, zone, hints=hints, intaken=intaken)
            staged.sha256, staged.size, staged.path = sha256_of(path), path.stat().st_size, path
            return staged
    return _stage_text(study, path, path, loggers, zone, hints=hints, intaken=intaken)


def _stage_text(
    study: Path, text: Path, path: Path, loggers: Sequence[str], zone: tzinfo, *, hints: Hints,
    intaken: Sequence[Intake],
) -> Staged:  # fmt: skip
    try:
        layout = understand(text, loggers, zone, hints, name=path)
        if not layout.time.order:
            layout = replace(layout, time=replace(layout.time, order=settle_dates(text, layout, hints.dates)))
    except OSError as error:
        raise fault(
            "unreadable", path, "", f"cannot be read ({error.strerror})", "a readable file", remedy=""
        ) from None
    reader = FileReader(study, text, path, layout, hints, intaken=intaken)
    try:
        digest = reader.read()
        staged = Staged(
            study, path, layout, reader.sinks, reader.marks, reader.counts, reader.samples, digest,
            text.stat().st_size, reader.intake, _part_of_file(hints),
        )  # fmt: skip
        check_file(reader)
        _check_against_stored(staged, intaken)
    except BaseException:
        reader.discard()
        raise
    return staged


def _check_against_stored(staged: Staged, intaken: Sequence[Intake]) -> None:
    """What only shows beside the store."""
    for sink in staged.sinks.values():
        hours = hours_shifted(staged.study, sink.logger, *sink.sampled(), intaken)
        if hours:
            raise fault(
                "shifted", staged.path, "",
                f"the same readings of {sink.logger} are stored already, {abs(hours)} h "
                f"{'earlier' if hours > 0 else 'later'}",
                "times in the same zone as before",
                remedy="This file was exported in another time zone: give the one it was exported in with --tz, or "
                "export it again",
            )  # fmt: skip
    if not staged.kept and not staged.doubles:
        reasons = "; ".join(f"{n} x {r}" for r, n in staged.counts.reasons.most_common(3))
        raise fault(
            "nothing-taken", staged.path, "", f"none of its rows holds a reading ({reasons or 'no values'})",
            "rows with a time and a temperature or humidity", remedy="Look at the file in a text editor",
        )  # fmt: skip


def find_to_undo(study: Path, file: str) -> list[Intake]:
    """Intakes meant by a file: the same bytes where the file is still there, else its name or the intake's id."""
    # What is only heard so far is no intake to be undone.
    intaken = [i for i in intakes(study)[0] if not i.id.startswith("~")]
    path = Path(file)
    if path.is_file():
        digest = sha256_of(path)
        if same := [i for i in intaken if i.sha256 == digest]:
            return same
    return [i for i in intaken if file == i.id or path.name == i.file]


def undo_file(study: Path, file: str, made: datetime) -> list[Intake]:
    """Take a file out again. Returns the intakes undone; raises ProblemError where there is none."""
    found = find_to_undo(study, file)
    if len({i.sha256 for i in found}) > 1:
        ids = ", ".join(
            f"{i.id} ({i.kept:,} readings of {', '.join(p.logger for p in i.parts)})" for i in found
        )
        raise fault("several", file, "", f"several files of this name were taken in: {ids}", "one of them",
                    remedy="Give its id: zoneuse readings --undo ID")  # fmt: skip
    if not found:
        raise fault("not-taken-in", file, "", "was not taken in, or is undone already", "a file that was taken in",
                    remedy="zoneuse readings lists what is there")  # fmt: skip
    for intake in found:
        undo(study, intake.id, made.isoformat())
    return found
