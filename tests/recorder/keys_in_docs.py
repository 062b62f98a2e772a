"""The table of the program's keys in docs/recorder.md, from the table of actions.

Run after a key has changed: python -m tests.recorder.keys_in_docs
"""

from __future__ import annotations

from pathlib import Path

from zoneuse.recording.session.actions import ACTIONS

PAGE = Path(__file__).parents[2] / "docs" / "recorder.md"
BEGINS, ENDS = "<!-- keys: made by tests/recorder/keys_in_docs.py -->\n", "<!-- end of keys -->"


def key_table() -> str:
    """One row a key: what stands on it, its name in the menu, what it does."""
    rows = [f"| {_code(one.shows)} | {one.short} | {one.says} |" for one in ACTIONS]
    return "\n".join(["| key | name | does |", "|---|---|---|", *rows, ""])


def _code(shows: str) -> str:
    """Signs are set as code; names of keys are left as words."""
    return " or ".join(
        part if part.isalnum() or len(part) > 1 else f"`{part}`" for part in shows.split(" or ")
    )


def with_table(page: str) -> str:
    """The page with the table as it is now."""
    before, rest = page.split(BEGINS)
    return before + BEGINS + key_table() + ENDS + rest.split(ENDS, 1)[1]


if __name__ == "__main__":
    PAGE.write_text(with_table(PAGE.read_text("utf-8")), "utf-8")
