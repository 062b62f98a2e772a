"""Practice for rounds, for several followed at once, and in the line mode."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.recorder.driver import Driver, drive
from zoneuse.recording.practice.scored import practised
from zoneuse.recording.practice.script import ROUND_STUDY, STUDY, Practice, make_round_script, make_script
from zoneuse.recording.practice.seen import figures_now, seen_words


def round_of(tmp_path: Path, seed: int) -> tuple[Driver, Practice]:
    d = drive(tmp_path, ROUND_STUDY, method="retreat-round")
    return d, Practice(make_round_script(seed), "again")


def where(d: Driver, practice: Practice) -> dict[str, list[str]]:
    """Zone key to the keys that record what is truly there."""
    declared = d.core.plan.declared
    found: dict[str, list[str]] = {}
    for animal, (stay,) in practice.script.stays.items():
        keys = declared.animals[animal].key + declared.behaviours[stay.behaviour].key
        found.setdefault(declared.zones[stay.zone].key, []).append(keys)
    return found


def test_a_round_recorded_as_it_is_is_right(tmp_path: Path) -> None:
    for seed in range(12):
        d, practice = round_of(tmp_path / str(seed), seed)
        there = where(d, practice)
        if "o" in there:
            d.keys("o" + "".join(there["o"]) + "⏎").wait(1)
        for key in "hbl":
            d.keys(key + "".join(there.get(key, []))).wait(1).keys("⏎").wait(1)
        d.core.finish(d.now)
        said = practised(d.core, practice)
        assert said[:2] == ["3 of 3 retreats looked into.", "Right, zone and behaviour: 4 of 4."], said


def lie(diamond: str, ring: str) -> int:
    """A seed where the two lie so."""
    scripts = ((seed, make_round_script(seed)) for seed in range(999))
    return next(n for n, s in scripts if (s.at("diamond", 0).zone, s.at("ring", 0).zone) == (diamond, ring))


def test_who_was_missed_and_who_was_wrong_is_named(tmp_path: Path) -> None:
    d, practice = round_of(tmp_path, lie("hide", "bark"))
    d.keys("1a" if practice.script.at("diamond", 0).behaviour == "resting" else "1r").wait(1)
    for _ in range(3):
        d.keys("⏎").wait(1)
    d.core.finish(d.now)
    said = " ".join(practised(d.core, practice))
    assert "Wrong: Diamond in Hide" in said and "Missed, though looked at: Ring in Bark" in said


def test_only_the_retreat_that_is_looked_into_shows_who_is_in_it(tmp_path: Path) -> None:
    d, practice = round_of(tmp_path, lie("hide", "bark"))
    shown = figures_now(d.core, practice, d.now)
    assert "hide" in shown and "bark" not in shown
    assert "1 in Hide" in seen_words(d.core, practice, d.now)
    d.keys("⏎")
    assert "1 in Hide" not in seen_words(d.core, practice, d.now)


def test_two_followed_at_once_are_each_held_against_the_script(tmp_path: Path) -> None:
    d = drive(tmp_path, STUDY, method="focal", animals=("diamond", "ring"), every_s=1.0)
    practice = Practice(make_script(3, 10.0, 600), "again")
    keys = {z.id: z.key for z in d.core.plan.declared.zones.values()}
    for _ in range(60):
        t = d.now.mono - d.core.ledger.started
        for key, animal in (("1", "diamond"), ("2", "ring")):
            stay = practice.script.at(animal, t)
            d.keys(key + keys[stay.zone] + stay.behaviour[0])
        d.wait(0.4)
    d.core.finish(d.now)
    said = " ".join(practised(d.core, practice))
    right, of = said.split("Zone: right ")[1].split(" (")[0].split(" of ")
    assert int(of) > 100 and int(right) > 0.9 * int(of)


def test_in_the_line_mode_it_is_said_what_there_is_to_be_seen(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "zoneuse", "watch", "--practice", "--plain", "--seed", "5", "--quiet", "0"],
        input="h r\nfinish\n", capture_output=True, text=True, cwd=tmp_path, check=True,
    )  # fmt: skip
    assert "To be seen: 1 in Hide, still; 2 in Water, still." in done.stdout
    assert "Zone: right 1 of 1" in done.stdout and "Nothing from this practice is kept." in done.stdout
    assert not list(tmp_path.iterdir())
