"""Rows read digit under digit are read as the CSV reader reads them, or left to it."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from zoneuse.readings.layout import Hints
from zoneuse.readings.read.chunks import fast_chunk
from zoneuse.readings.read.even_rows import read_even
from zoneuse.readings.recognise.understand import understand

from .intaking import stored, take_in

START = datetime(2026, 2, 27, 21, 0)
FORMS = ["%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%MZ", "%Y-%m-%d %H:%M"]


def lines(form: str, count: int, delimiter: str = ",", decimal: str = ".", seed: int = 1) -> list[str]:
    rng = random.Random(seed)
    at = (START + i * timedelta(minutes=7) for i in range(count))
    return [
        delimiter.join(
            (f"{t:{form}}", f"{rng.uniform(10, 40):.2f}".replace(".", decimal), f"{rng.randint(10, 99)}")
        )
        + "\n"
        for t in at
    ]


def both(folder: Path, text: str, name: str) -> tuple[object, object]:
    """The rows below the header as the CSV reader reads them, and digit under digit."""
    path = folder / name
    path.write_text(text)
    layout = understand(path, ("L1",), ZoneInfo("Europe/Vienna"), Hints(logger="L1"))
    body = text.split("\n", 1)[1].encode()
    count = body.count(b"\n")
    return fast_chunk(body, 2, count, layout), read_even(body, count, layout)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", ","), ("\t", ".")])
def test_both_readers_read_the_same(tmp_path: Path, form: str, delimiter: str, decimal: str) -> None:
    head = delimiter.join(("time", "temperature_c", "humidity_pct"))
    plain, even = both(
        tmp_path, f"{head}\n" + "".join(lines(form, 700, delimiter, decimal)), f"L1_{len(form)}.csv"
    )
    assert plain is not None and even is not None
    assert np.array_equal(plain.stamp, even[0])  # type: ignore[attr-defined,index]
    assert all(map(np.array_equal, plain.values, even[1]))  # type: ignore[attr-defined,index]


def test_one_other_letter_anywhere_is_never_read_as_something_else(tmp_path: Path) -> None:
    rng = random.Random(5)
    good = "time,temperature_c,humidity_pct\n" + "".join(lines(FORMS[0], 60))
    read = 0
    for _ in range(400):
        at = rng.randrange(len(good) - 60 * 29 + 29, len(good) - 1)
        bad = good[:at] + rng.choice("0123456789.,-:TZ x\"'") + good[at + 1 :]
        if bad.count("\n") != good.count("\n"):
            continue
        try:
            plain, even = both(tmp_path, bad, "L1.csv")
        except Exception:
            continue  # what the reader of layouts refuses is not read at all
        if even is None:
            continue
        read += 1
        assert plain is not None
        assert np.array_equal(plain.stamp, even[0])  # type: ignore[attr-defined,index]
        assert all(map(np.array_equal, plain.values, even[1]))  # type: ignore[attr-defined,index]
    assert read > 20


def test_a_large_file_with_uneven_rows_is_stored_as_written(tmp_path: Path) -> None:
    rows = lines(FORMS[0], 6000)
    rows[4000] = rows[4000].replace(",", ",-", 1)
    rows[5000] = rows[5000].rsplit(",", 1)[0] + ",\n"
    staged = take_in(tmp_path, "time,temperature_c,humidity_pct\n" + "".join(rows))
    assert staged.kept == 6000 and staged.counts.refused_count == 0
    found = stored(tmp_path)
    cells = [row.strip().split(",") for row in rows]
    assert found.values["temperature_c"].tolist() == [float(c[1]) for c in cells]
    assert np.isnan(found.values["humidity_pct"][5000]) and found.values["humidity_pct"][4999] == float(
        cells[4999][2]
    )
    first = datetime.strptime(cells[0][0], FORMS[0]).replace(tzinfo=UTC)
    assert found.times[0] == first.timestamp() * 1000 and (np.diff(found.times) == 7 * 60_000).all()
