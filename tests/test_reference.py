"""The reference page and the shipped JSON Schema are what the code declares."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from tests.reference import DICTIONARY, PAGE, SHIPPED, dictionary_text, reference, schema_text
from zoneuse.answers.columns import KINDS, names
from zoneuse.answers.registry import ANSWERS, AnswerKind, columns_of


def test_the_reference_page_is_made_from_the_code() -> None:
    assert PAGE.read_text("utf-8") == reference(), "run: python -m tests.reference"


def test_the_data_dictionary_is_made_from_the_columns() -> None:
    assert DICTIONARY.read_text("utf-8") == dictionary_text(), "run: python -m tests.reference"


def test_the_schema_that_ships_is_made_from_the_code() -> None:
    text = SHIPPED.read_text("utf-8")
    assert text == schema_text(), "run: python -m tests.reference"
    Draft202012Validator.check_schema(json.loads(text))


@pytest.mark.parametrize("kind", ANSWERS, ids=lambda k: k.name)
def test_columns_are_declared_once_and_whole(kind: AnswerKind) -> None:
    rows, parts = columns_of(kind)
    for schema in (rows, *parts.values()):
        assert len(set(names(schema))) == len(schema)
        for field in schema:
            assert field.kind in KINDS and field.means
            assert not field.label_of or field.label_of in names(schema)
