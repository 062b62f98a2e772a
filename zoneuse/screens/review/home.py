"""The first screen: the enclosure with its shares, and under it a line for each answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from textual import events
from textual.widget import Widget

from ...study import typed_so_far, visible
from ..recorder.panels import Chip
from .background.asked import SESSIONS
from .background.crossing import Given
from .base import FILTERS, KEYS, LAST, ReviewScreen
from .drawing.bars import fit
from .drawing.blocks import OpenAnswer, OpenSessions, TextBlock, plain_lines
from .drawing.rooms import SharedRooms

_NAMES = 11
_LEAST_LIST, _AROUND = 4, 4
# Verdicts in a keeper's words; in few letters, where there is little room; of several.
_SAID = {
    "rising": "higher chosen", "falling": "lower chosen", "threshold": "past a value", "peaked": "near one value",
    "flat": "no difference", "differs": "by time of day",
}  # fmt: skip
_FEW = {"in proportion": "even", "too early": "early"}
_MANY = {"keeps to it": "keep to it", "stays on": "stay on"}
# What claims least comes last, and is the first to go.
_LAST = ("in proportion", "usual", "steady", "held", "too early")


class HomeScreen(ReviewScreen):
    """Digits open an answer, a zone's own key the sessions behind it."""

    _half = ""

    def above(self) -> Iterable[Widget]:
        self.rooms = SharedRooms(self.review.declared, self._room_pressed)
        yield self.rooms

    def title_words(self) -> str:
        declared, sessions = self.review.declared, self.review.given.get(SESSIONS)
        known = ""
        if sessions is not None:
            count = sum(bool(s.get("counted")) for s in sessions.series.get("sessions", ()))
            known = f" · {count:,} session{'' if count == 1 else 's'}"
            if sessions.cautions:
                known += f" · {len(sessions.cautions)} faults in the journals: zoneuse check"
        return f"{visible(declared.title)}{known}"

    def draw_above(self) -> None:
        zones = self.review.given.get("zones")
        self.rooms.show(zones, self.review.problems.get("zones", ()))
        # The enclosure comes first: the list gives way, and scrolls.
        self.leaf.styles.max_height = max(_LEAST_LIST, self.size.height - _AROUND - self.rooms.least_height())

    def blocks(self, width: int) -> Sequence[TextBlock]:
        app, room = self.review, max(0, width - _NAMES - 2)
        return [
            plain_lines(
                f"{number} {fit(q.short, _NAMES)}{fit(self._state(q.name, room), room).rstrip()}",
                opens=OpenAnswer(q.name),
            )
            for number, q in enumerate(app.questions, 1)
        ]

    def _state(self, name: str, width: int) -> str:
        app = self.review
        if name in app.problems:
            return "cannot be answered" if self.narrow else "cannot be answered: see there"
        if name in app.given:
            return _tally(app.given[name], self.narrow, width)
        return "being worked out …" if app.doing == name else "…"

    def keys(self) -> Sequence[Chip]:
        wide = () if self.narrow else (LAST, Chip("F5", "look again", action="again"))
        return (Chip("⏎", "open", action="open"), FILTERS, KEYS, *wide, Chip("esc", "leave", action="back"))

    def action_back(self) -> None:
        self.app.exit("")

    def on_key(self, event: events.Key) -> None:
        """A zone's own key: letters are the keeper's. Of two characters the first is held for the second."""
        typed, self._half = self._half + (event.character or ""), ""
        zones = self.review.declared.zones.values()
        place = next((z.place for z in zones if z.key and z.key == typed), None)
        if place is not None:
            self._open_zone(place)
        elif typed and typed_so_far(typed, [z.key for z in zones]):
            self._half = typed
        else:
            return
        event.stop()
        event.prevent_default()

    def _room_pressed(self, place: str) -> None:
        self._open_zone(place)

    def _open_zone(self, place: str) -> None:
        zone = next(z for z in self.review.declared.zones.values() if z.place == place)
        self.review.open(OpenSessions(visible(zone.label), (place,)))


def _tally(given: Given, narrow: bool, width: int) -> str:
    """``1 avoided, 1 favoured, 5 too early``, as many as fit; where nothing is judged, what the first row says."""
    counts = given.verdicts()
    if counts:
        words = {**_SAID, **(_FEW if narrow else {})}
        ordered = sorted(counts, key=lambda v: _LAST.index(v) if v in _LAST else -1)
        told = [f"{counts[v]} {words.get(v, _MANY.get(v, v) if counts[v] > 1 else v)}" for v in ordered]
        said = ", ".join(told)
        while cell_len(said) > width and len(told) > 1:
            told.pop()
            said = f"{', '.join(told)} …"
        return said
    return (
        f"next: {visible(given.rows[0].cells[0])}"
        if given.rows and given.name == "plan"
        else "nothing to say yet"
    )
