"""More layouts from a known truth: workbooks, sheets, dates in parts, several series, other alphabets, events, footers.

A sheet is a grid of typed cells first; it is then written as text or as a workbook. ``fuzz.main`` runs these too.
"""

from __future__ import annotations

import io
import random
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from zoneuse.readings.layout import Hints, LeftOpen, UndecidedError
from zoneuse.readings.read.intake import stage
from zoneuse.readings.store.store import intakes, read
from zoneuse.study.problems import ProblemError

from .fuzz import ZONES

Truth = dict[int, tuple[float | None, float | None]]
LOGGERS = ("L1", "L2", "L3")
NAMES = (
    ("hide", "open", "dish"),
    ("North 1", "North 2", "South 1"),
    ("1", "2", "3"),
    ("tub a", "tub b", "tub c"),
)
# (temperature, humidity), by alphabet and habit; the first of each pair always says °C.
HEADERS = (
    ("Температура, °C", "Влажность, %"), ("温度(℃)", "湿度(%)"), ("気温 (°C)", "相対湿度 (%)"),
    ("Θερμοκρασία (°C)", "Υγρασία (%)"), ("온도(°C)", "습도(%)"), ("درجة الحرارة °C", "الرطوبة %"),
    ("Lämpötila °C", "Kosteus %"), ("Temperatura [°C]", "Wilgotność [%]"), ("Sıcaklık (°C)", "Nem (%)"),
    ("Température (°C)", "Humidité relative (%)"), ("AirTC_Avg (deg C)", "RH (%)"), ("T_air [°C]", "rH [%]"),
    ("Temp(C)", "Humi(%)"), ("CH1 Temperature(°C)", "CH1 Humidity(%)"),
)  # fmt: skip
OTHERS = (("Dew point (°C)", 3, 14), ("Battery (V)", 2, 3), ("Luftdruck (hPa)", 980, 1020), ("Signal (dBm)", -90, -60),
          ("VPD (kPa)", 0, 2), ("Точка росы, °C", 3, 14), ("Heat Index (°C)", 20, 40))  # fmt: skip
# Words for a zone, some of which several zones go by: (as written, minutes from UTC)
WORDS = (("UTC", 0), ("GMT", 0), ("MEZ", 60), ("CET", 60), ("MESZ", 120),
         ("CEST", 120), ("EET", 120), ("UTC+3", 180), ("UTC-05:00", -300),
         ("PST", -480), ("PDT", -420), ("BST", 60), ("IST", 330), ("AEST", 600),
         ("Pacific Standard Time", -480), ("Eastern Daylight Time", -240), ("Sommerzeit", 120),
         )  # fmt: skip


@dataclass
class Wide:
    """A file with its name, what each logger measured, and what a keeper could answer."""

    name: str
    data: bytes
    truth: dict[str, Truth]
    zone: tzinfo
    answers: dict[str, Any]
    said: str
    untrue: bool = False
    # The truth of each sheet, where one of several must be chosen.
    sheets: dict[str, dict[str, Truth]] = field(default_factory=dict)


@dataclass
class Way:
    """How a time is written: names of its columns, and its cells."""

    kind: str
    names: list[str]
    cells: Callable[[datetime], list[Any]]
    order: str | None = None


def _stamp(pattern: str) -> Callable[[datetime], list[Any]]:
    return lambda t: [t.strftime(pattern)]


def _parts(t: datetime) -> list[Any]:
    return [t.year, t.month, t.day, t.hour, t.minute]


WAYS: tuple[tuple[str, list[str], Callable[[datetime], list[Any]], str | None], ...] = (
    ("typed", ["Date Time"], lambda t: [t], None),
    ("typed apart", ["Date", "Time"], lambda t: [t.date(), t.time()], None),
    ("typed clock first", ["Uhrzeit", "Datum"], lambda t: [t.time(), t.date()], None),
    ("typed date, text clock", ["Date", "Hour"], lambda t: [t.date(), t.strftime("%H:%M")], None),
    ("typed date, share", ["Date", "Time"], lambda t: [t.date(), (t.hour * 60 + t.minute) / 1440], None),
    ("typed midnight", ["Date", "Time"], lambda t: [t.replace(hour=0, minute=0), t.time()], None),
    ("parts", ["Year", "Month", "Day", "Hour", "Minute"], _parts, None),
    ("parts german", ["Jahr", "Monat", "Tag", "Stunde", "Minute"], _parts, None),
    ("parts short", ["YEAR", "MO", "DY", "HR", "MN"], _parts, None),
    ("parts day first", ["Day", "Month", "Year", "Hour", "Minute"],
     lambda t: [t.day, t.month, t.year, t.hour, t.minute], None),
    ("parts and clock", ["year", "month", "day", "time"],
     lambda t: [t.year, t.month, t.day, t.strftime("%H:%M")], None),
    ("day of year", ["Year", "Day of year", "Time"], lambda t: [t.year, t.timetuple().tm_yday, t.strftime("%H:%M")],
     None),
    ("cyrillic", ["Дата", "Время"], lambda t: [t.strftime("%d.%m.%Y"), t.strftime("%H:%M:%S")], "DMY"),
    ("chinese", ["时间"], _stamp("%Y/%m/%d %H:%M"), None),
    ("japanese", ["日時"], _stamp("%Y年%m月%d日 %H:%M"), None),
    ("greek", ["Ημερομηνία", "Ώρα"], lambda t: [t.strftime("%d/%m/%Y"), t.strftime("%H:%M")], "DMY"),
    ("iso z", ["time"], _stamp("%Y-%m-%dT%H:%M:%S"), None),
    ("half", ["Timestamp"], _stamp("%m/%d/%Y %I:%M:%S %p"), "MDY"),
    ("dashes", ["Date/Time"], _stamp("%d-%m-%Y %H:%M"), "DMY"),
    ("month word", ["When"], _stamp("%d-%b-%Y %H:%M:%S"), None),
)  # fmt: skip


def _way(rng: random.Random, clock: tzinfo) -> Way:
    kind, names, cells, order = rng.choice(WAYS)
    return Way(kind, list(names), lambda t: cells(t.astimezone(clock).replace(tzinfo=None)), order)


def _elapsed(rng: random.Random, times: Sequence[datetime]) -> Way:
    unit, seconds = rng.choice([("s", 1), ("min", 60), ("h", 3600), ("days", 86400)])

    def cells(t: datetime) -> list[Any]:
        passed = (t - times[0]).total_seconds() / seconds
        return [round(passed, 10) if passed % 1 else int(passed)]

    return Way("elapsed " + unit, [f"Elapsed ({unit})"], cells)


def make_wide(seed: int) -> Wide:
    rng = random.Random(seed)
    zone = ZoneInfo(rng.choice(ZONES))
    minutes = rng.choice([1, 5, 10, 15, 30, 60, 120, 360])
    times = _times(rng, zone, timedelta(minutes=minutes), rng.choice([4, 6, 12, 24, 48, 96]))
    clock, said_where, words = _clock(rng, zone, times)
    elapsed = rng.random() < 0.1
    way = _elapsed(rng, times) if elapsed else _way(rng, clock)
    if elapsed:
        clock, said_where, words = zone, "", ""
    several = rng.choice([1] * 6 + [2, 2, 3])
    series = {logger: _measured(rng, times) for logger in LOGGERS[:several]}
    made = Wide(
        "L1.csv", b"", series, zone,
        {"zone": clock, "dates": way.order, "start": times[0] if elapsed else None, "unit": "C"},
        f"seed {seed} {way.kind} {said_where} {words!r} x{several}",
    )  # fmt: skip
    layout = rng.choice(["sites", "sites in turn", "side by side", "sheets"]) if several > 1 else "one"
    body = Body(rng, made, way, times, layout)
    return body.file(said_where, words)


def _times(rng: random.Random, zone: ZoneInfo, step: timedelta, count: int) -> list[datetime]:
    year = rng.randint(2012, 2025)
    start = datetime(year, rng.randint(1, 12), rng.randint(1, 28), rng.randint(0, 23), tzinfo=UTC)
    if rng.random() < 0.3:
        # Across the hour that summer time skips, wherever the zone has one.
        at = datetime(year, 1, 1, tzinfo=UTC)
        while at.year == year:
            before, after = (
                at.astimezone(zone).utcoffset(),
                (at + timedelta(hours=1)).astimezone(zone).utcoffset(),
            )
            if before is not None and after is not None and after > before:
                start = at - step * rng.randint(0, count)
                start = start.replace(minute=0)
                break
            at += timedelta(hours=1)
    return [start + i * step for i in range(count)]


def _clock(rng: random.Random, zone: tzinfo, times: Sequence[datetime]) -> tuple[tzinfo, str, str]:
    """The logger's clock, where its zone is said, and in which words."""
    offsets = [t.astimezone(zone).utcoffset() or timedelta() for t in (times[1], times[-2])]
    if offsets[0] < offsets[1] and rng.random() < 0.4:
        # A clock that ignores summer time, over the spring day that tells it.
        return timezone(offsets[0]), "", ""
    if rng.random() < 0.6:
        return zone, "", ""
    words, minutes = rng.choice(WORDS)
    return timezone(timedelta(minutes=minutes)), rng.choice(["header", "preamble", "cells"]), words


def _measured(rng: random.Random, times: Sequence[datetime]) -> Truth:
    both = rng.random() < 0.8
    base = rng.uniform(12, 28)
    found: Truth = {}
    for t in times:
        c = round(base + rng.uniform(-2, 4), 1)
        h = round(rng.uniform(40, 99), 1) if both else None
        found[_ms(t)] = (None if rng.random() < 0.02 else c, None if rng.random() < 0.02 else h)
    return found


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


class Body:
    """Composes the grids of one file and writes them."""

    def __init__(self, rng: random.Random, made: Wide, way: Way, times: list[datetime], layout: str) -> None:
        self.rng, self.made, self.way, self.times, self.layout = rng, made, way, times, layout
        self.temperature, self.humidity = rng.choice(HEADERS)
        self.fahrenheit = rng.random() < 0.15
        if self.fahrenheit:
            self.temperature, self.humidity = rng.choice(
                [("Temp (°F)", "RH (%)"), ("Temperature °F", "Humidity %")]
            )
        self.names = rng.choice(NAMES)
        self.humid = any(h is not None for truth in made.truth.values() for _, h in truth.values())
        self.other = rng.choice(OTHERS) if rng.random() < 0.4 else None
        self.events = rng.random() < 0.2

    def file(self, where: str, words: str) -> Wide:
        names = [*self.way.names]
        if where == "header":
            names[0] = f"{names[0]} ({words})"
        suffix = f" {words}" if where == "cells" and self._may_carry() else ""
        if where == "cells" and not suffix:
            names[0] = f"{names[0]} ({words})"
        above = [["Time zone", words]] if where == "preamble" else []
        if self.rng.random() < 0.3:
            above.insert(0, [self.rng.choice(["Logger report", "Серийный номер: 7", "Export of readings"])])
        grids = self._grids(names, suffix, above)
        workbook = self.way.kind.startswith("typed") or len(grids) > 1 or self.rng.random() < 0.25
        if (
            len(grids) == 1
            and self.way.kind in ("typed", "typed apart", "typed clock first")
            and self.rng.random() < 0.3
        ):
            workbook = False
        data = _workbook(self.rng, grids) if workbook else self._text(next(iter(grids.values())))
        said = f"{self.made.said} {self.layout} {'workbook' if workbook else 'text'} {self.temperature}"
        return replace(self.made, name="L1.xlsx" if workbook else "L1.csv", data=data, said=said)

    def _may_carry(self) -> bool:
        return (
            len(self.way.names) == 1
            and self.way.kind not in ("typed", "japanese")
            and "elapsed" not in self.way.kind
        )

    def _grids(self, names: list[str], suffix: str, above: list[list[Any]]) -> dict[str, list[list[Any]]]:
        truth = self.made.truth
        if self.layout == "sheets":
            found = {}
            for name, logger in zip(self.names, truth, strict=False):
                found[f"s {name}" if name.isdigit() else name] = self._grid(names, suffix, above, [logger])
            self.made.answers["sheet"] = dict(zip(found, truth, strict=False))
            return found
        if (
            self.layout == "one"
            and self.rng.random() < 0.1
            and len(self.times) > 8
            and "elapsed" not in self.way.kind
        ):
            half = len(self.times) // 2
            first, second = self.times[:half], self.times[half:]
            return {
                "Sheet1": self._grid(names, suffix, above, ["L1"], first),
                "Sheet2": self._grid(names, suffix, above, ["L1"], second),
            }
        grid = self._grid(names, suffix, above, list(truth))
        if self.rng.random() < 0.05:
            return {"Info": [["Model", "A"], ["Owner", "B"]], "Data": grid}
        return {"Data": grid}

    def _grid(
        self, names: list[str], suffix: str, above: list[list[Any]], loggers: list[str],
        times: list[datetime] | None = None,
    ) -> list[list[Any]]:  # fmt: skip
        times = self.times if times is None else times
        site = self.layout.startswith("sites")
        side = len(loggers) if self.layout == "side by side" else 1
        head = [
            *(["Site"] if site else []),
            *names,
            *[self.temperature, *([self.humidity] if self.humid else [])] * side,
        ]
        self._note_columns(head, side)
        if self.other:
            head.append(self.other[0])
        if self.events:
            head.append("Event")
        order = [(t, group) for t in times for group in self._groups(loggers)]
        if self.layout == "sites":
            order = [(t, group) for group in self._groups(loggers) for t in times]
        rows = [self._row(t, group, site, suffix) for t, group in order]
        if self.layout == "one" and "elapsed" in self.way.kind and self.rng.random() < 0.25 and len(rows) > 6:
            half = len(rows) // 2
            for row, earlier in zip(rows[half:], rows, strict=False):
                row[0] = earlier[0]
            self.made.untrue = True
        return [
            *above,
            *([[]] if above else []),
            head,
            *self._with_events(rows, len(head)),
            *self._foot(len(head)),
        ]

    def _groups(self, loggers: list[str]) -> list[list[str]]:
        return [loggers] if self.layout == "side by side" else [[logger] for logger in loggers]

    def _note_columns(self, head: list[str], side: int) -> None:
        """What --column would say of each measured column, by number."""
        unit = "temperature_f" if self.fahrenheit else "temperature_c"
        given, at = [], len(head) - side * (2 if self.humid else 1)
        for logger in LOGGERS[:side]:
            for quantity in (unit, "humidity_pct")[: 2 if self.humid else 1]:
                at += 1
                given.append((str(at), f"{logger}:{quantity}" if side > 1 else quantity))
        self.made.answers["columns"] = tuple(given)
        self.made.answers["by"] = ("1",)
        self.made.answers["series"] = tuple(zip(self.names, LOGGERS, strict=True))

    def _row(self, t: datetime, loggers: list[str], site: bool, suffix: str) -> list[Any]:
        row: list[Any] = [self.names[LOGGERS.index(loggers[0])]] if site else []
        cells = self.way.cells(t)
        if suffix:
            cells[-1] = f"{cells[-1]}{suffix}"
        row += cells
        for logger in loggers:
            c, h = self.made.truth[logger][_ms(t)]
            row.append(None if c is None else round(c * 1.8 + 32, 2) if self.fahrenheit else c)
            if self.humid:
                row.append(h)
        if self.other:
            row.append(round(self.rng.uniform(*self.other[1:]), 1))
        return [*row, None] if self.events else row

    def _with_events(self, rows: list[list[Any]], width: int) -> list[list[Any]]:
        if not self.events or len(rows) < 6:
            return rows
        at = self.rng.randrange(2, len(rows) - 1)
        lead = len(self.way.names) + (1 if self.layout.startswith("sites") else 0)
        event = [*rows[at][:lead], *[None] * (width - lead - 1), "Button"]
        return [*rows[: at + 1], event, *rows[at + 1 :]]

    def _foot(self, width: int) -> list[list[Any]]:
        kind = self.rng.choice(["", "", "", "words", "statistics", "count", "exported"])
        if kind == "words":
            return [[], ["*** end of file ***"]]
        if kind == "statistics":
            blank = [None] * (len(self.way.names) - 1)
            return [["Minimum", *blank, 12.5], ["Maximum", *blank, 31.0], ["Average", *blank, 21.3]]
        if kind == "count":
            return [["Rows", len(self.times)]]
        return [["Exported", "2026-04-03 10:00:00"]] if kind == "exported" else []

    def _text(self, grid: list[list[Any]]) -> bytes:
        delimiter = self.rng.choice([",", ";", "\t"])
        comma = delimiter != "," and self.rng.random() < 0.4
        units = self.rng.random() < 0.08
        lines = [delimiter.join(_written(v, comma, units) for v in row) for row in grid]
        encoding = self.rng.choice(["utf-8", "utf-8-sig", "utf-16"])
        return (self.rng.choice(["\n", "\r\n"]).join(lines) + "\n").encode(encoding)


def _written(value: Any, comma: bool, units: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, float):
        return str(value).replace(".", ",") if comma else str(value)
    return f'"{value}"' if isinstance(value, str) and ("," in value or ";" in value) else str(value)


def _workbook(rng: random.Random, grids: dict[str, list[list[Any]]]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, grid in grids.items():
        sheet = book.create_sheet(name)
        for row in grid:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def judge_wide(made: Wide) -> tuple[str, str]:
    """What became of a file, as ``fuzz.judge`` says it."""
    hints, asked = Hints(logger="L1"), []
    truth = made.truth
    for _ in range(6):
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
            folder = Path(name)
            (folder / made.name).write_bytes(made.data)
            try:
                staged = stage(folder, folder / made.name, LOGGERS, made.zone, hints, intaken=[])
            except UndecidedError as error:
                question = error.questions[0]
                asked.append(question.hint)
                given, truth = _answered(made, question, hints, truth)
                if given == hints:
                    return "asked", " ".join(asked)
                hints = given
                continue
            except ProblemError as error:
                return "refused", " ".join([error.problems[0].code, *asked])
            staged.commit(datetime(2027, 1, 1, tzinfo=UTC))
            wrong = "its times cannot be true" if made.untrue else _differs(folder, truth, staged)
            if wrong:
                return "silent", f"{wrong} | asked {asked} | {made.said}"
            return ("answered" if asked else "taken"), " ".join(asked)
    return "asked", " ".join(asked)


def _answered(
    made: Wide, question: LeftOpen, hints: Hints, truth: dict[str, Truth]
) -> tuple[Hints, dict[str, Truth]]:
    """The hints with a true answer, and what is true of the part they ask for; unchanged where nobody can answer."""
    answers = made.answers
    if (
        question.hint in ("zone", "dates", "start", "unit", "decimal")
        and answers.get(question.hint) is not None
    ):
        return replace(hints, **{question.hint: answers[question.hint]}), truth
    if question.hint == "columns" and not hints.columns:
        return replace(hints, columns=answers["columns"]), truth
    if question.hint == "by" and not hints.by and "sheet" in answers:
        by = re.findall(r"--by (\d+)", question.flag)
        return replace(hints, by=tuple(by), series=tuple(answers["sheet"].items()), logger=None), truth
    if question.hint == "by" and not hints.by and answers["by"]:
        return replace(hints, by=answers["by"], series=answers["series"], logger=None), truth
    if question.hint == "sheet" and "sheet" in answers:
        name, logger = next(iter(answers["sheet"].items()))
        return replace(hints, sheet=name), {"L1": made.truth[logger]}
    return hints, truth


def _differs(folder: Path, truth: dict[str, Truth], staged: Any) -> str:
    counts = staged.counts
    named = counts.others + counts.refused_count + counts.footer + counts.again + len(staged.layout.above)
    gone = 0
    for logger in LOGGERS:
        true = truth.get(logger, {})
        found = read(folder, logger, intaken=intakes(folder)[0])
        if extra := [t for t in found.times.tolist() if t not in true]:
            return f"{logger} has a reading at {datetime.fromtimestamp(extra[0] / 1000, UTC)} that never was"
        taken = [i for i, q in enumerate(("temperature_c", "humidity_pct")) if q in found.values]
        full = [t for t, values in true.items() if any(values[i] is not None for i in taken)]
        gone += len(full) - len(found.times)
        for place, quantity in enumerate(("temperature_c", "humidity_pct")):
            wanted = np.array([np.nan if (v := true[t][place]) is None else v for t in found.times.tolist()])
            if quantity not in found.values:
                if not np.isnan(wanted).all() and len(wanted) and not staged.layout.untaken:
                    return f"{quantity} is gone and not named"
                continue
            got = found.values[quantity]
            with np.errstate(invalid="ignore"):
                off = np.abs(got - wanted) > 0.02
            if off.any() or (np.isnan(got) != np.isnan(wanted)).any():
                return f"{quantity} of {logger} differs"
    return f"{gone} readings gone, {named} named" if gone > named else ""
