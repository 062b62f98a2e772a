"""Whatever was recorded, every answer comes back: plain JSON, fixed words, limits around their estimates."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.making import TWO_ZONES, session, study_folder, vienna
from tests.tables.test_conditions import put_readings
from zoneuse import Answer, Study, open_study
from zoneuse.answers.registry import ANSWERS, verdicts_of
from zoneuse.answers.showing.json_schema import json_schema
from zoneuse.journal.rows import RecordToWrite, write_rows

VERDICTS = {kind.name: set(verdicts_of(kind)) for kind in ANSWERS}
SHAPE = Draft202012Validator(json_schema())
STANDINGS = {"", "looks like", "fairly sure here"}

SCAN = st.tuples(
    st.sampled_from(["a1", "a2", "young"]), st.sampled_from(["moss", "bark", None]),
    st.sampled_from([None, "resting", "walking"]), st.booleans(), st.integers(1, 6),
)  # fmt: skip
SESSION = st.tuples(
    st.integers(0, 40),
    st.integers(0, 23),
    st.sampled_from(["scan", "focal", "ad-libitum", "retreat-round"]),
    st.lists(SCAN, max_size=12),
)


def record(folder: Path, watched: list) -> None:
    for place, (day, hour, method, looks) in enumerate(watched):
        at = vienna("2026-03-01T00:15") + timedelta(days=day, hours=hour)
        journal = session(folder, at, method=method, observer="jo" if place % 3 == 2 else "mk")
        for scan, (who, zone, behaviour, sure, count) in enumerate(looks, 1):
            about = {"group": who, "count": count} if who == "young" else {"animal": who}
            number = {"scan": scan} if method == "scan" else {}
            if zone is None:
                journal.append("unseen", at + timedelta(minutes=scan), **about, **number)
            else:
                journal.append(
                    "seen", at + timedelta(minutes=scan), **about, zone=zone, behaviour=behaviour,
                    sure=None if sure else False, **number,
                )  # fmt: skip
        journal.append("closed", at + timedelta(minutes=20), reason="finished")
        journal.close()


def answers(study: Study) -> list[Answer]:
    asked = [study.zones(), study.activity(), study.preference(), study.shifts(), study.climate()]
    return [*asked, study.retreats(), study.observers(), study.plan(sessions=3)]


@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    watched=st.lists(SESSION, max_size=12),
    logged=st.booleans(),
    changed=st.lists(st.integers(0, 40), max_size=3),
)
def test_every_answer_comes_back(
    watched: list, logged: bool, changed: list[int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = study_folder(tmp_path_factory.mktemp("any"), TWO_ZONES)
    record(folder, watched)
    study = open_study(folder)
    for number, day in enumerate(changed):
        at = vienna("2026-03-01T12:00") + timedelta(days=day)
        fields = {"adjustment": f"water-{number}", "what": "water", "zones": ["moss"], "settle_h": 24.0}
        write_rows(study.declared, at, [RecordToWrite("adjusted", fields)])
    if logged:
        minutes = [30.0 * k for k in range(48 * 42)]
        for logger, base in (("L1", 22.0), ("L2", 27.0)):
            warm = [base + 3 * ((m // 30) % 48) / 48 for m in minutes]
            put_readings(
                folder,
                logger,
                minutes,
                {"temperature_c": warm, "humidity_pct": [90 - 2 * (t - 20) for t in warm]},
            )
    for answer in answers(open_study(folder)):
        told = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
        assert told["answer"] in VERDICTS
        SHAPE.validate(told)
        assert told["findings"] or told["answer"] in ("climate", "plan"), told["answer"]
        for finding in told["findings"]:
            assert finding["verdict"] in VERDICTS[told["answer"]], finding
            assert finding["standing"] in STANDINGS
            assert (finding["verdict"] == "too early") <= (finding["standing"] == "")
            assert (finding["verdict"] in ("too early", "confounded")) == bool(finding["reason"]), finding
            assert finding["unit"] and finding["says"].strip()
        for row in told["rows"]:
            for name in ("used", "ratio", "change", "share"):
                if row.get(f"{name}_low") is not None:
                    assert row[f"{name}_low"] - 1e-9 <= row[name] <= row[f"{name}_high"] + 1e-9, row
        assert answer._repr_html_()


def test_the_same_study_gives_the_same_answers_to_the_digit(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    looks = [
        ("a1", "moss", "resting", True, 1),
        ("a2", "bark", "walking", True, 1),
        ("a1", None, None, True, 1),
    ]
    record(folder, [(day, 20, "scan", looks * 3) for day in range(14)])
    first, second = ([a.to_dict() for a in answers(open_study(folder))] for _ in range(2))
    assert json.dumps(first) == json.dumps(second)
