"""Write the table of keys in docs/review.md from the program's own: python -m tests.review.keys_in_docs"""

from __future__ import annotations

from pathlib import Path

from zoneuse.screens.review.keys import REVIEW_KEYS

PAGE = Path(__file__).parents[2] / "docs" / "review.md"
_START, _END = "<!-- keys: made by tests/review/keys_in_docs.py -->\n", "<!-- end of keys -->"


def with_table(page: str) -> str:
    """The page with the table as it should be."""
    rows = "".join(f"| {key} | {says} |\n" for key, says in REVIEW_KEYS)
    before, rest = page.split(_START)
    return f"{before}{_START}| key | does |\n|---|---|\n{rows}{_END}{rest.split(_END)[1]}"


if __name__ == "__main__":
    PAGE.write_text(with_table(PAGE.read_text("utf-8")), "utf-8")
