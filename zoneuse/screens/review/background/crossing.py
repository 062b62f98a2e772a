"""An answer as it crosses from the process that worked it out, or from the cache: checked, and nothing run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

# Raised when what crosses changes: older kept answers are then worked out anew.
CROSSING = 2

Series = Mapping[str, tuple[Mapping[str, Any], ...]]


@dataclass(frozen=True, slots=True)
class SentFinding:
    """A finding: what it is about (ids), its verdict, how far to trust it, and the sentence."""

    about: tuple[str, ...]
    verdict: str
    standing: str
    says: str


@dataclass(frozen=True, slots=True)
class Heading:
    """A column of the table; ``narrow`` ones stay on a phone's 40 cells."""

    text: str
    left: bool
    narrow: bool


@dataclass(frozen=True, slots=True)
class TableRow:
    """A row of the table as it is read, and the ids it is about."""

    cells: tuple[str, ...]
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """One answer. ``series`` are the rows its charts are drawn from; ``hidden`` rows are left out at first."""

    name: str
    headline: str
    findings: tuple[SentFinding, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    headings: tuple[Heading, ...]
    rows: tuple[TableRow, ...]
    hidden: int
    labels: Mapping[str, str]
    series: Series = field(default_factory=dict)

    def verdicts(self) -> dict[str, int]:
        """How often each verdict was given, ``too early`` last."""
        counts: dict[str, int] = {}
        for finding in self.findings:
            counts[finding.verdict] = counts.get(finding.verdict, 0) + 1
        early = counts.pop("too early", 0)
        return {**counts, "too early": early} if early else counts


def read_given(raw: Any) -> Given:
    """What crossed, as a record. Raises ValueError where it is not what this version writes."""
    if not isinstance(raw, dict) or raw.get("crossing") != CROSSING:
        raise ValueError("not an answer of this version")
    try:
        return Given(
            name=_text(raw["name"]),
            headline=_text(raw["headline"]),
            findings=tuple(
                SentFinding(_texts(f["about"]), _text(f["verdict"]), _text(f["standing"]), _text(f["says"]))
                for f in _list(raw["findings"])
            ),
            notes=_texts(raw["notes"]),
            cautions=_texts(raw["cautions"]),
            headings=tuple(
                Heading(_text(h["text"]), bool(h["left"]), bool(h["narrow"])) for h in _list(raw["headings"])
            ),
            rows=tuple(TableRow(_texts(r["cells"]), _texts(r["about"])) for r in _list(raw["rows"])),
            hidden=int(raw["hidden"]),
            labels={_text(k): _text(v) for k, v in dict(raw["labels"]).items()},
            series={_text(k): tuple(_scalars(r) for r in _list(v)) for k, v in dict(raw["series"]).items()},
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"not an answer of this version: {error!r}") from None


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise ValueError(f"{value!r} is no list")
    return value


def _texts(value: Any) -> tuple[str, ...]:
    return tuple(_text(v) for v in _list(value))


def _scalars(row: Any) -> Mapping[str, Any]:
    if not isinstance(row, dict) or any(isinstance(v, dict) for v in row.values()):
        raise ValueError(f"{row!r} is no row")
    return row


def number(row: Mapping[str, Any], name: str) -> float | None:
    """A number of a row, or None where there is none."""
    value = row.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def text(row: Mapping[str, Any], name: str) -> str:
    """A text of a row; empty where there is none."""
    value = row.get(name)
    return value if isinstance(value, str) else ""
