"""Shelters taken away step by step in real chambers: groups not told apart, from raw file to `shifts`.

Data: Dye et al. 2023, J Exp Mar Biol Ecol 151959. Counts by temperature are those worked out from the raw
files in the data's own README; nothing here is printed in the paper unless it says "published".
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pandas as pd
import pytest

from tests.making import run
from tests.real.rockling import WARMTH, Count, changes, read_raw, write_study
from tests.real.where import real
from zoneuse import open_study

# README, "Removal counts (10/13/16/19/22)" and "Counts by temperature".
AFTER = {
    "without 10": (0, 13, 10, 1, 0), "without 13": (25, 0, 2, 0, 0), "without 16": (0, 3, 46, 2, 0),
    "without 19": (1, 6, 11, 33, 0), "without 22": (8, 13, 15, 5, 10),
    "I": (20, 30, 63, 51, 44), "II": (27, 133, 46, 15, 0), "III": (39, 159, 21, 2, 0),
}  # fmt: skip


@pytest.fixture(scope="module")
def counts() -> list[Count]:
    return read_raw(real("rockling_chamber_dye2023", "raw"))


@pytest.fixture(scope="module")
def study(counts: list[Count], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_study(counts, tmp_path_factory.mktemp("rockling") / "study")
    taken = run("sightings", folder / "sightings.csv", "--study", folder, "--yes")
    assert taken.exit_code == 0, taken.stderr
    assert "0 refused" in taken.stdout
    trials = sorted({c.trial for c in counts}, key=int)
    for kind, zones, at in changes(trials):
        expects = [w for z in zones for w in ("--expects", f"{z}:down")] if kind == "cover" else []
        done = run(
            "adjust", kind, *zones, "--at", at.isoformat(), "--settle", "1h", *expects, "--study", folder
        )
        assert done.exit_code == 0, done.stderr
    return folder


def test_the_raw_files_hold_the_counts_they_are_said_to(counts: list[Count]) -> None:
    found: Counter[tuple[str, int]] = Counter()
    for c in counts:
        found[c.phase, c.warmth] += c.fish
    assert {phase: tuple(found[phase, t] for t in WARMTH) for phase in AFTER} == AFTER


def test_every_phase_is_a_side_and_each_chamber_is_compared_with_itself(
    study: Path, counts: list[Count]
) -> None:
    table = open_study(study).shifts().table.set_index(["adjustment", "zone"])
    first = next(a for a, _ in table.index if a.startswith("heat"))
    raw = pd.DataFrame([vars_of(c) for c in counts if c.phase in ("I", "II")])
    shares = raw.groupby(["phase", "trial", "warmth"])["fish"].sum().unstack()
    shares = shares.div(shares.sum(axis=1), axis=0)
    for t in WARMTH:
        row = table.loc[(first, f"t{t}")]
        assert row["before"] == pytest.approx(shares.loc["I", t].mean())
        assert row["after"] == pytest.approx(shares.loc["II", t].mean())
        assert row["change_low"] < row["change"] < row["change_high"]


def vars_of(count: Count) -> dict[str, object]:
    return {"phase": count.phase, "trial": count.trial, "warmth": count.warmth, "fish": count.fish}


def test_three_chambers_a_side_are_told_to_be_too_few(study: Path) -> None:
    found = json.loads(run("shifts", "--study", study, "--json").stdout)
    assert {f["verdict"] for f in found["findings"]} == {"too early"}
    assert any("at best 1 in 4 by chance" in f["says"] for f in found["findings"])
