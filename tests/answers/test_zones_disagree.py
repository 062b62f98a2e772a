"""Enclosures that disagree are said so and make nothing fairly sure; one animal that differs is named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.making import run, study_folder
from zoneuse import open_study
from zoneuse.stats.resampling import groups_differ, stays_in

TANKS = "".join(
    f'[enclosures.t{i}]\nmeasured_in = "floor_cm2"\n'
    + "".join(
        f'[zones.{z}{i}]\nlabel = "{z}"\nkey = "{z[0]}"\nplace = "{z}"\nenclosure = "t{i}"\namount = 1\n'
        for z in ("moss", "bark")
    )
    + f'[animals.a{i}]\nlabel = "a{i}"\nkey = "1"\nlives = [{{enclosure = "t{i}"}}]\n'
    for i in range(3)
)


def watched(folder: Path, moss: tuple[int, int, int]) -> Path:
    """Twenty days of three tanks; so many of twenty scans in the moss, a little more or less each day."""
    made = study_folder(folder, f'format = 1\ntitle = "Tanks"\ntimezone = "Europe/Vienna"\n{TANKS}')
    random = np.random.default_rng(2)
    lines = ["at,session,animal,zone"]
    for day in range(1, 21):
        for i, usual in enumerate(moss):
            inside = random.permutation(20) < usual + random.integers(-2, 3)
            lines += [
                f"2026-03-{day:02d} 20:{k:02d},s{day}-{i},a{i},{'moss' if there else 'bark'}{i}"
                for k, there in enumerate(inside)
            ]
    (made / "t.csv").write_text("\n".join(lines) + "\n")
    assert run("sightings", made / "t.csv", "--yes", "--study", made).exit_code == 0
    return made


def test_tanks_that_disagree_are_said_so_and_nothing_is_sure_of_them(tmp_path: Path) -> None:
    apart = open_study(watched(tmp_path / "apart", (18, 16, 13))).zones()
    alike = open_study(watched(tmp_path / "alike", (16, 16, 16))).zones()
    said, other = (next(f for f in a.findings if f.about == ("moss",)) for a in (apart, alike))
    assert (said.verdict, said.standing) == ("favoured", "looks like")
    assert (other.verdict, other.standing) == ("favoured", "fairly sure here")
    assert "The enclosures do not agree: 1." in said.says and "in t0, t1 and t2" in said.says
    assert "agree" not in other.says
    part = apart.parts["by_enclosure"]
    moss = part[part["zone"] == "moss"].set_index("unit")
    assert list(moss["looks"]) == [20, 20, 20] and moss["p_differ"].max() <= 0.05
    assert moss["ratio"].to_numpy() == pytest.approx(moss["used"].to_numpy() / 0.5)


def test_the_spread_of_groups_is_judged_as_f_is() -> None:
    random = np.random.default_rng(1)
    for shift in (0.0, 0.8):
        values, group = random.normal(size=15), np.repeat([0, 1, 2], 5)
        values[group == 2] += shift
        theirs = stats.permutation_test(
            (group,), lambda g, v=values: stats.f_oneway(*(v[g == k] for k in range(3))).statistic,
            permutation_type="pairings", n_resamples=999, alternative="greater",
        )  # fmt: skip
        assert groups_differ(values[:, None], group)[0] == pytest.approx(theirs.pvalue, abs=0.06)
    assert groups_differ(np.zeros((6, 2)), np.repeat([0, 1], 3)).tolist() == [1.0, 1.0]


def test_animals_that_stay_for_days_differ_by_their_stays_not_by_their_sessions() -> None:
    """Forty sessions are eight stays of five: four animals alike in what they do are rarely told apart."""
    random = np.random.default_rng(5)
    group = np.repeat(np.arange(4), 40)
    told = []
    for _ in range(40):
        share = np.eye(5)[np.repeat(random.integers(0, 5, (4, 8)), 5, axis=1).ravel()]
        by_stays, by_sessions = (
            groups_differ(share, group, stay=stay, draws=199).min() * 5
            for stay in (stays_in(share, group), None)
        )
        told.append((by_stays <= 0.05, by_sessions <= 0.05))
    stays, sessions = np.mean(told, axis=0)
    assert stays <= 0.15 and sessions >= 0.7
    # Each its own place, left and come back to: that is a difference.
    own = np.eye(5)[np.where(random.random(160) < 0.7, group, random.integers(0, 5, 160))]
    assert groups_differ(own, group, stay=stays_in(own, group), draws=199).min() <= 0.01
