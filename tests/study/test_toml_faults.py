"""Faults of study.toml in a keeper's words: the line, a mark, the usual cause; and what would protect nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder


@pytest.mark.parametrize(
    ("wrong", "line", "says"),
    [
        ("amount = 0,5", "amount = 0,5", "write 0.5"),
        ("label = “Moss”", "label = “Moss”", "curly quote"),
        ('label = "Moss', 'label = "Moss', "a quotation mark is missing"),
        ("label = Moss end", "label = Moss end", 'in quotes: "Moss end"'),
        ("present = [{from = 2026-2-20}]", "present = [{from = 2026-2-20}]", "write 2026-02-20"),
        ("present = [{from = 20.2.2026}]", "present = [{from = 20.2.2026}]", "2026-02-20"),
        ("present = [{from = 2026-02-30}]", "present = [{from = 2026-02-30}]", "no such date"),
        ("present = [{from = 2026-13-30}]", "present = [{from = 2026-13-30}]", "no such date"),
        ("größe = 3", "größe = 3", "letters a to z"),
        ("cover =", "cover =", "nothing stands behind the ="),
        ("cover: 0.5", "cover: 0.5", "= between"),
        ("lasts = True", "lasts = True", "write true"),
        ("daily = 7:30", "daily = 7:30", 'in quotes: "7:30"'),
        ("[zones.höhle]", "[zones.höhle]", "letters a to z"),
        ("[zones.wet end]", "[zones.wet end]", "[zones.wet_end]"),
        ("[zones.moss]", "[zones.moss]", "a second time"),
        ("[zones.new", "[zones.new", "bracket ] is missing"),
        ("amount = 300\namount = 301", "", "a second time"),
        ('serves = ["humidity"', "", "not closed"),
    ],
)
def test_the_line_is_shown_with_a_mark_and_the_cause(
    tmp_path: Path, wrong: str, line: str, says: str
) -> None:
    text = TWO_ZONES.replace('key = "m"', f'key = "m"\n{wrong}', 1)
    folder = study_folder(tmp_path / "s", text)
    result = run("check", "--study", folder)
    assert result.exit_code == 1
    said = result.stdout + result.stderr
    assert says in said
    if line:
        number = max(i for i, t in enumerate(text.splitlines(), 1) if t == line)
        assert f"line {number}" in said
        shown = said.splitlines()
        assert shown[shown.index(f"    {line}") + 1].strip().startswith("^")
    assert "Expected" not in said
    assert "TOML" not in said.replace("study.toml", "")


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ('[behaviors.basking]\nlabel = "Basking"\nkey = "k"\nlasts = true', "[behaviours.basking]"),
        ("[limit.moss]\nhumidity_pct = {low = 75}", "[limits.moss]"),
        ("[limts.moss]\nhumidity_pct = {low = 75}", "[limits.moss]"),
        ('[animal.a3]\nlabel = "New"\nkey = "3"', "[animals.a3]"),
        ("[limits.mos]\nhumidity_pct = {low = 75}", "'moss'"),
        ("[limits.moss]\nhumidty_pct = {low = 75}", "'humidity_pct'"),
        ("[limits.moss]\nhumidity_pct = {lo = 75}", "low"),
    ],
)
def test_what_would_count_for_nothing_is_a_fault(tmp_path: Path, section: str, says: str) -> None:
    folder = study_folder(tmp_path / "s", f"{TWO_ZONES}\n{section}\n")
    result = run("check", "--study", folder)
    assert result.exit_code == 1, result.stdout
    assert says in result.stdout + result.stderr


def test_a_section_of_the_keepers_own_is_still_only_a_hint(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", f'{TWO_ZONES}\n[shopping]\ncrickets = "Friday"\n')
    assert run("check", "--study", folder).exit_code == 0


@pytest.mark.parametrize(
    "line", ["title = 2026-02-20", "title = true", "species = {a = 2026-02-20}", "zones = 3", "animals = [1]"]
)
def test_no_message_speaks_python(tmp_path: Path, line: str) -> None:
    name = line.split(" ")[0]
    kept = [t for t in TWO_ZONES.splitlines() if not t.startswith((f"{name} =", f"[{name}."))]
    folder = study_folder(tmp_path / "s", line + "\n" + "\n".join(kept))
    said = run("check", "--study", folder)
    for word in ("datetime", "a table", "True", "dict", "None"):
        assert word not in said.stdout + said.stderr
