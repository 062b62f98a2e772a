"""Take in an export: understood, read through once, shown, and committed only then.

``stage`` reads a file into the store's folder without making it count; ``Staged.commit`` makes it count,
``Staged.discard`` leaves no trace. A crash in between leaves the store as it was.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

import numpy as np

from zoneuse.study.problems import fault

from .arrow_arrays import Times, Values
from .blocks import Encoding, read_blocks, sha256_of
from .chunks import Chunk, all_chunks
from .clock_column import chunk_times, settle_dates
from .headers import DEGREES, FAHRENHEIT, KELVIN
from .layout import Hints, Layout, Question, UndecidedError
from .local_time import to_utc
from .quantities import QUANTITIES
from .rows import Refused
from .shifted import hours_shifted
from .sink import Sink
from .store import Intake, Mark, commit, intakes, new_id, undo
from .understand import folded, understand
from .workbook import as_text_table, is_workbook

_MOST_REFUSED_KEPT = 1000
_MOST_MARKS = 10_000
# Codes that loggers write for "no sensor" and the like lie far outside anything measured.
_CODE_RANGE = {"temperature_c": (-90, 150), "surface_c": (-90, 200), "humidity_pct": (-10, 150),
               "light_lux": (-100, 1e6), "uv_index": (-1, 100), "soil_moisture_pct": (-50, 200)}  # fmt: skip


@dataclass(slots=True)
class Counts:
    """What became of a file's lines."""

    refused: list[Refused] = field(default_factory=list)
    refused_count: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    missing: Counter[str] = field(default_factory=Counter)
    footer: int = 0
    empty: int = 0
    others: int = 0
    rows: int = 0


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
            marks=tuple(self.marks[:_MOST_MARKS]),
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
    }


def already_taken_in(path: Path, hints: Hints, intaken: Sequence[Intake]) -> Intake | None:
    """The intake of the very same file (by size and sha256), under whatever name it came.

    Other rows or columns of it, asked for with ``where``, ``columns`` or ``by``, are not the same.
    """
    try:
        size = path.stat().st_size
    except OSError:
        return None
    wanted = _part_of_file(hints)
    same = [i for i in intaken if i.size == size and i.layout.get("part_of_file", wanted) == wanted]
    if not same or not path.is_file():
        return None
    digest = sha256_of(path)
    return next((i for i in same if i.sha256 == digest), None)


def stage(
    study: Path, path: Path, loggers: Sequence[str], zone: tzinfo, hints: Hints, intaken: Sequence[Intake]
) -> Staged:
    """Read a file through and write its readings aside, not yet counting.

    ``loggers``: the ids of the study's loggers; ``zone``: its time zone; ``intaken``: what is stored already.
    Raises UndecidedError where two readings of the file fit, ProblemError where it cannot be used; either
    way nothing is left behind.
    """
    if is_workbook(path):
        with as_text_table(path) as text:
            staged = _stage_text(study, text, path, loggers, zone, hints, intaken)
            staged.sha256, staged.size, staged.path = sha256_of(path), path.stat().st_size, path
            return staged
    return _stage_text(study, path, path, loggers, zone, hints, intaken)


def _stage_text(
    study: Path, text: Path, path: Path, loggers: Sequence[str], zone: tzinfo, hints: Hints,
    intaken: Sequence[Intake],
) -> Staged:  # fmt: skip
    try:
        layout = understand(text, loggers, zone, hints, name=path)
        if not layout.time.order:
            layout = replace(layout, time=replace(layout.time, order=settle_dates(text, layout, hints.dates)))
    except OSError as error:
        raise fault(
            "unreadable", path, "", f"cannot be read ({error.strerror})", "a readable file", ""
        ) from None
    reader = _Reader(study, text, path, layout, hints, intaken)
    try:
        return reader.read()
    except BaseException:
        reader.discard()
        raise


class _Reader:
    """Reads one file, chunk by chunk, into a sink per logger."""

    def __init__(
        self, study: Path, text: Path, path: Path, layout: Layout, hints: Hints, intaken: Sequence[Intake]
    ) -> None:
        self.study, self.text, self.path, self.layout, self.hints = study, text, path, layout, hints
        self.intaken = intaken
        self.intake = new_id()
        self.sinks: dict[str, Sink] = {}
        self.marks: list[Mark] = []
        self.counts = Counts()
        self.samples: list[tuple[str, int, int, dict[str, float]]] = []
        self._tail: list[Refused] = []
        self._series = dict(reversed(layout.series))
        self._humidity_high = -np.inf

    def discard(self) -> None:
        for sink in self.sinks.values():
            sink.discard()

    def read(self) -> Staged:
        digest = hashlib.sha256()
        encoding = Encoding(self.layout.encoding, self.layout.bom)
        for chunk in all_chunks(read_blocks(self.text, encoding, digest), self.layout):
            self._take(chunk)
        for sink in self.sinks.values():
            sink.flush()
            for refused in sink.refused:
                self._refuse(refused)
        # What stands after the last reading and holds no time is the file's foot, not a bad row.
        self.counts.footer += len(self._tail)
        self.counts.refused.sort(key=lambda r: r.line)
        staged = Staged(
            self.study, self.path, self.layout, self.sinks, self.marks, self.counts, self.samples,
            digest.hexdigest(), self.text.stat().st_size, self.intake, _part_of_file(self.hints),
        )  # fmt: skip
        self._check(staged)
        return staged

    def _take(self, chunk: Chunk) -> None:
        for refused in chunk.refused:
            self._meet(refused)
        if len(chunk) == 0:
            return
        times, good, utc = chunk_times(chunk, self.layout)
        for row in np.flatnonzero(~good):
            self._refuse(Refused(int(chunk.lines[row]), "this date or time does not exist", ""))
        if self._tail and good.any() and self._tail[0].line < chunk.lines[-1]:
            self._tail_was_none(int(chunk.lines[np.flatnonzero(good)[-1]]))
        self.counts.missing.update(chunk.oddities)
        wanted = good & self._wanted(chunk)
        self.counts.others += int((good & ~wanted).sum())
        self.counts.rows += int(wanted.sum())
        self._take_marks(chunk, times, wanted, utc)
        for logger, rows, values in self._per_logger(chunk, wanted):
            self._give(logger, rows, times, utc, chunk.lines, values)

    def _give(
        self, logger: str, rows: np.ndarray[Any, Any], times: Times, utc: bool, lines: Times,
        values: dict[str, Values],
    ) -> None:  # fmt: skip
        some = np.zeros(len(rows), np.bool_)
        for v in values.values():
            some |= ~np.isnan(v)
        self.counts.empty += int((~some).sum())
        if not some.any():
            return
        if not some.all():
            rows, values = rows[some], {q: v[some] for q, v in values.items()}
        if logger not in self.sinks:
            zone = self.layout.time.zone
            assert zone is not None
            self.sinks[logger] = Sink(
                self.study, self.intake, logger, tuple(values), zone, self.hints.doubled, self.intaken
            )
        for i in range(min(2 - len(self.samples), len(rows))):
            at = self._placed(int(times[rows[i]]), utc)
            self.samples.append(
                (logger, int(lines[rows[i]]), at, {q: float(v[i]) for q, v in values.items()})
            )
        whole = len(rows) == len(times)
        self.sinks[logger].push(times if whole else times[rows], utc, lines if whole else lines[rows], values)

    def _placed(self, time_ms: int, utc: bool) -> int:
        zone = self.layout.time.zone
        if utc or zone is None:
            return time_ms
        return int(to_utc(np.array([time_ms], np.int64), zone).early[0])

    def _meet(self, refused: Refused) -> None:
        """A row without any time may be the file's foot, until a reading follows it."""
        if refused.footer:
            self._tail.append(refused)
            if len(self._tail) > 200:
                self._refuse(self._tail.pop(0))
        else:
            self._refuse(refused)

    def _tail_was_none(self, line: int) -> None:
        for refused in [r for r in self._tail if r.line < line]:
            self._refuse(refused)
        self._tail = [r for r in self._tail if r.line >= line]

    def _refuse(self, refused: Refused) -> None:
        self.counts.refused_count += 1
        self.counts.reasons[kind_of(refused.reason)] += 1
        if len(self.counts.refused) < _MOST_REFUSED_KEPT:
            self.counts.refused.append(refused)

    def _wanted(self, chunk: Chunk) -> np.ndarray[Any, np.dtype[np.bool_]]:
        wanted = np.ones(len(chunk), np.bool_)
        for column, value in self.layout.where:
            codes, names = chunk.labels[column]
            wanted &= np.array([n == value for n in names], np.bool_)[codes]
        return wanted

    def _take_marks(self, chunk: Chunk, times: Times, wanted: Any, utc: bool) -> None:
        for row, column, text in chunk.events:
            if not wanted[row] or len(self.marks) >= _MOST_MARKS:
                continue
            at = self._placed(int(times[row]), utc)
            header = self.layout.headers[column].split("(")[0].split("LGR S/N")[0].strip()
            plain = text.casefold() in ("logged", "x", "1", "true", "yes", header.casefold())
            self.marks.append(Mark(at, self.layout.logger or "", header if plain and header else text))

    def _per_logger(self, chunk: Chunk, wanted: Any) -> list[tuple[str, Any, dict[str, Values]]]:
        """(logger, rows, values of those rows) for each logger this chunk speaks of."""
        whose = self._whose(chunk, wanted)
        found = []
        for logger, rows in whose:
            for owner, values in self._values(chunk, rows):
                found.append((owner or logger, rows, values))
        return found

    def _whose(self, chunk: Chunk, wanted: Any) -> list[tuple[str, Any]]:
        if not self.layout.by:
            rows = np.arange(len(chunk)) if wanted.all() else np.flatnonzero(wanted)
            return [(self.layout.logger or "", rows)] if len(rows) else []
        combined = np.zeros(len(chunk), np.int64)
        names = [""]
        for column in self.layout.by:
            codes, texts = chunk.labels[column]
            combined = combined * len(texts) + codes
            names = [f"{a}/{b}" if a else b for a in names for b in texts]
        found = []
        for code in np.unique(combined[wanted]):
            rows = np.flatnonzero(wanted & (combined == code))
            logger = self._series.get(folded(names[code]))
            if logger is None:
                reason = f"no logger of the study is called {names[code]!r}"
                for row in rows[:_MOST_REFUSED_KEPT]:
                    self._refuse(Refused(int(chunk.lines[row]), reason, names[code]))
                more = len(rows) - _MOST_REFUSED_KEPT
                if more > 0:
                    self.counts.refused_count += more
                    self.counts.reasons[kind_of(reason)] += more
                continue
            found.append((logger, rows))
        return found

    def _values(self, chunk: Chunk, rows: Any) -> list[tuple[str | None, dict[str, Values]]]:
        """Values in stored units, by the logger their columns belong to (None: the row's)."""
        if self.layout.long is not None:
            return [(None, self._long_values(chunk, rows))]
        owners: dict[str | None, dict[str, Values]] = {}
        whole = len(rows) == len(chunk)
        for column, raw in zip(self.layout.values, chunk.values, strict=True):
            taken = raw if whole else raw[rows]
            if column.unit_open and len(taken):
                with np.errstate(invalid="ignore"):
                    high = np.fmax.reduce(taken)
                self._humidity_high = max(self._humidity_high, -np.inf if np.isnan(high) else float(high))
            values = owners.setdefault(column.logger, {})
            values[column.quantity] = self._measured(taken, column.quantity, column.unit)
        for values in owners.values():
            _drop_double_zero(values, self.counts.missing)
        return list(owners.items())

    def _long_values(self, chunk: Chunk, rows: Any) -> dict[str, Values]:
        long = self.layout.long
        assert long is not None
        codes, names = chunk.labels[long.name]
        meaning = {n: (q, u) for n, q, u in long.meanings}
        raw = chunk.values[0][rows]
        units = chunk.labels.get(long.unit) if long.unit is not None else None
        values = {
            q: np.full(len(rows), np.nan) for q in QUANTITIES if any(m[0] == q for m in meaning.values())
        }
        for code, name in enumerate(names):
            quantity, unit = meaning.get(name, ("", ""))
            if not quantity:
                continue
            here = codes[rows] == code
            if units is not None and not unit:
                for ucode, utext in enumerate(units[1]):
                    there = here & (units[0][rows] == ucode)
                    known = _plain_unit(utext)
                    if quantity in ("temperature_c", "surface_c") and known not in DEGREES.values():
                        self.counts.missing[f"in the unit {utext}"] += int(there.sum())
                        continue
                    values[quantity][there] = self._measured(raw[there], quantity, known)
            else:
                values[quantity][here] = self._measured(raw[here], quantity, unit)
        return values

    def _measured(self, raw: Values, quantity: str, unit: str) -> Values:
        """Numbers as written, in the stored unit; codes for "no sensor" become missing."""
        values = raw
        if unit == FAHRENHEIT:
            values = (raw - 32.0) / 1.8
        elif unit == KELVIN:
            values = raw - 273.15
        elif unit == "share":
            values = raw * 100.0
        low, high = _CODE_RANGE[quantity]
        with np.errstate(invalid="ignore"):
            codes = (values < low) | (values > high)
        if codes.any():
            self.counts.missing.update(f"{v:g}" for v in raw[codes])
            values = np.where(codes, np.nan, values)
        return values

    def _check(self, staged: Staged) -> None:
        """What only the whole file can tell."""
        layout = self.layout
        open_unit = next((v for v in layout.values if v.unit_open), None)
        if open_unit and -np.inf < self._humidity_high <= 1.0:
            name = open_unit.header or str(open_unit.column + 1)
            raise UndecidedError((Question(
                "columns", f"The humidity in {name!r} never exceeds 1: it may be a fraction or a percentage",
                f'--column "{name}=humidity_fraction" or --column "{name}=humidity_pct" (and the other columns)',
            ),))  # fmt: skip
        for sink in staged.sinks.values():
            self._check_one_series(sink)
            hours = hours_shifted(self.study, sink.logger, *sink.sampled(), self.intaken)
            if hours:
                raise fault(
                    "shifted", self.path, "",
                    f"the same readings of {sink.logger} are stored already, {abs(hours)} h "
                    f"{'earlier' if hours > 0 else 'later'}",
                    "times in the same zone as before",
                    "This file was exported in another time zone: give the one it was exported in with --tz, or "
                    "export it again",
                )  # fmt: skip
        if not staged.kept and not staged.doubles:
            reasons = "; ".join(f"{n} x {r}" for r, n in self.counts.reasons.most_common(3))
            raise fault(
                "nothing-taken", self.path, "", f"none of its rows holds a reading ({reasons or 'no values'})",
                "rows with a time and a temperature or humidity", "Look at the file in a text editor",
            )  # fmt: skip

    def _check_one_series(self, sink: Sink) -> None:
        if sink.clashes <= max(5, sink.rows // 100) or not self.layout.labels or self.layout.by:
            return
        names = [self.layout.headers[c] for c in self.layout.labels]
        raise UndecidedError((Question(
            "by", f"{sink.clashes} times stand in this file several times with different values: it holds "
            f"several series. They may be told apart by {', '.join(names)}",
            "--by COLUMN[,COLUMN] and --series NAME=LOGGER, or --where COLUMN=VALUE",
        ),))  # fmt: skip


def _plain_unit(text: str) -> str:
    """The unit in a unit column's cell; empty where it is none that is known."""
    folded_text = text.strip().casefold().replace(" ", "")
    return DEGREES.get(
        folded_text, "%" if "%" in folded_text else "lx" if folded_text in ("lx", "lux") else ""
    )


def _drop_double_zero(values: dict[str, Values], missing: Counter[str]) -> None:
    """0 °C and 0 % at once is a sensor that did not answer."""
    if "temperature_c" in values and "humidity_pct" in values:
        zero = (values["temperature_c"] == 0.0) & (values["humidity_pct"] == 0.0)
        if zero.any():
            missing["0 in both"] += int(zero.sum())
            for q in ("temperature_c", "humidity_pct"):
                values[q] = np.where(zero, np.nan, values[q])


def kind_of(reason: str) -> str:
    """A reason without the text it quotes, so that like refusals are counted together."""
    return re.sub(r"'[^']*'|\"[^\"]*\"|\d{4}-\d\d-\d\d[ \d:]*", "…", reason)


def find_to_undo(study: Path, file: str) -> list[Intake]:
    """Intakes meant by a file: the same bytes where the file is still there, else its name or the intake's id."""
    intaken, _ = intakes(study)
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
                    "Give its id: zoneuse readings --undo ID")  # fmt: skip
    if not found:
        raise fault("not-taken-in", file, "", "was not taken in, or is undone already", "a file that was taken in",
                    "zoneuse readings lists what is there")  # fmt: skip
    for intake in found:
        undo(study, intake.id, made.isoformat())
    return found


def loggers_of(intaken: Sequence[Intake]) -> Mapping[str, list[Intake]]:
    """Which intakes hold readings of which logger."""
    found: dict[str, list[Intake]] = {}
    for intake in intaken:
        for part in intake.parts:
            found.setdefault(part.logger, []).append(intake)
    return found
