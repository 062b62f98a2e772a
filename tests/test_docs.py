"""The docs say what the code does: commands, record kinds, links, and the examples in docstrings."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import zoneuse
from tests.making import demo_study
from zoneuse.cli import COMMANDS
from zoneuse.journal.records import KINDS
from zoneuse.study.model import MEASURES, METHODS, ROLES

ROOT = Path(__file__).parent.parent
DOCS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def test_every_command_is_documented_and_nothing_else() -> None:
    text = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^\| `(\w+)", text, re.MULTILINE)) == sorted(COMMANDS)


def test_every_record_kind_is_documented_with_its_fields() -> None:
    text = (ROOT / "docs" / "study-file.md").read_text(encoding="utf-8")
    table = dict(re.findall(r"^\| ([a-z, -]+) \|(.*)\|$", text, re.MULTILINE))
    told = {kind.strip(): fields for kinds, fields in table.items() for kind in kinds.split(",")}
    for kind, shape in KINDS.items():
        named = set(re.findall(r"[a-z_]+", told[kind]))
        assert {*shape.must, *shape.may} == named, kind


def test_every_choice_of_the_study_file_is_documented() -> None:
    text = (ROOT / "docs" / "study-file.md").read_text(encoding="utf-8")
    words = set(re.findall(r"[\w-]+", text))
    assert {*MEASURES, *ROLES, *METHODS} <= words


@pytest.mark.parametrize("page", DOCS, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_the_readme_runs_in_python(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    demo_study(tmp_path / "my-demo")
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    assert blocks
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {})
    assert "moss_end" in capsys.readouterr().out


def test_the_readmes_commands_are_marked_for_ci() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in ("demo", "tests"):
        assert len(re.findall(rf"<!-- run: {name} -->\n```sh\n[^\n]+\n```", text)) == 1


def modules() -> list[str]:
    return [
        m.name for m in pkgutil.walk_packages(zoneuse.__path__, "zoneuse.") if "demo_sessions" not in m.name
    ]


@pytest.mark.parametrize("name", [m for m in modules() if not m.endswith("__main__")])
def test_examples_in_docstrings_run(name: str) -> None:
    module = importlib.import_module(name)
    assert doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE).failed == 0


def test_what_is_said_to_people_keeps_to_plain_words() -> None:
    forbidden = re.compile(r"\b(significan\w*|proved|proves|optimum)\b", re.IGNORECASE)
    for path in (ROOT / "zoneuse").rglob("*.py"):
        for line in path.read_text(encoding="utf-8").splitlines():
            if forbidden.search(line):
                raise AssertionError(f"{path.name}: {line.strip()}")


def test_a_run_of_the_benchmarks_keeps_the_notes_on_speed() -> None:
    bench = pytest.importorskip("tests.bench.__main__", exc_type=ImportError)
    written = (ROOT / "docs" / "performance.md").read_text(encoding="utf-8")
    notes = bench.kept(written)
    assert "Ten years of one enclosure" in notes and "Against the house" in notes
    again = bench.page([], ["| a | 1 | 2 | 3 |"], notes)
    assert again.endswith(f"| a | 1 | 2 | 3 |\n{notes}") and bench.kept(again) == notes
