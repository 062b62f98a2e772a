"""The store: one immutable Parquet file per taken-in export and logger, and the record that commits it.

::

    readings/logger=L1/1f9c03aa.parquet    at (timestamp[ms, UTC]), a float64 per quantity, null where absent
    readings/taken-in/1f9c03aa.json        renamed into place last: from then on the readings count
    readings/taken-in/1f9c03aa.undone.json takes them out again

Nothing that exists is rewritten, so a crash at any instant leaves the old state or the new one.
"""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from zoneuse.study import Problem, ProblemError, fault

from ...study import QUANTITIES, make_folder, put_in_place, read_regular, refuse_elsewhere, write_whole
from ..arrow_arrays import AT_TYPE, Times, Values, at_column, float64s, int64s, one_chunk, value_column
from .behind import Backlog
from .live_days import FOLDER as LIVE
from .live_days import Day, damaged_lines, live_taken, read_days
from .sealing import crc_of, sealed, unsealed
from .strict import MOST_RECORD_BYTES, check_record, damage_of, damaged, first_value, may_hold
from .taken import Intake, Mark, Part

FORMAT = 1
_RECORD = re.compile(r"[0-9a-f]{8}\.json")
# As study.toml has it: a name from a record becomes part of a path.
_LOGGER = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")
_ROW_GROUP, _AT_ONCE = 1 << 19, 1 << 17


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings of one logger, raw, sorted, each time once.

    ``times`` (n,) ms since 1970 UTC, strictly increasing; ``values`` (n,) per quantity, NaN where absent;
    ``conflict`` (n,) per quantity: True where files disagree about that reading, the first taken in is shown.
    """

    logger: str
    times: Times
    values: Mapping[str, Values]
    conflict: Mapping[str, np.ndarray[Any, np.dtype[np.bool_]]]


def readings_folder(study: Path) -> Path:
    return study / "readings"


def new_id() -> str:
    """Eight random hex digits: a file undone may be taken in again under a new one."""
    return secrets.token_hex(4)


def part_path(study: Path, logger: str, intake: str) -> Path:
    """Where the readings of one logger and intake lie."""
    return readings_folder(study) / f"logger={logger}" / f"{intake}.parquet"


class PartWriter:
    """Writes one logger's readings aside; ``place`` gives them their name, ``discard`` drops them."""

    def __init__(self, study: Path, intake: str, logger: str, quantities: tuple[str, ...]) -> None:
        self.logger, self.quantities = logger, quantities
        self.rows, self.first_ms, self.last_ms = 0, 0, 0
        self._final = part_path(study, logger, intake)
        refuse_elsewhere(study, self._final.parent)
        make_folder(self._final.parent)
        self._aside = self._final.with_name(f".{self._final.name}.{secrets.token_hex(4)}.tmp")
        self._aside.touch(exist_ok=False)  # opened anew, and never through a link that waits there
        self._schema = pa.schema([("at", AT_TYPE), *((q, pa.float64()) for q in quantities)])
        self._waiting: list[pa.Table] = []
        self._behind = Backlog()
        # Steady time steps pack to almost nothing as differences: 24 MB where defaults take 55-83.
        try:
            self._out = pq.ParquetWriter(
                self._aside.absolute(),  # pyarrow takes a name such as s3:x for an address
                self._schema, compression="zstd", use_dictionary=list(quantities),
                column_encoding={"at": "DELTA_BINARY_PACKED"}, write_statistics=["at"],
            )  # fmt: skip
        except OSError:
            self._aside.unlink()
            raise

    def write(self, times: Times, values: Mapping[str, Values]) -> None:
        """Append rows; a quantity without an entry is absent in all of them."""
        if len(times) == 0:
            return
        empty = np.full(len(times), np.nan)
        columns = [at_column(times), *(value_column(values.get(q, empty)) for q in self.quantities)]
        self._waiting.append(pa.Table.from_arrays(columns, schema=self._schema))
        # Few rows at a time, as around damaged rows, would make a file of crumbs.
        if sum(len(t) for t in self._waiting) >= _AT_ONCE:
            self._write_waiting()
        low, high = int(times.min()), int(times.max())
        self.first_ms = low if self.rows == 0 else min(self.first_ms, low)
        self.last_ms = high if self.rows == 0 else max(self.last_ms, high)
        self.rows += len(times)

    def _write_waiting(self) -> None:
        if self._waiting:
            self._behind.do(self._out.write_table, pa.concat_tables(self._waiting), _ROW_GROUP)
            self._waiting.clear()

    def times(self) -> Times:
        """All times written so far, in the order they came."""
        self._write_waiting()
        self._behind.finish()
        self._out.close()
        with pq.ParquetFile(self._aside.absolute()) as file:
            return int64s(one_chunk(file.read(["at"])["at"]))

    def place(self) -> Part:
        """Flush and name the file. It counts only once its intake's record is committed."""
        self._write_waiting()
        self._behind.finish()
        self._out.close()
        crc = crc_of(self._aside)
        put_in_place(self._aside, self._final)
        return Part(self.logger, self.rows, self.first_ms, self.last_ms, self.quantities, crc)

    def discard(self) -> None:
        self._behind.drop()
        with suppress(OSError, pa.ArrowException):  # a full disk takes not even its last letters
            self._out.close()
        self._aside.unlink(missing_ok=True)
        self._final.unlink(missing_ok=True)


def commit(study: Path, intake: Intake) -> None:
    """Put the record of an intake in place, last of all: from then on its readings count."""
    record = {
        "format": FORMAT, "id": intake.id, "file": intake.file, "sha256": intake.sha256, "size": intake.size,
        "made": intake.made, "kept": intake.kept, "doubles": intake.doubles, "refused": intake.refused,
        "parts": [
            {"logger": p.logger, "rows": p.rows, "first_ms": p.first_ms, "last_ms": p.last_ms,
             "quantities": list(p.quantities), "crc": p.crc}
            for p in intake.parts
        ],
        "marks": [{"at_ms": m.at_ms, "logger": m.logger, "says": m.says} for m in intake.marks],
        "layout": intake.layout,
    }  # fmt: skip
    text = json.dumps(record, ensure_ascii=False, indent=1)
    write_whole(_taken_in(study) / f"{intake.id}.json", sealed(text))


def undo(study: Path, intake: str, made: str) -> None:
    """Take an intake out again. Its files stay, and stop counting."""
    text = json.dumps({"format": FORMAT, "id": intake, "made": made})
    write_whole(_taken_in(study) / f"{intake}.undone.json", text.encode())


def _taken_in(study: Path) -> Path:
    """Where the records stand, to be written to: in the study itself, and through no link out of it."""
    folder = readings_folder(study) / "taken-in"
    refuse_elsewhere(study, folder)
    return folder


def intakes(study: Path) -> tuple[list[Intake], list[Problem]]:
    """Every intake that counts, oldest first, and what is damaged: records, and readings left out of them.

    Raises ProblemError where a record is of a newer format than this version knows.
    """
    folder = readings_folder(study) / "taken-in"
    found: list[Intake] = []
    problems: list[Problem] = damaged_lines(study)
    if not folder.is_dir():
        return _open_days(study), problems
    for path in sorted(folder.iterdir()):
        if not _RECORD.fullmatch(path.name) or path.with_suffix(".undone.json").exists():
            continue
        try:
            intake = _intake(json.loads(unsealed(read_regular(path, MOST_RECORD_BYTES))), path)
            damaged = {p.logger: problem for p in intake.parts if (problem := _damage(study, intake.id, p))}
            problems += damaged.values()
            found.append(replace(intake, parts=tuple(p for p in intake.parts if p.logger not in damaged)))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OSError) as error:
            problems.append(
                Problem("damaged-record", str(path), "", f"cannot be read ({type(error).__name__})",
                        "the record of an intake",
                        "Restore it from a copy, or take the file in again; its readings do not count now")
            )  # fmt: skip
    return [*sorted(found, key=lambda one: (one.made, one.id)), *_open_days(study)], problems


def _open_days(study: Path) -> list[Intake]:
    """What was heard and is no intake yet, in the shape of one; its id begins with a tilde."""
    if not (readings_folder(study) / LIVE).is_dir():
        return []
    return [
        Intake(f"~{day.file}", f"live/{day.file}", "", 0, "~", tuple(_live_parts(day)), refused=day.damaged)
        for day in read_days(study, live_taken(study))
    ]


def _live_parts(day: Day) -> Iterator[Part]:
    for logger, times in day.times.items():
        if _LOGGER.fullmatch(logger):
            yield Part(logger, len(times), int(times[0]), int(times[-1]), tuple(day.values[logger]))


def _damage(study: Path, intake: str, part: Part) -> Problem | None:
    """What is wrong with a committed file of readings, if anything is."""
    path = part_path(study, part.logger, intake)
    try:
        found = damage_of(path, part.rows, (part.first_ms, part.last_ms), part.crc)
    except (OSError, ValueError, pa.ArrowException) as error:
        found = f"cannot be read ({type(error).__name__})"
    return damaged(path, found) if found else None


def _intake(raw: dict[str, Any], path: Path) -> Intake:
    if raw["format"] > FORMAT:
        raise fault(
            "newer-format", path, "format", f"found format {raw['format']}", f"format {FORMAT} at most",
            remedy="Update zoneuse; nothing was touched",
        )  # fmt: skip
    check_record(raw)
    parts = tuple(
        Part(p["logger"], p["rows"], p["first_ms"], p["last_ms"], tuple(p["quantities"]), p.get("crc", ""))
        for p in raw["parts"]
    )
    # Both become parts of paths: a record from elsewhere must not lead out of the study.
    if raw["id"] != path.stem or not all(_LOGGER.fullmatch(p.logger) for p in parts):
        raise ValueError(raw["id"])
    return Intake(
        id=path.stem,
        file=raw["file"],
        sha256=raw["sha256"],
        size=raw["size"],
        made=raw["made"],
        parts=parts,
        marks=tuple(Mark(m["at_ms"], m["logger"], m["says"]) for m in raw["marks"]),
        kept=raw["kept"],
        doubles=raw["doubles"],
        refused=raw["refused"],
        layout=raw["layout"],
    )


def parts_of(intaken: Iterable[Intake], logger: str) -> Iterator[tuple[Intake, Part]]:
    """The parts that hold readings of one logger, oldest intake first."""
    for intake in intaken:
        for part in intake.parts:
            if part.logger == logger and part.rows:
                yield intake, part


def read(
    study: Path,
    logger: str,
    since_ms: int | None = None,
    until_ms: int | None = None,
    intaken: Iterable[Intake] | None = None,
) -> Readings:
    """The readings of one logger as they were taken in: raw, sorted, each time once.

    ``since_ms`` is inclusive, ``until_ms`` exclusive; only the pieces of the files that can hold such times
    are read. ``intaken`` spares reading the records again. Raises ProblemError where a committed file is
    missing or damaged.
    """
    if intaken is None:
        intaken = intakes(study)[0]
    held = list(parts_of(intaken, logger))
    pieces = [
        piece
        for intake, part in held
        if _meets(part, since_ms, until_ms)
        for piece in (
            _heard(study, logger, intake)
            if intake.id.startswith("~")
            else _pieces(part_path(study, logger, intake.id), since_ms, until_ms)
        )
    ]
    names = [q for q in QUANTITIES if any(q in piece for piece in pieces)]
    times = np.concatenate([p["at"] for p in pieces]) if pieces else np.empty(0, np.int64)
    values = {
        q: np.concatenate([p[q] if q in p else np.full(len(p["at"]), np.nan) for p in pieces]) for q in names
    }
    found = _each_time_once(logger, times, values)
    return _spoken_of(found, [part for _, part in held])


def _spoken_of(found: Readings, parts: list[Part]) -> Readings:
    """Without times that no record speaks of: they are no readings, whatever a file says of itself."""
    if not len(found.times):
        return found
    low, high = min(p.first_ms for p in parts), max(p.last_ms for p in parts)
    if low <= found.times[0] and found.times[-1] <= high:
        return found
    inside = slice(int(found.times.searchsorted(low)), int(found.times.searchsorted(high, "right")))
    return replace(
        found,
        times=found.times[inside],
        values={q: v[inside] for q, v in found.values.items()},
        conflict={q: v[inside] for q, v in found.conflict.items()},
    )


def _heard(study: Path, logger: str, intake: Intake) -> Iterator[dict[str, Any]]:
    for day in read_days(study, live_taken(study)):
        if intake.id == f"~{day.file}" and logger in day.times:
            yield {"at": day.times[logger], **day.values[logger]}


def _pieces(path: Path, since_ms: int | None, until_ms: int | None) -> Iterator[dict[str, Any]]:
    try:
        with pq.ParquetFile(path.absolute()) as file:
            wanted = [g for g in range(file.num_row_groups) if may_hold(file, g, since_ms, until_ms)]
            if not wanted:
                return
            names = [n for n in file.schema_arrow.names if n == "at" or n in QUANTITIES]
            table = file.read_row_groups(wanted, names)
    except (OSError, pa.ArrowException) as error:
        raise ProblemError([damaged(path, f"cannot be read ({type(error).__name__})")]) from None
    piece: dict[str, Any] = {"at": int64s(one_chunk(table["at"]))}
    piece |= {q: float64s(one_chunk(table[q])) for q in QUANTITIES if q in table.column_names}
    at = piece["at"]
    inside = np.ones(len(at), np.bool_)
    if since_ms is not None:
        inside &= at >= since_ms
    if until_ms is not None:
        inside &= at < until_ms
    yield piece if inside.all() else {name: column[inside] for name, column in piece.items()}


def _meets(part: Part, since_ms: int | None, until_ms: int | None) -> bool:
    """Whether a part can hold times between these two."""
    return (until_ms is None or part.first_ms < until_ms) and (since_ms is None or part.last_ms >= since_ms)


def _each_time_once(logger: str, times: Times, values: dict[str, Values]) -> Readings:
    """Sort; at a time that stands twice the first value counts, and a differing one is a conflict."""
    if len(times) > 1 and not (np.diff(times) > 0).all():
        order = np.argsort(times, kind="stable")
        times = times[order]
        values = {q: v[order] for q, v in values.items()}
    starts = np.flatnonzero(np.r_[True, np.diff(times) > 0]) if len(times) else np.empty(0, np.intp)
    if len(starts) == len(times):
        return Readings(logger, times, values, {q: np.zeros(len(times), np.bool_) for q in values})
    once: dict[str, Values] = {}
    conflict = {}
    for q, v in values.items():
        once[q] = first_value(v, starts)
        low = np.fmin.reduceat(v, starts)
        high = np.fmax.reduceat(v, starts)
        # NaN compares False: a time with one value, or none, is no conflict.
        conflict[q] = (high - low) > QUANTITIES[q].near
    return Readings(logger, times[starts], once, conflict)
