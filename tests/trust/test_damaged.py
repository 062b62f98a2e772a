"""What lies on the disk cut short or with bits flipped: named with its file, never read as something else."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.making import run
from tests.trust.commands import make_base
from zoneuse.journal.reader import Journals, read_file, read_journals
from zoneuse.readings.store.store import intakes, read
from zoneuse.study.problems import ProblemError


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Journals with every kind of writing in them, and two intakes of readings."""
    folder = make_base(tmp_path_factory.mktemp("base"))
    at = ["--study", str(folder / "study")]
    for words in (
        ["look", "a1=moss,r", "a2=-", "young=m3,b2,-1"],
        ["mend", "2026-02-01", "2", "--zone", "bark"],
        ["adjust", "water", "moss", "2", "l", "--expects", "moss:up", "--at", "2026-03-02T12:00"],
        ["readings", str(folder / "L2.csv"), "--yes"],
    ):
        assert run(*words, *at).exit_code == 0
    return folder / "study"


def held(journals: Journals) -> dict[tuple[str, int, int], object]:
    # A correction takes its seconds from the record it stands in for, or keeps its own where that is damaged.
    both = (e for s in journals.sessions.values() for e in (*s.entries, *s.void))
    return {e.place: (e.record.kind, e.record.at, e.record.fields) for e in both}


def flips(seed: int, size: int, times: int) -> Iterator[tuple[int, int]]:
    chance = random.Random(seed)
    for _ in range(times):
        yield chance.randrange(size), 1 << chance.randrange(8)


def test_each_journal_cut_at_every_byte_of_its_last_record(base: Path, tmp_path: Path) -> None:
    place = tmp_path / "journal"
    place.mkdir()
    cuts = 0
    for path in sorted((base / "journal").iterdir()):
        data = path.read_bytes()
        whole = read_file(path).records
        start = data[:-1].rfind(b"\n") + 1
        for end in range(start, len(data)):
            (place / path.name).write_bytes(data[:end])
            found = read_file(place / path.name)
            # Without its newline alone the record is whole: its checksum says so.
            assert found.records == (whole if end == len(data) - 1 else whole[:-1])
            assert [p.code for p in found.problems] == ([] if end in (start, len(data) - 1) else ["torn"])
            cuts += 1
        (place / path.name).unlink()
    assert cuts > 900


def flip_journals(base: Path, place: Path, times: int, seed: int) -> int:
    """Flip single bits; returns how many cost a record. Nothing else may be read, and each is named."""
    shutil.copytree(base, place)
    sound = held(read_journals(base))
    paths = sorted((place / "journal").iterdir())
    joined = [(path, at) for path in paths for at in range(path.stat().st_size)]
    cost = 0
    for number, bit in flips(seed, len(joined), times):
        path, at = joined[number]
        data = path.read_bytes()
        path.write_bytes(data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :])
        journals = read_journals(place)
        read_now = held(journals)
        assert read_now.items() <= sound.items(), (path.name, at, bit)
        # A take-back whose record is gone is told too, as a hint; what was lost is a fault with its file.
        named = [p for p in journals.problems if not p.hint]
        if missing := sound.keys() - read_now.keys():
            cost += 1
            assert {p.file for p in named} == {str(path)}, (path.name, at, bit, named)
            line = data[:at].count(b"\n") + 1
            assert any(p.place in (f"line {line}", "line 1") for p in named), (line, named)
            assert {place[0] for place in missing} == {path.name.split(".")[0]}
        path.write_bytes(data)
    return cost


def test_bits_flipped_in_journals(base: Path, tmp_path: Path) -> None:
    assert flip_journals(base, tmp_path / "study", 150, 1) > 100


@pytest.mark.calibration
def test_bits_flipped_at_two_thousand_places_of_journals(base: Path, tmp_path: Path) -> None:
    print("\njournals: of 2,000 flips", flip_journals(base, tmp_path / "study", 2000, 2), "cost records")


def flip_readings(base: Path, place: Path, times: int, seed: int) -> tuple[int, int]:
    """Flip bits of Parquet files and of the records of intakes; returns how many were told, and refused."""
    shutil.copytree(base, place)
    sound = {n: read(base, n) for n in ("L1", "L2")}
    records = intakes(base)[0]
    paths = [p for p in sorted((place / "readings").rglob("*")) if p.is_file() and p.name != "newest.json"]
    joined = [(path, at) for path in paths for at in range(path.stat().st_size)]
    told = 0
    for number, bit in flips(seed, len(joined), times):
        path, at = joined[number]
        data = path.read_bytes()
        path.write_bytes(data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :])
        taken, problems = intakes(place)
        if problems:
            told += 1
            assert {p.file for p in problems} == {str(path)}
        else:
            # Only white space or the name of the seal: nothing that was meant has changed.
            assert taken == records, (path.name, at, bit)
        for name, whole in sound.items():
            now = read(place, name, intaken=taken)
            there = dict(zip(whole.times.tolist(), whole.values["temperature_c"].tolist(), strict=True))
            assert all(
                there[t] == v for t, v in zip(now.times, now.values.get("temperature_c", ()), strict=True)
            )
            assert len(now.times) == len(whole.times) or problems
        path.write_bytes(data)
    return told, times


def test_bits_flipped_in_readings(base: Path, tmp_path: Path) -> None:
    told, times = flip_readings(base, tmp_path / "study", 150, 3)
    assert told > 0.95 * times


@pytest.mark.calibration
def test_bits_flipped_at_two_thousand_places_of_readings(base: Path, tmp_path: Path) -> None:
    print("\nreadings: of 2,000 flips", flip_readings(base, tmp_path / "study", 2000, 4)[0], "were told")


@pytest.mark.parametrize("command", ["zones", "prefer", "climate", "readings", "check"])
def test_a_damaged_parquet_file_is_named_by_every_command_and_the_rest_answers(
    base: Path, tmp_path: Path, command: str
) -> None:
    study = Path(shutil.copytree(base, tmp_path / "study"))
    path = next((study / "readings" / "logger=L1").glob("*.parquet"))
    path.write_bytes(path.read_bytes()[:-40])
    done = run(command, "--study", study)
    assert done.exit_code == (1 if command == "check" else 0)
    assert path.name in done.stderr and "left out" in done.stderr and "undo that intake" in done.stderr
    if command == "climate":
        assert "Bark" in done.output
    assert run("readings", "--undo", path.stem, "--study", study).exit_code == 0
    again = run("readings", tmp_path_of(base) / "L1_march.csv", "--yes", "--study", study)
    assert "48 readings taken in" in again.output
    assert run("check", "--study", study).exit_code == 0


def tmp_path_of(base: Path) -> Path:
    return base.parent


def test_a_newline_damaged_behind_a_whole_record_is_no_torn_line(base: Path, tmp_path: Path) -> None:
    path = next(iter(sorted((base / "journal").iterdir())))
    copy = tmp_path / path.name
    copy.write_bytes(path.read_bytes()[:-1] + b"\x0b")
    (problem, *_) = read_file(copy).problems
    assert problem.code == "damaged" and not problem.hint


@pytest.mark.parametrize("name", ["study.toml", "journal", "readings"])
def test_a_newer_format_is_refused_and_nothing_touched(base: Path, tmp_path: Path, name: str) -> None:
    from tests.making import tree
    from zoneuse.journal.records import decode, encode
    from zoneuse.readings.store.sealing import sealed

    study = Path(shutil.copytree(base, tmp_path / "study"))
    if name == "study.toml":
        (study / name).write_text((study / name).read_text().replace("format = 1", "format = 2"))
    elif name == "journal":
        path = sorted((study / "journal").iterdir())[0]
        first, *others = path.read_bytes().split(b"\n")
        record = decode(first)
        record = record._replace(fields={**record.fields, "format": 2})
        path.write_bytes(b"\n".join([encode(record).rstrip(b"\n"), *others]))
    else:
        path = sorted((study / "readings" / "taken-in").iterdir())[0]
        text = path.read_text().replace('"format": 1', '"format": 2')
        path.write_bytes(sealed(text[: text.rindex(',\n "crc"')] + "}"))
    before = tree(study)
    for words in (["zones"], ["prefer"], ["readings"], ["check"]):
        done = run(*words, "--study", study)
        # What a command does not need does not stop it; where it stops, it says why.
        assert (done.exit_code == 1) == ("format 2" in done.stderr), done.stderr
        assert "Traceback" not in done.stderr
    assert run("check", "--study", study).exit_code == 1
    assert tree(study) == before
    if name == "readings":
        with pytest.raises(ProblemError, match="found format 2"):
            intakes(study)


@pytest.mark.parametrize(
    "words",
    [
        ("mend",),
        ("mend", "last"),
        ("note", "fed", "a1"),
        ("zones",),
        ("plan",),
        ("check",),
        ("adjust", "water", "moss"),
    ],
    ids=lambda words: " ".join(words),
)
def test_a_damaged_journal_is_named_by_every_command_that_reads_journals(
    base: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    study = Path(shutil.copytree(base, tmp_path / "study"))
    path = sorted((study / "journal").iterdir())[0]
    path.write_bytes(path.read_bytes().replace(b'"is":"seen"', b'"is":"sewn"', 1))
    done = run(*words, "--study", study)
    assert done.exit_code == (1 if words == ("check",) else 0)
    assert path.name in done.stderr and "line 2" in done.stderr and "checksum does not fit" in done.stderr
