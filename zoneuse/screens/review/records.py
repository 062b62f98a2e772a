"""One session's records as they stand on the disk: what counts, what was taken back, by whom, and for what."""

from __future__ import annotations

from collections.abc import Sequence

from ...journal import Entry, Journals, Place, Session, place_named, read_journals
from ...recording import line_words
from ...recording.mending import PROGRAM
from ...recording.words import clock_words, zone_label
from ...study import Declaration, visible
from ..recorder.panels import Chip
from .base import BACK, FILTERS, KEYS, ReviewScreen
from .drawing.blocks import BLANK, OpenMend, TextBlock, wrapped


class JournalScreen(ReviewScreen):
    """A screen that draws from the journals themselves, which are read beside it when it is shown."""

    _reads = False

    def show(self) -> None:
        """Draw everything anew, reading the journals first where they are not known (any more)."""
        if self.composed and self.review.journals is None and not self._reads:
            self._reads = True
            self.run_worker(self._read, thread=True)
        super().show()

    def _read(self) -> None:
        journals = read_journals(self.review.declared.folder)
        self.app.call_from_thread(self._have_read, journals)

    def _have_read(self, journals: Journals) -> None:
        self.review.journals, self._reads = journals, False
        self.show()

    def reading(self, width: int) -> TextBlock:
        """What stands there meanwhile."""
        return wrapped("Reading the journals …", width, style="$muted")


class RecordsScreen(JournalScreen):
    """Records about what was asked carry a star; those taken back stay where they are, and say so."""

    def __init__(self, session: str, about: tuple[str, ...]) -> None:
        super().__init__()
        self._session, self._about = session, frozenset(about)

    def keys(self) -> Sequence[Chip]:
        return (Chip("⏎", "mend", action="open"), BACK, FILTERS, KEYS)

    def title_words(self) -> str:
        return f"Records · {visible(self._session)}"

    def blocks(self, width: int) -> Sequence[TextBlock]:
        journals = self.review.journals
        if journals is None:
            return [self.reading(width)]
        session = journals.sessions.get(self._session)
        if session is None:
            return [wrapped("This session is not on the disk any more. F5 looks again.", width)]
        return listed(self.review.declared, journals, session, self._about, width)


def listed(
    declared: Declaration, journals: Journals, session: Session, about: frozenset[str], width: int
) -> list[TextBlock]:
    """The session in a sentence, then every record by the order in which it was written."""
    void = {e.place for e in session.void}
    entries = sorted([*session.entries, *session.void], key=lambda e: (e.stood, e.written is not None))
    blocks = [wrapped(_sentence(declared, session), width)]
    if void:
        blocks.append(
            wrapped(f"{len(void)} of its records were taken back; they are marked, and kept.", width)
        )
    blocks.append(BLANK)
    for entry in entries:
        star = "* " if entry.place not in void and _is_about(declared, entry, about) else "  "
        what = record_words(declared, journals, entry)
        words = f"{clock_words(entry.record.at, declared)} {_scan(entry)}{what}"
        if entry.place in void:
            words += f" [{_why_void(declared, journals, entry)}]"
        style = "$muted" if entry.place in void else "bold $who" if star == "* " else ""
        made = entry.record.kind not in PROGRAM
        opens = OpenMend(entry.stood) if made else None
        blocks.append(wrapped(words, width, star, " " * 15, style=style, opens=opens))
    if about:
        blocks += [BLANK, wrapped("* is about what was asked.", width, style="$muted")]
    return blocks


def _sentence(declared: Declaration, session: Session) -> str:
    local = session.opened.astimezone(declared.timezone)
    every = f" every {session.every_s:g} s" if session.every_s else ""
    parts = f", in {session.parts} parts" if session.parts > 1 else ""
    source = f", from {session.source['name']}" if session.source.get("name") else ""
    end = f"; {session.closed}" if session.closed else "; not closed"
    when = f"{local:%a} {local.day} {local:%b %Y %H:%M}"
    return f"{when}, {session.observer}, {session.method}{every}{parts}{source}{end}."


def _scan(entry: Entry) -> str:
    scan = entry.record.get("scan")
    return f"{scan:>3} " if isinstance(scan, int) else "    "


def record_words(declared: Declaration, journals: Journals, entry: Entry) -> str:
    """One record in plain words."""
    record = entry.record
    if record.kind == "opened":
        return visible(f"opened by {record.get('observer')}, {record.get('method')}")
    if record.kind == "closed":
        return visible(f"closed: {record.get('reason')}")
    if record.kind == "checked":
        done = (
            "left out"
            if record.get("skipped")
            else "looked into" + (", lifted" if record.get("lifted") else "")
        )
        return f"{zone_label(declared, record.get('zone'))}: {done}"
    if record.kind == "drawn":
        return visible(f"day drawn for {record.get('adjustment')}: {record.get('day')}")
    if record.kind == "took-back":
        target = _entry(journals, record.get("of"))
        what = line_words(declared, target.record) if target is not None else "a whole session"
        return f"took back: {what}"
    return line_words(declared, record)


def _why_void(declared: Declaration, journals: Journals, entry: Entry) -> str:
    """Who took it back and when, and what stands in its place."""
    backs = journals.backs.get(entry.place)
    if not backs:
        return "taken back with its whole session"
    back = backs[-1]
    local = (back.record.entered or back.record.at).astimezone(declared.timezone)
    by = journals.sessions[back.session].observer if back.session in journals.sessions else "?"
    when = f"{local:%H:%M}" if back.session == entry.session else f"{local.day} {local:%b %Y}"
    instead = journals.corrections.get(journals.replaced.get(entry.place, entry.place))
    now = f"; now {line_words(declared, instead.record)}" if instead is not None else ""
    return f"taken back {when} by {visible(by)}{now}"


def _place(of: object) -> Place | None:
    return place_named(of) if isinstance(of, dict) else None


def _entry(journals: Journals, of: object) -> Entry | None:
    place = _place(of)
    session = journals.sessions.get(place.session) if place is not None else None
    if place is None or session is None:
        return None
    everything = (*session.entries, *session.void)
    return next((e for e in everything if e.place._replace(file=place.file) == place), None)


def _is_about(declared: Declaration, entry: Entry, about: frozenset[str]) -> bool:
    """Whether a record holds every kind of thing that was asked for."""
    fields = entry.record.fields
    if entry.record.kind not in ("seen", "unseen", "happened", "missed"):
        return bool(about & {str(fields.get("adjustment"))})
    zone = declared.zones.get(str(fields.get("zone")))
    held = {str(fields.get(k)) for k in ("animal", "group", "behaviour")} | ({zone.place} if zone else set())
    places = {z.place for z in declared.zones.values()}
    kinds = (places, {*declared.animals, *declared.groups}, set(declared.behaviours))
    wanted = [about & kind for kind in kinds if about & kind]
    return bool(wanted) and all(held & kind for kind in wanted)
