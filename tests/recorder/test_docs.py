"""The page in docs names every key as it is."""

from __future__ import annotations

from tests.recorder.keys_in_docs import PAGE, with_table


def test_the_keys_in_the_page_are_those_of_the_program() -> None:
    page = PAGE.read_text("utf-8")
    assert page == with_table(page), "run: python -m tests.recorder.keys_in_docs"
