"""What is generated from the code: docs/reference.md, docs/data-dictionary.md and the JSON Schema that ships.

``python -m tests.reference`` makes them anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path

from zoneuse.across import columns, judge
from zoneuse.answers.columns import Schema
from zoneuse.answers.reasons import CONFOUNDERS, REASONS
from zoneuse.answers.registry import ANSWERS, columns_of, verdicts_of
from zoneuse.answers.showing.json_schema import json_schema
from zoneuse.export import dictionary, every_table
from zoneuse.study.quantities import QUANTITIES

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "reference.md"
DICTIONARY = ROOT / "docs" / "data-dictionary.md"
SHIPPED = ROOT / "zoneuse" / "answers" / "answer.schema.json"

INTRODUCTION = """\
# Reference: what the answers hold

This page is made from the code (`python -m tests.reference`); a test compares it.

Every answer command takes `--json` and `--csv FILE`; in Python an open study has a method of the same name
(`study.preference()` for `prefer`). `--json` prints one object with `schema` (1), `answer`, `study`, `zoneuse` (the
version), `filters` (what was asked for), `effort`, `rows`, `parts`, `findings`, `cautions` and `seed`. Its JSON Schema
ships as `zoneuse/answers/answer.schema.json`. Shares are fractions from 0 to 1, `change` is after - before, times are
ISO with UTC, missing is null. Counts are integers, in a DataFrame too.

## Findings

`about` (ids), `verdict`, `standing` (how far to trust it: `looks like`, `fairly sure here`, or empty), `reason` (a code
where the verdict is withheld), `confounders` (what else differed between two sides: code, ids, kind, side, date),
`numbers` (by name, each with its unit), `forecast` (how many `more` units would settle it, with what `chance`; `more`
is null where even `most` would not), `unit` (what counts once), `compared` (how many findings stand or fall together)
and `says` (the sentence, made from all of this). Programs read the fields; sentences are for people and may change.
"""


def reference() -> str:
    answers = [line for kind in ANSWERS for line in _answer(kind.name)]
    return "\n".join([INTRODUCTION, *_reasons(), *answers, *_across(), *_quantities()])


def _reasons() -> Iterator[str]:
    yield from ("| reason | when |", "|---|---|")
    yield from (f"| `{code}` | {means} |" for code, means in REASONS.items())
    yield from (
        "",
        "What a comparison is confounded by stands in the finding's `confounders`, each with its code.",
        "",
    )
    yield from ("| confounder | when |", "|---|---|")
    yield from (f"| `{code}` | {means} |" for code, means in CONFOUNDERS.items())
    yield ""


def _answer(name: str) -> Iterator[str]:
    kind = next(k for k in ANSWERS if k.name == name)
    yield from (f"## {name}", "", kind.title, "", f"Verdicts: {' · '.join(verdicts_of(kind))}.", "")
    yield from _columns(name, *columns_of(kind))


def _across() -> Iterator[str]:
    verdicts = " · ".join(judge.VERDICTS)
    yield from (
        "## across",
        "",
        "What holds between enclosures and keepers?",
        "",
        f"Verdicts: {verdicts}.",
        "",
    )
    yield from _columns("across", columns.ROWS, columns.PARTS)


def _columns(name: str, rows: Schema, parts: Mapping[str, Schema]) -> Iterator[str]:
    yield from _table(rows)
    for part, schema in parts.items():
        yield from (f"### {name}: part `{part}`", "")
        yield from _table(schema)


def _table(schema: Schema) -> Iterator[str]:
    yield from ("| column | type | unit | means | null |", "|---|---|---|---|---|")
    for f in schema:
        yield f"| `{f.name}` | {f.kind} | {f.unit or '–'} | {f.means} | {f.missing or '–'} |"
    yield ""


def _quantities() -> Iterator[str]:
    yield from ("## Quantities", "", "| name | unit | label | what can be true |", "|---|---|---|---|")
    for q in QUANTITIES.values():
        yield f"| `{q.name}` | {q.unit or '–'} | {q.label} | {q.low:g} to {q.high:g} |"
    yield ""


def schema_text() -> str:
    return (
        json.dumps(json_schema({"across": (columns.ROWS, columns.PARTS)}), indent=1, ensure_ascii=False)
        + "\n"
    )


def dictionary_text() -> str:
    return dictionary(every_table()) + "\n"


if __name__ == "__main__":
    DICTIONARY.write_text(dictionary_text(), encoding="utf-8")
    PAGE.write_text(reference(), encoding="utf-8")
    SHIPPED.write_text(schema_text(), encoding="utf-8")
