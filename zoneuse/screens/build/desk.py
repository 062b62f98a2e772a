"""What is under the fingers while a study is declared: a page, a thing, a field, a line of text. Knows no screen.

Every change goes through the draft, so that what is sound is on the disk at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from ...study import ONLY, Draft, Edit, EditError, FormLine, Problem, Thing, Typing
from ...study.draft import forms, painting, things
from ...study.draft.dated import When
from ..text_line import TextLine

Focus = Literal["list", "form", "sketch"]
PAGES = tuple(things.PAGES)


@dataclass(frozen=True, slots=True)
class DeskItem:
    """A line of the list: something declared, or what can be added (``plain``: from the list of behaviours)."""

    says: str
    key: str = ""
    thing: Thing | None = None
    adds: str = ""
    plain: str = ""
    gone: bool = False


@dataclass(slots=True)
class AskedBelow:
    """Something asked below, and what its answer does. ``then`` raises ValueError, in words, where it cannot."""

    asks: str
    then: Callable[[str], None]
    line: TextLine
    wrong: str = ""


@dataclass
class Desk:
    """The state of the screen."""

    draft: Draft
    clock: Callable[[], datetime]
    sessions: Callable[[], int]
    page: str = PAGES[0]
    focus: Focus = "list"
    at: int = 0
    thing: Thing | None = None
    field_at: int = 0
    line: TextLine = field(default_factory=TextLine)
    # Whether the line differs from what stands there: only then is it taken over.
    typed: bool = False
    asking: AskedBelow | None = None
    cursor: tuple[int, int] = (0, 0)
    corner: tuple[int, int] | None = None
    pen: Literal["", "paint", "rub"] = ""
    half: str = ""
    told: str = ""
    left: bool = False
    help: bool = False

    def __post_init__(self) -> None:
        self.began_with = self.sessions()
        self.stood = {(k, n) for k in things.ADDED for n in forms.section(self.values, (k,))}
        self.told = self.draft.told

    # --- what there is --------------------------------------------------------------------------------------

    @property
    def values(self) -> dict[str, Any]:
        return self.draft.now.values

    @property
    def zone(self) -> ZoneInfo:
        return self.draft.now.declared_zone

    def rows(self, page: str = "") -> list[DeskItem]:
        """The lines of a page's list."""
        page = page or self.page
        found = [
            DeskItem(one.label, one.key, one.thing, gone=one.gone) for one in things.listed(self.values, page)
        ]
        for kind in things.PAGES[page]:
            if says := things.ADDED.get(kind) or things.BEGUN.get(kind):
                found.append(DeskItem(f"+ {says}", adds=kind))
        if page == "Behaviours":
            found += [DeskItem(f"+ {label}: {means}" if means else f"+ {label}", plain=name)
                      for name, label, means in things.plain_behaviours(self.values)]  # fmt: skip
        return found

    def fields(self) -> list[FormLine]:
        return forms.fields(self.values, self.thing) if self.thing else []

    def field_here(self) -> FormLine | None:
        """The field one is at."""
        all_of_them = self.fields()
        return all_of_them[min(self.field_at, len(all_of_them) - 1)] if all_of_them else None

    def value(self, one: FormLine) -> str:
        return forms.shown(self.values, self.thing, one) if self.thing else ""

    @property
    def enclosure(self) -> str:
        """The enclosure whose sketch is shown: that of the room one is at."""
        several = list(forms.section(self.values, ("enclosures",)))
        if not several:
            return ONLY
        home = things.home_of(self.values, self.thing.id) if self.thing and self.thing.kind == "zones" else ""
        return home if home in several else several[0]

    def is_in_sight(self, room: Thing) -> bool:
        """Whether a room is one of the enclosure whose sketch is shown."""
        return things.home_of(self.values, room.id) == self.enclosure

    @property
    def cells(self) -> painting.Cells:
        return painting.canvas(painting.sketched(self.values, self.enclosure))

    @property
    def pot(self) -> str:
        """The key that is painted with: that of the room one is at."""
        if self.thing and self.thing.kind == "zones":
            return str(forms.section(self.values, ("zones", self.thing.id)).get("key", ""))
        return ""

    @property
    def recorded(self) -> bool:
        return self.sessions() > 0

    def kept(self, thing: Thing) -> bool:
        """Whether records may speak of it, so that it cannot be taken out, only end."""
        return self.recorded and ((thing.kind, thing.id) in self.stood or self.sessions() != self.began_with)

    def problems(self) -> list[Problem]:
        """Faults and hints, those of what one is at first; as they would be with what is being typed."""
        read = self.draft.now
        if self.typed and self.thing and (one := self.field_here()):
            try:
                read = read.with_edits(self.edits_of(one, self.line.value, None))
            except EditError:
                read = self.draft.now
        mine = ".".join(map(str, forms.base(self.thing))) if self.thing else ""
        kinds = things.PAGES[self.page]

        def far(problem: Problem) -> int:
            here = bool(mine) and (problem.place == mine or problem.place.startswith(f"{mine}."))
            if here and (one := self.field_here()) and problem.place.endswith(f".{one.place[0]}"):
                return -1
            return 0 if here else 1 if problem.place.split(".")[0] in kinds else 2

        return sorted(read.problems, key=lambda p: (far(p), p.hint))

    def writes(self) -> bool:
        return self.focus == "form" or (self.focus == "list" and bool(self.row().adds))

    def row(self) -> DeskItem:
        rows = self.rows()
        self.at = max(0, min(self.at, len(rows) - 1))
        return rows[self.at]

    def named(self, thing: Thing) -> str:
        return str(forms.section(self.values, forms.base(thing)).get("label", thing.id))

    def key_of(self, thing: Thing) -> str:
        return str(forms.section(self.values, forms.base(thing)).get("key", ""))

    def edits_of(self, one: FormLine, text: str, since: When | None) -> list[Edit]:
        assert self.thing is not None
        new = forms.read_typed(self.values, one, text, Typing(self.clock(), self.zone))
        edits = forms.typed(self.values, self.thing, one, new, since)
        if self.thing.kind == "zones" and one.place == ("key",) and isinstance(new, str):
            edits += things.rekeyed(self.values, self.thing.id, new)
        return edits
