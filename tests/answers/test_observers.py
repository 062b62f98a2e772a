"""Two who watch together: matched by scan or time, clocks apart, what they confuse, and one against the own past."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from pathlib import Path

import krippendorff
import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from statsmodels.stats import inter_rater

from tests.making import TWO_ZONES, demo_study, run, session, study_folder, vienna
from zoneuse import Answer, open_study

Looks = list[list[tuple[str | None, str | None]]]
"""For each scan, for each animal: zone (None: not found) and behaviour."""

ANIMALS = ("a1", "a2")


def record(
    folder: Path, observer: str, at: str, looks: Looks, *, late_s: float = 0.0, clock_s: float = 0.0, first: int = 1
) -> None:  # fmt: skip
    """A session of scans a minute apart; ``late_s`` after the hour in truth, by a clock ``clock_s`` ahead."""
    start = vienna(at) + timedelta(seconds=late_s + clock_s)
    journal = session(folder, start, observer=observer)
    for scan, row in enumerate(looks, first):
        for k, (animal, (zone, behaviour)) in enumerate(zip(ANIMALS, row, strict=False)):
            when = start + timedelta(seconds=60 * (scan - first) + 4 * k + 3)
            if zone is None:
                journal.append("unseen", when, animal=animal, scan=scan)
            else:
                journal.append("seen", when, animal=animal, zone=zone, behaviour=behaviour, scan=scan)
    journal.append("closed", start + timedelta(seconds=60 * len(looks)), reason="finished")
    journal.close()


def wandering(rng: np.random.Generator, scans: int = 10) -> Looks:
    """Two animals that move and change what they do now and then."""
    zone, doing = (rng.choice(list(pair), (scans, 2)) for pair in (("moss", "bark"), ("resting", "walking")))
    keeps = rng.random((scans, 2)) < 0.6
    for values in (zone, doing):
        for scan in range(1, scans):
            values[scan] = np.where(keeps[scan], values[scan - 1], values[scan])
    return [[(str(zone[s, a]), str(doing[s, a])) for a in range(2)] for s in range(scans)]


def mistaken(looks: Looks, rng: np.random.Generator, share: float) -> Looks:
    """The same with some behaviours taken for the other one."""
    other = {"resting": "walking", "walking": "resting", None: None}
    return [[(z, other[b] if rng.random() < share else b) for z, b in row] for row in looks]


def evening(day: int) -> str:
    return f"2026-03-{day:02d}T20:00"


def together(tmp_path: Path, sessions: int = 8, share: float = 0.1, **how: float) -> Answer:
    folder = study_folder(tmp_path)
    rng = np.random.default_rng(5)
    for day in range(1, sessions + 1):
        looks = wandering(rng)
        record(folder, "mk", evening(day), looks)
        record(folder, "jo", evening(day), mistaken(looks, rng, share), **how)
    return open_study(folder).observers()


def row_of(answer: Answer, what: str, pair: str = "jo + mk") -> dict[str, object]:
    found = [r for r in answer.to_dict()["rows"] if (r["what"], r["pair"]) == (what, pair)]
    assert len(found) == 1
    return found[0]


def verdicts(answer: Answer) -> dict[tuple[str, ...], str]:
    return {f.about: f.verdict for f in answer.findings}


def test_two_who_began_together_are_matched_by_scan_and_have_the_kappa_of_their_table(tmp_path: Path) -> None:
    answer = together(tmp_path, late_s=8)
    assert "by scan number in 8 sessions" in answer.notes[0].says
    zone, behaviour = row_of(answer, "zone"), row_of(answer, "behaviour")
    assert (zone["moments"], zone["agreement"], zone["kappa"]) == (160, 1.0, 1.0)
    counts = answer.parts["counts"]
    counts = counts[counts["what"] == "behaviour"]
    table = counts.pivot(index="first_said", columns="second_said", values="moments").fillna(0).to_numpy()
    assert behaviour["kappa"] == pytest.approx(float(inter_rater.cohens_kappa(table).kappa))
    assert table.sum() == behaviour["moments"] == 160
    assert verdicts(answer) == {("jo", "mk", "zone"): "agree", ("jo", "mk", "behaviour"): "agree"}


def test_one_who_came_a_scan_later_is_matched_by_time(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    rng = np.random.default_rng(6)
    for day in range(1, 7):
        looks = wandering(rng)
        record(folder, "mk", evening(day), looks)
        record(folder, "jo", evening(day), looks[1:], late_s=63)
    answer = open_study(folder).observers()
    assert "by time, at most 30 s apart, in 6 sessions" in answer.notes[0].says
    assert (row_of(answer, "zone")["moments"], row_of(answer, "zone")["kappa"]) == (6 * 18, 1.0)
    # Scan 7 of the one is not scan 7 of the other.
    forced = open_study(folder).observers(by="scan")
    assert row_of(forced, "zone")["kappa"] < 0.9
    # Records three seconds apart are not of one moment to one who allows two.
    assert open_study(folder).observers(within_s=2).to_dict()["rows"] == []


def test_clocks_that_differ_are_shown_and_allowed_for_only_when_asked(tmp_path: Path) -> None:
    answer = together(tmp_path, share=0.0, clock_s=-95)
    clocks = answer.parts["clocks"].iloc[0]
    assert abs(clocks["second_ahead_s"] - 95) < 10  # jo's clock is behind: mk's, the second by name, is ahead
    assert clocks["low"] <= 95 <= clocks["high"]
    assert not clocks["applied"]
    assert row_of(answer, "zone")["kappa"] < 0.9
    assert {c.code for c in answer.cautions} >= {"clocks"}
    folder = next(tmp_path.glob("study.toml")).parent
    allowed = open_study(folder).observers(use_offset=True)
    assert row_of(allowed, "zone")["kappa"] == 1.0
    assert row_of(allowed, "zone")["moments"] == 160
    assert "allowed for before matching" in " ".join(n.says for n in allowed.notes)
    assert "clocks" not in {c.code for c in allowed.cautions}


def test_what_is_confused_is_named_with_its_cost_and_a_remedy(tmp_path: Path) -> None:
    answer = together(tmp_path, share=0.35)
    about = ("resting", "walking")
    assert verdicts(answer)["jo", "mk", "behaviour"] == "sharpen"
    assert verdicts(answer)[about] == "sharpen"
    says = next(f.says for f in answer.findings if f.about == about)
    worst = answer.parts["confusion"].iloc[0]
    assert f"Resting and Walking are taken for each other {worst['moments']} times" in says
    assert "means = … under [behaviours.resting] and [behaviours.walking]" in says
    assert worst["kappa_lost"] == pytest.approx(1 - row_of(answer, "behaviour")["kappa"])
    assert worst["one_other"] + worst["other_one"] == worst["moments"]
    assert answer.parts["confusion"]["kappa_lost"].is_monotonic_decreasing
    differing = answer.parts["differing"]
    assert len(differing) == worst["moments"]


def test_where_nearly_all_is_one_behaviour_ac1_is_used_and_said_why(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in range(1, 11):
        still: Looks = [[("moss", "resting"), ("bark", "resting")] for _ in range(10)]
        seen = [list(row) for row in still]
        if day % 2:
            still[3][0] = ("moss", "walking")
        else:
            seen[5][1] = ("bark", "walking")
        record(folder, "mk", evening(day), still)
        record(folder, "jo", evening(day), seen)
    answer = open_study(folder).observers()
    behaviour = row_of(answer, "behaviour")
    assert behaviour["agreement"] == 0.95
    assert behaviour["kappa"] < 0.05 < 0.9 < behaviour["ac1"]
    finding = next(f for f in answer.findings if f.about == ("jo", "mk", "behaviour"))
    assert "AC1 0.9" in finding.says
    assert "misleads here: 98 % is Resting, so chance alone would agree on 95 %" in finding.says
    # Ten slips of walking, none agreed on: the rare behaviour is what to sharpen, whatever the whole says.
    assert finding.verdict == "sharpen"


def test_too_few_sessions_or_one_kind_only_is_too_early(tmp_path: Path) -> None:
    answer = together(tmp_path / "few", sessions=4, share=0.0)
    assert set(verdicts(answer).values()) == {"too early"}
    assert "at least 5 sessions together on 3 days" in answer.findings[0].says
    folder = study_folder(tmp_path / "still")
    for day in range(1, 8):
        still: Looks = [[("moss", "resting"), ("moss", "resting")] for _ in range(10)]
        for observer in ("mk", "jo"):
            record(folder, observer, evening(day), still)
    answer = open_study(folder).observers()
    assert set(verdicts(answer).values()) == {"too early"}
    assert row_of(answer, "zone")["kappa"] is None
    assert "little to differ on" in answer.findings[0].says


def test_three_observers_have_the_alpha_of_all_they_recorded(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    rng = np.random.default_rng(8)
    said: dict[str, list[float]] = {"mk": [], "jo": [], "ab": []}
    for day in range(1, 7):
        looks = wandering(rng)
        for observer, codes in said.items():
            mine = [[(z if rng.random() > 0.2 else "bark", b) for z, b in row] for row in looks]
            if observer == "ab" and day > 3:
                codes += [np.nan] * 20
                continue
            record(folder, observer, evening(day), mine)
            codes += [float(z == "moss") for row in mine for z, _ in row]
    answer = open_study(folder).observers()
    expected = krippendorff.alpha(
        reliability_data=np.array(list(said.values())), level_of_measurement="nominal"
    )
    group = answer.parts["several"].set_index("what").loc["zone"]
    assert group["alpha"] == pytest.approx(float(expected))
    assert group["moments"] == 120
    assert group["alpha_low"] < group["alpha"] < group["alpha_high"]
    assert {r["pair"] for r in answer.to_dict()["rows"]} == {"ab + jo", "ab + mk", "jo + mk"}
    assert "All together (ab + jo + mk) on zone" in " ".join(n.says for n in answer.notes)


def film(folder: Path, tmp_path: Path, looks: Looks, day: int) -> None:
    lines = ["at,session,animal,zone,behaviour,observer"]
    for scan, row in enumerate(looks):
        for k, (animal, (zone, behaviour)) in enumerate(zip(ANIMALS, row, strict=True)):
            at = vienna(evening(day)) + timedelta(seconds=60 * scan + 4 * k + 5)
            lines.append(f"{at:%Y-%m-%dT%H:%M:%S},again {day},{animal},{zone},{behaviour},mk")
    table = tmp_path / f"film{day}.csv"
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0


def test_one_observer_against_the_own_past(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    rng = np.random.default_rng(9)
    for day in range(1, 7):
        looks = wandering(rng)
        record(folder, "mk", evening(day), looks)
        film(folder, tmp_path, mistaken(looks, rng, 0.05), day)
    study = open_study(folder)
    answer = study.observers()
    assert row_of(answer, "zone", "mk + mk")["moments"] == 120
    assert verdicts(answer)["mk", "behaviour"] == "agree"
    assert "mk and mk's own second record: 6 sessions" in answer.basis
    # Recorded again it is no second look at the animals.
    assert study.zones().effort["sessions"] == 6
    assert "clocks" not in {c.code for c in answer.cautions}


def test_two_live_sessions_under_one_name_are_not_taken_for_a_second_record(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    looks: Looks = [[("moss", "resting"), ("bark", "walking")]] * 10
    for late in (0, 12):
        record(folder, "mk", evening(1), looks, late_s=late)
    answer = open_study(folder).observers()
    assert answer.to_dict()["rows"] == []
    assert "same-name" in {c.code for c in answer.cautions}
    assert answer.findings[0].verdict == "too early"


def test_nobody_beside_says_what_to_do(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    record(folder, "mk", evening(1), [[("moss", "resting"), ("bark", None)]])
    record(folder, "jo", evening(2), [[("moss", "resting"), (None, None)]])
    answer = open_study(folder).observers()
    assert "never watched the same animal at the same time" in answer.findings[0].says
    assert "zoneuse watch --observer NAME" in answer.findings[0].says


def test_those_who_counted_a_group_have_watched(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for observer, day in (("mk", 1), ("jo", 2)):
        journal = session(folder, vienna(evening(day)), observer=observer)
        journal.append("seen", vienna(evening(day)), group="young", zone="moss", count=6, scan=1)
        journal.close()
    answer = open_study(folder).observers()
    assert answer.findings[0].about == ("jo", "mk")
    assert "groups" in {c.code for c in answer.cautions}


def test_not_found_is_a_place_to_differ_on_and_counts_of_groups_are_not_compared(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for observer, zone in (("mk", "moss"), ("jo", None)):
        journal = session(folder, evening(1), observer=observer)
        at = vienna(evening(1)) + timedelta(seconds=5)
        if zone:
            journal.append("seen", at, animal="a1", zone=zone, scan=1)
        else:
            journal.append("unseen", at, animal="a1", scan=1)
        journal.append("seen", at, group="young", count=3, zone="moss", scan=1)
        journal.close()
    answer = open_study(folder).observers()
    assert row_of(answer, "zone")["moments"] == 1
    assert {answer.parts["confusion"].iloc[0][side] for side in ("one", "other")} == {"moss", "not found"}
    assert "groups" in {c.code for c in answer.cautions}


def test_filters_by_behaviour_keep_what_only_one_called_so(tmp_path: Path) -> None:
    answer = together(tmp_path, share=0.35)
    folder = next(tmp_path.glob("study.toml")).parent
    walking = open_study(folder).observers(behaviours="walking")
    counts = answer.parts["counts"]
    said = counts[
        (counts["what"] == "behaviour") & counts[["first_said", "second_said"]].eq("walking").any(axis=1)
    ]
    assert row_of(walking, "behaviour")["moments"] == said["moments"].sum()
    one = open_study(folder).observers(animals="a1", until="2026-03-03")
    assert row_of(one, "zone")["moments"] == 20


STEP = st.tuples(
    st.sampled_from(["moss", "bark", None]), st.sampled_from(["resting", "walking", None]), st.booleans()
)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    steps=st.lists(st.lists(STEP, min_size=1, max_size=8), min_size=1, max_size=4),
    late=st.integers(0, 100),
    ahead=st.integers(-100, 100),
)
def test_whatever_two_record_it_adds_up(
    steps: list[list[tuple[str | None, str | None, bool]]],
    late: int,
    ahead: int,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    folder = study_folder(tmp_path_factory.mktemp("two"), TWO_ZONES)
    for day, row in enumerate(steps, 1):
        record(folder, "mk", evening(day), [[(z, b)] for z, b, _ in row])
        theirs = [[(z if same else "moss", b)] for z, b, same in row]
        record(folder, "jo", evening(day), theirs, late_s=late, clock_s=ahead)
    most = sum(map(len, steps))
    for use_offset in (False, True):
        answer = open_study(folder).observers(use_offset=use_offset)
        told = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
        counts = answer.parts["counts"]
        for r in told["rows"]:
            assert 0 < r["moments"] <= most
            mine = counts[counts["what"] == r["what"]]
            assert mine["moments"].sum() == r["moments"]
            same = mine[mine["first_said"] == mine["second_said"]]["moments"].sum()
            assert r["agreement"] == pytest.approx(same / r["moments"])
            if r["kappa"] is not None and r["kappa_low"] is not None:
                assert r["kappa_low"] - 1e-9 <= r["kappa"] <= r["kappa_high"] + 1e-9
        for f in told["findings"]:
            assert f["verdict"] in ("agree", "sharpen", "too early")
            assert (f["verdict"] == "too early") == (f["standing"] == "")
        assert answer._repr_html_()


def test_the_command_on_the_demo_study(tmp_path: Path) -> None:
    folder = demo_study(tmp_path / "demo")
    result = run("observers", "--study", folder, "--csv", tmp_path / "o.csv")
    assert result.exit_code == 0
    assert "Resting and Alert are taken for each other" in " ".join(result.stdout.split())
    # jo's clock is 20 s behind: the demo's script says so.
    found = re.search(
        r"mk's clock runs about (\d+) s ahead of jo's \((\d+) to (\d+) s", " ".join(result.stdout.split())
    )
    assert found and int(found[2]) <= 20 <= int(found[3]) and abs(int(found[1]) - 20) <= 3
    said = " ".join(result.stdout.split())
    assert said.startswith("Jo and mk agree on zone and behaviour as a whole, but take Resting and Alert")
    assert re.search(r"zone .*0\.98 \(0\.95 to 0\.99\) agree: same 98 %", said)
    assert (
        (tmp_path / "o.csv")
        .read_text()
        .startswith("pair,what,moments,agreement,kappa,kappa_low,kappa_high,ac1")
    )
    told = json.loads(run("observers", "--study", folder, "--json", "--offset", "--within", "20s").stdout)
    assert told["answer"] == "observers"
    assert told["parts"]["clocks"][0]["applied"] is True
    assert run("observers", "--study", folder, "--within", "soon").exit_code == 2


def test_a_code_seen_a_handful_of_times_has_no_limits_of_kappa(tmp_path: Path) -> None:
    """Resting at all looks but six, of which they agree on three: six slips cannot carry limits."""
    folder = study_folder(tmp_path / "study")
    for day in range(1, 9):
        mine: Looks = [[("moss", "resting"), ("bark", "resting")] for _ in range(10)]
        theirs: Looks = [list(row) for row in mine]
        if day <= 6:
            mine[day][0] = ("moss", "walking")
        if day <= 3:
            theirs[day][0] = ("moss", "walking")
        record(folder, "mk", evening(day), mine)
        record(folder, "jo", evening(day), theirs, late_s=2)
    answer = open_study(folder).observers()
    row = row_of(answer, "behaviour")
    assert pd.isna(row["kappa_low"]) and pd.isna(row["kappa_high"]) and row["ac1"] > 0.9
    finding = next(f for f in answer.findings if f.about[-1] == "behaviour")
    assert finding["uncommon"] == 6
    assert "too few for limits on kappa" in finding.says
