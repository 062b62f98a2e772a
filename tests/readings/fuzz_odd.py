"""Odder layouts from a known truth: ways of writing numbers and months, units rows, flags, statistics beside means,
headers again in mid-file (also with other columns or units), second times, line ends and encodings.

``fuzz.main`` runs these beside the others.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from .fuzz import ZONES
from .fuzz_odd_times import odd_way
from .fuzz_wide import Truth, Wide, _ms, _times

FLAGS = ("Alarm", "Status", "QC", "Quality", "Door", "Error code", "Flag")
NOTES = ("Note", "Comment", "Bemerkung", "Remarks")
SPELT = ("plain", "plain", "comma", "quoted", "quoted comma", "unit", "exponent", "plus", "padded", "long minus",
         "whole", "many digits", "unit comma", "grouped")  # fmt: skip

TRICKS = ("statistics", "flag", "quality", "note", "lux", "derived", "setpoint", "second probe", "battery",
          "second scale", "minimum")  # fmt: skip


@dataclass
class Odd:
    """What is decided of one file before it is written."""

    rng: random.Random
    times: list[datetime]
    way: str
    names: list[str]
    cells: Callable[[datetime], list[str]]
    order: str | None
    spelt: str
    delimiter: str
    truth: Truth
    fahrenheit: bool = False
    fraction: bool = False
    tricks: list[str] = field(default_factory=list)


def make_odd(seed: int) -> Wide:
    rng = random.Random(seed)
    zone = ZoneInfo(rng.choice(ZONES))
    step = timedelta(minutes=rng.choice([1, 5, 10, 15, 30, 60, 120, 240]))
    times = _times(rng, zone, step, rng.choice([4, 8, 24, 48, 96, 200]))
    way, names, cells, order = odd_way(rng)
    clock: tzinfo = zone
    if rng.random() < 0.08:
        offset = times[0].astimezone(zone).utcoffset()
        assert offset is not None
        clock = timezone(offset)
    spelt = rng.choice(SPELT)
    delimiter = rng.choice([",", ",", ";", ";", "\t", "|", "wide"])
    if "comma" in spelt and delimiter == "," and not spelt.startswith("quoted"):
        delimiter = ";"
    base, both = rng.uniform(-12, 28), rng.random() < 0.85
    truth: Truth = {
        _ms(t): (round(base + rng.uniform(-3, 4), 1), round(rng.uniform(30, 99.5), 1) if both else None)
        for t in times
    }
    if spelt == "whole":
        truth = {t: (round(c or 0), None if h is None else round(h)) for t, (c, h) in truth.items()}
    made = Odd(rng, times, way, names, lambda t: cells(t.astimezone(clock).replace(tzinfo=None)), order, spelt,
               delimiter, truth, fahrenheit=rng.random() < 0.15, fraction=rng.random() < 0.06)  # fmt: skip
    text, columns = _text(made, both)
    answers = {"zone": clock, "dates": order, "start": None, "unit": "F" if made.fahrenheit else "C",
               "columns": columns, "by": (), "series": (), "decimal": "," if "comma" in spelt else "."}  # fmt: skip
    said = f"odd seed {seed} {way} {spelt} {delimiter!r} F={made.fahrenheit} {made.tricks}"
    data, more = _bytes(rng, text)
    return Wide("L1.csv", data, {"L1": truth}, zone, answers, f"{said} {more}")


def _number(made: Odd, value: float | None, unit: str = "", digits: int = 1) -> str:
    if value is None:
        return ""
    spelt = made.spelt
    text = str(round(value)) if spelt == "whole" and digits == 1 else f"{value:.{digits}f}"
    if spelt == "many digits":
        text = f"{value:.5f}"
    elif spelt == "exponent":
        text = f"{value:.4e}"
    elif spelt == "plus" and value >= 0:
        text = f"+{text}"
    elif spelt == "padded":
        text = f"  {text} "
    elif spelt == "long minus":
        text = text.replace("-", "−")
    if "comma" in spelt:
        text = text.replace(".", ",")
    return f"{text} {unit}".rstrip() if spelt.startswith("unit") else text


def _lux(made: Odd, value: float) -> str:
    """Light with its thousands marked, as the file's decimals have it."""
    whole = f"{value:,.0f}" if made.spelt != "grouped" else f"{value:,.1f}"
    if "comma" in made.spelt:
        return whole.replace(",", "." if made.rng.random() < 0.5 else " ")
    return whole


def _columns(made: Odd, both: bool) -> tuple[list[tuple[str, str, list[str]]], set[str]]:
    """(name, unit, cells) of each column beside the times, in order; the names of the measured ones."""
    rng, rows = made.rng, [made.truth[_ms(t)] for t in made.times]
    scale = (lambda c: c * 1.8 + 32) if made.fahrenheit else (lambda c: c)
    t_unit = "°F" if made.fahrenheit else "°C"
    t_name, h_name = rng.choice([("Temperature", "Humidity"), ("Temp", "RH"), ("Temperatur", "Luftfeuchte"),
                                 ("T", "H"), ("Air temp", "Rel. humidity"), ("Température", "Humidité"), ("t", "rF"),
                                 ("Temp avg", "RH avg")])  # fmt: skip
    digits = 3 if made.fahrenheit else 1
    found = [(t_name, t_unit, [_number(made, scale(c), t_unit, digits) for c, _ in rows])]
    measured = {t_name}
    if both:
        share = 0.01 if made.fraction else 1
        digits = 4 if made.fraction else 1
        unit = "" if made.fraction else "%"
        cells = [_number(made, None if h is None else h * share, unit, digits) for _, h in rows]
        found.append((h_name, unit, cells))
        measured.add(h_name)
    for trick in rng.sample(TRICKS, rng.choice([0, 0, 1, 1, 2, 3])):
        made.tricks.append(trick)
        found = _with(made, trick, found, rows)
    if rng.random() < 0.3:
        rng.shuffle(found)
    return found, measured


def _with(
    made: Odd, trick: str, found: list[tuple[str, str, list[str]]], rows: list[tuple[float | None, float | None]]
) -> list[tuple[str, str, list[str]]]:  # fmt: skip
    """The columns with one more of a kind that misleads."""
    rng = made.rng
    t_name, t_unit, _ = next(c for c in found if c[1] in ("°C", "°F"))
    scale = (lambda c: c * 1.8 + 32) if made.fahrenheit else (lambda c: c)
    plain = t_name.removesuffix(" avg")

    def near(low: float, high: float) -> list[str]:
        return [_number(made, scale((c or 0) + rng.uniform(low, high)), t_unit, 2) for c, _ in rows]

    if trick == "statistics":
        low, high = rng.choice([("min", "max"), ("Min", "Max"), ("Minimum", "Maximum"), ("low", "high")])
        return [(f"{plain} {low}", t_unit, near(-3, -1)), *found, (f"{plain} {high}", t_unit, near(1, 3))]
    if trick == "minimum":
        return [(f"Min {plain}", t_unit, near(-3, -1)), *found]
    if trick == "flag":
        return [*found, (rng.choice(FLAGS), "", [rng.choice(["0", "0", "0", "1"]) for _ in rows])]
    if trick == "quality":
        return [
            part
            for c in found
            for part in (c, (f"{c[0]} QC", "", [rng.choice(["0", "1", "2"]) for _ in rows]))
        ]
    if trick == "note":
        words = ["", "", "", "watered", "door open, briefly", "23 C by hand", "moved; see book", 'said "ok"']
        return [*found, (rng.choice(NOTES), "", [rng.choice(words) for _ in rows])]
    if trick == "lux":
        return [*found, ("Light", "lux", [_lux(made, rng.uniform(0, 40_000)) for _ in rows])]
    if trick == "derived":
        name, unit = rng.choice([("Dew point", t_unit), ("Heat index", t_unit), ("Wet bulb", t_unit), ("VPD", "kPa"),
                                 ("Absolute humidity", "g/m3"), ("Feels like", t_unit),
                                 ("Taupunkt", t_unit)])  # fmt: skip
        column = (name, unit, near(-8, -4))
        return [column, *found] if rng.random() < 0.5 else [*found, column]
    if trick == "setpoint":
        return [
            *found,
            (rng.choice(["Setpoint", "Target temp", "Sollwert", "Temp setpoint"]), t_unit, near(5, 5.0001)),
        ]
    if trick == "second probe":
        return [
            *found,
            (
                rng.choice([f"{plain} 2", f"{plain} external", f"Ext. {plain}", f"Probe {plain}"]),
                t_unit,
                near(-6, 6),
            ),
        ]
    if trick == "second scale" and not made.fahrenheit:
        other = [_number(made, (c or 0) * 1.8 + 32, "°F", 2) for c, _ in rows]
        return [(plain, "°F", other), *found] if rng.random() < 0.5 else [*found, (plain, "°F", other)]
    return [
        *found,
        ("Battery", rng.choice(["V", "%"]), [_number(made, rng.uniform(2, 3), "V", 2) for _ in rows]),
    ]


def _text(made: Odd, both: bool) -> tuple[list[str], tuple[tuple[str, str], ...]]:
    """The lines of a file, and what --column would say of what was measured."""
    rng = made.rng
    found, measured = _columns(made, both)
    lead = [list(c) for c in zip(*(made.cells(t) for t in made.times), strict=True)]
    head = [*made.names, *(name for name, _, _ in found)]
    units = ["" if rng.random() < 0.7 else rng.choice(["dd.mm.yyyy", "local", "-"]) for _ in made.names]
    units = [*units, *(unit for _, unit, _ in found)]
    rows = [list(r) for r in zip(*lead, *(cells for _, _, cells in found), strict=True)]
    unit_f = "temperature_f" if made.fahrenheit else "temperature_c"
    columns = tuple((str(i + 1), unit_f if units[i] in ("°C", "°F") else "humidity_fraction" if made.fraction else
                     "humidity_pct") for i, name in enumerate(head) if name in measured and i >= len(made.names)
                    and not (name != head[i] or (units[i] == "°F" and not made.fahrenheit)))  # fmt: skip
    heads = _heads(made, head, units)
    lines = [_line(made, row) for row in rows]
    lines = _in_the_middle(made, lines, rows, heads, units)
    mark = ";" if made.delimiter == "wide" else made.delimiter
    above = rng.choice([[], [], [], ["Logger report"], ["Model: X1", "Serial: 100234", "", "Samples: 200"],
                        ["# made by a program", "# interval 10 min"], [f"Sep={mark}"],
                        ["Min;12.5", "Max;31.0", ""]])  # fmt: skip
    foot = rng.choice(
        [[], [], [], ["-- end --"], ["", "Max;31.5", "Min;12.0"], ["# 200 rows"], ["Signature: 8f3a"]]
    )
    return [*above, *heads, *lines, *foot], columns


def _heads(made: Odd, head: list[str], units: list[str]) -> list[str]:
    style = made.rng.choice(["units row", "brackets", "brackets", "comma", "underscore", "bare"])
    if made.delimiter == "wide" and style == "units row":
        style = "underscore"
    made.tricks.append(style)
    if style == "units row":
        return [_line(made, head), _line(made, units)]
    write = {"brackets": "{} ({})", "comma": "{}, {}", "underscore": "{}_{}", "bare": "{}"}[style]
    return [_line(made, [write.format(n, u) if u and i >= len(made.names) else n
                         for i, (n, u) in enumerate(zip(head, units, strict=True))])]  # fmt: skip


def _line(made: Odd, cells: list[str]) -> str:
    if made.delimiter == "wide":
        return "".join(f"{c:<{24 if i == 0 else 16}}  " for i, c in enumerate(cells)).rstrip()
    quote = made.spelt.startswith("quoted")
    mark = made.delimiter
    return mark.join('"' + c.replace('"', '""') + '"' if quote or mark in c or '"' in c else c for c in cells)


def _in_the_middle(
    made: Odd, lines: list[str], rows: list[list[str]], heads: list[str], units: list[str]
) -> list[str]:  # fmt: skip
    """What stands between the rows: nothing mostly; headers again, the same or others; remarks; a second byte mark."""
    rng = made.rng
    trick = rng.choice(["", "", "", "", "header", "header swapped", "header other unit", "blank", "remark", "mark",
                        "stamp", "one more column", "cut row"])  # fmt: skip
    half = rng.randrange(1, len(lines)) if rng.random() < 0.7 else len(lines) // 2
    lead = len(made.names)
    if trick == "header swapped":
        if len(units) - lead < 2 or made.delimiter == "wide":
            return lines
        turn = [*range(lead), *reversed(range(lead, len(units)))]
        cells = [_cells(made, h) for h in heads]
        again = [_line(made, [c[i] for i in turn]) for c in cells]
        if again == heads:
            return lines  # two columns of one name, turned round: nobody could see it
        made.tricks.append(trick)
        return [*lines[:half], *again, *(_line(made, [row[i] for i in turn]) for row in rows[half:])]
    if trick == "header other unit":
        return _other_unit(made, lines, rows, heads, units, half=half)
    if trick == "one more column" and made.delimiter != "wide":
        made.tricks.append(trick)
        again = [_line(made, [*_cells(made, h)[:lead], "Extra", *_cells(made, h)[lead:]]) for h in heads]
        more = [_line(made, [*row[:lead], f"{rng.uniform(1, 9):.1f}", *row[lead:]]) for row in rows[half:]]
        return [*lines[:half], *again, *more]
    between = {"header": heads, "blank": ["", ""], "remark": ["# battery changed"], "stamp": ["---- next day ----"],
               "mark": ["\ufeff" + heads[0], *heads[1:]]}.get(trick, [])  # fmt: skip
    made.tricks += [trick] if between else []
    return [*lines[:half], *between, *lines[half:]]


def _cells(made: Odd, line: str) -> list[str]:
    import csv

    return next(csv.reader([line], delimiter=made.delimiter))


def _other_unit(
    made: Odd, lines: list[str], rows: list[list[str]], heads: list[str], units: list[str], *, half: int
) -> list[str]:  # fmt: skip
    """The second half in the other scale, which its header says: two exports put behind each other."""
    at = [i for i, u in enumerate(units) if u in ("°C", "°F")]
    if (
        len(at) != 1
        or not any("°" in h for h in heads)
        or made.delimiter == "wide"
        or made.spelt.startswith("unit")
    ):
        return lines
    other = "°C" if made.fahrenheit else "°F"
    again = [h.replace("°F", "@").replace("°C", "@").replace("@", other) for h in heads]
    turned = []
    for t, row in zip(made.times[half:], rows[half:], strict=True):
        c = made.truth[_ms(t)][0]
        value = c if made.fahrenheit else (c or 0) * 1.8 + 32
        turned.append(_line(made, [*row[: at[0]], _number(made, value, "", 2), *row[at[0] + 1 :]]))
    made.tricks.append("header other unit")
    return [*lines[:half], *again, *turned]


def _bytes(rng: random.Random, lines: list[str]) -> tuple[bytes, str]:
    """The file's bytes: its line ends and its encoding."""
    ends = rng.choice(["\n", "\n", "\r\n", "\r", "mixed"])
    text = "".join(line + (rng.choice(["\n", "\r\n"]) if ends == "mixed" else ends) for line in lines)
    if rng.random() < 0.2:
        text = text.rstrip("\r\n")
    encoding = rng.choice(
        ["utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-16-le", "cp1252", "bare utf-16-le"]
    )
    if encoding == "utf-16-be":
        return b"\xfe\xff" + text.encode(encoding), f"{ends!r} {encoding}"
    if encoding == "utf-16-le":
        return b"\xff\xfe" + text.encode(encoding), f"{ends!r} {encoding}"
    try:
        return text.encode(encoding.removeprefix("bare ")), f"{ends!r} {encoding}"
    except UnicodeEncodeError:
        return text.encode(), f"{ends!r} utf-8"
