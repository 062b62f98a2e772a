"""The `moments` table: one row per animal (or group and zone) and moment, and when that was."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pandas as pd

from ..journal.reader import Journals, Session
from ..study.clock import slot_at, study_day
from ..study.model import Declaration
from ..study.names import home
from .phases import Adjustment, adjustments, phase_at
from .watched import Moment, moments_of

# Column: what it holds. The order is the table's.
COLUMNS: dict[str, str] = {
    "at": "when, UTC",
    "session": "the session's id",
    "observer": "who watched",
    "method": "scan, focal, ad-libitum or retreat-round",
    "scan": "number of the scan within the session",
    "enclosure": "where the animal lived then",
    "animal": "the animal's id",
    "group": "the group's id, for animals not told apart",
    "count": "how many of the group",
    "zone": "the zone it was in; missing where it was not found",
    "place": "the zone's place, equal in enclosures of one layout",
    "behaviour": "what it did",
    "hidden": "known to be there, not visible",
    "sure": "false for a guess",
    "late": "answered after the next scan had begun",
    "day": "the study day on which the session opened",
    "hour": "hour of the local clock, 0 to 24",
    "slot": "dawn, day, dusk or night by the lights, or any time",
    "phase": "start, or the last adjustment, with ' settling' until it had settled",
    "weight": "how many animals the row stands for",
    "out": "why the row stays out of shares; empty where it enters",
}
_MIN_HANDLED, _MAX_HANDLED = timedelta(minutes=60), timedelta(hours=24)

AD_LIBITUM = "ad libitum"
HANDLED = "handled"
SECOND_OBSERVER = "second observer"
RECORDED_AGAIN = "recorded again"


@dataclass(frozen=True, slots=True)
class _Slots:
    """Slot, phase and hour of a moment, worked out once for all animals of a scan."""

    declared: Declaration
    changes: list[Adjustment]
    known: dict[tuple[str, datetime], tuple[float, str, str]]

    def of(self, enclosure: str, at: datetime) -> tuple[float, str, str]:
        found = self.known.get((enclosure, at))
        if found is None:
            local = at.astimezone(self.declared.timezone)
            hour = local.hour + local.minute / 60 + local.second / 3600
            found = hour, slot_at(self.declared, enclosure, at), phase_at(self.changes, at)
            self.known[enclosure, at] = found
        return found


def moments(declared: Declaration, journals: Journals) -> pd.DataFrame:
    """Every moment watched, in the order of time, with the columns of ``COLUMNS``.

    Rows with something in ``out`` are shown and never enter shares: ad libitum sightings (not a sample;
    Altmann 1974), an animal the keeper had put where it is, what a second observer saw at the same time, and
    what one observer recorded again (from a film, say) of a time already on record.
    """
    slots = _Slots(declared, adjustments(journals), {})
    handled = _handled(journals)
    doubled = _second_observers(journals)
    moved: dict[str, _Handled] = {}
    rows = []
    for session in journals.sessions.values():
        day = study_day(declared, session.opened)
        for moment in moments_of(session):
            out = _out(session, moment, handled, moved, doubled)
            row = _row(declared, session, moment, day, slots, out)
            if row is not None:
                rows.append(row)
    frame = pd.DataFrame(rows, columns=list(COLUMNS))
    return _typed(frame).sort_values(["at", "session", "scan"], kind="stable", ignore_index=True)


def _row(
    declared: Declaration, session: Session, moment: Moment, day: date, slots: _Slots, out: str
) -> tuple[object, ...] | None:
    if moment.count == 0:
        return None  # nobody of the group there: said, and no moment of anybody
    zone = declared.zones.get(moment.zone or "")
    if moment.zone is not None and zone is None:
        return None  # an id the study no longer has: `check` names it
    one = declared.animals.get(moment.animal or "") or declared.groups.get(moment.group or "")
    if one is None and (moment.animal or moment.group):
        return None
    enclosure = zone.enclosure if zone else (home(one, moment.at) if one else None)
    if enclosure is None:
        return None
    hour, slot, phase = slots.of(enclosure, moment.at)
    return (
        moment.at, session.id, session.observer, session.method, moment.scan, enclosure, moment.animal,
        moment.group, moment.count, moment.zone, zone.place if zone else None, moment.behaviour,
        moment.hidden, moment.sure, moment.late, day, hour, slot, phase, float(moment.count or 1), out,
    )  # fmt: skip


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    frame["at"] = pd.to_datetime(frame["at"], utc=True).astype("datetime64[ms, UTC]")
    for column in ("scan", "count"):
        frame[column] = frame[column].astype("Int64")
    for column in ("hidden", "sure", "late"):
        frame[column] = frame[column].astype(bool)
    return frame.astype({"hour": float, "weight": float})


@dataclass(slots=True)
class _Handled:
    """The latest handling of an animal that still holds, and the zone it was put into."""

    at: datetime
    zone: str | None = None
    over: bool = False


def _handled(journals: Journals) -> dict[str, list[datetime]]:
    found: dict[str, list[datetime]] = defaultdict(list)
    for entry in journals.entries("context"):
        if entry.record.get("what") == HANDLED and entry.record.get("animal"):
            found[entry.record.get("animal")].append(entry.record.at)
    return {animal: sorted(times) for animal, times in found.items()}


def _out(
    session: Session,
    moment: Moment,
    handled: dict[str, list[datetime]],
    moved: dict[str, _Handled],
    doubled: dict[tuple[str, str], list[tuple[datetime, datetime, str]]],
) -> str:
    if session.method == "ad-libitum":
        return AD_LIBITUM
    name = moment.animal or moment.group or ""
    if _still_handled(moment, handled.get(name, []), moved):
        return HANDLED
    for start, end, why in doubled.get((session.id, name), ()):
        if start <= moment.at <= end:
            return why
    return ""


def _still_handled(moment: Moment, times: list[datetime], moved: dict[str, _Handled]) -> bool:
    """Until the animal has changed zone by itself: at least 60 min, at most 24 h after it was handled."""
    last = max((at for at in times if at <= moment.at), default=None)
    if last is None or moment.at - last >= _MAX_HANDLED:
        return False
    name = moment.animal or moment.group or ""
    state = moved.get(name)
    if state is None or state.at != last:
        state = moved[name] = _Handled(last, moment.zone)
    if state.zone is None:
        state.zone = moment.zone
    if moment.zone is not None and moment.zone != state.zone:
        state.over = True
    return not state.over or moment.at - last < _MIN_HANDLED


def _second_observers(journals: Journals) -> dict[tuple[str, str], list[tuple[datetime, datetime, str]]]:
    """For (session, animal): when another session that counts first was on the same animal, and why it does.

    Of two observers the earlier opened counts, of one observer's two records of one time the earlier entered.
    """
    watched = [s for s in journals.sessions.values() if s.watched and s.method != "ad-libitum" and s.entries]
    spans = {s.id: (s.entries[0].record.at, max(e.record.at for e in s.entries)) for s in watched}
    found: dict[tuple[str, str], list[tuple[datetime, datetime, str]]] = defaultdict(list)
    for first, second in _overlapping(watched, spans):
        names = _names(first) & _names(second)
        start, end = (
            max(spans[first.id][0], spans[second.id][0]),
            min(spans[first.id][1], spans[second.id][1]),
        )
        again = first.observer == second.observer
        stays_out = first if again and entered(first) > entered(second) else second
        for name in names:
            found[stays_out.id, name].append((start, end, RECORDED_AGAIN if again else SECOND_OBSERVER))
    return found


def entered(session: Session) -> datetime:
    """When a session was written down: as it was watched, or later (a table, a film)."""
    return min(e.record.entered or e.record.at for e in session.entries)


def _overlapping(
    watched: list[Session], spans: dict[str, tuple[datetime, datetime]]
) -> Iterator[tuple[Session, Session]]:
    """Pairs of sessions that overlap, the earlier opened first; sessions come by opening."""
    open_ones: list[Session] = []
    for session in watched:
        start = spans[session.id][0]
        open_ones = [s for s in open_ones if spans[s.id][1] >= start]
        for earlier in open_ones:
            yield earlier, session
        open_ones.append(session)


def _names(session: Session) -> set[str]:
    return {
        name
        for e in session.entries
        if e.record.kind in ("seen", "unseen")
        for name in (e.record.get("animal"), e.record.get("group"))
        if name
    }
