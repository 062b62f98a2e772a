"""Write a table in a random layout, take it in, read it back: the same numbers, or a question, never others."""

from __future__ import annotations

import random
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.intake import stage
from zoneuse.study.problems import ProblemError

from .intaking import LOGGERS, stored, take_in

TIME_FORMATS = {
    # name: (how it is written, the order of day and month a keeper would have to give)
    "iso": ("%Y-%m-%d %H:%M:%S", None),
    "iso minutes": ("%Y-%m-%d %H:%M", None),
    "iso T Z": ("%Y-%m-%dT%H:%M:%SZ", None),
    "iso offset": ("%Y-%m-%dT%H:%M:%S+00:00", None),
    "slashes year first": ("%Y/%m/%d %H:%M", None),
    "points": ("%d.%m.%Y %H:%M", "DMY"),
    "points short": ("%d.%m.%y %H:%M:%S", "DMY"),
    "british": ("%d/%m/%Y %H:%M", "DMY"),
    "american": ("%m/%d/%Y %H:%M:%S", "MDY"),
    "american half": ("%m/%d/%y %I:%M:%S %p", "MDY"),
    "month name": ("%d %b %Y %H:%M", None),
    "compact": ("%Y%m%d %H%M%S", None),
    "two columns": ("%d.%m.%Y|%H:%M:%S", "DMY"),
    "epoch s": ("epoch s", None),
    "epoch ms": ("epoch ms", None),
}
TEMPERATURE = {"C": ["Temp (°C)", "Temperature [°C]", "temperature_c", "Temperatur °C", "Temp, °C", "T (°C)"],
               "F": ["Temp (°F)", "Temperature_Fahrenheit", "T1 degF", "temperature_f"]}  # fmt: skip
HUMIDITY = ["RH (%)", "Humidity", "Hum %", "rel. Feuchte [%]", "%RH", "Relative_Humidity", "humidity_pct"]
TIME_NAMES = ["Date Time", "Timestamp", "time", "Datum/Uhrzeit", "Date/Time", "at"]
MISSING = ["", "--", "NaN", "N/A", "---", "OL", "null"]


@dataclass(frozen=True)
class Written:
    data: bytes
    times: list[int]
    temperature: list[float | None]
    humidity: list[float | None] | None
    hints: dict[str, object]
    said: str


@st.composite
def exports(draw: st.DrawFn) -> Written:
    count = draw(st.integers(3, 40))
    step = timedelta(minutes=draw(st.sampled_from([1, 5, 10, 15, 60, 120])))
    start = datetime(2026, draw(st.integers(1, 12)), draw(st.integers(1, 28)), draw(st.integers(0, 23)),
                     draw(st.sampled_from([0, 7, 30])), tzinfo=UTC)  # fmt: skip
    times = [start + i * step for i in range(count)]
    rng = random.Random(draw(st.integers(0, 10**6)))
    fahrenheit = draw(st.booleans())
    temperature = [None if rng.random() < 0.05 else round(rng.uniform(-5, 45), 1) for _ in times]
    humidity = None
    if draw(st.booleans()):
        humidity = [None if rng.random() < 0.05 else round(rng.uniform(20, 99), 1) for _ in times]
    # A row of nothing is no reading; the first row has both, so that the table can be seen at all.
    temperature[0], temperature[-1] = 21.4, 22.8
    if humidity is not None:
        humidity[0] = 71.3
    keep = [i for i in range(count) if temperature[i] is not None or (humidity and humidity[i] is not None)]
    kind = draw(st.sampled_from(sorted(TIME_FORMATS)))
    lines, said = _lines(draw, kind, times, temperature, humidity, fahrenheit)
    ending = draw(st.sampled_from(["\n", "\r\n"]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))
    text = ending.join(lines) + (ending if draw(st.booleans()) else "")
    hints = {"dates": TIME_FORMATS[kind][1]} if TIME_FORMATS[kind][1] else {}
    return Written(
        text.encode(encoding),
        [int(times[i].timestamp() * 1000) for i in keep],
        [temperature[i] for i in keep],
        [humidity[i] for i in keep] if humidity is not None else None,
        hints,
        f"{kind} {encoding} {said}",
    )


def _lines(
    draw: st.DrawFn, kind: str, times: list[datetime], temperature: list[float | None],
    humidity: list[float | None] | None, fahrenheit: bool,
) -> tuple[list[str], str]:  # fmt: skip
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    comma = delimiter != "," and draw(st.booleans())
    quoted = draw(st.booleans())
    index, event = draw(st.booleans()), draw(st.booleans())
    missing = draw(st.sampled_from(MISSING))

    def number(value: float | None, scale: bool) -> str:
        if value is None:
            return missing
        written = f"{value * 1.8 + 32:.3f}" if scale else f"{value:.1f}"
        return written.replace(".", ",") if comma else written

    def cells(i: int) -> list[str]:
        at = [f"{int(times[i].timestamp()) * (1000 if kind.endswith('ms') else 1)}"] if kind.startswith("epoch") \
            else times[i].strftime(TIME_FORMATS[kind][0]).split("|")  # fmt: skip
        row = [str(i + 1)] if index else []
        row += [*at, number(temperature[i], fahrenheit)]
        row += [number(humidity[i], False)] if humidity is not None else []
        return row + ([""] if event else [])

    header = ["No."] if index else []
    header += ["Date", "Time"] if kind == "two columns" else [draw(st.sampled_from(TIME_NAMES))]
    header.append(draw(st.sampled_from(TEMPERATURE["F" if fahrenheit else "C"])))
    header += [draw(st.sampled_from(HUMIDITY))] if humidity is not None else []
    header += ["Event"] if event else []
    rows = [cells(i) for i in range(len(times))]
    newest_first = draw(st.booleans())
    if newest_first:
        rows.reverse()
    preamble = draw(st.sampled_from([[], ["Plot Title: shelf 2"], ["Site;shelf 2", "Serial;00000", ""],
                                     ["# made by hand", "Interval: 10 min", "Owner: nobody", ""]]))  # fmt: skip
    footer = draw(st.sampled_from([[], [""], ["End of data"], ["", "no more"]]))
    write = (lambda r: delimiter.join(f'"{c}"' for c in r)) if quoted else delimiter.join
    said = f"{delimiter!r} comma={comma} quoted={quoted} index={index} event={event} {missing!r} {footer}"
    return [*preamble, write(header), *map(write, rows), *footer], said


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(exports())
def test_a_table_in_any_layout_reads_back_the_same(written: Written) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        staged = take_in(folder, written.data, zone=UTC, **written.hints)
        found = stored(folder)
        assert found.times.tolist() == sorted(written.times), written.said
        _same(found.values["temperature_c"], written.temperature, written)
        if written.humidity is not None and any(h is not None for h in written.humidity):
            _same(found.values["humidity_pct"], written.humidity, written)
        assert staged.counts.refused_count == 0, (written.said, staged.counts.refused[:3])


def _same(found: np.ndarray, expected: list[float | None], written: Written) -> None:
    wanted = np.array([np.nan if v is None else v for v in expected])
    assert np.allclose(found, wanted, atol=1e-3, equal_nan=True), written.said


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(exports())
def test_without_hints_it_asks_or_reads_the_same(written: Written) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        try:
            take_in(folder, written.data, zone=UTC)
        except UndecidedError as error:
            assert {q.hint for q in error.questions} == {"dates"}, (written.said, error)
            return
        assert stored(folder).times.tolist() == sorted(written.times), written.said


@settings(max_examples=80, deadline=None)
@given(st.binary(max_size=4000))
def test_random_bytes_are_refused_with_a_place(data: bytes) -> None:
    _refused_cleanly(data)


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet='0123456789,;:./- \n\t"ABtTCF%°\r', max_size=600))
def test_random_text_of_table_letters_never_breaks(text: str) -> None:
    _refused_cleanly(text.encode())


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(exports(), st.data())
def test_damaged_exports_never_break(written: Written, data: st.DataObject) -> None:
    """Bytes changed anywhere: what is read is refused or counted, and nothing is left behind on a refusal."""
    damaged = bytearray(written.data)
    for _ in range(data.draw(st.integers(1, 12))):
        place = data.draw(st.integers(0, len(damaged) - 1))
        damaged[place] = data.draw(st.integers(0, 255))
    _refused_cleanly(bytes(damaged))


def _refused_cleanly(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "L1.csv"
        path.write_bytes(data)
        try:
            staged = stage(folder, path, LOGGERS, UTC, Hints(unit="C", dates=None), intaken=[])
        except UndecidedError as error:
            assert all(q.flag and q.asks for q in error.questions)
        except ProblemError as error:
            assert all(str(path.name) in p.file and p.found for p in error.problems)
        else:
            assert staged.kept > 0
            staged.discard()
        assert not list((folder / "readings").rglob("*.parquet*"))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (b"%PDF-1.4 ...", "PDF"),
        (b"PK\x03\x04....", "compressed"),
        (b"just words\nand more words\n", "no readings"),
        (b"Time;Temp (C)\n", "no readings"),
    ],
)
def test_what_is_no_export_is_named(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(ProblemError, match=words):
        take_in(tmp_path, data)
