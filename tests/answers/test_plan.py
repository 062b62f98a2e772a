"""What to watch next: what is open, sessions by lot within the times one can, never while a change settles."""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from scipy import stats

from tests.making import TWO_ZONES, demo_study, run, scans, study_folder, vienna
from zoneuse import Answer, open_study
from zoneuse.answers.plan.lottery import Times, draw
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study.toml.file import load_declaration
from zoneuse.study.watching_times import Window, parse_window

VIENNA = ZoneInfo("Europe/Vienna")
LIT = TWO_ZONES.replace(
    'measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nlights = {on = "08:00", off = "20:00"}'
)
CAN = '\n[watching]\nminutes = 10\ncan = ["daily 12:00-14:00", "weekdays 21:00-23:00"]\n'
NOW = "2026-03-20T10:00"


def watched(folder: Path, days: range, hour: str = "21:30") -> None:
    for day in days:
        scans(folder, f"2026-03-{day:02d}T{hour}", [("moss",), ("bark",), ("moss",)])


def changed(folder: Path, at: str, settle_h: float = 24.0, name: str = "water-1") -> None:
    fields = {"adjustment": name, "what": "water", "zones": ["moss"], "settle_h": settle_h,
              "expects": [{"zone": "moss", "direction": "up"}]}  # fmt: skip
    write_rows(load_declaration(folder), vienna(at), [RecordToWrite("adjusted", fields)])


def starts_of(answer: Answer) -> list[datetime]:
    return [datetime.fromisoformat(when) for when in answer.table["when"]]


def within(at: datetime, windows: list[str], minutes: int = 10) -> bool:
    """Whether a whole session lies in one of the windows (none here passes midnight)."""
    local = at.astimezone(VIENNA)
    clock = local.hour * 60 + local.minute
    read = [w for w in map(parse_window, windows) if w]
    return any(local.weekday() in w.days and w.opens <= clock and clock + minutes <= w.closes for w in read)


def said(answer: Answer) -> str:
    """All that is said beside the sessions."""
    return " ".join([*(n.says for n in answer.notes), *(f.says for f in answer.findings)])


def test_sessions_are_drawn_within_the_times_one_can_one_a_day(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 8))
    answer = open_study(folder).plan(now=NOW, sessions=12)
    times = starts_of(answer)
    assert len(times) == 12
    assert times == sorted(times)
    assert min(times) >= vienna(NOW)
    assert all(within(at, ["daily 12:00-14:00", "weekdays 21:00-23:00"]) for at in times)
    assert len({at.date() for at in times}) == 12
    assert answer.to_dict()["seed"] == 20260320
    assert f"seed {answer.seed}" in said(answer)
    assert {"day", "night"} == {covers.split(",")[0] for covers in answer.table["covers"]}


def test_the_same_day_gives_the_same_draw_and_another_seed_another(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 4))
    study = open_study(folder)
    first, again, other = study.plan(now=NOW), study.plan(now=NOW), study.plan(now=NOW, seed=7)
    assert json.dumps(first.to_dict()) == json.dumps(again.to_dict())
    assert starts_of(first) != starts_of(other)


def test_starts_are_drawn_evenly_from_the_minutes_of_a_window(tmp_path: Path) -> None:
    """By many seeds the start minute is uniform, so that nothing the animal does can choose it."""
    declared = load_declaration(study_folder(tmp_path, TWO_ZONES + "\n[watching]\nminutes = 10\n"))
    window = Window(frozenset(range(7)), 12 * 60, 13 * 60)
    minutes, days = [], []
    for seed in range(400):
        (one,) = draw(declared, Times([window], vienna(NOW)), {}, {"any time": 1}, number=1, seed=seed)
        local = one.at.astimezone(VIENNA)
        minutes.append(local.minute)
        days.append((local.date() - vienna(NOW).date()).days)
    assert set(minutes) <= set(range(51))
    # 51 minutes a session of ten fits into: five nearly equal parts of them.
    parts = np.bincount(np.array(minutes) * 5 // 51, minlength=5)
    assert stats.chisquare(parts).pvalue > 1e-4
    assert stats.chisquare(np.bincount(days, minlength=14)).pvalue > 1e-4


def test_after_a_change_the_times_of_day_watched_before_it_come_first(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 7))
    watched(folder, range(1, 7), "12:30")
    changed(folder, "2026-03-07T18:00")
    watched(folder, range(9, 14), "12:30")
    answer = open_study(folder).plan(now=NOW, sessions=4)
    part = answer.parts["under_way"].set_index("slot")
    assert part["sessions_before"].to_dict() == {"day": 6, "night": 6}
    assert part["sessions_after"].to_dict() == {"day": 5, "night": 0}
    assert [c.split(", ")[:2] for c in answer.table["covers"]] == [["night", "water on 7 Mar"]] * 4
    assert answer.table["why"].iloc[0] == "no. 1 after water on 7 Mar (6 before)"
    assert "7 more would balance the two sides" in said(answer)


def test_nothing_is_drawn_while_a_change_settles(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 8))
    changed(folder, "2026-03-19T18:00", settle_h=120)
    answer = open_study(folder).plan(now=NOW, sessions=6)
    assert min(starts_of(answer)) >= vienna("2026-03-24T18:00")
    assert "is still settling, until 24 Mar 2026 18:00; no session is drawn before then" in said(answer)


def test_a_change_ended_by_the_next_is_said_to_be_lost(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 7))
    changed(folder, "2026-03-07T18:00")
    watched(folder, range(9, 12))
    changed(folder, "2026-03-12T18:00", name="water-2")
    answer = open_study(folder).plan(now=NOW)
    assert list(answer.parts["under_way"]["adjustment"].unique()) == ["water-2"]
    assert "Water on 7 Mar had no verdict when the next change came" in said(answer)


def test_a_day_drawn_for_a_change_is_kept_free(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 7))
    days = [f"2026-03-{day}" for day in range(21, 31)]
    fields = {"adjustment": "heat-1", "days": days, "day": "2026-03-25", "seed": 5}
    write_rows(load_declaration(folder), vienna("2026-03-08T10:00"), [RecordToWrite("drawn", fields)])
    answer = open_study(folder).plan(now=NOW, sessions=14)
    assert not {at.date().isoformat() for at in starts_of(answer)} & {
        "2026-03-25",
        "2026-03-26",
        "2026-03-27",
    }
    assert "heat-1 was drawn for 2026-03-25" in said(answer)


def test_what_is_open_is_what_the_answers_say_is_too_early(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 8))
    study = open_study(folder)
    answer = study.plan(now=NOW)
    listed = set(answer.parts["open"]["says"])
    for other in (study.zones(), study.activity(), study.preference(), study.retreats()):
        assert {f.says for f in other.findings if f.verdict == "too early"} <= listed
    # Nobody watched beside, and no change is on record: not questions this study has asked.
    assert not {"observers", "shifts"} & set(answer.parts["open"]["answer"])
    counts = Counter(answer.parts["open"]["answer"])
    assert f"zones {counts['zones']}" in said(answer)


def test_limits_that_would_stay_as_they_are_said_are_not_said_to_narrow(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 27))
    answer = open_study(folder).plan(now=NOW, sessions=1)
    widest = max(answer.parts["worth"].to_dict("records"), key=lambda w: w["high"] - w["low"])
    as_said = [f"{100 * widest[name]:.0f}" for name in ("low", "high", "low_then", "high_then")]
    assert as_said[:2] == as_said[2:]
    assert "would hardly narrow" in said(answer) and "should narrow" not in said(answer)


def test_limits_should_narrow_as_said(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 11))
    study = open_study(folder)
    part = study.plan(now=NOW, sessions=10).parts["worth"]
    zones = study.zones().table.set_index("zone")
    # Twice the units: the root of two, and a smaller quantile of Student's t.
    ratio = stats.t.ppf(0.975, 19) / stats.t.ppf(0.975, 9) / np.sqrt(2)
    for row in part[part["answer"] == "zones"].to_dict("records"):
        now = zones.loc[row["zone"]]
        assert row["narrower"] == pytest.approx(1 - ratio)
        assert row["low_then"] == pytest.approx(now["used"] - (now["used"] - now["used_low"]) * ratio)
        assert row["high_then"] == pytest.approx(now["used"] + (now["used_high"] - now["used"]) * ratio)


def test_the_strip_shows_what_was_watched_and_what_is_planned(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 4))
    watched(folder, range(2, 3), "12:30")
    answer = open_study(folder).plan(now="2026-03-04T10:00", sessions=2)
    part = answer.parts["strip"]
    assert part[part["hour"] == 21]["sessions"].tolist()[:3] == [1, 1, 1]
    assert part["planned"].sum() == 2
    printed = run("plan", "--study", folder, "--now", "2026-03-04T10:00", "--sessions", "2").stdout
    rows = {line[:3]: line[4:] for line in printed.splitlines() if line[2:4] == "h "}
    assert rows["21h"].startswith("111")
    assert rows["12h"].startswith("·1·")
    assert sum(line.count("o") for line in rows.values()) == 2
    assert "1 Mar" in printed


def test_without_times_the_hours_watched_so_far_are_taken_and_it_is_said(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watched(folder, range(1, 6))
    answer = open_study(folder).plan(now=NOW)
    assert {at.astimezone(VIENNA).hour for at in starts_of(answer)} <= {21}
    assert "no-times" in {c.code for c in answer.cautions}
    empty = study_folder(tmp_path / "empty", LIT)
    nothing = open_study(empty).plan(now=NOW)
    assert len(nothing.table) == 6


def test_a_time_of_day_out_of_reach_and_too_few_days_are_said(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + '\n[watching]\nminutes = 10\ncan = ["mon 12:00-13:00"]\n')
    watched(folder, range(1, 7))
    changed(folder, "2026-03-07T18:00")
    answer = open_study(folder).plan(now=NOW, sessions=40)
    codes = {c.code: c.says for c in answer.cautions}
    assert "Before water on 7 Mar there were sessions at night" in codes["out-of-reach"]
    assert f"Only {len(answer.table)} of 40" in codes["fewer"]
    assert all(at.astimezone(VIENNA).weekday() == 0 for at in starts_of(answer))


def test_filters_keep_to_a_time_of_day(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT + CAN)
    watched(folder, range(1, 7))
    answer = open_study(folder).plan(now=NOW, slot="night")
    assert {covers.split(",")[0] for covers in answer.table["covers"]} == {"night"}


def test_one_animal_at_a_time_is_followed_in_turn(tmp_path: Path) -> None:
    folder = study_folder(
        tmp_path, TWO_ZONES + '\n[watching]\nmethod = "focal"\ncan = ["daily 12:00-14:00"]\n'
    )
    answer = open_study(folder).plan(now=NOW, sessions=6)
    followed = Counter(covers.split("follow ")[1] for covers in answer.table["covers"])
    assert followed == {"Dot": 3, "Line": 3}


def test_who_is_gone_is_not_followed(tmp_path: Path) -> None:
    gone = 'label = "Line"\npresent = [{until = 2026-03-10}]'
    focal = TWO_ZONES + '\n[watching]\nmethod = "focal"\ncan = ["daily 12:00-14:00"]\n'
    folder = study_folder(tmp_path, focal.replace('label = "Line"', gone))
    answer = open_study(folder).plan(now=NOW, sessions=6)
    assert all("follow Dot" in covers for covers in answer.table["covers"])
    nobody = "present = [{until = 2026-03-10}]\n"
    text = (TWO_ZONES + CAN).replace('label = "Dot"\n', 'label = "Dot"\n' + nobody)
    text = text.replace('label = "Line"\n', 'label = "Line"\n' + nobody).replace(
        "size = 6\n", "size = 6\n" + nobody
    )
    empty = open_study(study_folder(tmp_path / "empty", text)).plan(now=NOW)
    assert "nobody-there" in {c.code for c in empty.cautions}


def test_the_calendar_can_be_read_back_with_its_time_zone(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, (LIT + CAN).replace("Two zones", "Zwei Zönen; nass, trocken"))
    watched(folder, range(1, 6))
    file = tmp_path / "watch.ics"
    # Over the night on which summer time begins (29 March).
    result = run("plan", "--study", folder, "--now", "2026-03-26T10:00", "--ics", file, "--json")
    assert result.exit_code == 0
    rows = json.loads(result.stdout)["rows"]
    raw = file.read_bytes()
    assert b"\r\n" in raw
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    book = Calendar.from_ical(raw)
    assert book["version"] == "2.0"
    assert [zone["tzid"] for zone in book.walk("VTIMEZONE")] == ["Europe/Vienna"]
    events = book.walk("VEVENT")
    assert [e["dtstart"].dt for e in events] == [datetime.fromisoformat(r["when"]) for r in rows]
    for event in events:
        assert event["dtstart"].params["tzid"] == "Europe/Vienna"
        assert event["dtend"].dt - event["dtstart"].dt == timedelta(minutes=10)
        assert str(event["summary"]) == "Watch: Zwei Zönen; nass, trocken"
    offsets = {e["dtstart"].dt.utcoffset() for e in events}
    assert offsets <= {timedelta(hours=1), timedelta(hours=2)}
    assert len({str(e["uid"]) for e in events}) == len(events)
    # Written again it names the same events.
    run("plan", "--study", folder, "--now", "2026-03-26T10:00", "--ics", file)
    assert [str(e["uid"]) for e in Calendar.from_ical(file.read_bytes()).walk("VEVENT")] == [
        str(e["uid"]) for e in events
    ]


CANS = st.lists(
    st.sampled_from(
        ["daily 12:00-14:00", "sat 22:00-02:00", "mon-fri 7-7:30", "weekends 0:00-24:00", "tue 2:00-3:30"]
    ),
    max_size=3,
)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    cans=CANS,
    number=st.integers(1, 20),
    seed=st.integers(0, 2**32),
    day=st.integers(0, 360),
    wanted=st.dictionaries(st.sampled_from(["dawn", "day", "dusk", "night"]), st.integers(1, 9), min_size=1),
    busy=st.integers(0, 20),
)
def test_whatever_the_times_a_draw_keeps_to_them(
    cans: list[str],
    number: int,
    seed: int,
    day: int,
    wanted: dict[str, int],
    busy: int,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    declared = load_declaration(study_folder(tmp_path_factory.mktemp("draw"), LIT))
    windows = [w for w in map(parse_window, cans) if w]
    now = vienna("2026-01-01T10:00") + timedelta(days=day)
    closed = [(now, now + timedelta(days=busy))]
    found = draw(declared, Times(windows, now, closed), {}, wanted, number=number, seed=seed)
    assert len(found) <= number
    if not windows:
        assert not found
    for one in found:
        assert one.slot in wanted
        assert one.at >= closed[0][1]
        end = one.at + timedelta(minutes=declared.watching.minutes)
        local = one.at.astimezone(VIENNA).date()
        spans = [w.on(local + timedelta(days=k), VIENNA) for w in windows for k in (-1, 0)]
        assert any(span and span[0] <= one.at and end <= span[1] for span in spans)
    assert [d.at for d in found] == sorted(d.at for d in found)


def test_the_command_on_the_demo_study(tmp_path: Path) -> None:
    folder = demo_study(tmp_path / "demo")
    result = run("plan", "--full", "--study", folder, "--now", "2026-04-27", "--csv", tmp_path / "p.csv")
    assert result.exit_code == 0
    words = " ".join(result.stdout.split())
    assert "Water on 15 Mar had no verdict" in words
    assert "6 sessions drawn by lot" in words
    assert (tmp_path / "p.csv").read_text().splitlines()[0] == "when,why,covers"
    told = json.loads(
        run("plan", "--study", folder, "--now", "2026-04-27", "--json", "--sessions", "3").stdout
    )
    assert (told["answer"], len(told["rows"]), told["seed"]) == ("plan", 3, 20260427)
    assert run("plan", "--study", folder, "--now", "some day").exit_code == 2
