"""Cycles, dates, alerts, responses and the backtest, through the open study and the command."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import zoneuse
from tests.answers.climates import LIMIT, START, dry_down, grid, three_zones, water
from tests.making import run

# 95 to 60 % with a time constant of 10 days passes 75 % after 10 ln(35/15) days.
CROSSES = 10 * np.log(35 / 15)


def drying_study(folder: Path, days: float, waters: tuple[float, ...], recorded: bool = True) -> Path:
    three_zones(folder, days=days, extra=LIMIT, L1={"humidity_pct": dry_down(days, waters)})
    for number, day in enumerate(w for w in waters if w > 0):
        if recorded:
            water(folder, day, f"water-{number}")
    return folder


def moss(answer: object) -> dict[str, object]:
    return answer.table.set_index("zone").loc["moss"].to_dict()  # type: ignore[attr-defined]


def test_the_date_of_the_next_water(tmp_path: Path) -> None:
    folder = drying_study(tmp_path / "s", 25, (0.0, 10.0, 20.0))
    answer = zoneuse.open_study(folder).climate()
    row = moss(answer)
    assert row["days_left_low"] < CROSSES - 5 < row["days_left_high"]  # type: ignore[operator]
    assert row["days_left"] == pytest.approx(CROSSES - 5, abs=0.7)
    assert row["drying_per_day"] == pytest.approx(35 * 0.1 * np.exp(-0.35), rel=0.15)
    finding = answer.findings[0]
    assert (finding.about, finding.verdict) == (("moss",), "drying")
    assert "2 past cycles" in finding.says


def test_recharge_now_past_the_limit_and_a_day_before_it(tmp_path: Path) -> None:
    late = zoneuse.open_study(drying_study(tmp_path / "s", 20 + CROSSES + 1.5, (0.0, 10.0, 20.0))).climate()
    assert late.findings[0].verdict == "recharge now"
    assert moss(late)["days_left"] == 0
    soon = zoneuse.open_study(drying_study(tmp_path / "t", 20 + CROSSES - 0.5, (0.0, 10.0, 20.0))).climate()
    assert soon.findings[0].verdict == "recharge now"
    assert re.search("(less than a|about 1) day away", soon.findings[0].says)


def test_a_wet_retreat_is_steady_where_past_cycles_show_it(tmp_path: Path) -> None:
    """Fifteen days at 90 % without a past cycle may be a place that holds and then falls: that is no date."""
    level = 90 + np.sin(6.3 * grid(15))
    folder = three_zones(tmp_path / "s", days=15, extra=LIMIT, L1={"humidity_pct": level})
    found = zoneuse.open_study(folder).climate().findings[0]
    assert (found.verdict, found.reason) == ("too early", "not_falling")
    assert "held for 15 days" in found.says and "no past cycle" in found.says
    level = 90 + np.sin(6.3 * grid(50))
    known = three_zones(tmp_path / "t", days=50, extra=LIMIT, L1={"humidity_pct": level})
    for number, day in enumerate((14.0, 29.0, 44.0)):
        water(known, day, f"water-{number}")
    found = zoneuse.open_study(known).climate().findings[0]
    assert found.verdict == "steady" and "nine times in ten" in found.says


def test_a_hide_that_holds_for_days_and_then_falls(tmp_path: Path) -> None:
    """Held eight days each time before: on day 5 it is not steady, and its date is known."""
    since = grid(44) % 15.0
    level = 55 + 41 * np.exp(-np.maximum(since - 8, 0) / 5)
    now = int(np.searchsorted(grid(44), 35.0))
    folder = three_zones(tmp_path / "s", days=35, extra=LIMIT, L1={"humidity_pct": level[:now]})
    for number, day in enumerate((15.0, 30.0)):
        water(folder, day, f"water-{number}")
    answer = zoneuse.open_study(folder).climate()
    assert answer.findings[0].verdict == "drying"
    row = moss(answer)
    assert row["days_left_low"] < 8 + 5 * np.log(41 / 20) - 5 < row["days_left_high"] < 14  # type: ignore[operator]


def test_two_days_of_readings_are_too_early(tmp_path: Path) -> None:
    answer = zoneuse.open_study(drying_study(tmp_path / "s", 2, (0.0,))).climate()
    assert answer.findings[0].verdict == "too early"
    assert np.isnan(moss(answer)["days_left"])  # type: ignore[call-overload]


def test_days_count_from_the_newest_reading_and_now_overrides(tmp_path: Path) -> None:
    study = zoneuse.open_study(drying_study(tmp_path / "s", 25, (0.0, 10.0, 20.0)))
    newest = moss(study.climate())["days_left"]
    later = moss(study.climate(now=START + timedelta(days=27)))["days_left"]
    assert later == pytest.approx(newest - 2, abs=0.5)  # type: ignore[operator]
    # An earlier moment is answered from what was known then.
    then = study.climate(now=START + timedelta(days=15))
    assert "from 1 past cycle" in then.findings[0].says
    done = run("climate", "--now", "2026-03-28T00:00", "--study", study.folder)
    assert done.exit_code == 0
    assert "counted from 28 Mar 2026 00:00" in " ".join(done.stdout.split())


def test_alert_counts_from_the_clock_on_the_wall(tmp_path: Path) -> None:
    # The readings end in March 2026, long before today: the water has run out since.
    folder = drying_study(tmp_path / "s", 25, (0.0, 10.0, 20.0))
    assert run("climate", "--study", folder).exit_code == 0
    alerted = run("climate", "--alert", "--full", "--study", folder)
    assert alerted.exit_code == 3
    assert "A newer reading would tell" in " ".join(alerted.stdout.split())
    assert "newest reading 26 Mar 2026" in alerted.stderr
    assert run("climate", "--alert", "--now", "2026-03-26T00:00", "--study", folder).exit_code == 0


def test_water_nobody_recorded_is_found_and_offered(tmp_path: Path) -> None:
    folder = drying_study(tmp_path / "s", 25, (0.0, 10.0, 20.0), recorded=False)
    answer = zoneuse.open_study(folder).climate()
    offered = [c.says for c in answer.cautions if c.code == "found-water"]
    assert len(offered) == 2
    assert "zoneuse adjust water moss --at 2026-03-11T0" in offered[0]
    assert answer.parts["responses"]["source"].tolist() == ["found", "found"]
    # Put on record as offered, they are asked of no more, and mean the same.
    known = zoneuse.open_study(drying_study(tmp_path / "t", 25, (0.0, 10.0, 20.0))).climate()
    assert not [c for c in known.cautions if c.code == "found-water"]
    assert moss(known)["days_left"] == pytest.approx(moss(answer)["days_left"], abs=0.5)


def test_water_that_reaches_a_neighbour_is_not_asked_of_again(tmp_path: Path) -> None:
    wet = dry_down(25, (0.0, 10.0))
    folder = three_zones(tmp_path / "s", days=25, L1={"humidity_pct": wet}, L2={"humidity_pct": wet - 10})
    water(folder, 10.0, "water-1")
    answer = zoneuse.open_study(folder).climate()
    assert not [c for c in answer.cautions if c.code == "found-water"]


def test_what_a_water_did(tmp_path: Path) -> None:
    folder = drying_study(tmp_path / "s", 25, (0.0, 10.0))
    row = zoneuse.open_study(folder).climate().parts["responses"].iloc[0]
    assert row["adjustment"] == "water-0"
    assert row["before"] == pytest.approx(60 + 35 * np.exp(-0.95), abs=0.5)
    assert row["rise"] == pytest.approx(96 - row["before"], abs=1.5)
    assert row["to_peak_h"] < 24
    assert row["held_until"] == "limit"
    assert row["held_days"] == pytest.approx(CROSSES, abs=0.3)


def test_earlier_charges_are_told(tmp_path: Path) -> None:
    folder = drying_study(tmp_path / "s", 35, (0.0, 11.0, 22.0, 33.0))
    says = zoneuse.open_study(folder).climate().findings[0].says
    assert re.search(r"The last two waterings lasted [89] and [89] days\.", says)


def test_the_backtest_tries_earlier_forecasts(tmp_path: Path) -> None:
    folder = drying_study(tmp_path / "s", 35, (0.0, 11.0, 22.0, 33.0))
    answer = zoneuse.open_study(folder).climate(backtest=True)
    tried = answer.parts["backtest"]
    assert set(tried["days_before"]) == {6, 4, 2}
    assert tried["past_cycles"].max() == 2
    known = tried[(tried["past_cycles"] > 0) & (tried["days_before"] <= 4)]
    assert known["error"].abs().max() < 1.5
    assert any(c.code == "backtest" and "earlier forecasts" in c.says for c in answer.cautions)
    assert "Earlier forecasts:" in run("climate", "--backtest", "--full", "--study", folder).stdout


def test_a_moved_cover_begins_a_cycle_and_is_no_water(tmp_path: Path) -> None:
    from tests.making import session

    t = grid(20)
    level = np.where(t < 10, 80 - 0.5 * t, 88 - 0.5 * (t - 10))
    folder = three_zones(tmp_path / "s", days=20, extra=LIMIT, L1={"humidity_pct": level})
    at = START + timedelta(days=10)
    journal = session(folder, at, method="record")
    journal.append("adjusted", at, adjustment="layout-1", what="layout", zones=["moss"])
    journal.append("closed", at + timedelta(seconds=5), reason="finished")
    journal.close()
    answer = zoneuse.open_study(folder).climate()
    assert len(answer.parts["responses"]) == 0
    assert not [c for c in answer.cautions if c.code == "found-water"]
