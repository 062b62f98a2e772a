"""Rooms are entered by their doors: a package's own names, or the files that stand open here by name.

What is not named here is a room's own affair: it may be moved, split or renamed without asking anybody outside.
"""

from __future__ import annotations

import ast
import functools
import subprocess
import sys
from pathlib import Path

import pytest

from tests.test_house import PACKAGE, SOURCES, known_modules

# Files that others import from beside the door of their package: they are asked alone, since a whole package would
# load what a recorder, or one answer, has no use for. Whoever adds one says in the commit why the door will not do.
OPEN = {
    "across": """
        ask executors picture shared summary tokens
    """,
    "answers": """
        answer at_once columns filters finding phrases quantities_said question reasons
        records.on_record records.veterinarian registry showing.plain showing.said showing.terminal
        study
    """,
    "journal": """
        past.gaps past.rows past.versions
    """,
    "page": """
        sections.five_sentences
    """,
    "pictures": """
        dates description plot
    """,
    "readings": """
        arrow_arrays layout trust.cross_checks trust.joining
    """,
    "recording": """
        session.cautions words
    """,
    "screens": """
        build.app build.desk recorder.app review.app
    """,
    "stats": """
        arrays choice.peaks second_opinion special
    """,
    "study": """
        clock draft.dated draft.enclosures draft.forms draft.painting draft.things keys model sketch
        treatments
    """,
    "tables": """
        conditions moments records
    """,
}


@functools.cache
def handed_out(path: Path) -> frozenset[str]:
    """The names in a file's ``__all__``: at a door they stand before files of the same name."""
    for node in ast.parse(path.read_text("utf-8")).body:
        if isinstance(node, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id == "__all__" for t in node.targets
        ):
            return (
                frozenset(ast.literal_eval(node.value)) if isinstance(node.value, ast.List) else frozenset()
            )
    return frozenset()


def entered(package: list[str], text: str, known: dict[str, Path]) -> set[str]:
    """The files of other rooms that a file of a package imports from, wherever the import stands."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            at_door = handed_out(known[module]) if module in known else frozenset()
            for alias in node.names:
                file = f"{module}.{alias.name}"
                one = file if file in known and alias.name not in at_door else module
                if one in known and known[one].name != "__init__.py" and one.count(".") > 1:
                    found.add(one)
    return {one for one in found if one.split(".")[:2] != package[:2]}


def test_rooms_are_entered_by_their_doors_or_by_what_stands_open() -> None:
    known = known_modules()
    used = {
        one
        for path in SOURCES
        for one in entered(["zoneuse", *path.relative_to(PACKAGE).parts[:-1]], path.read_text("utf-8"), known)
    }
    named = {f"zoneuse.{room}.{file}" for room, files in OPEN.items() for file in files.split()}
    assert used - named == set(), "behind a door: ask at the package, or name the file here with its reason"
    assert named - used == set(), "nobody outside asks there any more: shut it"


@pytest.mark.parametrize(
    ("code", "goes"),
    [
        ("from ..stats.choice.choice_newton import climb", {"zoneuse.stats.choice.choice_newton"}),
        ("def f():\n    from ..stats.choice import choice_newton", {"zoneuse.stats.choice.choice_newton"}),
        ("from ..stats.choice import fit_choice", set()),
        ("from .gathered import gather", set()),
    ],
)
def test_what_goes_behind_a_door_is_found(code: str, goes: set[str]) -> None:
    found = entered(["zoneuse", "page"], code, known_modules())
    assert found == goes
    assert not {one.removeprefix("zoneuse.stats.") for one in found} & {*OPEN["stats"].split()}


def test_a_name_at_the_door_stands_before_the_file_of_that_name() -> None:
    code = (
        "import sys\nfrom zoneuse.stats.space_use import home\n"
        "assert 'zoneuse.stats.space_use.zone_use' not in sys.modules\n"
        "from zoneuse.stats.space_use.zone_use import ZoneUse\nfrom zoneuse.stats.space_use import stays, zone_use\n"
        "assert callable(stays) and callable(zone_use)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=PACKAGE.parent)
