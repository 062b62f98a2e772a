"""Twelve layouts made up after the manner of loggers, stations and hubs, that the reader was not written from.

``truth`` reads each independently: a pattern, a time format, an offset. What the reader takes in must equal it row by
row; what it asks must lead there; what it refuses must say why. docs/methods/readings.md has the table.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from zoneuse.readings.layout import UndecidedError
from zoneuse.study.problems import ProblemError

from .intaking import stored, take_in

HOURS = [datetime(2026, 4, 3, 21) + i * timedelta(hours=1) for i in range(12)]
TEMPERATURES = [21.4, 21.2, 21.0, 20.7, 20.5, 20.4, 20.1, 19.9, 19.8, 19.6, 19.5, 19.3]
HUMIDITIES = [61.0, 62.5, 63.0, 64.5, 66.0, 67.0, 68.5, 70.0, 71.5, 72.0, 73.5, 75.0]
ROWS = list(zip(HOURS, TEMPERATURES, HUMIDITIES, strict=True))


def lines(cells: str, head: str = "", foot: str = "") -> str:
    """``cells`` filled for each row: t the time, c °C, f °F, h %, i the row's number, e seconds since 1970."""
    body = "".join(
        cells.format(
            t=t,
            c=c,
            h=h,
            f=round(c * 1.8 + 32, 1),
            i=i,
            e=int(t.replace(tzinfo=UTC).timestamp()),
            half=_half(t),
        )
        for i, (t, c, h) in enumerate(ROWS, 1)
    )
    return head + body + foot


def _half(t: datetime) -> str:
    return f"{(t.hour - 1) % 12 + 1}:{t.minute:02d}{'a' if t.hour < 12 else 'p'}"


def blocks() -> str:
    """A printed report: the rows run down one block of columns and go on in the next."""
    half = len(ROWS) // 2
    pairs = zip(ROWS[:half], ROWS[half:], strict=True)
    body = "".join(
        f"{i},{a[0]:%Y-%m-%d %H:%M},{a[1]},{i + half},{b[0]:%Y-%m-%d %H:%M},{b[1]}\n"
        for i, (a, b) in enumerate(pairs, 1)
    )
    return "Recording report\nStart delay,0\n\nNo.,Time,Temp °C,No.,Time,Temp °C\n" + body


def matrix() -> str:
    """A day to a row, an hour to a column."""
    names = ",".join(f"{h:02d}:00" for h in range(24))
    rows = "".join(
        f"2026-04-{day:02d}," + ",".join(f"{18 + h / 10 + day / 5:.1f}" for h in range(24)) + "\n"
        for day in range(3, 9)
    )
    return f"Temperature in °C\nDate,{names}\n{rows}"


def of_hub() -> str:
    rows = []
    for t, c, h in ROWS:
        rows.append(f"sensor.shelf_temperature,{c},{t:%Y-%m-%dT%H:%M:%S}.117Z\n")
        rows.append(f"sensor.shelf_humidity,{h},{t:%Y-%m-%dT%H:%M:%S}.904Z\n")
    rows.insert(8, "sensor.shelf_temperature,unavailable,2026-04-03T23:10:00.000Z\n")
    return "entity_id,state,last_changed\n" + "".join(rows)


@dataclass(frozen=True)
class Unseen:
    """``fate``: taken, asked or refused. ``pattern`` with groups t, c, h; ``form`` of t; ``offset`` in hours;
    ``answer``: what a keeper says to the question. ``word``: what the question or refusal must speak of."""

    text: str
    fate: str
    pattern: str = ""
    form: str = ""
    offset: float = 2
    answer: Mapping[str, Any] = field(default_factory=dict)
    word: str = ""
    name: str = "L1.csv"


UNSEEN = {
    "a station's four header lines": Unseen(
        lines('"{t:%Y-%m-%d %H:%M:%S}",{i},12.61,{c},{h}\n',
              '"STATION","roof","M2","1041","OS.31","prog","511","half_hour"\n'
              '"TIMESTAMP","RECORD","BattV_Min","AirTC_Avg","RH"\n"TS","RN","Volts","Deg C","%"\n'
              '"","","Min","Avg","Smp"\n'),
        "taken", r'"(?P<t>[^"]+)",\d+,12.61,(?P<c>[\d.]+),(?P<h>[\d.]+)', "%Y-%m-%d %H:%M:%S",
    ),
    "names over two lines, halves by a letter": Unseen(
        lines("{t:%d.%m.%y}\t{half}\t{c}\t{c}\t{h}\t13.0\n",
              "\t\tTemp\tHi\tOut\tDew\nDate\tTime\tOut\tTemp\tHum\tPt.\n"),
        "asked", r"(?P<t>\S+\t\S+[ap])\t(?P<c>\S+)\t\S+\t(?P<h>\S+)", "%d.%m.%y\t%I:%M%p",
        answer={"columns": (("3", "temperature_c"), ("5", "humidity_pct"))}, word="Several columns",
    ),
    "a hub's states": Unseen(
        of_hub(), "asked", r"temperature,(?P<c>[\d.]+),(?P<t>[^Z]+)Z", "%Y-%m-%dT%H:%M:%S.%f", 0,
        answer={"where": (("1", "sensor.shelf_temperature"),), "columns": (("2", "temperature_c"),)}, word="°C or °F",
    ),
    "two blocks side by side": Unseen(blocks(), "refused", word="side by side"),
    "a day to a row": Unseen(matrix(), "refused", word="side by side"),
    "seconds since 1970 with a colon": Unseen(
        lines("{e}: {c:.10e} {h:.10e}\n", "                temperature humidity\n\n"),
        "asked", r"(?P<t>\d+): (?P<c>\S+) (?P<h>\S+)", "", 0, word="°C or °F", answer={"unit": "C"},
    ),
    "bars, clock first, signs and leading zeros": Unseen(
        lines("{t:%H:%M:%S %d-%b-%y} | +{c:05.1f} C | {h:05.1f} %rh\n", "TIME | PROBE | AIR\n"),
        "taken", r"(?P<t>[\d:]+ \S+) \| \+(?P<c>[\d.]+) C \| (?P<h>[\d.]+)", "%H:%M:%S %d-%b-%y",
    ),
    "tenths of a degree": Unseen(
        "Time,Temp [0.1 C],RH [0.1 %]\n"
        + "".join(f"{t:%Y-%m-%d %H:%M},{c * 10:.0f},{h * 10:.0f}\n" for t, c, h in ROWS),
        "refused", word="tenths",
    ),
    "places and quantities in one name": Unseen(
        lines("{t:%Y-%m-%dT%H:%M:%S}+0200,{c},{h},18.5,80\n",
              "timestamp,shelf/left [°C],shelf/left [%RH],shelf/right [°C],shelf/right [%RH]\n"),
        "asked", r"(?m)^(?P<t>[-\dT:]+)\+0200,(?P<c>[^,]+),(?P<h>[^,]+)", "%Y-%m-%dT%H:%M:%S", word="column",
        answer={"columns": (("2", "temperature_c"), ("3", "humidity_pct"))},
    ),
    "a system's log without years": Unseen(
        lines("{t:%b %d %H:%M:%S} host sensors[811]: temp={c} hum={h}\n"), "refused",
        word="no column holds a date and time",
    ),
    "a weather service's ten digits": Unseen(
        lines("       5906;{t:%Y%m%d%H};    3; {c:5.1f}; {h:5.1f};eor\n", "STATION_ID;DATE_HOUR;QN;TT;RF;eor\n")
        .replace(" 20.4;", "-999;"),
        "taken", r"(?P<t>20\d{8});    3;\s*(?P<c>[-\d.]+);\s*(?P<h>[\d.]+)", "%Y%m%d%H",
        answer={"columns": (("4", "temperature_c"), ("5", "humidity_pct"))},
    ),
    "a table of a web page called .xls": Unseen(
        "<html><table><tr><th>Time</th><th>Temp (C)</th></tr>\n"
        + lines("<tr><td>{t:%Y-%m-%d %H:%M}</td><td>{c}</td></tr>\n") + "</table></html>\n",
        "refused", name="L1.xls", word="web page",
    ),
}  # fmt: skip


def truth(case: Unseen) -> dict[int, tuple[float, float]]:
    """The file's readings by its pattern: UTC ms to (°C, %)."""
    found = {}
    for row in re.finditer(case.pattern, case.text):
        parts = row.groupdict()
        written = parts["t"] + ("m" if case.form.endswith("%p") else "")
        at = datetime.strptime(written, case.form) if case.form else datetime.fromtimestamp(int(written), UTC)
        at = at.replace(tzinfo=timezone(timedelta(hours=case.offset)))
        c = parts["c"].replace("-999", "nan")
        found[round(at.timestamp() * 1000)] = (float(c), float(parts.get("h") or "nan"))
    return found


@pytest.mark.parametrize("name", UNSEEN)
def test_an_unseen_layout_is_right_asked_or_refused(tmp_path: Path, name: str) -> None:
    case = UNSEEN[name]
    (tmp_path / "b").mkdir()
    if case.fate == "refused":
        with pytest.raises(ProblemError) as refused:
            take_in(tmp_path, case.text, name=case.name)
        assert case.word in str(refused.value) and refused.value.problems[0].remedy
        return
    if case.fate == "taken":
        # Without any answer either.
        assert take_in(tmp_path / "b", case.text, name=case.name).kept == len(ROWS)
    if case.fate == "asked":
        with pytest.raises(UndecidedError) as asked:
            take_in(tmp_path, case.text, name=case.name)
        assert case.word in str(asked.value)
    if not case.pattern:
        return
    take_in(tmp_path, case.text, name=case.name, **case.answer)
    found, true = stored(tmp_path), truth(case)
    assert found.times.tolist() == list(true)
    wanted = np.array(list(true.values()))
    assert np.allclose(found.values["temperature_c"], wanted[:, 0], equal_nan=True)
    if not np.isnan(wanted[:, 1]).all():
        assert np.allclose(found.values["humidity_pct"], wanted[:, 1])
