"""One export read through, chunk by chunk, into a sink for each logger it speaks of."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from zoneuse.study import ProblemError, fault

from ...study import QUANTITIES
from ..arrow_arrays import Times, Values, all_there
from ..blocks import Block, Encoding, read_blocks
from ..layout import Hints, Layout
from ..recognise.headers import DEGREES
from ..recognise.which_logger import folded
from ..store.behind import Backlog
from ..store.store import new_id
from ..store.taken import Intake, Mark
from ..times.local_time import to_utc
from ..times.time_shapes import KNOWN
from .chunks import Chunk, all_chunks
from .clock_column import chunk_times
from .measured import drop_double_zero, known_unit, measured
from .rows import Refused
from .sink import Mask, Sink

_MOST_REFUSED_KEPT, _MOST_NAMES = 1000, 500
MOST_MARKS = 10_000


@dataclass(slots=True)
class Counts:
    """What became of a file's lines: every one is in exactly one of these counts.

    ``above``: before the table; ``again``: the header once more, or a remark; ``footer``: after it, without a time;
    ``others``: rows not asked for; ``rows``: read for a logger, ``empty`` of them without any value. ``beside``: rows
    with free text at their right, read all the same.
    """

    refused: list[Refused] = field(default_factory=list)
    refused_count: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    missing: Counter[str] = field(default_factory=Counter)
    footer: int = 0
    empty: int = 0
    others: int = 0
    rows: int = 0
    lines: int = 0
    above: int = 0
    blank: int = 0
    again: int = 0
    beside: int = 0

    @property
    def told(self) -> int:
        """Lines of which it is known what became of them."""
        return sum(
            (self.above, self.blank, self.again, self.footer, self.others, self.rows, self.refused_count)
        )


class FileReader:
    """Reads one file, chunk by chunk, into a sink per logger; ``discard`` drops what was written."""

    def __init__(
        self, study: Path, text: Path, path: Path, layout: Layout, hints: Hints, *, intaken: Sequence[Intake]
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
        self.names: dict[int, dict[str, None]] = {c: {} for c in (*layout.labels, *layout.steady)}
        self.humidity_high = -np.inf
        # Whether dates stand there with the year first (or a month's name), and whether otherwise.
        self.date_styles: set[bool] = set()

    def discard(self) -> None:
        for sink in self.sinks.values():
            sink.discard()

    def read(self) -> str:
        """Read the whole file. Returns its sha256."""
        digest, behind = hashlib.sha256(), Backlog()
        encoding = Encoding(self.layout.encoding, self.layout.bom)
        try:
            blocks = read_blocks(self.text, encoding, lambda piece: behind.do(digest.update, piece))
            for chunk in all_chunks(self._counted(blocks), self.layout):
                self._take(chunk)
            behind.finish()
        finally:
            behind.drop()
        for sink in self.sinks.values():
            sink.flush()
            self._refuse_read(sink.refused)
            sink.settle_order()
        # What stands after the last reading and holds no time is the file's foot, not a bad row.
        self.counts.footer += len(self._tail)
        self.counts.refused.sort(key=lambda r: r.line)
        self._check_lines()
        return digest.hexdigest()

    @property
    def foot(self) -> tuple[str, ...]:
        """The lines after the last reading, shortened."""
        return tuple(refused.text for refused in self._tail)

    def _counted(self, blocks: Iterable[Block]) -> Iterator[Block]:
        for block in blocks:
            self.counts.lines += block.lines
            yield block

    def _check_lines(self) -> None:
        """Every line is taken, refused or named: where they do not add up, nothing of the file is to be trusted."""
        self.counts.above = min(self.layout.first_line - 1, self.counts.lines)
        if self.counts.told != self.counts.lines:
            raise fault(
                "lines", self.path, "", f"has {self.counts.lines:,} lines, {self.counts.told:,} of them understood",
                "one row in each line",
                remedy="Save it as CSV from a spreadsheet program; a cell may hold a line's end",
            )  # fmt: skip

    def _take(self, chunk: Chunk) -> None:
        self.counts.blank += chunk.blank
        self.counts.again += chunk.again
        self.counts.beside += chunk.beside
        for refused in chunk.refused:
            self._meet(refused)
        if len(chunk) == 0:
            return
        times, good, utc = chunk_times(chunk, self.layout)
        if chunk.times is not None:
            self._note_style(chunk.times[0].year[good] == KNOWN)
        for row in () if good.all() else np.flatnonzero(~good):
            self._refuse(Refused(int(chunk.lines[row]), "this date or time does not exist", ""))
        if self._tail and good.any() and self._tail[0].line < chunk.lines[-1]:
            self._tail_was_none(int(chunk.lines[np.flatnonzero(good)[-1]]))
        self.counts.missing.update(chunk.oddities)
        wanted = good & self._wanted(chunk)
        self.counts.others += int(np.count_nonzero(good & ~wanted))
        self.counts.rows += int(np.count_nonzero(wanted))
        self._note_names(chunk, wanted)
        self._take_marks(chunk, times, wanted, utc)
        for logger, rows, values in self._per_logger(chunk, wanted):
            self._give(logger, rows, times, utc, chunk.lines, values=values)

    def _note_style(self, known: Mask) -> None:
        if len(known):
            self.date_styles |= {bool(known.all()), bool(known.any())}

    def _give(
        self, logger: str, rows: np.ndarray[Any, Any], times: Times, utc: bool, lines: Times,
        *, values: dict[str, Values],
    ) -> None:  # fmt: skip
        if not any(map(all_there, values.values())):
            some = np.zeros(len(rows), np.bool_)
            for v in values.values():
                some |= ~np.isnan(v)
            self.counts.empty += int((~some).sum())
            if not some.any():
                return
            rows, values = rows[some], {q: v[some] for q, v in values.items()}
        if logger not in self.sinks:
            zone = self.layout.time.zone
            assert zone is not None
            self.sinks[logger] = Sink(
                self.study, self.intake, logger, tuple(values), zone=zone, hints=self.hints, intaken=self.intaken,
                to_the_second=self.layout.time.seconds,
            )  # fmt: skip
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
        if refused.header:
            raise self._other_columns(refused)
        if refused.footer:
            self._tail.append(refused)
            if len(self._tail) > 200:
                self._refuse(self._tail.pop(0))
        else:
            self._refuse(refused)

    def _other_columns(self, refused: Refused) -> ProblemError:
        said = refused.reason if refused.reason.endswith("here") else "other columns begin here"
        return fault(
            "second-header", self.path, f"line {refused.line}", f"{said}: {refused.text!r}",
            "one table", remedy="Save the parts as files of their own, each with its header",
        )  # fmt: skip

    def _tail_was_none(self, line: int) -> None:
        for refused in [r for r in self._tail if r.line < line]:
            if refused.words:
                raise self._other_columns(refused)
            self._refuse(refused)
        self._tail = [r for r in self._tail if r.line >= line]

    def _refuse_read(self, several: Sequence[Refused]) -> None:
        """Refuse rows that were counted as read before."""
        self.counts.rows -= len(several)
        for refused in several:
            self._refuse(refused)

    def _note_names(self, chunk: Chunk, wanted: Mask) -> None:
        """Which names stand in the columns that may tell several series apart."""
        for column, seen in self.names.items():
            codes, names = chunk.labels[column]
            if len(seen) < _MOST_NAMES:
                here = np.unique(codes if wanted.all() else codes[wanted])
                seen.update(dict.fromkeys(names[int(code)] for code in here))

    def _refuse(self, refused: Refused) -> None:
        self.counts.refused_count += 1
        self.counts.reasons[kind_of(refused.reason)] += 1
        if len(self.counts.refused) < _MOST_REFUSED_KEPT:
            self.counts.refused.append(refused)

    def _refuse_name(self, name: str, lines: Times) -> None:
        """Rows under a name that the first lines do not hold: they are counted among those without a value."""
        if len(lines):
            self.counts.missing[f"under {name!r}, which the file's first lines do not name"] += len(lines)

    def _wanted(self, chunk: Chunk) -> Mask:
        wanted = np.ones(len(chunk), np.bool_)
        for column, value in self.layout.where:
            codes, names = chunk.labels[column]
            wanted &= np.array([n == value for n in names], np.bool_)[codes]
        return wanted

    def _take_marks(self, chunk: Chunk, times: Times, wanted: Any, utc: bool) -> None:
        for row, column, text in chunk.events:
            if not wanted[row] or len(self.marks) >= MOST_MARKS:
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
        found: dict[str, list[Any]] = {}
        for code in np.unique(combined[wanted]):
            rows = np.flatnonzero(wanted & (combined == code))
            logger = self._series.get(folded(names[code]))
            if logger is None:
                reason = f"no logger of the study is called {names[code]!r}"
                kept = [
                    Refused(int(chunk.lines[row]), reason, names[code]) for row in rows[:_MOST_REFUSED_KEPT]
                ]
                self._refuse_read(kept)
                more = max(len(rows) - _MOST_REFUSED_KEPT, 0)
                self.counts.rows -= more
                self.counts.refused_count += more
                self.counts.reasons[kind_of(reason)] += more
                continue
            found.setdefault(logger, []).append(rows)
        # Several names of one logger, as its temperature and its humidity, stay in the order of the file.
        return [(logger, np.sort(np.concatenate(rows))) for logger, rows in found.items()]

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
                self.humidity_high = max(self.humidity_high, -np.inf if np.isnan(high) else float(high))
            values = owners.setdefault(column.logger, {})
            values[column.quantity] = measured(taken, column.quantity, column.unit, self.counts.missing)
        for values in owners.values():
            drop_double_zero(values, self.counts.missing)
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
            if name and name not in meaning:
                self._refuse_name(name, chunk.lines[rows[codes[rows] == code]])
            quantity, unit = meaning.get(name, ("", ""))
            if not quantity:
                continue
            here = codes[rows] == code
            if units is None or unit:
                values[quantity][here] = measured(raw[here], quantity, unit, self.counts.missing)
                continue
            for ucode, utext in enumerate(units[1]):
                there = here & (units[0][rows] == ucode)
                self._fill(values[quantity], there, raw, quantity, utext)
        return values

    def _fill(self, into: Values, there: Mask, raw: Values, quantity: str, unit: str) -> None:
        """The values of one quantity in the unit that their rows name."""
        known = known_unit(unit)
        if quantity not in ("temperature_c", "surface_c") or known in DEGREES.values():
            into[there] = measured(raw[there], quantity, known, self.counts.missing)
        elif there.any():
            self.counts.missing[f"in the unit {unit}"] += int(there.sum())


def kind_of(reason: str) -> str:
    """A reason without the text it quotes, so that like refusals are counted together."""
    return re.sub(r"'[^']*'|\"[^\"]*\"|\d{4}-\d\d-\d\d[ \d:]*", "…", reason)
