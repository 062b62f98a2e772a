"""Treatments and phases: read from study.toml, found wrong where they are, carried to each moment."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder, vienna
from zoneuse import open_study
from zoneuse.study.toml.file import load_declaration

TUBS = (
    'format = 1\ntitle = "Tubs"\ntimezone = "Europe/Vienna"\n'
    + "".join(
        f"""
[enclosures.{tub}]
measured_in = "floor_cm2"
[zones.moss_{tub}]
label = "Moss"
key = "m"
place = "moss"
enclosure = "{tub}"
amount = 300
[zones.bark_{tub}]
label = "Bark"
key = "b"
place = "bark"
enclosure = "{tub}"
amount = 100
[animals.{animal}]
label = "{animal}"
key = "{key}"
lives = [{{enclosure = "{tub}"}}]
"""
        for tub, animal, key in (("t1", "a1", "1"), ("t2", "a2", "2"))
    )
    + """
[animals.a3]
label = "a3"
key = "3"
lives = [{enclosure = "t2"}]
[treatments.control]
[treatments.spider]
label = "Spider model"
[phases.early]
until = 2026-03-10
[phases.late]
label = "After closing"
spans = [{enclosure = "t1", from = 2026-03-12}, {enclosure = "t2", from = 2026-03-20, until = 2026-04-01}]
"""
)


def test_treatments_and_phases_are_read_and_dated(tmp_path: Path) -> None:
    declared = load_declaration(study_folder(tmp_path, TUBS))
    assert {t.id: t.label for t in declared.treatments.values()} == {
        "control": "Control",
        "spider": "Spider model",
    }
    early, late = declared.phases["early"], declared.phases["late"]
    assert early.holds(vienna("2026-03-09T23:59"), "t1") and not early.holds(vienna("2026-03-10T00:00"), "t1")
    at = vienna("2026-03-15T12:00")
    assert (late.holds(at, "t1"), late.holds(at, "t2")) == (True, False)
    assert not late.holds(vienna("2026-04-01T00:00"), "t2")


@pytest.mark.parametrize(
    ("added", "place", "found"),
    [
        ("[phases.p]", "phases.p", "has no dates"),
        ("[phases.p]\nfrom = 2026-03-02\nuntil = 2026-03-01", "phases.p.until", "found 2026-03-01"),
        ("[phases.p]\nfrom = 2026-03-01\nspans = [{from = 2026-03-01}]", "phases.p", "beside spans"),
        (
            '[phases.p]\nspans = [{enclosure = "t9", from = 2026-03-01}]',
            "phases.p.spans[1].enclosure",
            "'t9'",
        ),
        ('[phases.p]\nspans = [{animal = "a9", from = 2026-03-01}]', "phases.p.spans[1].animal", "'a9'"),
        ("[phases.control]\nfrom = 2026-03-01", "phases.control", "a treatment has this id too"),
        (
            "[phases.p]\nspans = [{from = 2026-03-01}, {from = 2026-03-05, until = 2026-03-07}]",
            "phases.p.spans",
            "two of its spans",
        ),
    ],
)
def test_what_is_wrong_with_a_phase_is_named_with_its_place(
    tmp_path: Path, added: str, place: str, found: str
) -> None:
    told = run("check", "--study", study_folder(tmp_path, f"{TUBS}\n{added}\n"))
    assert told.exit_code == 1
    assert place in told.stderr + told.stdout and found in told.stderr + told.stdout


def take_in(folder: Path, lines: list[str], header: str = "at,session,animal,zone,treatment") -> object:
    (folder / "past.csv").write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
    return run("sightings", folder / "past.csv", "--yes", "--study", folder)


def under(folder: Path) -> list[tuple[str, str]]:
    rows = open_study(folder).moments
    return sorted(zip(rows["animal"], rows["treatment"], strict=True))


def test_a_table_names_the_treatment_of_each_enclosure_or_animal(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TUBS)
    lines = [
        "2026-03-01 20:00,s1,a1,moss,Spider model",
        "2026-03-01 20:00,s1,a2,moss,control",
        "2026-03-02 20:00,s2,a2,bark,spider",
        "2026-03-02 20:00,s2,a3,bark,control",
        "2026-03-03 20:00,s3,a1,moss,spider",
        "2026-03-04 20:00,s4,a1,moss,",
    ]
    take_in(folder, lines)
    rows = open_study(folder).moments
    who = zip(rows["day"].astype(str), rows["animal"], strict=True)
    found = dict(zip(who, rows["treatment"].fillna(""), strict=True))
    assert found == {
        ("2026-03-01", "a1"): "spider",
        ("2026-03-01", "a2"): "control",
        ("2026-03-02", "a2"): "spider",
        ("2026-03-02", "a3"): "control",
        ("2026-03-03", "a1"): "spider",
        ("2026-03-04", "a1"): "",
    }
    # The same table again brings nothing; another treatment for what is here is refused and named.
    take_in(folder, lines)
    assert len(open_study(folder).moments) == 6
    told = take_in(folder, [lines[4].replace("spider", "control")])
    assert "on record then under spider, here under control" in told.stderr
    assert len(open_study(folder).moments) == 6


def test_an_animal_under_two_treatments_in_one_session_is_refused_with_the_remedy(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TUBS)
    told = take_in(
        folder,
        [
            "2026-03-01 20:00,s1,a1,moss,spider",
            "2026-03-01 20:05,s1,a1,moss,control",
            "2026-03-01 20:00,s1,a2,moss,control",
            "2026-03-01 20:09,s1,a2,moss,sider",
        ],
    )
    assert (
        "holds a1 under control and spider" in told.stderr and "the nearest name is 'spider'" in told.stderr
    )
    assert under(folder) == [("a2", "control")]


def test_a_spot_check_and_the_recorder_carry_the_treatment(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TUBS)
    first = ["look", "a1=m", "a2=m", "--study", folder]
    assert run(*first, "--treatment", "t1=spider", "--treatment", "t2=Control").exit_code == 0
    assert under(folder) == [("a1", "spider"), ("a2", "control")]
    for wrong in (["spidre"], ["t1=spider", "control"], ["t9=spider"], ["t1=spider", "a2=control"]):
        told = run(*first, *[w for t in wrong for w in ("--treatment", t)])
        assert told.exit_code == 2, wrong
    single = study_folder(tmp_path / "one", f"{TWO_ZONES}\n[treatments.spider]\n")
    told = run("look", "1=m", "2=b", "--study", single, "--treatment", "a2=spider")
    assert told.exit_code == 0, told.stderr
    rows = open_study(single).moments
    assert dict(zip(rows["animal"], rows["treatment"].fillna(""), strict=True)) == {"a1": "", "a2": "spider"}
