"""More or less than usual, where the watching changed: another observer, other hours, less seen; or one animal did."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import numpy as np

from tests.sim.written import ACTS, FIRST, declaration
from zoneuse import Answer, open_study
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study.toml.file import load_declaration

# Fourteen days before the newest, an hour of which summer time took.
DAYS, RECENT = 34, 19
Chance = Callable[[int, int], float]


def asked(
    folder: Path, rest: Chance, *, seen: Chance = lambda day, did: 1.0, hour: Callable[[int], float] = lambda day: 0.0,
    observer: Callable[[int], str] = lambda day: "mk",
) -> Answer:  # fmt: skip
    """Four animals that rest with that chance (day, animal) in each of six scans, else walk; seen by what they do."""
    text = declaration(np.full(2, 0.5), 4, True)
    folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text(
        text.replace("[enclosure]", '[enclosure]\nlights = {on = "08:00", off = "18:00"}')
    )
    declared, random = load_declaration(folder), np.random.default_rng(4)
    for day in range(DAYS):
        rows = []
        for scan in range(6):
            at = FIRST + timedelta(days=day, hours=hour(day), minutes=6 * scan)
            for animal in range(4):
                did = int(random.random() >= rest(day, animal))
                who = {"animal": f"a{animal}", "scan": scan + 1}
                found = random.random() < seen(day, did)
                what = {**who, "zone": "z0", "behaviour": ACTS[did]} if found else who
                rows.append(RecordToWrite("seen" if found else "unseen", what, at))
        write_rows(declared, rows[-1].at, rows, method="scan", observer=observer(day))  # type: ignore[arg-type]
    return open_study(folder).activity()


def of_walking(answer: Answer) -> tuple[str, str, str]:
    (f,) = [f for f in answer.findings if f.about == ("walking",)]
    return f.verdict, f.standing, f.says


def codes(answer: Answer) -> set[str]:
    return {c.code for c in answer.cautions}


def test_a_change_of_what_they_do_is_told_as_before(tmp_path: Path) -> None:
    answer = asked(tmp_path, lambda day, animal: 0.8 if day < RECENT else 0.4)
    assert of_walking(answer)[:2] == ("more", "fairly sure here")
    assert not codes(answer) & {"hours", "observer-changed", "seen-differs", "one-side", "slot-balance"}


def test_another_observer_is_named_and_nothing_is_sure(tmp_path: Path) -> None:
    answer = asked(
        tmp_path,
        lambda day, animal: 0.8 if day < RECENT else 0.4,
        observer=lambda d: "mk" if d < RECENT else "jo",
    )
    assert of_walking(answer)[:2] == ("more", "looks like")
    says = next(c.says for c in answer.cautions if c.code == "observer-changed")
    assert says == "Watched by mk before and by jo recently: that may be what differs."


def test_sessions_moved_to_another_time_of_day_are_not_held_against_those_before(tmp_path: Path) -> None:
    answer = asked(
        tmp_path, lambda day, animal: 0.8 if day < RECENT else 0.4, hour=lambda d: 0.0 if d < RECENT else -8.0
    )
    (found,) = answer.findings
    assert found.reason == "one_side_short" and "at times of day watched both" in found.says
    assert answer.headline == "It is too early to say whether anything is more or less than usual."
    answer = asked(
        tmp_path / "hours",
        lambda day, animal: 0.8 if day < RECENT else 0.4,
        hour=lambda d: 0.0 if d < RECENT else 2.0,
    )
    assert of_walking(answer)[1] == "looks like" and "hours" in codes(answer)


def test_resting_animals_that_are_seen_less_do_not_rest_less(tmp_path: Path) -> None:
    answer = asked(
        tmp_path, lambda day, animal: 0.6, seen=lambda day, did: 1.0 if did or day < RECENT else 0.3
    )
    verdict, _, says = of_walking(answer)
    assert verdict == "too early" and "The moments in which nobody saw what they did decide it." in says
    assert "seen-differs" in codes(answer)


def test_the_one_animal_that_changed_is_named(tmp_path: Path) -> None:
    answer = asked(tmp_path, lambda day, animal: 0.0 if animal == 2 and day >= RECENT else 0.8)
    verdict, _, says = of_walking(answer)
    assert verdict == "more" and says.endswith("It all comes from one animal of 4, Animal 2.")
