"""The recorder's two rooms: a recording knows no screen, nothing imports in a circle, no function takes a crowd."""

from __future__ import annotations

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "zoneuse"
ROOMS = ("recording", "screens/recorder")
FILES = sorted(path for room in ROOMS for path in (PACKAGE / room).rglob("*.py"))


def imported(path: Path) -> set[Path]:
    """The files of the two rooms that a file imports, wherever in it the import stands."""
    here = path.relative_to(PACKAGE).parts[:-1]
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = PACKAGE.joinpath(*here[: len(here) - node.level + 1], *(node.module or "").split("."))
            found |= {
                base.with_suffix(".py"),
                *((base / name.name).with_suffix(".py") for name in node.names),
            }
    return found & set(FILES)


def test_a_recording_knows_no_screen() -> None:
    for path in (PACKAGE / "recording").rglob("*.py"):
        assert "textual" not in path.read_text("utf-8").lower(), path


def test_nothing_imports_in_a_circle() -> None:
    try:
        TopologicalSorter({path: imported(path) for path in FILES}).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(str(path.relative_to(PACKAGE)) for path in error.args[1]))


def test_no_function_takes_more_than_five_by_place() -> None:
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                named = [
                    a.arg for a in (*node.args.posonlyargs, *node.args.args) if a.arg not in ("self", "cls")
                ]
                assert len(named) <= 5, (path, node.name, named)


def test_no_file_and_no_folder_is_too_long() -> None:
    for path in FILES:
        assert len(path.read_text("utf-8").splitlines()) <= 400, path
    for folder in {path.parent for path in FILES}:
        assert len(list(folder.glob("*.py"))) <= 16, folder


def test_nothing_reads_a_notice_back() -> None:
    """A notice or a prompt is words for people; what it is about is in its code, and in the prompt's other fields."""
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            searched = isinstance(node, ast.Compare) and any(
                isinstance(op, ast.In | ast.NotIn) for op in node.ops
            )
            asked = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in (
                "startswith", "endswith", "find", "removeprefix",
            )  # fmt: skip
            subject = ""
            if searched:
                subject = ast.unparse(node.comparators[0])  # type: ignore[attr-defined]
            elif asked:
                subject = ast.unparse(node.func.value)  # type: ignore[attr-defined]
            assert not subject.endswith((".says", ".ask")), (path, subject)
            # Its last sign alone may be looked at, to set a full stop.
            if subject.endswith(".notice"):
                assert ast.unparse(node).endswith("endswith('.')"), (path, ast.unparse(node))
