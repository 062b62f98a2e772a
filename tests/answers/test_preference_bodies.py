"""Bodies and what stands still: noted temperatures, worn loggers, empty models; a gradient that never moved; cover."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.answers.test_preference import START, ZONES
from tests.making import run, session, study_folder
from tests.tables.test_conditions import put_readings
from zoneuse import open_study
from zoneuse.answers.showing.said import signed
from zoneuse.journal.reader import read_journals

WARMTH = dict(zip(ZONES, (22.0, 27.0, 32.0, 37.0), strict=True))
COVER = dict(zip(ZONES, (1.0, 0.2, 0.6, 0.0), strict=True))
# Massasauga's set range; the toy of six bodies and six models is worked out in the thermoregulation check values.
SET = '[set_range]\ntemperature_c = {low = 29, high = 32, source = "an invented source"}\n'


def still(folder: Path, *, animals: int = 8, extra: str = "", logged: tuple[str, ...] = ZONES) -> Path:
    """Zones that never change; each animal watched in one session on a day of its own, seeking about 29 °C."""
    zones = "".join(
        f'[zones.{z}]\nlabel = "{z.capitalize()}"\nkey = "{z[0]}"\namount = 100\ncover = {COVER[z]}\n'
        f'[loggers.{z}]\nplaced = [{{zone = "{z}"}}]\n'
        for z in ZONES
    )
    who = "".join(f'[animals.a{i}]\nlabel = "No {i}"\nkey = "{i}"\n' for i in range(1, animals + 1))
    head = 'format = 1\ntitle = "Still"\ntimezone = "Europe/Vienna"\n[enclosure]\nmeasured_in = "floor_cm2"\n'
    study_folder(folder, f"{head}{extra}\n{zones}{who}")
    rng = np.random.default_rng(6)
    minutes = [60.0 * k for k in range(24 * (animals + 1))]
    for zone in logged:
        values = [WARMTH[zone] + float(rng.normal(0, 0.1)) for _ in minutes]
        put_readings(folder, zone, minutes, {"temperature_c": values})
    warmth = np.array(list(WARMTH.values()))
    for i in range(1, animals + 1):
        at = START + timedelta(days=i - 1, hours=2)
        journal = session(folder, at)
        chance = np.exp(-((warmth - rng.normal(29, 1)) ** 2) / 18)
        for scan in range(20):
            where = str(rng.choice(ZONES, p=chance / chance.sum()))
            journal.append(
                "seen", at + timedelta(minutes=scan * 3), animal=f"a{i}", zone=where, scan=scan + 1
            )
        journal.close()
    return folder


@pytest.fixture(scope="module")
def static(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return still(tmp_path_factory.mktemp("still") / "s")


def test_a_gradient_that_never_moves_is_never_told_from_its_places(static: Path) -> None:
    answer = open_study(static).preference()
    found = {f.about: f for f in answer.findings}
    warmth = found["temperature_c",]
    assert (warmth.verdict, warmth.reason) == ("too early", "never_with_this_design")
    assert warmth.forecast is not None
    row = answer.table.set_index("quantity").loc["temperature_c"]
    assert row["animals"] == 8
    assert row["used_mean_low"] < row["used_mean"] < row["used_mean_high"]
    assert row["peak_low"] <= row["peak"] <= row["peak_high"]
    planned = open_study(static).plan(now="2026-04-01T12:00").findings
    assert [f.about for f in planned if "turned" in f.facts] == (
        [("temperature_c",)] if warmth.forecast.more else []
    )


def test_cover_is_a_condition_and_may_be_changed_in_thought(static: Path) -> None:
    answer = open_study(static).preference(what_if="hot.cover=1.0")
    assert answer.table["quantity"].tolist() == ["temperature_c", "cover"]
    table = answer.parts["what_if"]
    assert table["share"].sum() == pytest.approx(1)
    assert table.set_index("zone")["share"]["hot"] != table.set_index("zone")["share_now"]["hot"]


def test_the_parts_of_why_add_up_to_what_is_printed(static: Path) -> None:
    answer = open_study(static).preference()
    for zone, parts in answer.parts["why"].groupby("zone"):
        told = parts[parts["term"] != "size"]
        total = sum(round(v, 1) for v in told["part"])
        (said,) = [n.says for n in answer.notes if n.says.startswith(f"{str(zone).capitalize()} against")]
        assert f"log odds {signed(total, '.1f')} for its size" in said
        assert all(signed(v, ".1f") in said for v in told["part"])


def test_what_is_logged_in_few_zones_has_no_curve_and_takes_none_away(tmp_path: Path) -> None:
    folder = still(tmp_path / "s", animals=6)
    minutes = [60.0 * k for k in range(24 * 7)]
    for zone in ("warm", "hot"):
        put_readings(folder, zone, minutes, {"uv_index": [1.0 + (zone == "hot")] * len(minutes)})
    answer = open_study(folder).preference()
    rows = answer.table.set_index("quantity")
    assert rows.loc["temperature_c", "offered_high"] > 36
    assert answer.effort["moments_with_conditions"] == 120
    (uv,) = [f for f in answer.findings if f.about == ("uv_index",)]
    assert uv.reason == "not_judged"
    assert "not logged in every zone" in uv.says


def test_body_temperatures_are_noted_and_held_against_the_set_range(tmp_path: Path) -> None:
    folder = still(tmp_path / "s", animals=2, extra=SET)
    for animal, value in (("a1", 28), ("a1", 29), ("a1", 30.5), ("a2", 32), ("a2", 33), ("a2", "87.8F")):
        assert (
            run("note", "temp", animal, value, "--at", "2026-03-02T15:00", "--study", folder).exit_code == 0
        )
    assert run("note", "temp", "a1", "warm", "--study", folder).exit_code == 2
    temps = [e.record.get("value") for e in read_journals(folder).entries("context")]
    assert temps == [28, 29, 30.5, 32, 33, 31]
    answer = open_study(folder).preference()
    (row,) = answer.parts["body_indices"].to_dict("records")
    # Six bodies of the toy: d_b 1/3 in both animals.
    assert row["d_b"] == pytest.approx(1 / 3)
    assert row["mean"] == pytest.approx(((28 + 29 + 30.5) / 3 + 32) / 2)
    assert np.isnan(row["effectiveness"])
    assert answer.basis.startswith("Bodies were at ")


def test_models_and_worn_loggers_give_effectiveness_and_are_no_zones(tmp_path: Path) -> None:
    models = "".join(
        f'[loggers.M{i}]\nmodel = true\nplaced = [{{zone = "{z}"}}]\n' for i, z in enumerate(ZONES, 1)
    )
    worn = '[loggers.B1]\nworn = [{animal = "a1"}]\n'
    folder = still(tmp_path / "s", animals=2, extra=f"{SET}{models}{worn}")
    minutes = [60.0 * k for k in range(24)]
    put_readings(folder, "B1", minutes, {"temperature_c": [28.0, 33.0] * 12})
    for i, value in enumerate((22.0, 25.0, 36.0, 40.0), 1):
        put_readings(folder, f"M{i}", minutes, {"temperature_c": [value + 0.01 * (k % 2) for k in range(24)]})
    answer = open_study(folder).preference()
    (row,) = answer.parts["body_indices"].to_dict("records")
    assert (row["d_b"], row["models"]) == (1.0, 4)
    assert row["d_e"] == pytest.approx((7 + 4 + 4 + 8) / 4, abs=0.01)
    assert row["effectiveness"] == pytest.approx(1 - row["d_b"] / row["d_e"])
    assert "models-small-animals" in {c.code for c in answer.cautions}
    # A model in the warm zone does not make that zone warmer.
    assert answer.table.set_index("quantity").loc["temperature_c", "offered_high"] < 37.5


def test_a_logger_worn_by_nobody_known_is_a_fault(tmp_path: Path) -> None:
    folder = still(tmp_path / "s", animals=1, extra='[loggers.B1]\nworn = [{animal = "zz"}]\n')
    result = run("check", "--study", folder)
    assert result.exit_code == 1
    assert "worn[1].animal" in result.stdout + result.stderr


def fahrenheit(folder: Path) -> Path:
    path = folder / "study.toml"
    path.write_text(
        path.read_text("utf-8").replace("format = 1", 'format = 1\ntemperature_unit = "F"'), "utf-8"
    )
    return folder


def test_plain_numbers_are_in_the_studys_degrees_and_said_back_with_them(tmp_path: Path) -> None:
    folder = fahrenheit(still(tmp_path / "s", animals=1))
    said = [
        run("note", "temp", "a1", v, "--at", "2026-03-02T15:00", "--study", folder)
        for v in ("88", "88F", "31C")
    ]
    assert [e.record.get("value") for e in read_journals(folder).entries("context")] == [31.11, 31.11, 31.0]
    assert ["88.0 °F" in one.stdout for one in said] == [True, True, False]
    assert "87.8 °F" in said[2].stdout
    assert "°C" not in open_study(folder).preference().headline


SPOTS = (
    "Image;Date;Time;Name;Spot temperature [°F];Emissivity\n"
    "IR_1;02.03.2026;15:00;No 1;82,4;0,95\nIR_2;02.03.2026;15:05;a1;86.9;0.95\n"
    "IR_3;02.03.2026;15:10;No 2;91.4;0.95\nIR_4;02.03.2026;15:15;No 9;90;0.95\n"
    "IR_5;02.03.2026;15:20;No 2;300;0.95\nIR_6;soon;;No 2;90;0.95\n"
)


def temps(folder: Path) -> list[tuple[str, float]]:
    found = read_journals(folder).entries("context")
    return [(e.record.get("animal"), e.record.get("value")) for e in found]


def test_a_thermal_cameras_spots_come_in_once_and_go_out_again(tmp_path: Path) -> None:
    folder = still(tmp_path / "s", animals=2, extra=SET)
    file = tmp_path / "spots.csv"
    file.write_text(SPOTS, "utf-8")
    first = run("note", "temp", "--table", file, "--study", folder)
    assert first.exit_code == 0, first.stderr
    assert "read as °F" in first.stderr
    assert [line in first.stderr for line in ("line 5", "line 6", "line 7")] == [True] * 3
    assert temps(folder) == [("a1", 28.0), ("a1", 30.5), ("a2", 33.0)]
    times = [e.record.at.strftime("%H:%M") for e in read_journals(folder).entries("context")]
    assert times == ["14:00", "14:05", "14:10"]  # UTC of a winter afternoon in Vienna
    (row,) = open_study(folder).preference().parts["body_indices"].to_dict("records")
    # Distances from 29 to 32 °C: 1 and 0 in a1, 1 in a2.
    assert row["d_b"] == pytest.approx((0.5 + 1.0) / 2)
    again = run("note", "temp", "--table", file, "--study", folder)
    assert "nothing new" in again.stdout
    assert len(temps(folder)) == 3
    file.write_text(SPOTS + "IR_7;03.03.2026;15:00;a2;86;0.95\n", "utf-8")
    run("note", "temp", "--table", file, "--study", folder)
    assert temps(folder)[-1] == ("a2", 30.0)
    assert len(temps(folder)) == 4
    undone = run("note", "temp", "--table", file, "--undo", "--study", folder)
    assert "4 body temperatures taken back" in undone.stdout
    assert temps(folder) == []
    run("note", "temp", "--table", file, "--study", folder)
    assert len(temps(folder)) == 4


def test_a_table_of_temperatures_says_what_it_lacks(tmp_path: Path) -> None:
    folder, file = still(tmp_path / "s", animals=1), tmp_path / "t.csv"
    file.write_text("animal,when,weight\na1,2026-03-02 15:00,30\n", "utf-8")
    result = run("note", "temp", "--table", file, "--study", folder)
    assert result.exit_code == 1
    assert "there is no column of temperatures" in result.stderr
    file.write_text("animal,when,temperature\na1,02/03/2026 15:00,30\n", "utf-8")
    result = run("note", "temp", "--table", file, "--study", folder)
    assert result.exit_code == 1
    assert "--dates DMY" in result.stderr
    assert run("note", "temp", "--table", file, "--dates", "dmy", "--study", folder).exit_code == 0
    assert temps(folder) == [("a1", 30.0)]
    assert run("note", "fed", "--table", file, "--study", folder).exit_code == 2


def test_cover_alone_is_used_explains_and_may_be_changed_where_nothing_is_logged(tmp_path: Path) -> None:
    folder = still(tmp_path / "s", logged=())
    answer = open_study(folder).preference(what_if="hot.cover=1.0")
    assert answer.table["quantity"].tolist() == ["cover"]
    (row,) = answer.table.to_dict("records")
    assert row["used_mean_low"] < row["used_mean"] < row["used_mean_high"]
    (found,) = [f for f in answer.findings if f.about == ("cover",)]
    assert found.reason == "not_judged"
    assert "no-readings" in {c.code for c in answer.cautions}
    changed = answer.parts["what_if"].set_index("zone")
    assert changed["share"].sum() == pytest.approx(1)
    assert changed["share"]["hot"] != pytest.approx(changed["share_now"]["hot"], abs=0.001)
    assert set(answer.parts["why"]["term"]) <= {"cover", "size", "place"}
    assert len(answer.parts["why"])
