"""`check --deep`: a copy that is whole shows the same fingerprint; anything else is named, file by file."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.making import demo_study
from zoneuse.cli import cli
from zoneuse.cli.study.copies import differences, digests, fingerprint

OLD = Path(__file__).parent / "fixtures" / "format1"


def deep(study: Path, *more: str) -> Result:
    return CliRunner().invoke(cli, ["check", "--deep", "--study", str(study), *more])


def printed(result: Result) -> str:
    return " ".join(result.output.split())


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_study(tmp_path_factory.mktemp("made") / "demo")


@pytest.fixture
def demo(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "demo"))


def test_a_whole_copy_is_whole_and_shows_the_same_fingerprint(demo: Path, tmp_path: Path) -> None:
    copy = tmp_path / "backup"
    shutil.copytree(demo, copy)
    (copy / "readings" / "newest.json").unlink(missing_ok=True)
    first, second = deep(demo), deep(copy, "--original", str(demo))
    assert first.exit_code == second.exit_code == 0, second.output
    mark = f"Fingerprint {fingerprint(digests(demo))} over {len(digests(demo))} files"
    assert mark in printed(first) and mark in printed(second)
    assert "Whole: every file is as in" in printed(second)


def test_whatever_is_done_to_one_file_of_a_copy_is_named(demo: Path, tmp_path: Path) -> None:
    """One file of each kind: gone, cut exactly between two lines, one byte changed; each is named and exits 1."""
    copy, rng = tmp_path / "backup", random.Random(5)
    names = sorted(digests(demo))
    kinds = [
        next(n for n in names if n.startswith(at))
        for at in ("study", "journal", "readings/log", "readings/t")
    ]
    for name in kinds:
        for how, words in (
            ("gone", "not in the copy"),
            ("cut", "shorter in the copy"),
            ("byte", "not the same bytes"),
        ):
            shutil.rmtree(copy, ignore_errors=True)
            shutil.copytree(demo, copy)
            data = (copy / name).read_bytes()
            if how == "gone":
                (copy / name).unlink()
            elif how == "cut":
                cut = data[: data.rfind(b"\n", 0, len(data) - 2) + 1]
                (copy / name).write_bytes(cut)
            else:
                at = rng.randrange(len(data))
                (copy / name).write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
            found = differences(copy, demo, digests(copy))
            named = {"gone": found.missing, "cut": found.shorter, "byte": found.other}[how]
            assert named == (name,), (name, how)
            if (copy / "study.toml").exists() and name != "study.toml":
                result = deep(copy, "--original", str(demo))
                assert result.exit_code == 1 and words in printed(result) and name in printed(result)


def test_a_journal_cut_between_two_records_shows_only_in_the_fingerprint(demo: Path, tmp_path: Path) -> None:
    """What `check` alone cannot see: such a file looks like a session that ended there."""
    copy = tmp_path / "backup"
    shutil.copytree(demo, copy)
    journal = sorted((copy / "journal").iterdir())[0]
    journal.write_bytes(b"".join(journal.read_bytes().splitlines(keepends=True)[:-1]))
    assert CliRunner().invoke(cli, ["check", "--study", str(copy)]).exit_code == 0
    assert fingerprint(digests(copy)) != fingerprint(digests(demo))


def test_an_old_study_is_read_to_the_last_byte_and_left_alone(tmp_path: Path) -> None:
    study = tmp_path / "old"
    shutil.copytree(OLD, study)
    before = digests(study)
    deep(study)
    assert digests(study) == before


def test_what_is_no_ordinary_file_is_named_and_not_waited_for(demo: Path) -> None:
    import os

    os.mkfifo(demo / "readings" / "pipe.parquet")
    result = deep(demo)
    assert result.exit_code == 1 and "no ordinary file" in printed(result)
