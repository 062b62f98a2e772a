"""Shifts: what was expected and came, what nobody had said, what else differed, what is too little to tell."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.making import TWO_ZONES, run, scans, session, study_folder, vienna
from tests.tables.test_conditions import put_readings
from zoneuse import open_study
from zoneuse.answers.finding import Confounder, Finding
from zoneuse.answers.reasons import CONFOUNDERS
from zoneuse.answers.shifts.compared.words import confounded_said
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.stats.intervals import bound_of_held
from zoneuse.study.toml.file import load_declaration

CHANGE = vienna("2026-03-20T12:00")
LIT = TWO_ZONES.replace(
    'measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nlights = {on = "08:00", off = "18:00"}'
)


def adjusted(folder: Path, at: datetime = CHANGE, entered: datetime | None = None, **fields: object) -> None:
    record = {"adjustment": "water-1", "what": "water", "zones": ["bark"], "settle_h": 48.0, **fields}
    write_rows(load_declaration(folder), entered or at, [RecordToWrite("adjusted", record, at)])


def watch(folder: Path, before: Sequence[int], after: Sequence[int], clock: str = "20:00") -> None:
    """One session of ten scans a day: how many of them in the bark, on days before and after the change settled."""
    for first, counts in (
        (CHANGE - timedelta(days=len(before)), before),
        (CHANGE + timedelta(days=3), after),
    ):
        for day, bark in enumerate(counts):
            rows = [("bark",)] * bark + [("moss",)] * (10 - bark)
            scans(folder, f"{(first + timedelta(days=day)):%Y-%m-%d}T{clock}", rows)


def findings(folder: Path) -> dict[str, tuple[str, str]]:
    return {f.about[-1]: (f.verdict, f.says) for f in open_study(folder).shifts().findings}


def noisy(mean: float, days: int, seed: int) -> list[int]:
    return [int(n) for n in np.random.default_rng(seed).binomial(10, mean, days)]


def test_what_was_expected_and_came_is_said_with_both_numbers(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.2, 10, 1), noisy(0.7, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    verdict, says = findings(folder)["bark"]
    assert verdict == "rose"
    assert "that is the way it went" in says
    table = open_study(folder).shifts().table
    row = table[(table["what"] == "zone") & (table["zone"] == "bark")].iloc[0]
    assert row["change"] == pytest.approx(row["after"] - row["before"])
    assert row["change_low"] < row["change"] < row["change_high"]
    assert row["p"] <= row["p_holm"] <= 0.04
    assert (row["sessions_before"], row["sessions_after"]) == (10, 10)
    assert list(table.columns)[:4] == ["adjustment", "compared", "what", "name"]


def test_no_change_is_not_called_one_and_may_be_called_held(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [5, 5, 6, 5, 4, 5] * 4, [5, 5, 4, 5, 6, 5] * 4)
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    assert findings(folder)["bark"][0] == "held"


@given(st.floats(0.001, 0.9), st.floats(0.001, 0.9), st.floats(0.01, 0.5))
def test_a_share_that_may_have_halved_has_not_held(before: float, after: float, within: float) -> None:
    bound = bound_of_held(within, before, after)
    assert 0 < bound <= within
    assert max(before, after) - bound >= max(before, after) / 2


def test_what_nobody_had_said_before_is_looking_around(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 12, 1), noisy(0.9, 12, 2))
    adjusted(folder)
    assert "treat it as a lead" in findings(folder)["bark"][1]
    assert any(c.code == "looking-around" for c in open_study(folder).shifts().cautions)


def test_an_expectation_written_down_after_the_fact_counts_with_a_caution(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 8, 1), noisy(0.9, 8, 2))
    adjusted(folder, entered=CHANGE + timedelta(days=20), expects=[{"zone": "bark", "direction": "up"}])
    answer = open_study(folder).shifts()
    assert any(c.code == "entered-late" for c in answer.cautions)


def test_three_sessions_each_side_could_never_pass_and_it_says_so(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [0, 0, 0], [10, 10, 10])
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    (finding,) = open_study(folder).shifts().findings
    assert finding.verdict == "too early"
    assert finding.says == (
        "Water on 20 Mar 2026 12:00: 3 before against 3 after: even a perfect result could not pass a fair test "
        "(at best 1 in 10 by chance); 1 more each side could (4 v 4: 1 in 35). You expected "
        "use of Bark to rise: not answered yet."
    )


def test_without_an_expectation_more_are_needed_and_it_says_how_many(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [0, 0, 0], [10, 10, 10])
    adjusted(folder)
    (finding,) = open_study(folder).shifts().findings
    # Two zones compared: .05 / 2 is below 1 in 35, so a second more is needed (5 v 5: 2 of 252).
    assert "for a zone named beforehand 1 more each side could (4 v 4: 1 in 35)" in finding.says
    assert (
        "where 2 are compared without an expectation, 2 more each side could (5 v 5: 1 in 126)"
        in finding.says
    )


def test_one_session_a_side_says_what_would_be_enough(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [0], [10])
    adjusted(folder)
    (finding,) = open_study(folder).shifts().findings
    assert finding.verdict == "too early"
    assert "could not pass a fair test" in finding.says


def test_settling_time_is_left_out(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [2] * 6, [2] * 6)
    scans(folder, f"{CHANGE + timedelta(days=1):%Y-%m-%d}T20:00", [("bark",)] * 10)
    adjusted(folder)
    table = open_study(folder).shifts().table
    assert table[table["zone"] == "bark"]["after"].iloc[0] == pytest.approx(0.2)


def test_mornings_before_are_not_compared_with_evenings_after(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in range(6):
        scans(folder, f"{CHANGE - timedelta(days=6 - day):%Y-%m-%d}T10:00", [("moss",)] * 10)
        scans(folder, f"{CHANGE + timedelta(days=3 + day):%Y-%m-%d}T20:00", [("bark",)] * 10)
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    (finding,) = open_study(folder).shifts().findings
    assert finding.verdict == "too early"
    assert "at a time of day that both sides share" in finding.says


def test_a_second_change_at_once_confounds_and_is_named(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 10, 1), noisy(0.9, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    adjusted(folder, at=CHANGE - timedelta(hours=5), adjustment="heat-1", what="heat", zones=["moss"])
    verdict, says = findings(folder)["bark"]
    assert verdict == "confounded"
    assert "heat was changed too (20 Mar 2026)" in says
    assert "10 against 10 sessions" in says


def test_a_change_made_while_a_slow_one_settles_is_still_shown(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 10, 1), [])
    after = CHANGE + timedelta(days=26)
    for day in range(8):
        scans(folder, f"{after + timedelta(days=day):%Y-%m-%d}T20:00", [("bark",)] * 9 + [("moss",)])
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    adjusted(
        folder,
        at=CHANGE - timedelta(days=2),
        adjustment="company-1",
        what="company",
        zones=["moss"],
        settle_h=672.0,
    )
    told = {f.about[0]: f for f in open_study(folder).shifts().findings}
    assert told["water-1"].verdict == "confounded"
    assert "8 against 8 sessions" in told["water-1"].says


@pytest.mark.parametrize(("animal", "verdict"), [("a1", "confounded"), ("a2", "rose")])
def test_a_feed_counts_for_the_animals_that_were_watched(tmp_path: Path, animal: str, verdict: str) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 10, 1), noisy(0.9, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    for day in (3, 5, 7, 9, 11):
        at = CHANGE + timedelta(days=day)
        write_rows(
            load_declaration(folder), at, [RecordToWrite("context", {"what": "fed", "animal": animal})]
        )
    assert findings(folder)["bark"][0] == verdict


def test_sides_far_apart_in_the_year_are_named(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 50, 1), noisy(0.9, 50, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    says = [c.says for c in open_study(folder).shifts().cautions if c.code == "season"]
    assert len(says) == 1
    assert "season, ageing and the change cannot be told apart" in says[0]


def test_feeding_on_one_side_only_confounds(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 10, 1), noisy(0.9, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    for day in (3, 5, 7, 9, 11):
        at = CHANGE + timedelta(days=day)
        write_rows(load_declaration(folder), at, [RecordToWrite("context", {"what": "fed", "animal": "a1"})])
    verdict, says = findings(folder)["bark"]
    assert verdict == "confounded"
    assert "a feed in the last 3 days on one side only (after)" in says


def test_a_day_drawn_by_lot_is_tested_over_the_days_it_could_have_been(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [1] * 24, [9] * 20)
    days = [f"{CHANGE - timedelta(days=k):%Y-%m-%d}" for k in range(20)]
    sealed = {"adjustment": "water-1", "days": days, "day": days[0], "seed": 1}
    write_rows(load_declaration(folder), CHANGE - timedelta(days=30), [RecordToWrite("drawn", sealed)])
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    verdict, says = findings(folder)["bark"]
    assert verdict == "rose"
    assert "drawn by lot" in says
    table = open_study(folder).shifts().table
    assert table[table["zone"] == "bark"]["p"].iloc[0] == pytest.approx(1 / 20)


def test_a_forecast_on_record_is_held_against_what_came(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [2] * 6, [7] * 6)
    forecast = {
        "bark": {"share": 0.65, "low": 0.5, "high": 0.8},
        "moss": {"share": 0.9, "low": 0.85, "high": 1.0},
    }
    adjusted(folder, forecast={**forecast, "version": "0.1.0"})
    scored = open_study(folder).shifts().parts["forecasts"].set_index("zone")
    assert scored["inside"].to_dict() == {"bark": True, "moss": False}
    assert scored.loc["bark", "came"] == pytest.approx(0.7)


def test_whether_the_change_reached_the_zone_is_told_from_the_loggers(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [2] * 6, [2] * 6)
    adjusted(folder)
    start = (CHANGE - vienna("2026-03-01T12:00")).total_seconds() / 60
    minutes = [start + 60.0 * k for k in range(-24 * 8, 24 * 8)]
    rng = np.random.default_rng(1)
    damp = [(70.0 if m < start else 88.0) + float(rng.normal(0, 0.5)) for m in minutes]
    put_readings(folder, "L2", minutes, {"humidity_pct": damp})
    answer = open_study(folder).shifts()
    moved = answer.table[(answer.table["what"] == "condition") & answer.table["zone"].notna()]
    row = moved.iloc[0]
    assert (row["name"], row["zone"]) == ("humidity_pct", "bark")
    assert row["change"] == pytest.approx(18, abs=0.5)
    assert 17 < row["change_low"] < row["change_high"] < 19
    assert any(
        "humidity in Bark went from" in n.says and "still so after 8 days" in n.says for n in answer.notes
    ), answer.notes


def test_how_long_a_recharge_held_is_told(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [2] * 6, [2] * 6)
    adjusted(folder, amount=2.0, unit="l")
    start = (CHANGE - vienna("2026-03-01T12:00")).total_seconds() / 60
    minutes = [start + 60.0 * k for k in range(-24 * 8, 24 * 20)]
    rng = np.random.default_rng(1)
    # 18 points up, and back at 1.5 a day: under half of the first days' step from the seventh day on.
    damp = [
        70.0 + (max(18 - 1.5 * (m - start) / 1440, 0) if m >= start else 0) + float(rng.normal(0, 0.3))
        for m in minutes
    ]
    put_readings(folder, "L2", minutes, {"humidity_pct": damp})
    (note,) = [n.says for n in open_study(folder).shifts().notes if "humidity in Bark" in n.says]
    assert note.startswith("Water on 20 Mar 2026 12:00 (2 l): ")
    assert "half of that was gone after 7 days" in note


def test_a_terminal_shows_the_rows_that_matter_and_all_on_request(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.5, 10, 1), noisy(0.5, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    short = run("shifts", "--full", "--study", folder).stdout
    whole = run("shifts", "--study", folder, "--all").stdout
    assert "Rows not shown here: 1; --all shows them." in short
    assert len(whole.splitlines()) > len(short.splitlines()) - 2
    assert "Rows not shown" not in whole


def test_an_open_study_without_changes_says_so_and_json_has_its_shape(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    answer = json.loads(run("shifts", "--study", folder, "--json").stdout)
    assert answer["rows"] == []
    assert [f["verdict"] for f in answer["findings"]] == ["too early"]
    journal = session(folder, CHANGE)
    journal.close()


def test_a_change_taken_back_is_named_stronger(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, [1] * 8, [8] * 8)
    back = CHANGE + timedelta(days=14)
    for day in range(8):
        rows = [("bark",)] + [("moss",)] * 9
        scans(folder, f"{back + timedelta(days=3 + day):%Y-%m-%d}T20:00", rows)
    adjusted(folder)
    adjusted(folder, at=back, adjustment="water-2", undoes="water-1")
    says = [f.says for f in open_study(folder).shifts().findings if f.about[:2] == ("water-1", "water-2")]
    assert any("stronger evidence than one step" in one and "Bark" in one for one in says)


@pytest.mark.parametrize(("direction", "flagged"), [("up", 1), ("down", 0)])
def test_a_change_made_out_of_a_bad_spell_is_flagged(tmp_path: Path, direction: str, flagged: int) -> None:
    """A low spell ends in a rise; where a fall was expected its end passes for nothing."""
    folder = study_folder(tmp_path, LIT)
    watch(folder, [6, 5, 6, 7, 6, 5, 6, 1, 0, 1], [6] * 8)
    adjusted(folder, zones=["bark"], expects=[{"zone": "bark", "direction": direction}])
    says = [c.says for c in open_study(folder).shifts().cautions if c.code == "spell"]
    assert len(says) == flagged
    assert all("often end by themselves" in one for one in says)


def test_untouched_enclosures_are_controls(tmp_path: Path) -> None:
    text = (
        LIT.replace("[enclosure]", "[enclosures.tub_1]") + '\n[enclosures.tub_2]\nmeasured_in = "floor_cm2"\n'
    )
    for zone in ("moss", "bark"):
        text = text.replace(f"[zones.{zone}]", f'[zones.{zone}]\nenclosure = "tub_1"\nplace = "{zone}"')
        key, amount = {"moss": ("m", 300), "bark": ("b", 100)}[zone]
        text += f'[zones.{zone}_2]\nlabel = "{zone.capitalize()}"\nkey = "{key}"\namount = {amount}\n'
        text += f'enclosure = "tub_2"\nplace = "{zone}"\n'
    text = text.replace("[animals.a1]", '[animals.a1]\nlives = [{enclosure = "tub_1"}]')
    text = text.replace("[animals.a2]", '[animals.a2]\nlives = [{enclosure = "tub_2"}]')
    text = text.replace("[groups.young]", '[groups.young]\nlives = [{enclosure = "tub_1"}]')
    text = text.replace('lights = {on = "08:00", off = "18:00"}', "")
    folder = study_folder(tmp_path, text)
    for day in range(8):
        for first, here, there in ((CHANGE - timedelta(days=8), 1, 2), (CHANGE + timedelta(days=3), 8, 3)):
            when = f"{first + timedelta(days=day):%Y-%m-%d}T20:00"
            rows = [("bark" if n < here else "moss", "bark_2" if n < there else "moss_2") for n in range(10)]
            scans(folder, when, rows, ("a1", "a2"))
    adjusted(folder)
    answer = open_study(folder).shifts()
    row = answer.parts["controls"].set_index("zone").loc["bark"]
    assert row["change"] == pytest.approx(0.7)
    assert row["controls"] == pytest.approx(0.1)
    assert row["low"] <= row["difference"] == pytest.approx(0.6)


def test_the_conditions_used_are_compared_too_and_the_overlap_has_its_limits(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.2, 10, 1), noisy(0.8, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    start = (CHANGE - vienna("2026-03-01T12:00")).total_seconds() / 60
    minutes = [start + 30.0 * k for k in range(-48 * 12, 48 * 15)]
    rng = np.random.default_rng(1)
    for logger, base in (("L1", 18.0), ("L2", 24.0)):
        put_readings(
            folder, logger, minutes, {"temperature_c": [base + float(rng.normal(0, 0.2)) for _ in minutes]}
        )
    answer = open_study(folder).shifts()
    used = answer.table[(answer.table["what"] == "condition") & answer.table["zone"].isna()].iloc[0]
    assert used["name"] == "temperature_c"
    assert used["change"] == pytest.approx(6.0 * 0.6, abs=1.0)
    assert used["change_low"] < used["change"] < used["change_high"]
    assert used["p"] <= used["p_holm"] < 0.01
    bark = answer.parts["overlap"].set_index("name").loc["bark"]
    assert bark["typical_low"] <= bark["typical_shift"] <= bark["typical_high"]
    assert bark["nap_low"] <= bark["nap"] <= bark["nap_high"]
    assert bark["step_low"] < bark["step_beside_trend"] < bark["step_high"]
    assert "This is the plain difference" in findings(folder)["bark"][1]


def test_where_nobody_was_ever_found_there_is_nothing_to_compare(tmp_path: Path) -> None:
    study = study_folder(tmp_path)
    for day in range(1, 8):
        scans(study, f"2026-03-{day:02d}T20:00", [[None], [None]])
    assert (
        run(
            "adjust", "water", "moss", "--at", "2026-03-04T12:00", "--settle", "0h", "--study", study
        ).exit_code
        == 0
    )
    done = run("shifts", "--study", study)
    assert done.exit_code == 0 and "nothing to compare yet" in " ".join(done.output.split())


def test_what_a_change_is_confounded_by_are_codes_with_ids_and_dates_and_words_are_made_of_them_last(
    tmp_path: Path,
) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, noisy(0.1, 10, 1), noisy(0.9, 10, 2))
    adjusted(folder, expects=[{"zone": "bark", "direction": "up"}])
    adjusted(folder, at=CHANGE - timedelta(hours=5), adjustment="heat-1", what="heat", zones=["moss"])
    for day in (3, 5, 7, 9, 11):
        at = CHANGE + timedelta(days=day)
        write_rows(load_declaration(folder), at, [RecordToWrite("context", {"what": "fed", "animal": "a1"})])
    answer = open_study(folder).shifts()
    (told,) = [
        f for f in answer.to_dict()["findings"] if f["about"][1:] == ["bark"] and f["about"][0] != "heat-1"
    ]
    assert told["reason"] == "confounded_by"
    assert told["confounders"] == [
        {"code": "another_change", "about": ["heat-1"], "what": "heat", "side": "", "on": "2026-03-20"},
        {"code": "fed", "about": [], "what": "", "side": "after", "on": None},
    ]
    assert (
        "heat was changed too (20 Mar 2026); a feed in the last 3 days on one side only (after)."
        in told["says"]
    )


@pytest.mark.parametrize("code", CONFOUNDERS)
def test_each_code_of_what_confounds_has_its_words(code: str) -> None:
    one = Confounder(code, ("heat-1",), "heat", "after", date(2026, 3, 4))
    said = confounded_said(Finding(("c1", "bark"), "confounded", confounders=(one,)))
    assert said and "_" not in said and "None" not in said
