"""Which sessions stand behind something, and how often it was seen in each: counting, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from .crossing import Series, number, text


@dataclass(frozen=True, slots=True)
class SessionBehind:
    """A session with ``there`` of ``of`` moments; ``what`` says in words what the two are, empty for all.

    ``why`` says what keeps it from being counted, where it is not.
    """

    id: str
    at: str
    slot: str
    observer: str
    method: str
    counted: bool
    there: float
    of: float
    events: int
    what: str
    why: str

    def said(self) -> str:
        """``4 of 16``, how often a momentary behaviour happened, or why it does not count."""
        if not self.counted:
            return self.why or "not counted"
        if self.events and not self.there:
            return f"{self.events} time{'' if self.events == 1 else 's'}"
        return f"{self.there:.0f} of {self.of:.0f}" + ("" if self.what else " found")


def behind(series: Series, about: Sequence[str]) -> list[SessionBehind]:
    """The sessions in which what ``about`` names was, or could have been: by their time.

    Places, animals, groups and behaviours among the ids narrow what is counted; of several observers only the
    sessions they watched together are listed; other ids (a change, a quantity) do neither.
    """
    seen = series.get("seen", ())
    asked = _Asked.of(seen, about)
    together = _watched_together(series, about)
    by_session: dict[str, list[Mapping[str, Any]]] = {}
    for row in seen:
        by_session.setdefault(text(row, "session"), []).append(row)
    found = []
    for row in series.get("sessions", ()):
        session = text(row, "id")
        if not session or not text(row, "at") or (together is not None and session not in together):
            continue
        one = _of_session(row, by_session.get(session, ()), asked)
        found += [one] if one is not None else []
    return found


def _of_session(
    session: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], asked: _Asked
) -> SessionBehind | None:
    """One session and what was seen in it of what is asked; None where it counts and nothing could have been seen."""
    mine = [r for r in rows if asked.could_be(r)]
    there = [r for r in mine if asked.is_it(r)]
    of = sum(number(r, "moments") or 0.0 for r in mine)
    counted = session.get("counted") is True
    if counted and not of and not there:
        return None
    return SessionBehind(
        text(session, "id"), text(session, "at"), text(session, "slot"), text(session, "observer"),
        text(session, "method"), counted, sum(number(r, "moments") or 0.0 for r in there), of,
        sum(number(r, "moments") == 0 for r in there) if asked.behaviours else 0, asked.what, text(session, "why"),
    )  # fmt: skip


def _watched_together(series: Series, about: Sequence[str]) -> set[str] | None:
    """Sessions of the observers named that overlap with another's; None where not two observers are named."""
    rows = series.get("sessions", ())
    named = {name for one in about for name in one.split(" + ")} & {text(r, "observer") for r in rows}
    if len(named) < 2:
        return None
    theirs = [r for r in rows if text(r, "observer") in named]
    spans = [_span(row) for row in theirs]
    return {
        text(row, "id")
        for row, (start, end) in zip(theirs, spans, strict=True)
        for other, (begun, ended) in zip(theirs, spans, strict=True)
        if text(other, "observer") != text(row, "observer") and begun <= end and start <= ended
    }


def _span(row: Mapping[str, Any]) -> tuple[datetime, datetime]:
    return datetime.fromisoformat(text(row, "at")), datetime.fromisoformat(text(row, "ends"))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the ids are: whom, where, doing what."""

    who: frozenset[str]
    places: frozenset[str]
    behaviours: frozenset[str]

    @classmethod
    def of(cls, seen: Sequence[Mapping[str, Any]], about: Sequence[str]) -> _Asked:
        def among(column: str) -> frozenset[str]:
            return frozenset(about) & {text(r, column) for r in seen}

        return cls(among("who"), among("place"), among("behaviour"))

    @property
    def what(self) -> str:
        if self.places:
            return "Counted are the moments there, of those in which it was found."
        if self.behaviours:
            return "Counted are the moments with it, of those with a known behaviour."
        return (
            "Counted are the moments in which it was found, of those it was looked for." if self.who else ""
        )

    def could_be(self, row: Mapping[str, Any]) -> bool:
        """Whether a row belongs to the whole that a part is taken of."""
        if self.who and text(row, "who") not in self.who:
            return False
        if self.places:
            return bool(text(row, "place"))
        return not self.behaviours or bool(text(row, "behaviour"))

    def is_it(self, row: Mapping[str, Any]) -> bool:
        if self.places and text(row, "place") not in self.places:
            return False
        if self.behaviours and text(row, "behaviour") not in self.behaviours:
            return False
        return bool(text(row, "place")) or bool(self.behaviours)
