"""Command lines as fingers, scripts and cats type them: each ends in words, never in a traceback."""

from __future__ import annotations

import os
import random
import shutil
import sys
import tempfile
import traceback
from pathlib import Path

import click
import pytest
from click.testing import Result

from tests.making import TWO_ZONES, run, scans, study_folder
from zoneuse.cli import COMMANDS, cli
from zoneuse.cli.narration import report_error

# What is not fuzzed: screens need a terminal, and the demo is a megabyte each time.
LEFT_OUT = ("demo", "review", "listen", "build")
NASTY = (
    "", " ", "-", "--", "-²", "²", "٣", "0", "-1", "1e999", "nan", "inf", "-inf", "9" * 40, "9" * 5000, "½", "a1",
    "a1=m", "a1=-", "a2=b?", "young=m3,b2,-1", "young=-²", "young=m" + "9" * 5000, "a1=m,r", "moss", "bark",
    "moss:up", "resting:down", "x:sideways", "fed", "weighed", "23.5", "-3", "water", "heat", "other", "2", "l",
    "kg", "°C", "last", "1900-01-01", "2199-12-31", "2026-02-30", "2026-02-01", "2026-02-01T19:00", "now",
    "9999w ago", "1e9d ago", "yesterday 25:00", "21:30", "99:99", "2d", "0h", "5 parsecs", "night", "dawn", "noon",
    "resting", "session", "day", "moment", "enclosure", "animal", "\x1b[2J", "\udcff", "💥", "../../etc",
    "/dev/null", "/", "C:\\x", "%s{}", "$(x)", "[b]", "a,b,,c", ",", "=", "a=b=c", "Ä", "é", "temperature_c=+3",
    "moss:temperature_c=+3", "cover=1", "at=Time", "x=y", "Höhle=cave", "1", "3", "2026-02-01 3", "Europe/Vienna",
    "+02:00", "UTC", "F", "C", "0.2", "5", "100", "NaCl", "20", "78", "L1", "L1:temperature_c", "mk",
)  # fmt: skip


def at(study: Path, *words: str) -> Result:
    return run(*words, "--study", study)


def a_line(chance: random.Random, folder: Path) -> list[str]:
    """A command with arguments and options of its own, and values of any kind."""
    name = chance.choice([c for c in COMMANDS if c not in LEFT_OUT])
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    words: list[str] = [name]
    files = [str(folder / "t.csv"), str(folder / "study.toml"), str(folder / "out.csv"), str(folder)]

    def value() -> str:
        return chance.choice(files) if chance.random() < 0.15 else chance.choice(NASTY)

    for param in command.params:
        if isinstance(param, click.Argument):
            many = chance.randrange(4) if param.nargs == -1 else max(param.nargs, 1)
            words += [value() for _ in range(many)]
        elif param.name != "folder" and chance.random() < 0.2:
            words.append(chance.choice(param.opts))
            if not getattr(param, "is_flag", False):
                words += [value() for _ in range(max(param.nargs, 1))]
    if chance.random() < 0.1:
        words.insert(chance.randrange(1, len(words) + 1), value())
    return words if name == "new" else [*words, "--study", str(folder / "study")]


def made(place: Path) -> Path:
    study = study_folder(place / "study", TWO_ZONES)
    scans(study, "2026-02-01T19:00", [("moss", "bark"), ("moss", None)], animals=("a1", "a2"))
    scans(study, "2026-02-02T19:00", [("bark", "bark"), ("moss", "moss")], animals=("a1", "a2"))
    (place / "t.csv").write_text("at,session,animal,zone\n2026-02-03T19:00,3,a1,moss\n")
    return place


def how_it_ended(words: list[str]) -> str:
    """Empty, or the traceback of an end no person should see."""
    try:
        cli(words, standalone_mode=False)
    except (click.exceptions.Abort, click.ClickException, click.exceptions.Exit, SystemExit):
        return ""
    except Exception as error:
        try:
            report_error(error)
        except Exception:
            return traceback.format_exc()
    return ""


def typed(count: int, seed: int) -> list[str]:
    """So many command lines; those that ended in a traceback, with it."""
    chance = random.Random(seed)
    bad: list[str] = []
    kept = {name: os.environ.get(name) for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME")}
    before, stdin, out, err = Path.cwd(), sys.stdin, sys.stdout, sys.stderr
    with (
        tempfile.TemporaryDirectory() as place,
        Path(os.devnull).open() as nothing,
        Path(os.devnull).open("w") as sink,
    ):
        base = made(Path(place) / "base")
        folder = Path(place) / "here"
        os.environ.update(dict.fromkeys(kept, place))
        try:
            sys.stdin, sys.stdout, sys.stderr = nothing, sink, sink
            for i in range(count):
                if i % 50 == 0:
                    os.chdir(before)
                    shutil.rmtree(folder, ignore_errors=True)
                    shutil.copytree(base, folder)
                    os.chdir(folder)
                words = a_line(chance, folder)
                if said := how_it_ended(words):
                    bad.append(f"{words}\n{said}")
        finally:
            sys.stdin, sys.stdout, sys.stderr = stdin, out, err
            os.chdir(before)
            for name, value in kept.items():
                os.environ.pop(name, None) if value is None else os.environ.update({name: value})
    return bad


def test_two_hundred_command_lines_end_in_words() -> None:
    assert typed(200, 1) == []


@pytest.mark.calibration
def test_twenty_thousand_command_lines_end_in_words() -> None:
    assert typed(20_000, 2) == []


@pytest.mark.parametrize(
    "words",
    [
        ("look", "young=-²"), ("look", "a1=" + "9" * 5000), ("note", "weighed", "a1", "nan"),
        ("plan", "--now", "1900-01-01"), ("climate", "--now", "1900-01-01"),
    ],
)  # fmt: skip
def test_what_once_ended_in_a_traceback(tmp_path: Path, words: tuple[str, ...]) -> None:
    study = study_folder(tmp_path)
    before = sorted(p.name for p in study.rglob("*.jsonl"))
    done = at(study, *words)
    assert done.exit_code in (0, 2)
    assert isinstance(done.exception, SystemExit | type(None) | click.ClickException), done.exception
    assert sorted(p.name for p in study.rglob("*.jsonl")) == before


def test_nobody_is_not_everybody(tmp_path: Path) -> None:
    study = made(tmp_path) / "study"
    assert at(study, "zones", "--animal", "").exit_code in (1, 2)
    assert at(study, "zones", "--animal", " , ").exit_code in (1, 2)
    assert at(study, "zones").exit_code == 0


def test_a_misspelt_name_ends_in_one_full_stop(tmp_path: Path) -> None:
    told = at(study_folder(tmp_path), "seen", "a1", "moos")
    assert told.exit_code == 2 and "the nearest name is 'moss'.\n" in told.stderr and "?." not in told.stderr


if __name__ == "__main__":
    found = typed(int(sys.argv[1]), int(sys.argv[2]))
    print(*found[:20], f"{len(found)} tracebacks in {sys.argv[1]}", sep="\n\n")


@pytest.mark.parametrize("answer", ["zones", "activity", "prefer", "shifts"])
def test_a_picture_and_a_second_opinion_of_very_little(answer: str, tmp_path: Path) -> None:
    """Found by 20,000 lines: the one part a small study had was not the one the picture looked for."""
    study = study_folder(tmp_path / "study", TWO_ZONES)
    scans(study, "2026-02-01T19:00", [("moss", "bark"), ("moss", None)], animals=("a1", "a2"))
    done = at(study, answer, "--second-opinion", "--plot", str(tmp_path / "one.svg"))
    assert done.exit_code == 0, done.output
