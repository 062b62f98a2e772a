"""Every word of the house means one thing: public names of classes stand once, and old names stay away."""

from __future__ import annotations

import ast
from collections import defaultdict

import pytest

from tests.test_house import PACKAGE, SOURCES

# What each of these words means, and so the only file that may give it to a class (docs/glossary.md).
ONE_PLACE = {
    "Moment": "tables/watched.py",
    "Question": "answers/question.py",
    "Answer": "answers/answer.py",
}
# Names that meant several things, or another than in the field; "class" and "function" by what was named so.
# Words of commands, keys, journals and JSON fields are no names of the code and stay.
OLD_CLASSES = {"Row", "Rows", "Line", "Asked", "Drawn", "Standing"}
OLD_FUNCTIONS = {
    "hodges_lehmann_shift": "hodges_lehmann",
    "sasabuchi": "lind_mehlum_test",
    "break_test": "pettitt_test",
    "like_with_like": "adjust_for_strata",
    "paired": "friedman, cochran, mcnemar or swaps of pairs",
    "inflation": "variance_inflation",
    "offered_of": "availability",
    "drawn_p": "lottery_p",
    "whereabouts": "first_line",
}


# What is on offer is called availability wherever it is a share of each zone (docs/glossary.md); a condition's values
# on offer, a place that is on offer or not and the words and fields that keepers read are another thing.
SHARES_ON_OFFER = ("stats/space_use", "stats/intervals", "answers/zones", "tables")


def named() -> dict[str, set[str]]:
    """Public names of classes at the top of each file, and the files that give them."""
    found = defaultdict(set)
    for path in SOURCES:
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name].add(path.relative_to(PACKAGE).as_posix())
    return found


def test_a_public_class_is_named_once_in_the_package() -> None:
    assert {name: sorted(files) for name, files in named().items() if len(files) > 1} == {}


@pytest.mark.parametrize(("word", "file"), ONE_PLACE.items())
def test_a_word_of_the_glossary_means_one_thing(word: str, file: str) -> None:
    assert named()[word] == {file}


def test_old_names_stay_away() -> None:
    assert not OLD_CLASSES & named().keys()
    defined = {
        node.name: path.relative_to(PACKAGE).as_posix()
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef)
    }
    assert {name: file for name, file in defined.items() if name in OLD_FUNCTIONS} == {}


def test_shares_on_offer_are_called_availability() -> None:
    called = {
        (path.relative_to(PACKAGE).as_posix(), name)
        for path in SOURCES
        if path.relative_to(PACKAGE).as_posix().startswith(SHARES_ON_OFFER)
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        for name in (getattr(node, "id", None), getattr(node, "attr", None), getattr(node, "arg", None))
        if name in ("offered", "available")
    }
    assert called == set()
