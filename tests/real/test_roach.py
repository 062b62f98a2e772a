"""24 tanks of fish, three places, four sequences: nothing is left out, and use is what the raw file says.

Norman J et al., data CC0. The shares held against here are "computed" in the data's own NUMBERS.md.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from tests.making import run
from tests.real.roach import Count, begun, read_raw, write_study
from tests.real.where import real
from zoneuse import open_study

SHARES = {
    1: {"bed": 0.0, "open": 0.295, "shelter": 0.704},
    2: {"bed": 0.216, "open": 0.147, "shelter": 0.633},
    3: {"bed": 0.640, "open": 0.353, "shelter": 0.0},
    4: {"bed": 0.548, "open": 0.354, "shelter": 0.097},
}


@pytest.fixture(scope="module")
def counts() -> list[Count]:
    return read_raw(real("roach_refuge_2024", "roach_wide.csv"))


@pytest.fixture(scope="module")
def folder(counts: list[Count], tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = write_study(counts, tmp_path_factory.mktemp("roach") / "study")
    taken = run("sightings", made / "sightings.csv", "--yes", "--study", made)
    assert taken.exit_code == 0 and " 0 refused" in taken.stdout, taken.stderr[:2000]
    return made


@pytest.fixture(scope="module")
def moments(folder: Path, counts: list[Count]) -> pd.DataFrame:
    rows = open_study(folder).moments
    starts = begun(counts)
    tank = rows["enclosure"].str.removeprefix("tank_")
    local = rows["at"].dt.tz_localize(None)
    sequence = [
        max(k for k, start in starts[t].items() if start <= at.to_pydatetime())
        for t, at in zip(tank, local, strict=True)
    ]
    return rows.assign(sequence=sequence)


def test_every_fish_of_every_row_is_counted(folder: Path, counts: list[Count], moments: pd.DataFrame) -> None:
    raw = sum(sum(c.fish.values()) for c in counts)
    seen = moments[moments["zone"].notna()]
    assert int(seen["weight"].sum()) == raw and set(moments["out"]) == {""}
    # Some rows count fewer than a tank's twelve: nobody knows where those were.
    short = sum(max(0, 12 - sum(c.fish.values())) for c in counts if any(c.fish.values()))
    effort = json.loads(run("zones", "--json", "--study", folder).stdout)["effort"]
    assert (effort["moments"], effort["unseen"], effort["left_out"]) == (raw, short, {})


@pytest.mark.parametrize("sequence", [1, 2, 3, 4])
def test_shares_by_tank_are_the_files_own(moments: pd.DataFrame, sequence: int) -> None:
    part = moments[moments["sequence"] == sequence]
    by_scan = part.pivot_table("weight", ["enclosure", "at"], "place", aggfunc="sum").fillna(0.0) / 12
    shares = by_scan.groupby("enclosure").mean().mean()
    for place, expected in SHARES[sequence].items():
        assert shares.get(place, 0.0) == pytest.approx(expected, abs=0.006), place


def test_a_place_is_offered_only_while_it_is_there(folder: Path, moments: pd.DataFrame) -> None:
    answer = open_study(folder).zones(cuts=False)
    available = answer.table.set_index("zone")["available"]
    assert 0 < available["bed"] < available["open"] and 0 < available["shelter"] < available["open"]


def test_any_two_phases_with_tanks_as_units(folder: Path, counts: list[Count], tmp_path: Path) -> None:
    """NUMBERS.md, computed there by a paired t over tanks; here the limits are those of flipped pairs."""
    study = tmp_path / "phases"
    shutil.copytree(folder, study)
    told = ""
    for k in (2, 4):
        spans = []
        for tank, start in begun(counts).items():
            if k in start:
                until = f", until = {start[k + 1].isoformat()}" if k + 1 in start else ""
                spans.append(f'{{enclosure = "tank_{tank}", from = {start[k].isoformat()}{until}}}')
        told += f"\n[phases.s{k}]\nspans = [{', '.join(spans)}]\n"
    with (study / "study.toml").open("a", encoding="utf-8") as stream:
        stream.write(told)
    found = json.loads(run("shifts", "--between", "s2,s4", "--json", "--study", study).stdout)
    rows = {r["zone"]: r for r in found["rows"]}
    for place, (change, low, high) in {
        "bed": (0.332, 0.235, 0.428), "open": (0.208, 0.110, 0.306), "shelter": (-0.537, -0.690, -0.384),
    }.items():  # fmt: skip
        row = rows[place]
        assert row["compared"] == "s2 → s4" and row["adjustment"] is None
        # There a share is of the twelve there should be; here of those counted (some counts are of 11, 13, or 24).
        assert row["change"] == pytest.approx(change, abs=0.0025)
        # Over three places at once they are a little wider than each by itself.
        assert (
            low - 0.035 < row["change_low"] < low + 0.005 and high - 0.005 < row["change_high"] < high + 0.035
        )
    finding = next(f for f in found["findings"] if f["about"][-1] == "shelter")
    assert (finding["verdict"], finding["unit"]) == ("fell", "enclosure")
    assert len([u for u in found["parts"]["by_unit"] if u["zone"] == "shelter"]) == 24
