"""Preference: shapes with known truth, why a zone is avoided, forecasts, and what it refuses."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import run, session, study_folder, vienna
from tests.tables.test_conditions import put_readings
from zoneuse import open_study
from zoneuse.answers.preference.judge import Curve, beside_use
from zoneuse.answers.preference.shape import CurveShape
from zoneuse.journal.reader import read_journals

ZONES = ("cool", "mild", "warm", "hot")
START = vienna("2026-03-01T12:00")


def gradient(
    folder: Path, best_c: float | None, sessions: int = 24, seed: int = 3, extra: str = "", *, sun: str = ""
) -> Path:
    """Four equal zones whose temperatures swing through the day; one animal with a known best temperature.

    The logger of the zone ``sun`` runs 9 °C hotter by noon on every second or third day.
    """
    zones = "".join(
        f'[zones.{z}]\nlabel = "{z.capitalize()}"\nkey = "{z[0]}"\namount = 100\n'
        f'[loggers.{z}]\nplaced = [{{zone = "{z}"}}]\n'
        for z in ZONES
    )
    head = (
        'format = 1\ntitle = "Gradient"\ntimezone = "Europe/Vienna"\n[enclosure]\nmeasured_in = "floor_cm2"\n'
    )
    study_folder(folder, f'{head}{extra}\n{zones}[animals.a1]\nlabel = "Dot"\nkey = "1"\n')
    rng = np.random.default_rng(seed)
    base = dict(zip(ZONES, (18.0, 22.0, 26.0, 30.0), strict=True))

    def warmth(zone: str, minute: float) -> float:
        turn = {"cool": 0.0, "mild": 1.5, "warm": 3.0, "hot": 4.5}[zone]
        return base[zone] + 5.0 * float(np.sin(minute / 1440 * 2 * np.pi * 1.37 + turn))

    minutes = [30.0 * k for k in range(sessions * 48 + 4)]
    for zone in ZONES:
        shone = [9.0 * (zone == sun and (m // 1440) % 5 in (0, 2) and m % 1440 < 180) for m in minutes]
        said = [warmth(zone, m) + s for m, s in zip(minutes, shone, strict=True)]
        put_readings(folder, zone, minutes, {"temperature_c": said})
    for number in range(sessions):
        offset = number * 1440 + 60.0
        at = START + timedelta(minutes=offset)
        journal = session(folder, at)
        where = None
        for scan in range(12):
            if where is None or rng.random() > 0.6:
                pull = np.array([warmth(z, offset + scan * 10) for z in ZONES])
                chance = np.ones(4) if best_c is None else np.exp(-(((pull - best_c) / 3.0) ** 2) / 2)
                where = str(rng.choice(ZONES, p=chance / chance.sum()))
            journal.append("seen", at + timedelta(minutes=scan * 10), animal="a1", zone=where, scan=scan + 1)
        journal.close()
    return folder


@pytest.fixture(scope="module")
def choosy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    own = '[set_range]\ntemperature_c = {low = 22, high = 26, source = "an invented source"}\n'
    return gradient(tmp_path_factory.mktemp("choosy") / "s", 24.0, 40, extra=own)


def test_a_known_best_temperature_is_found_inside_its_interval(choosy: Path) -> None:
    answer = open_study(choosy).preference()
    (row,) = answer.table.to_dict("records")
    assert row["shape"] == "peaked"
    assert row["peak_low"] <= 24.0 <= row["peak_high"]
    assert row["offered_low"] < row["peak_low"] < row["peak_high"] < row["offered_high"]
    assert [f.verdict for f in answer.findings] == ["peaked"]
    assert row["se"] < (row["peak_high"] - row["peak_low"]) / 2 and row["n_eff"] <= row["df"] + 1 == 40
    (tested,) = answer.parts["tests"].to_dict("records")
    assert (tested["verdict"], tested["p_top"] <= 0.05, tested["p_top_places"] <= 0.2) == (
        "peaked",
        True,
        True,
    )
    bins = answer.parts["bins"]
    assert bins["offered"].sum() == pytest.approx(1)
    assert bins["used"].sum() == pytest.approx(1)
    middle = bins[(bins["low"] < 26) & (bins["high"] > 22)]
    assert middle["ratio"].min() > 1 > max(bins["ratio"].iloc[0], bins["ratio"].iloc[-1])


def test_an_animal_that_does_not_care_has_no_peak(tmp_path: Path) -> None:
    answer = open_study(gradient(tmp_path / "s", None, seed=4)).preference()
    (row,) = answer.table.to_dict("records")
    assert row["shape"] in ("flat", "too early")
    assert np.isnan(row["peak"])
    # The set of turning points is printed all the same.
    assert len(answer.parts["peak_sets"])


def test_an_avoided_zone_is_accounted_for_in_parts_that_add_up(choosy: Path) -> None:
    why = open_study(choosy).preference().parts["why"]
    hot = why[why["zone"] == "hot"]
    assert set(hot["term"]) == {"temperature_c", "size", "place"}
    assert hot[hot["cause"]]["term"].tolist() in (["temperature_c"], [])
    warmth = hot.set_index("term").loc["temperature_c"]
    assert warmth["part"] < 0
    assert warmth["difference"] > 0
    assert warmth["part_low"] <= warmth["part"] <= warmth["part_high"]


def test_the_fit_of_zones_is_given_only_against_the_keepers_own_range(choosy: Path, tmp_path: Path) -> None:
    (row,) = open_study(choosy).preference().parts["set_range"].to_dict("records")
    assert row["source"] == "an invented source"
    assert 0 < row["zone_fit"] <= 1
    assert row["gain"] == pytest.approx(row["zones_offered"] - row["zones_used"])
    assert len(open_study(gradient(tmp_path / "s", 24.0, 6)).preference().parts["set_range"]) == 0


def test_what_if_gives_shares_with_limits_and_says_what_was_never_tried(choosy: Path) -> None:
    answer = json.loads(
        run(
            "prefer", "--study", choosy, "--json", "--what-if", "hot.temperature_c=24", "--sessions", 10
        ).stdout
    )
    rows = {r["zone"]: r for r in answer["parts"]["what_if"]}
    assert sum(r["share"] for r in rows.values()) == pytest.approx(1)
    assert rows["hot"]["share"] > rows["hot"]["share_now"]
    assert all(r["low"] <= r["share"] <= r["high"] for r in rows.values())
    said = " ".join(run("prefer", "--study", choosy, "--what-if", "hot.temperature_c=18").stdout.split())
    assert "never tried in this zone" in said


@pytest.mark.parametrize(
    ("what_if", "status", "says"),
    [
        ("hot.temperature_c=60", 1, "was never offered"),
        ("hot.humidity_pct=80", 1, "is not in the model"),
        ("cave.temperature_c=24", 1, "cave"),
        ("hot", 2, "ZONE.QUANTITY=VALUE"),
        ("hot.temperature_c=warm", 2, "ZONE.QUANTITY=VALUE"),
    ],
)
def test_what_if_refuses_what_it_cannot_know(choosy: Path, what_if: str, status: int, says: str) -> None:
    result = run("prefer", "--study", choosy, "--what-if", what_if)
    assert result.exit_code == status
    assert says in result.stderr
    assert result.stdout == ""


def test_a_forecast_goes_on_record_before_the_change(tmp_path: Path) -> None:
    folder = gradient(tmp_path / "s", 24.0, 12)
    result = run(
        "adjust",
        "heat",
        "hot",
        "--forecast",
        "hot.temperature_c=24",
        "--expects",
        "hot:up",
        "--study",
        folder,
    )
    assert result.exit_code == 0, result.stderr
    (entry,) = read_journals(folder).entries("adjusted")
    forecast = entry.record.get("forecast")
    assert set(forecast) == {*ZONES, "version"}
    assert forecast["hot"]["low"] <= forecast["hot"]["share"] <= forecast["hot"]["high"]


def test_an_empty_study_says_what_to_do(tmp_path: Path) -> None:
    answer = open_study(study_folder(tmp_path)).preference()
    assert [f.verdict for f in answer.findings] == ["too early"]
    assert answer.headline.startswith("No session is on record yet. Watch a session with zoneuse watch")


def test_fahrenheit_is_spoken_where_the_study_says_so_and_celsius_stays_in_the_table(
    choosy: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "f"
    shutil.copytree(choosy, folder)
    text = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(
        text.replace("format = 1", 'format = 1\ntemperature_unit = "F"'), encoding="utf-8"
    )
    answer = open_study(folder).preference()
    assert "°F" in answer.findings[0].says
    assert "°C" not in answer.findings[0].says
    assert answer.table["peak"][0] == pytest.approx(open_study(choosy).preference().table["peak"][0])


def test_staying_put_is_a_check_on_the_curves_and_entanglement_is_in_numbers(tmp_path: Path) -> None:
    folder = gradient(tmp_path / "s", 24.0, 16)
    minutes = [30.0 * k for k in range(16 * 48)]
    for shift, zone in enumerate(ZONES):
        damp = [60.0 + 5.0 * shift + 4.0 * float(np.cos(m / 700.0 + shift)) for m in minutes]
        put_readings(folder, zone, [m + 1.0 for m in minutes], {"humidity_pct": damp})
    answer = open_study(folder).preference()
    terms = answer.parts["terms"].set_index(["fit", "term"])["coefficient"]
    # The animal keeps its place with chance .6 from moment to moment.
    assert terms["with staying where it was", "stays where it was"] > 1
    (row,) = answer.parts["told_apart"].to_dict("records")
    assert (row["one"], row["other"]) == ("temperature_c", "humidity_pct")
    assert -1 <= row["at_once"] <= 1
    assert row["condition_number"] >= 1


def test_a_logger_that_stands_in_the_sun_on_some_days_is_named_and_nothing_of_it_is_fairly_sure(
    tmp_path: Path,
) -> None:
    answer = open_study(gradient(tmp_path / "s", 24.0, 20, sun="warm")).preference()
    (caution,) = [c for c in answer.cautions if c.code == "logger-in-sun"]
    assert "The logger in Warm" in caution.says
    assert "on 7 of 20 days" in caution.says
    assert all(f.standing != "fairly sure here" for f in answer.findings)


def test_a_logger_in_the_sun_says_nothing_to_the_curves(tmp_path: Path) -> None:
    """Its zone leaves the choices, as one that was never logged; what it says in the sun is not believed in part."""
    shone, bare = (gradient(tmp_path / name, 24.0, 24, sun="warm") for name in ("shone", "bare"))
    text = (bare / "study.toml").read_text(encoding="utf-8")
    lines = '[loggers.warm]\nplaced = [{zone = "warm"}]\n'
    assert lines in text
    (bare / "study.toml").write_text(text.replace(lines, ""), encoding="utf-8")
    one, other = (open_study(folder).preference() for folder in (shone, bare))
    assert "logger-in-sun" in {c.code for c in one.cautions} and "logger-in-sun" not in {
        c.code for c in other.cautions
    }
    assert len(one.parts["terms"]) > 4
    assert one.parts["terms"].equals(other.parts["terms"])
    assert one.effort["moments_with_conditions"] < 24 * 12


def test_loggers_that_do_not_stand_in_the_sun_are_not_accused(choosy: Path) -> None:
    codes = {c.code for c in open_study(choosy).preference().cautions}
    assert not codes & {"logger-in-sun", "logger-noisy"}


def test_every_number_of_a_finding_has_its_unit() -> None:
    """The keeper's cover is no logged quantity and has one all the same."""
    demo = Path(__file__).parents[2] / "demo_sessions" / "cellar"
    found = open_study(demo).preference().findings
    named = {name: number.unit for f in found for name, number in f.numbers.items() if "cover" in f.about}
    assert named["offered_low"] == "0 to 1"
    assert {n.unit for f in found for n in f.numbers.values()} >= {"0 to 1", "°C"}
    assert all(number.unit for f in found for number in f.numbers.values())


def test_a_slope_against_what_was_used_is_no_word() -> None:
    """ "The warmer the place, the more it is chosen" never stands beside "in places 1.3 °C cooler than on offer"."""
    shape = CurveShape("rising", None, (), (), (), False, True, "rising", None, None, 2.0, "")
    curve = Curve(0, shape, None, verdict="rising")
    words = [
        beside_use(curve, {"difference_low": low, "difference_high": high}).verdict
        for low, high in ((-2.1, -0.6), (0.6, 2.1), (-0.6, 2.1), (None, None))
    ]
    assert words == ["too early", "rising", "rising", "rising"]
    falling = Curve(0, shape, None, verdict="falling")
    assert beside_use(falling, {"difference_low": 0.6, "difference_high": 2.1}).verdict == "too early"
