"""A generator of logger exports in any layout, from a truth it knows; and what the reader makes of each.

By hand: ``python -m tests.readings.fuzz 20000 [first seed]``. A file taken in that differs from its truth without
being named is *silent*; there must be none.
"""

from __future__ import annotations

import random
import sys
import tempfile
import traceback
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from zoneuse.readings.layout import Hints, LeftOpen, UndecidedError
from zoneuse.readings.read.intake import stage
from zoneuse.readings.store.store import intakes, read
from zoneuse.study.problems import ProblemError

from .fuzz_times import CLOCKS, Written, write_times

ZONES = (
    "Europe/Vienna",
    "America/New_York",
    "UTC",
    "Asia/Kolkata",
    "Australia/Sydney",
    "America/Los_Angeles",
)
STEPS = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 720)
TEMPERATURES = {
    "C": [
        "Temp (°C)",
        "Temperature [°C]",
        "temperature_c",
        "Temperatur °C",
        "Temp, °C",
        "#1:oC",
        "T degC",
        "Temp. C",
    ],
    "F": ["Temp (°F)", "Temperature_Fahrenheit", "T1 degF", "temperature_f", "Temp, °F", "Temp oF"],
}
BARE = ["Temperature", "Temp", "Lufttemperatur", "temp"]
HUMIDITIES = [
    "RH (%)",
    "Humidity",
    "Hum %",
    "rel. Feuchte [%]",
    "%RH",
    "Relative_Humidity",
    "#2:rH",
    "%",
    "Vlhkost",
]
DERIVED = ["Dew Point (°C)", "Taupunkt °C", "Battery (V)", "Absolute humidity", "Pressure hPa"]
SITES = ["Site", "Logger ID", "Tank", "Ort", "sensor", "Burrow"]
MISSING = ["", "--", "NaN", "N/A", "OL", "null"]
STRANGE = ("none",) * 14 + ("reset", "set back", "swapped", "repeated", "fixed clock", "interleaved")


@dataclass
class Export:
    """A file, and what is true: ``truth`` UTC ms to (°C, %); ``answers`` what a keeper could say of it."""

    text: bytes
    truth: dict[int, tuple[float | None, float | None]]
    answers: dict[str, object]
    zone: tzinfo
    said: str
    # A file whose times cannot be true may be asked about or refused, and never taken in as it is.
    untrue: bool = False
    has_humidity: bool = False
    columns: dict[str, int] = field(default_factory=dict)


def make(seed: int) -> Export:
    rng = random.Random(seed)
    zone = ZoneInfo(rng.choice(ZONES))
    strange = rng.choice(STRANGE)
    step = timedelta(minutes=rng.choice(STEPS))
    count = rng.choice([3, 5, 8, 20, 40, 60, 120])
    start = _start(rng, zone, step * count)
    times = [start + i * step for i in range(count)]
    clock, written = _clock(rng, zone, strange, times)
    if strange == "fixed clock":
        times = written.times
    celsius = [round(rng.uniform(11, 33), 1) for _ in times]
    humid = [round(rng.uniform(35, 99), 1) for _ in times] if rng.random() < 0.7 else None
    rows = list(range(len(times)))
    shown, untrue = _spoil(rng, strange, times, written, rows)
    return _table(
        rng, zone, clock, (times, celsius, humid), shown, untrue, written, f"seed {seed} {strange} "
    )


def _start(rng: random.Random, zone: ZoneInfo, length: timedelta) -> datetime:
    year = rng.randint(2011, 2025)
    if rng.random() < 0.35:
        # Across a change of the clocks, wherever the zone has one.
        at = datetime(year, rng.choice([3, 10, 11, 4]), 1, tzinfo=UTC)
        for _ in range(40 * 24):
            after = at + timedelta(hours=1)
            if at.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
                return at - timedelta(minutes=int(length.total_seconds() / 60 * rng.random()) // 5 * 5)
            at = after
    return datetime(
        year, rng.randint(1, 12), rng.randint(1, 28), rng.randint(0, 23), rng.choice([0, 5, 30]), tzinfo=UTC
    )


def _clock(rng: random.Random, zone: ZoneInfo, strange: str, times: list[datetime]) -> tuple[tzinfo, Written]:
    """The clock the logger runs on, and how its times are written."""
    kind = rng.choice(sorted(CLOCKS))
    if strange == "fixed clock" and (
        kind.startswith("epoch") or kind == "elapsed" or not _changes(zone, times)
    ):
        return zone, write_times(rng, kind, times, zone, "nothing")
    if strange == "fixed clock":
        winter = min(t.astimezone(zone).utcoffset() or timedelta() for t in _year(times[0]))
        return timezone(winter), write_times(rng, kind, times, timezone(winter), "nothing")
    where = rng.choice(
        ["nothing"] * 6 + ["header offset", "header letters", "preamble", "cell offset", "header name"]
    )
    if where == "nothing":
        return zone, write_times(rng, kind, times, zone, where)
    if where == "header name":
        clock: tzinfo = ZoneInfo(rng.choice(ZONES[:2]))
    else:
        clock = timezone(timedelta(hours=rng.choice([-8, -7, -5, -4, 0, 1, 2, 8])))
        if where == "header letters":
            clock = timezone(timedelta(hours=rng.choice([1, 2, 0, -8, -5])))
    return clock, write_times(rng, kind, times, clock, where)


def _changes(zone: ZoneInfo, times: list[datetime]) -> bool:
    """Whether the clocks were changed well within: a file that ends in the doubled hour tells of nothing."""
    room = timedelta(hours=3)
    return (
        times[-1] - times[0] > 3 * room
        and len({t.astimezone(zone).utcoffset() for t in (times[0] + room, times[-1] - room)}) > 1
    )


def _year(at: datetime) -> list[datetime]:
    return [at.replace(month=m, day=1) for m in (1, 7)]


def _spoil(
    rng: random.Random, strange: str, times: list[datetime], written: Written, rows: list[int]
) -> tuple[list[tuple[int, list[str]]], bool]:
    """The rows as they come: (index of the truth, time cells), and whether their times cannot be true."""
    shown = [(i, written.cells(times[i])) for i in rows]
    half = len(rows) // 2
    if strange == "reset" and half > 1:
        first = datetime(2000, 1, 1, tzinfo=UTC)
        late = [(i, written.cells(first + (times[i] - times[half]))) for i in rows[half:]]
        return (shown[:half] + late if rng.random() < 0.5 else late + shown[:half]), True
    if strange == "set back" and half > 3:
        back = (times[1] - times[0]) * max(2, half // 2) + timedelta(minutes=rng.choice([0, 1]))
        return shown[:half] + [(i, written.cells(times[i] - back)) for i in rows[half:]], True
    if strange == "swapped" and written.swap and len(rows) > 20:
        swapped = [(i, written.swapped(times[i])) for i in rows]
        changed = any(a[1] != b[1] for a, b in zip(shown, swapped, strict=True))
        days = {written.local(times[i]).date() for i in rows}
        return (swapped, True) if changed and len(days) > 2 else (shown, False)
    if strange == "repeated" and len(rows) > 8:
        return [(i, written.cells(times[i - i % 4])) for i in rows], True
    if strange == "interleaved" and half > 3:
        return [r for pair in zip(shown[:half], shown[half : 2 * half], strict=False) for r in pair], True
    if rng.random() < 0.15:
        shown.reverse()
    return shown, False


def _table(
    rng: random.Random, zone: tzinfo, clock: tzinfo, truth: tuple[list[datetime], list[float], list[float] | None],
    shown: list[tuple[int, list[str]]], untrue: bool, written: Written, said: str,
) -> Export:  # fmt: skip
    times, celsius, humid = truth
    delimiter = rng.choice([",", ",", ";", ";", "\t", "|"])
    comma = delimiter != "," and rng.random() < 0.4
    scale = rng.choice(["C", "C", "F"])
    bare = rng.random() < 0.12
    columns: list[tuple[str, list[str]]] = []
    number = (lambda v: f"{v:.1f}".replace(".", ",")) if comma else (lambda v: f"{v:.1f}")
    gone = rng.choice(MISSING)
    left = {i: (celsius[i], None if humid is None else humid[i]) for i, _ in shown}
    if humid is not None and rng.random() < 0.3:
        for i in rng.sample(sorted(left), len(left) // 8):
            left[i] = (left[i][0], None)
    for name, cells in zip(written.names, zip(*(c for _, c in shown), strict=True), strict=True):
        columns.append((name, list(cells)))
    in_f = [celsius[i] * 1.8 + 32 if scale == "F" else celsius[i] for i, _ in shown]
    measured = [(rng.choice(BARE if bare else TEMPERATURES[scale]), [number(round(v, 2)) if scale == "C" else
                 f"{v:.2f}".replace(".", "," if comma else ".") for v in in_f])]  # fmt: skip
    if humid is not None:
        cells = [gone if left[i][1] is None else number(left[i][1]) for i, _ in shown]
        measured.append((rng.choice(HUMIDITIES), cells))
    if rng.random() < 0.35:
        measured.append((rng.choice(DERIVED), [number(round(rng.uniform(1, 9), 1)) for _ in shown]))
    named = [name for name, _ in measured[: 1 if humid is None else 2]]
    rng.shuffle(measured)
    columns = [*columns, *measured] if rng.random() < 0.85 else [*measured, *columns]
    sites = None
    if rng.random() < 0.08 and len(shown) > 8 and not untrue:
        half = len(shown) // 2
        sites = ["a"] * half + ["b"] * (len(shown) - half)
        columns.insert(rng.randint(0, len(columns)), (rng.choice(SITES), sites))
    index = rng.random() < 0.25
    if index:
        columns.insert(0, (rng.choice(["No.", "#", "", "Nr"]), [str(i + 1) for i in range(len(shown))]))
    ends = rng.choice(["", "", "", "trailing delimiter", "unnamed battery", "unnamed flag", "ragged battery", "event",
                       "free text"])  # fmt: skip
    return _file(rng, columns, ends, delimiter, Export(
        b"", {_ms(times[i]): left[i] for i in left}, {
            "dates": written.order, "unit": scale, "zone": clock, "decimal": "," if comma else ".",
            "start": written.start, "sites": sites,
            "columns": tuple((name, f"temperature_{scale.lower()}") if i == 0 else (name, "humidity_pct")
                             for i, name in enumerate(named)),
        }, zone, f"{said}{written.said} {delimiter!r} {ends} {scale} bare={bare}",
        untrue, humid is not None,
    ), written, index)  # fmt: skip


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def _file(
    rng: random.Random, columns: list[tuple[str, list[str]]], ends: str, delimiter: str, made: Export,
    written: Written, index: bool,
) -> Export:  # fmt: skip
    names = [name for name, _ in columns]
    rows = [list(cells) for cells in zip(*(c for _, c in columns), strict=True)]
    if index and rng.random() < 0.3 and names[0]:
        names = names[1:]
    for i, row in enumerate(rows):
        if ends == "trailing delimiter":
            row.append("")
        elif ends == "unnamed battery" or (ends == "ragged battery" and i % 6 == 0):
            row.append("3.6")
        elif ends == "unnamed flag":
            row.append("ok")
        elif ends == "free text" and i < 5:
            row += [
                "",
                rng.choice(["Details", "Series: Temp, °C (Temp)", "Serial Number: 2054", "Samples: 18,564"]),
            ]
    if ends == "event":
        names.append("Event")
        rows = [[*row, "button" if i == 2 else ""] for i, row in enumerate(rows)]
    if ends == "free text":
        names.append("Host Connected")
    quoted = rng.random() < 0.3

    def line(cells: list[str], always: bool = False) -> str:
        clash = [
            f'"{c}"' if quoted or (delimiter in c and (always or ends != "free text")) else c for c in cells
        ]
        return delimiter.join(clash)

    body = [line(row) for row in rows]
    if ends == "free text" and quoted:
        body = [line(row, True) for row in rows]
    preamble = [*rng.choice([[], [], ["Plot Title: shelf 2"], ["Serial;0000", "Interval: 10 min", ""],
                             [f"Exported{delimiter}2026-02-03 10:00:00{delimiter}12", ""]]),
                *written.preamble]  # fmt: skip
    footer = rng.choice([[], [], [], ["End of data"], ["", f"Mean{delimiter}20.5"]])
    if rng.random() < 0.1 and len(body) > 4:
        body.insert(2, "<readout>" if len(columns) > 2 else "")
    ending = rng.choice(["\n", "\r\n"])
    text = ending.join([*preamble, line(names, True), *body, *footer]) + rng.choice(["", ending])
    encoding = rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16"])
    shift = len(rows[0]) - len(names) if index and len(names) < len(columns) else 0
    places = {name: i + 1 for i, (name, _) in enumerate(columns)}
    return replace(
        made, text=text.encode(encoding), columns=places, said=f"{made.said} shift={shift} {encoding}"
    )


def judge(made: Export) -> tuple[str, str]:
    """What became of a file, and more about it: taken, asked, answered, refused, or silent (the fault)."""
    hints = Hints(logger="L1")
    asked: list[str] = []
    for _ in range(5):
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
            folder = Path(name)
            (folder / "L1.csv").write_bytes(made.text)
            try:
                staged = stage(folder, folder / "L1.csv", ["L1", "L2"], made.zone, hints, intaken=[])
            except UndecidedError as error:
                question = error.questions[0]
                asked.append(question.hint)
                given = _answer(made, question, hints)
                if given is None or given == hints:
                    return "asked", " ".join(asked)
                hints = given
                continue
            except ProblemError as error:
                return "refused", error.problems[0].code + " " + " ".join(asked)
            wrong = "its times cannot be true" if made.untrue else ""
            if made.answers["sites"] and not hints.where:
                wrong = "two sites are one series"
            staged.commit(datetime(2027, 1, 1, tzinfo=UTC))
            wrong = wrong or _compare(made, folder, staged)
            if wrong:
                return "silent", f"{wrong} | asked {asked} | {made.said}"
            return ("answered" if asked else "taken"), " ".join(asked)
    return "asked", " ".join(asked)


def _answer(made: Export, question: LeftOpen, hints: Hints) -> Hints | None:
    known = {"dates": "dates", "unit": "unit", "zone": "zone", "decimal": "decimal", "start": "start"}
    if question.hint in known:
        answer = made.answers[known[question.hint]]
        return None if answer is None else replace(hints, **{question.hint: answer})
    if question.hint == "columns":
        columns = made.answers["columns"]
        given = tuple((str(made.columns[name]), what) for name, what in columns if name in made.columns)  # type: ignore[union-attr]
        # Where no time looks like one, the question names the column of times.
        timed = [n for n in made.columns if n.startswith(("Elapsed", "Time"))]
        times = ((str(made.columns[timed[0]]), "at"),) if "=at" in question.flag and timed else ()
        return replace(hints, columns=(*times, *given))
    if question.hint == "by":
        # The rows of the first site alone are the truth then.
        site = next((n for n in SITES if n in made.columns), None)
        return None if site is None else replace(hints, where=((str(made.columns[site]), "a"),))
    return None


def _compare(made: Export, folder: Path, staged) -> str:  # type: ignore[no-untyped-def]
    found = read(folder, "L1", intaken=intakes(folder)[0])
    named = (
        staged.counts.others + staged.counts.refused_count + staged.counts.footer + len(staged.layout.above)
    )
    for at, *_ in zip(found.times.tolist(), strict=True):
        if at not in made.truth:
            return f"a reading at {datetime.fromtimestamp(at / 1000, UTC)} that never was"
    if len(made.truth) - len(found.times) > named:
        return f"{len(made.truth) - len(found.times)} readings gone, {named} named"
    for quantity, place in (("temperature_c", 0), ("humidity_pct", 1)):
        if quantity not in found.values:
            continue
        wanted = np.array(
            [np.nan if (v := made.truth[t][place]) is None else v for t in found.times.tolist()]
        )
        got = found.values[quantity]
        with np.errstate(invalid="ignore"):
            off = np.abs(got - wanted) > 0.02
        if off.any() or (np.isnan(got) != np.isnan(wanted)).any():
            return f"{quantity} differs"
    if made.has_humidity and "humidity_pct" not in found.values and not staged.layout.untaken:
        return "humidity is gone and not named"
    if "temperature_c" not in found.values and not staged.layout.untaken:
        return "temperature is gone and not named"
    return ""


def one(seed: int) -> tuple[str, str]:
    """What became of the file of a seed: by thirds plain text tables, wider ones, odder ones."""
    from .fuzz_odd import make_odd
    from .fuzz_wide import judge_wide, make_wide

    kind = seed % 3
    try:
        return judge(make(seed)) if kind == 0 else judge_wide((make_wide if kind == 1 else make_odd)(seed))
    except Exception:
        # A traceback is no answer either.
        return "silent", f"broken: {traceback.format_exc(limit=-2)}"


def main(count: int, first: int) -> int:
    fates: Counter[str] = Counter()
    why: Counter[str] = Counter()
    for seed in range(first, first + count):
        fate, more = one(seed)
        fates[fate] += 1
        if fate != "silent":
            why[f"{fate}: {more}"] += 1
        else:
            print(f"SILENT {seed}: {more}", flush=True)
    print(dict(fates))
    for reason, n in why.most_common(40):
        print(f"{n:7,}  {reason}")
    return fates["silent"]


if __name__ == "__main__":
    sys.exit(bool(main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)))
