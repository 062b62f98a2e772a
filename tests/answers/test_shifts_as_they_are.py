"""Changes asked of animals that hide, move house, or began before: what is claimed, and what is said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.making import run
from tests.sim.changes import SHARES, by_level, hiding, homes, moods, step, wave
from tests.sim.written import changed_on, write_study
from zoneuse import Answer, open_study

OFFER = np.full(6, 1 / 6)


def asked(folder: Path, zone: np.ndarray, before: int, direction: str | None = "up") -> Answer:
    """The answer to one study of days x animals x scans, changed at the start of day ``before``."""
    write_study(folder, zone.transpose(1, 0, 2), OFFER)
    changed_on(folder, before, 3, direction)
    return open_study(folder).shifts(draws=999)


def claims(answer: Answer, standing: str = "fairly sure here") -> list[str]:
    return [f.verdict for f in answer.findings if f.verdict in ("rose", "fell") and f.standing == standing]


def test_harder_to_see_is_not_used_less(tmp_path: Path) -> None:
    """Found there at nine looks in ten before, at two after; it is used as before."""
    zone = hiding(16, 16, 3, np.random.default_rng(3), (0.95, 0.1), 0.4)
    zone[:16] = hiding(16, 1, 3, np.random.default_rng(4), (0.95, 0.1), 0.4)[:16]
    answer = asked(tmp_path, zone, 16, "down")
    assert not claims(answer) and not claims(answer, "looks like")
    assert "seen-differs" in {c.code for c in answer.cautions}
    part = answer.parts["unseen"].set_index("zone").loc["z3"]
    assert part["seen_before"] > part["seen_after"]
    assert part["before_low"] <= part["before_high"] <= 1 and part["after_high"] - part["after_low"] > 0.05


def test_an_evening_over_lights_off_is_one_look(tmp_path: Path) -> None:
    """Its two halves are as alike as the animals are still: taken as two looks, they hid what forty evenings show."""
    zone = step(12, 12, 2, np.random.default_rng(5), 0.75)
    write_study(tmp_path, zone.transpose(1, 0, 2), OFFER)
    changed_on(tmp_path, 12, 3)
    file = tmp_path / "study.toml"
    lit = file.read_text().replace("[enclosure]", '[enclosure]\nlights = {on = "08:00", off = "20:00"}')
    dark = open_study(tmp_path).shifts(draws=999)
    file.write_text(lit)
    answer = open_study(tmp_path).shifts(draws=999)
    assert [(r.side, r.slot, r.units) for r in answer.parts["hours"].itertuples()] == [
        ("after", "night", 12), ("before", "night", 12)
    ]  # fmt: skip
    p = [a.table.set_index("zone").loc["z3", "p"] for a in (dark, answer)]
    assert p[0] == pytest.approx(p[1])


def test_three_homes_in_a_month_show_nothing(tmp_path: Path) -> None:
    """An animal whose home moves about every ten days has had three or four chances to choose, not thirty-two.

    In one of these five studies it happened to move on the day of the change, and that cannot be told apart.
    """
    sure = 0
    for seed in range(5):
        answer = asked(tmp_path / str(seed), homes(16, 16, 1, np.random.default_rng(seed)), 16, None)
        sure += bool(claims(answer))
        spells = answer.parts["overlap"]["spells"].dropna()
        assert (spells < 20).all()
    assert sure <= 1


def test_what_began_before_the_change_is_said(tmp_path: Path) -> None:
    zone = step(16, 16, 3, np.random.default_rng(8), 0.6, early=4)
    answer = asked(tmp_path, zone, 16)
    told = next(f for f in answer.findings if f.about[-1:] == ("z3",))
    assert told.verdict == "rose" and told.standing == "looks like"
    assert told.facts["begun_before"] in (3, 4, 5)
    assert "before the change" in told.says


def test_one_animal_of_four_is_named(tmp_path: Path) -> None:
    random = np.random.default_rng(2)
    still = by_level(np.full(40, -1.7), 3, random)
    moved = by_level(np.where(np.arange(40) < 20, -1.7, 3.0), 1, random)
    answer = asked(tmp_path, np.concatenate([still, moved], axis=1), 20)
    told = next(f for f in answer.findings if f.about[-1:] == ("z3",))
    assert (told.verdict, told.standing) == ("rose", "looks like") and told.facts["one_animal"] == ("a3", 4)
    assert "one animal of 4" in told.says
    # Also where a reader looks first: no row of the picture can say it.
    shown = run("shifts", "--study", tmp_path)
    assert "one animal of 4" in " ".join(shown.output.split())
    assert "rose after the change." in shown.output
    part = answer.parts["by_animal"]
    change = part[part["zone"] == "z3"].set_index("animal")["change"]
    assert change.idxmax() == "a3" and len(change) == 4


def test_a_strong_change_that_holds_is_sure(tmp_path: Path) -> None:
    answer = asked(tmp_path, step(24, 24, 3, np.random.default_rng(1), 0.7), 24)
    told = next(f for f in answer.findings if f.about[-1:] == ("z3",))
    assert (told.verdict, told.standing) == ("rose", "fairly sure here")
    row = answer.table[answer.table["zone"] == "z3"].iloc[0]
    assert row["n_eff"] > 30 and row["df"] == 46 and 0 < row["se"] < 0.1


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    before=st.integers(4, 16), after=st.integers(4, 16), animals=st.integers(1, 3), to=st.floats(0.05, 0.8),
    seed=st.integers(0, 9_999), expected=st.sampled_from(["up", "down", None]),
)  # fmt: skip
def test_limits_leave_out_no_change_exactly_where_one_is_claimed(
    tmp_path_factory: pytest.TempPathFactory, before: int, after: int, animals: int, to: float, seed: int,
    expected: str | None,
) -> None:  # fmt: skip
    zone = step(before, after, animals, np.random.default_rng(seed), to)
    answer = asked(tmp_path_factory.mktemp("study"), zone, before, expected)
    told = {f.about[-1]: f.verdict for f in answer.findings if f.about}
    for row in answer.table[answer.table["what"] == "zone"].to_dict("records"):
        if np.isnan(row["change"]):  # never entered: told with the words of zones, no change to measure
            assert row["before"] == row["after"] == 0
            continue
        outside = row["change_low"] > 0 or row["change_high"] < 0
        assert outside == (told.get(row["zone"]) in ("rose", "fell", "confounded"))
        assert row["change_low"] <= row["change"] + 1e-9 and row["change"] <= row["change_high"] + 1e-9


CELLS = {
    "one home, moved every ten days": (lambda r: homes(16, 16, 1, r), 16, 5),
    "three homes, moved every ten days": (lambda r: homes(16, 16, 3, r), 16, 5),
    "three that share a home": (lambda r: homes(16, 16, 3, r, shared=True), 16, 5),
    "wave of 60 days": (lambda r: wave(16, 16, 3, r), 16, 5),
    "moods AR .85": (lambda r: moods(16, 16, 3, r), 16, 5),
    "seen .9, then .2": (lambda r: hiding(16, 16, 3, r), 16, 5),
    "begun three days before": (lambda r: step(16, 16, 3, r, 0.45, 3), 16, 10),
    "nothing": (lambda r: step(16, 16, 3, r), 16, 5),
}


@pytest.mark.calibration
@pytest.mark.parametrize("name", list(CELLS))
def test_animals_as_they_are_raise_few_false_alarms(name: str, tmp_path: Path) -> None:
    """60 studies through journals and the public answer; three standard errors over the goal are allowed."""
    make, before, goal = CELLS[name]
    sure = sum(
        bool(claims(asked(tmp_path / str(seed), make(np.random.default_rng(90_000 + seed)), before)))
        for seed in range(60)
    )
    assert 100 * sure / 60 <= goal + 3 * np.sqrt(goal * (100 - goal) / 60)
    assert SHARES.size == OFFER.size
