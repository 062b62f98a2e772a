"""A watch that never fails open, saturated air, and water as the keeper thinks of it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import zoneuse
from tests.answers.climates import LIMIT, START, THREE_ZONES, dry_down, grid, put_readings, three_zones
from tests.making import run, scans, session, study_folder
from zoneuse import open_study
from zoneuse.page.report import PageMade, report_html


def at(day: float) -> str:
    return (START + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M+00:00")


def row(answer: object, zone: str, quantity: str = "humidity_pct") -> dict[str, object]:
    zones = answer.parts["zones"]  # type: ignore[attr-defined]
    return zones[(zones["zone"] == zone) & (zones["quantity"] == quantity)].iloc[0].to_dict()


# --- the watch ----------------------------------------------------------------------------------------------


def alert(folder: Path, day: float) -> tuple[int, str]:
    done = run("climate", "--alert", "--now", at(day), "--study", folder)
    return done.exit_code, done.stderr


def test_a_watch_is_done_only_where_every_limit_is_seen_to_hold(tmp_path: Path) -> None:
    folder = three_zones(tmp_path / "s", 14, LIMIT, L1={"humidity_pct": 90.0}, L2={"humidity_pct": 50.0})
    assert alert(folder, 14)[0] == 0
    status, said = alert(folder, 34)
    assert status == 4 and "more than 24 h ago" in said


def test_a_watch_without_readings_or_with_damaged_ones_cannot_tell(tmp_path: Path) -> None:
    folder = three_zones(tmp_path / "s", 14, LIMIT, L1={"humidity_pct": 60.0}, L2={"humidity_pct": 50.0})
    assert alert(folder, 14)[0] == 3
    part = next((folder / "readings" / "logger=L1").glob("*.parquet"))
    part.write_bytes(part.read_bytes()[:-40])
    status, said = alert(folder, 14)
    assert status == 4 and "no believed reading" in said
    empty = study_folder(tmp_path / "e", THREE_ZONES + LIMIT)
    assert alert(empty, 14)[0] == 4
    # A fault elsewhere that is seen wins over what cannot be told.
    more = LIMIT + "\n[limits.open]\nhumidity_pct = {low = 55}\n"
    both = three_zones(tmp_path / "b", 14, more, L2={"humidity_pct": 50.0})
    assert alert(both, 14)[0] == 3


def test_a_sensor_whose_newest_readings_are_not_believed_watches_nothing(tmp_path: Path) -> None:
    t = grid(14)
    broken = np.where(t > 13.8, 0.1, 90 + np.sin(9 * t))
    folder = three_zones(tmp_path / "s", 14, LIMIT, L2={"humidity_pct": 50.0})
    put_readings(folder, "L1", t, {"humidity_pct": broken})
    status, said = alert(folder, 14)
    assert status == 4 and "missing or not believed" in said


# --- saturated air ------------------------------------------------------------------------------------------


def test_saturated_air_counts_and_says_at_least(tmp_path: Path) -> None:
    t = grid(14)
    wet = np.where((t % 1) < 0.77, 100.0, 78.0)
    folder = study_folder(tmp_path / "s", THREE_ZONES)
    put_readings(folder, "L1", t, {"humidity_pct": wet, "temperature_c": 20 + 0.1 * np.sin(7 * t)})
    put_readings(
        folder, "L2", t, {"humidity_pct": np.full(t.shape, 70.0) + np.sin(t), "temperature_c": 20 + np.sin(t)}
    )
    answer = zoneuse.open_study(folder).climate()
    moss = row(answer, "moss")
    assert (moss["median"], moss["at_least"]) == (100.0, True)
    assert moss["wet_h"] == pytest.approx(18.5, abs=0.5) and moss["covered"] > 0.99  # type: ignore[operator]
    assert (moss["minimum"], moss["maximum"]) == (78.0, 100.0)
    dew = answer.parts["zones"]
    dew = dew[(dew["zone"] == "moss") & (dew["quantity"] == "dew_point_c")].iloc[0]
    assert dew["maximum"] <= 20.1 + 1e-9
    # What follows from a ceiling is one-sided: a dew point up to the air, a deficit down to none.
    parts = answer.parts["zones"]
    parts = parts[parts["zone"] == "moss"].set_index("quantity")
    assert parts["bound"].to_dict() | {"temperature_c": None} == {
        "temperature_c": None, "humidity_pct": "at least", "dew_point_c": "at least", "vpd_kpa": "at most",
    }  # fmt: skip
    assert parts.loc["humidity_pct", "upper_by"] == 0 and parts.loc["humidity_pct", "lower_by"] == 3
    assert parts.loc["dew_point_c", "upper_by"] == pytest.approx(0, abs=0.1)
    assert (
        parts.loc["vpd_kpa", "lower_by"]
        == parts.loc["vpd_kpa", "median"]
        < 0.01
        < parts.loc["vpd_kpa", "upper_by"]
    )
    apart = answer.parts["gradients"]
    assert "at least" in set(apart.loc[apart["quantity"] == "humidity_pct", "bound"])
    assert apart.loc[apart["quantity"] == "temperature_c", "bound"].isna().all()
    printed = run("climate", "--full", "--study", folder).stdout
    assert "≥100" in printed and "Wet h/d" in printed and "≤0.0" in printed and "−3 +0" in printed
    assert "is at least" in " ".join(printed.split())
    # The newest day's median says so too, in the sentence and beside its chart, and on the page.
    assert "≥100 %" in printed and "at least 100 %" in " ".join(printed.split())
    page = report_html(
        open_study(folder), {}, PageMade(START + timedelta(days=14), "zoneuse report", vet=True)
    )
    table = page.replace("&nbsp;", " ").split("Readings by zone")[1].split("</table>")[0]
    assert "≥100.0 %" in table and "18 h a day" in table and "−3.0 points +0.0 points" in table
    assert page.replace("&nbsp;", " ").split("Logger readings")[1].count("≥100.0 %") == 1


def test_a_page_prints_no_median_from_too_little_cover(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", THREE_ZONES)
    put_readings(folder, "L1", grid(14), {"humidity_pct": 88 + 0.5 * np.sin(grid(14))})
    put_readings(folder, "L2", grid(0.2), {"humidity_pct": np.full(grid(0.2).shape, 41.0)})
    page = report_html(open_study(folder), {}, PageMade(START + timedelta(days=14), "zoneuse report"))
    table = page.replace("&nbsp;", " ").split("Readings by zone")[1].split("</table>")[0]
    assert "88." in table and "41.0" not in table and "100 %" in table


def test_prefer_tells_that_saturated_air_is_at_least_what_it_says(tmp_path: Path) -> None:
    t = grid(14)
    animal = '[animals.a1]\nlabel = "A"\nkey = "1"\n'
    folder = study_folder(tmp_path / "s", THREE_ZONES.replace("[loggers.L1]", animal + "[loggers.L1]"))
    put_readings(folder, "L1", t, {"humidity_pct": np.where((t % 1) < 0.77, 100.0, 78.0)})
    put_readings(folder, "L2", t, {"humidity_pct": 60 + 5 * np.sin(t)})
    for day in range(12):
        when = (START + timedelta(days=day + 0.1)).strftime("%Y-%m-%dT%H:%M:%S")
        scans(folder, when, [["open" if day % 3 == 0 else "moss"], ["moss"]])
    told = {c.code: c.says for c in zoneuse.open_study(folder).preference().cautions}
    assert "Moss hide (100 %)" in told["saturated-air"] and "at least" in told["saturated-air"]


def test_a_dew_point_is_never_above_the_air() -> None:
    from zoneuse.readings.trust.moisture import dew_point_c

    warm = np.linspace(5, 35, 31)
    assert (dew_point_c(warm, 104.0) <= warm + 1e-9).all()


# --- waterings ----------------------------------------------------------------------------------------------


def pour(folder: Path, day: float, name: str, litres: float) -> None:
    when = START + timedelta(days=day)
    journal = session(folder, when, method="record")
    journal.append("adjusted", when, adjustment=name, what="water", zones=["moss"], amount=litres, unit="l")
    journal.append("closed", when + timedelta(seconds=5), reason="finished")
    journal.close()


def watered(folder: Path) -> Path:
    """Waterings of 1, 2, 3, 2 and 1 l, each of which holds about four days a litre."""
    pours = [(0.0, 1.0), (5.0, 2.0), (15.0, 3.0), (29.0, 2.0), (39.0, 1.0)]
    t = grid(46)
    level = np.full(t.shape, 95.0)
    for day, litres in pours:
        since = t - day
        level = np.where(since >= 0, 60 + 35 * np.exp(-since * np.log(35 / 15) / (4 * litres)), level)
    study_folder(folder, THREE_ZONES + LIMIT)
    put_readings(folder, "L1", t, {"humidity_pct": level + 0.3 * np.sin(2 * np.pi * t)})
    for i, (day, litres) in enumerate(pours[1:], 1):
        pour(folder, day, f"water_{i}", litres)
    return folder


def test_each_litre_is_told_and_never_far_beyond_what_was_poured(tmp_path: Path) -> None:
    answer = zoneuse.open_study(watered(tmp_path / "s")).climate()
    done = answer.parts["responses"]
    assert done["amount"].tolist() == [2.0, 3.0, 2.0, 1.0] and set(done["unit"]) == {"l"}
    assert done["held_days"].tolist() == pytest.approx([8, 12, 8, 4], abs=0.8)
    assert (done["half_days"] < done["held_days"] + 1.5).all()
    assert done["above_limit_days"].tolist() == pytest.approx([8, 12, 8, 4], abs=0.8)
    said = next(n.says for n in answer.notes if "each litre" in n.says)
    assert "2 l last about 8 days here" in said and "for two weeks about 3." in said


def test_since_holds_for_waterings(tmp_path: Path) -> None:
    study = zoneuse.open_study(watered(tmp_path / "s"))
    assert len(study.climate(since=START + timedelta(days=20)).parts["responses"]) == 2


def test_held_never_runs_over_a_gap(tmp_path: Path) -> None:
    t = grid(30)
    level = dry_down(30, (0.0, 10.0), rate=0.02)
    folder = study_folder(tmp_path / "s", THREE_ZONES + LIMIT)
    keep = (t < 14) | (t > 20)
    put_readings(folder, "L1", t[keep], {"humidity_pct": level[keep]})
    pour(folder, 10.0, "water_1", 2.0)
    one = zoneuse.open_study(folder).climate().parts["responses"].iloc[0]
    assert one["held_until"] == "gap in readings" and one["held_days"] == pytest.approx(4, abs=0.1)


def test_a_rise_in_the_open_is_weather(tmp_path: Path) -> None:
    rising = dry_down(25, (0.0, 10.0), rate=0.2, low=50, high=80)
    folder = three_zones(tmp_path / "s", 25, L1={"humidity_pct": 90.0}, L2={"humidity_pct": rising})
    assert "open" not in set(zoneuse.open_study(folder).climate().parts["responses"]["zone"])
    inside = three_zones(tmp_path / "t", 25, L1={"humidity_pct": rising}, L2={"humidity_pct": 60.0})
    assert "moss" in set(zoneuse.open_study(inside).climate().parts["responses"]["zone"])


def test_too_much_water_is_an_answer(tmp_path: Path) -> None:
    folder = three_zones(
        tmp_path / "s", 20, L1={"humidity_pct": 101.0}, L2={"humidity_pct": 96.0}, L3={"humidity_pct": 95.0}
    )
    said = " ".join(n.says for n in zoneuse.open_study(folder).climate().notes)
    assert "Moss hide stood in saturated air for 24 h a day" in said and "nothing left to choose" in said


def test_what_a_finger_feels_is_on_record_and_told_where_it_disagrees(tmp_path: Path) -> None:
    folder = three_zones(tmp_path / "s", 14, L1={"humidity_pct": 97.0}, L2={"humidity_pct": 50.0})
    for zone, felt, day in (("moss", "dry", 5.0), ("Open floor", "dry", 6.0)):
        assert run("note", "felt", zone, felt, "--at", at(day), "--study", folder).exit_code == 0
    assert run("note", "felt", "moss", "lovely", "--study", folder).exit_code == 2
    answer = zoneuse.open_study(folder).climate()
    assert answer.parts["felt"][["zone", "felt", "agrees"]].to_numpy().tolist() == [
        ["moss", "dry", False], ["open", "dry", True],
    ]  # fmt: skip
    assert [n.about for n in answer.notes if "felt" in n.says] == [("moss",)]


# --- days, means, cover -------------------------------------------------------------------------------------


def test_days_are_days_under_a_slot(tmp_path: Path) -> None:
    folder = three_zones(tmp_path / "s", 14, L1={"humidity_pct": 90.0}, L2={"humidity_pct": 50.0})
    answer = zoneuse.open_study(folder).climate(slot="night")
    assert answer.effort["days"] in (14, 15)
    assert f"on {answer.effort['days']} days" in answer.basis


def test_without_lights_zones_are_compared_by_the_mean(tmp_path: Path) -> None:
    dark = THREE_ZONES.replace('lights = {on = "08:00", off = "20:00"}\n', "")
    folder = study_folder(tmp_path / "s", dark)
    t = grid(14)
    # Warmer by 4.8 °C for most of the day, and far cooler for the rest: 3 °C cooler in the mean.
    stone = np.where((t % 1) < 0.6, 24.8, 20 - 14.7)
    put_readings(folder, "L2", t, {"temperature_c": 20 + 0.1 * np.sin(9 * t)})
    put_readings(folder, "L3", t, {"temperature_c": stone})
    only = zoneuse.open_study(folder).climate().parts["gradients"].iloc[0]
    assert (only["zone"], only["difference"]) == ("open", pytest.approx(3.0, abs=0.2))


def test_figures_that_rest_on_little_are_not_printed(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", THREE_ZONES)
    t = grid(14)
    put_readings(folder, "L2", t, {"temperature_c": 20 + np.sin(t)})
    put_readings(folder, "L3", t[:10], {"temperature_c": np.linspace(33, 34, 10)})
    printed = run("climate", "--full", "--study", folder).stdout
    assert "33" not in printed and "less than 12 h" in " ".join(printed.split())


def test_a_limit_that_is_set_is_not_denied(tmp_path: Path) -> None:
    high = "\n[limits.moss]\nhumidity_pct = {high = 98}\n"
    folder = three_zones(tmp_path / "s", 14, high, L1={"humidity_pct": 90.0}, L2={"humidity_pct": 50.0})
    printed = run("climate", "--full", "--study", folder).stdout
    assert ", no limit" not in printed and "no lower limit" in printed
