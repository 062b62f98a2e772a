"""The sessions behind a finding, newest first, with the changes on record between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ...study import visible
from .background.asked import SESSIONS
from .background.behind import SessionBehind, behind
from .background.crossing import Given, Series, number, text
from .base import ReviewScreen
from .drawing.bars import bar, fit
from .drawing.blocks import BLANK, OpenRecords, TextBlock, plain_lines, wrapped

_BAR = 8


@dataclass(frozen=True, slots=True)
class _Listed:
    """A session or a change, by its time."""

    at: datetime
    block: TextBlock


class SessionsScreen(ReviewScreen):
    """Each line opens that session's records."""

    def __init__(self, title: str, about: tuple[str, ...]) -> None:
        super().__init__()
        self._title, self._about = title, about

    def title_words(self) -> str:
        return f"Sessions · {self._title or 'all sessions'}"

    def blocks(self, width: int) -> Sequence[TextBlock]:
        app = self.review
        if SESSIONS in app.problems:
            return [wrapped(p, width, "- ", "  ") for p in app.problems[SESSIONS]]
        given = app.given.get(SESSIONS)
        if given is None:
            return [wrapped("Reading the sessions …", width, style="$muted")]
        found = behind(given.series, self._about)
        if not found:
            return [wrapped(f"No session here holds a record of {self._title}.", width)]
        listed = [self._session(one) for one in found] + self._changes(given, width)
        listed.sort(key=lambda one: one.at, reverse=True)
        return [*self._head(given, found, width), *(one.block for one in listed)]

    def _head(self, given: Given, found: Sequence[SessionBehind], width: int) -> list[TextBlock]:
        """How many of them hold it, what the counts mean, and at which hours they were."""
        counted = [one for one in found if one.counted]
        having = sum(one.there > 0 for one in counted)
        says = (
            f"{len(counted)} sessions count" + (f", {having} of them hold it" if found[0].what else "") + "."
        )
        if found[0].what:
            says += f" {found[0].what}"
        left_out = Counter(one.why or "not counted" for one in found if not one.counted)
        if left_out:
            why = ", ".join(f"{why} {count}" for why, count in left_out.items())
            says += f" {left_out.total()} more are listed and enter no share ({why})."
        return [wrapped(says, width), *_hours(given.series, {one.id for one in found}), BLANK]

    def _session(self, one: SessionBehind) -> _Listed:
        at = datetime.fromisoformat(one.at)
        said = one.said()
        if self.narrow:
            words = f"{_day(at, short=True)} {at:%H:%M} {fit(visible(one.slot), 5)} {said}"
        else:
            drawn = bar(one.there / one.of, 1.0, _BAR) + " " if one.of and one.counted else ""
            who = fit(visible(one.observer), 9)
            when = f"{_day(at)} {at:%H:%M}  {fit(visible(one.slot), 8)}"
            words = f"{when} {who} {fit(visible(one.method), 11)} {drawn}{said}"
        return _Listed(at, plain_lines(words, opens=OpenRecords(one.id, self._about)))

    def _changes(self, given: Given, width: int) -> list[_Listed]:
        """The changes concerned (all of them where none is), where they fall between the sessions."""
        rows = given.series.get("changes", ())
        mine = [r for r in rows if text(r, "id") in self._about] or list(rows)
        listed = []
        for row in mine:
            amount = number(row, "amount")
            how_much = f" {amount:g}\u00a0{text(row, 'unit')}".rstrip() if amount is not None else ""
            where = ", ".join(
                visible(given.labels.get(z, z)) for z in row.get("zones") or () if isinstance(z, str)
            )
            at, settled = (datetime.fromisoformat(text(row, k)) for k in ("at", "settled"))
            named = f"{text(row, 'id')}: {text(row, 'what')}{how_much}, {where}"
            words = f"── {_day(at, True).strip()} {at:%H:%M} {named}"
            if not self.narrow:
                words += f"; settled {settled.day}\u00a0{settled:%b}"
            listed.append(_Listed(at, wrapped(words, width, rest="   ", style="$muted")))
        return listed


def _day(at: datetime, short: bool = False) -> str:
    return f"{at.day:2d} {at:%b %y}" if short else f"{at:%a} {at.day:2d} {at:%b %Y}"


def _hours(series: Series, ids: set[str]) -> list[TextBlock]:
    """In how many of the sessions each hour of the clock was watched."""
    hours = Counter(
        hour
        for row in series.get("sessions", ())
        if text(row, "id") in ids
        for hour in (row.get("hours") or ())
        if isinstance(hour, int)
    )
    if not hours:
        return []
    marks = "".join("·" if not hours[h] else str(hours[h]) if hours[h] < 10 else "+" for h in range(24))
    return [
        plain_lines(f"by hour {marks}", style="$foreground"),
        plain_lines("        0     6     12    18   23", style="$muted"),
    ]
