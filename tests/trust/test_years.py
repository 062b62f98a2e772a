"""Times no calendar table can hold are refused in words wherever they come from."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder
from zoneuse.journal.reader import read_journals
from zoneuse.journal.records import RecordError, decode

FAR = [
    "0001-01-01T00:00",
    "0001-01-01T00:00:00+14:00",
    "9999-12-31T23:59",
    "9999-12-31T23:59:59-12:00",
    "1600-05-01T10:00",
]


@pytest.mark.parametrize("when", [*FAR, "9999999999d ago", "99999d ago", "1900-01-01", "2200-01-01"])
def test_on_the_command_line(tmp_path: Path, when: str) -> None:
    study = study_folder(tmp_path)
    done = run("seen", "a1", "moss", "--at", when, "--study", study)
    assert done.exit_code == 2 and "outside the years 1900 to 2199" in " ".join(done.stderr.split())
    assert "not a time" not in done.stderr
    assert not read_journals(study).sessions


@pytest.mark.parametrize("when", FAR)
def test_in_a_study_file_and_a_table(tmp_path: Path, when: str) -> None:
    broken = study_folder(
        tmp_path / "broken", TWO_ZONES.replace('key = "1"', f'key = "1"\npresent = [{{from = "{when}"}}]')
    )
    done = run("check", "--study", broken)
    assert done.exit_code == 1 and "animals.a1.present[1].from" in done.stderr
    table = tmp_path / "old.csv"
    table.write_text(f"at,session,animal,zone\n{when},1,a1,moss\n2026-03-01T19:00,2,a1,bark\n")
    done = run("sightings", table, "--yes", "--study", study_folder(tmp_path / "sound"))
    assert "line 2, column at" in done.stderr and "1 row taken in" in done.output


def line(text: str) -> bytes:
    body = text.encode()
    return body + b',"crc":"%08x"}' % zlib.crc32(body)


@pytest.mark.parametrize(
    "fields",
    [
        '"is":"missed","scan":' + "9" * 40,
        '"is":"missed","scan":-1',
        '"mono":NaN,"is":"paused"',
        '"mono":1e999,"is":"paused"',
        '"is":"seen","zone":"moss","group":"young","count":-3',
        '"is":"adjusted","adjustment":"x","what":"water","zones":[],"amount":1e999',
    ],
)
def test_numbers_no_table_can_hold_are_no_record(fields: str) -> None:
    begin = '{"n":1,"at":"2026-01-01T00:00:00+00:00",'
    assert decode(line(f'{begin}"is":"paused"')).kind == "paused"
    with pytest.raises(RecordError):
        decode(line(begin + fields))
