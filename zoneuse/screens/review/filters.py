"""Which moments are looked at: animals, time of day, treatments and phases, period."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from ...study import ANY_TIME, SLOTS, Group, parse_when, to_utc, visible
from ...study.model import Animal, Phase, Treatment
from ..recorder.panels import Chip
from .background.asked import ALL_TIME, SESSIONS, ReviewFilters
from .background.crossing import text
from .base import KEYS, ReviewScreen
from .drawing.blocks import BLANK, Opens, Pressed, TextBlock, heading, plain_lines, wrapped

_LAST_DAYS = (7, 30, 90)


@dataclass(frozen=True, slots=True)
class Period:
    """A stretch of time in words; ISO with offset, an end left out is open."""

    words: str
    since: str | None = None
    until: str | None = None


class FilterScreen(ReviewScreen):
    """Enter chooses; going back asks the answers anew, if anything changed."""

    def title_words(self) -> str:
        return "Filter · which moments are looked at"

    def on_mount(self) -> None:
        self._asked = self.review.asked
        super().on_mount()

    def keys(self) -> Sequence[Chip]:
        return (
            Chip("⏎", "choose", action="open"), Chip("esc", "show the answers", action="back"),
            Chip("DEL", "no filter", action="clear"), KEYS,
        )  # fmt: skip

    BINDINGS = [("delete", "clear", "No filter")]  # noqa: RUF012 - Textual reads it so

    def blocks(self, width: int) -> Sequence[TextBlock]:
        declared, asked = self.review.declared, self._asked
        blocks = [
            wrapped(f"Now: {asked.words(declared)}. Esc shows the answers for it.", width), *heading("Animals", width)
        ]  # fmt: skip
        everyone: dict[str, Animal | Group] = {**declared.animals, **declared.groups}
        blocks.append(_choice("all animals", not asked.animals, Pressed("everyone")))
        for name, one in everyone.items():
            said = f"{one.key} {visible(one.label)}".strip()
            blocks.append(_choice(said, name in asked.animals, Pressed("animal", name), many=True))
        if any(e.lights for e in declared.enclosures.values()):
            blocks += heading("Time of day", width)
            blocks.append(_choice("all hours", asked.slot is None, Pressed("slot")))
            blocks += [
                _choice(slot, asked.slot == slot, Pressed("slot", slot)) for slot in SLOTS if slot != ANY_TIME
            ]
        blocks += _several("Treatments", "treatment", declared.treatments, asked.treatments, width)
        blocks += _several("Phases", "phase", declared.phases, asked.phases, width)
        blocks += heading("Period", width)
        for period in self.periods():
            chosen = (period.since, period.until) == (asked.since, asked.until)
            blocks.append(_choice(period.words, chosen, Pressed("period", period.words)))
        known = {(p.since, p.until) for p in self.periods()}
        own = (asked.since, asked.until) not in known
        blocks.append(_choice(asked.period if own else "from … to … (typed)", own, Pressed("typed")))
        return [*blocks, BLANK, wrapped(_SIDES, width, style="$muted")]

    def periods(self) -> list[Period]:
        """All time, the last days on record, and from and until each change."""
        given = self.review.given.get(SESSIONS)
        found = [Period(ALL_TIME)]
        if given is None:
            return found
        zone = self.review.declared.timezone
        for row in given.series.get("newest", ()):
            newest = datetime.fromisoformat(text(row, "at")).astimezone(zone).date()
            for days in _LAST_DAYS:
                start = datetime.combine(newest - timedelta(days=days - 1), time(), zone)
                found.append(Period(f"last {days} days on record", start.isoformat()))
        for row in given.series.get("changes", ()):
            at, settled = text(row, "at"), text(row, "settled")
            found.append(Period(f"before {visible(text(row, 'id'))}", None, at))
            found.append(Period(f"after {visible(text(row, 'id'))}, settled", settled))
        return found

    def chosen(self, opens: Opens) -> None:
        asked = self._asked
        if not isinstance(opens, Pressed):
            return
        if opens.what == "everyone":
            asked = replace(asked, animals=())
        elif opens.what == "animal":
            asked = replace(asked, animals=_toggled(asked.animals, opens.value))
        elif opens.what == "treatment":
            asked = replace(asked, treatments=_toggled(asked.treatments, opens.value))
        elif opens.what == "phase":
            asked = replace(asked, phases=_toggled(asked.phases, opens.value))
        elif opens.what == "slot":
            asked = replace(asked, slot=opens.value or None)
        elif opens.what == "period":
            one = next(p for p in self.periods() if p.words == opens.value)
            asked = replace(asked, since=one.since, until=one.until, period=one.words)
        else:
            self._type()
        self._asked = asked
        self.show()

    def _type(self) -> None:
        from ..recorder.boxes import AskText

        def check(typed: str) -> Period | None:
            return (
                read_period(typed, self.review.clock(), self.review.declared.timezone)
                if typed.strip()
                else None
            )

        def take(period: Period | None) -> None:
            if period is not None:
                self._asked = replace(
                    self._asked, since=period.since, until=period.until, period=period.words
                )
            self.show()

        hint = "Two times with a comma; either may be left out: 2026-03-01, 2026-04-01. A day begins at midnight."
        self.app.push_screen(AskText("From, to", hint, check, take))

    def action_clear(self) -> None:
        self._asked = ReviewFilters()
        self.show()

    def action_filter(self) -> None:
        self.action_back()

    def action_back(self) -> None:
        changed = self._asked.to_dict() != self.review.asked.to_dict()
        self.app.pop_screen()
        if changed:
            self.review.ask(self._asked)


_SIDES = (
    "Readings of the climate know nothing of animals, treatments or phases: only the time of day and the period "
    "count for them."
)


def _several(
    title: str, what: str, known: Mapping[str, Treatment | Phase], chosen: Sequence[str], width: int
) -> list[TextBlock]:
    """What a study declares of one kind, each to be chosen or not; nothing where it declares none."""
    if not known:
        return []
    rows = [
        _choice(visible(one.label), name in chosen, Pressed(what, name), many=True)
        for name, one in known.items()
    ]
    return [*heading(title, width), *rows]


def _choice(words: str, chosen: bool, opens: Opens, many: bool = False) -> TextBlock:
    mark = ("[x]" if chosen else "[ ]") if many else ("(x)" if chosen else "( )")
    return plain_lines(f"{mark} {words}", opens=opens)


def _toggled(animals: tuple[str, ...], one: str) -> tuple[str, ...]:
    return tuple(a for a in animals if a != one) if one in animals else (*animals, one)


def read_period(typed: str, now: datetime, zone: object) -> Period:
    """``2026-03-01, 2026-04-01`` as a period. Raises ValueError with what was wrong."""
    parts = [p.strip() for p in typed.split(",")]
    if len(parts) > 2:
        raise ValueError("two times at most, with one comma between them")
    since, until = [*parts, ""][:2]
    times = [to_utc(parse_when(t, now, zone), zone) if t else None for t in (since, until)]  # type: ignore[arg-type]
    if times[0] is not None and times[1] is not None and times[0] >= times[1]:
        raise ValueError("the first time must come before the second")
    words = " ".join(w for w in (f"from {since}" if since else "", f"to {until}" if until else "") if w)
    start, end = (t.isoformat() if t is not None else None for t in times)
    return Period(visible(words) or ALL_TIME, start, end)
