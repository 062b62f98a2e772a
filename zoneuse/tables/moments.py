"""The `moments` table: one row per animal (or group and zone) and moment, and when that was."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from ..journal import Journals, Session
from ..study import Declaration, Group, home, slot_at, study_day, under_of
from ..study.model import Animal
from .at_once import RECORDED_AGAIN, SECOND_OBSERVER, recorded_twice
from .looked_into import looked_into, with_the_missing
from .phases import Adjustment, adjustments, phase_at
from .watched import Moment, budgets_of, moments_of, treatments_of

# Column: what it holds. The order is the table's.
COLUMNS: dict[str, str] = {
    "at": "when, UTC",
    "session": "the session's id",
    "observer": "who watched",
    "method": "scan, focal, ad-libitum or retreat-round",
    "scan": "number of the scan within the session",
    "treatment": "what the session was under, or the enclosure or animal in it",
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
    "weight": "how many animals the row stands for; of a time budget the share of the time",
    "out": "why the row stays out of shares; empty where it enters",
    "looked_into": "the zones that could have held it, as far as anybody looked; missing where that is all",
    "record": "the row of the records table it comes from; missing where a round found it nowhere",
}
_WEIGHT = list(COLUMNS).index("weight")
_MIN_HANDLED, _MAX_HANDLED = timedelta(minutes=60), timedelta(hours=24)

AD_LIBITUM = "ad libitum"
HANDLED = "handled"
NOT_DECLARED = "not declared"
NOT_HERE = "did not live here then"
NO_AMOUNT = "no amount given yet"
NOBODY = "a count of nobody"
OUTSIDE = "outside every outline"
BUDGET = "a time budget"
__all__ = [
    "AD_LIBITUM",
    "BUDGET",
    "COLUMNS",
    "HANDLED",
    "NOBODY",
    "NOT_DECLARED",
    "NOT_HERE",
    "NO_AMOUNT",
    "OUTSIDE",
    "RECORDED_AGAIN",
    "SECOND_OBSERVER",
    "MomentsMade",
    "watching",
]  # fmt: skip


@dataclass(frozen=True)
class MomentsMade:
    """``moments`` has the columns of ``COLUMNS``; ``dropped`` says why a record gave no moment at all, by its row."""

    moments: pd.DataFrame
    dropped: dict[int, str]


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


def watching(declared: Declaration, journals: Journals, row_of: dict[tuple[str, int], int]) -> MomentsMade:
    """Every moment watched, in the order of time.

    ``row_of`` numbers the records by session and index of the entry. Rows with something in ``out`` are shown and
    never enter shares of moments: ad libitum sightings (not a sample; Altmann 1974), time budgets (no moments; see
    ``answers/records/budgets``), an animal the keeper had put where it is, what a second observer saw at the same
    time, and what one observer recorded again (from a film, say) of a time already on record.
    """
    slots = _Slots(declared, adjustments(journals), {})
    sessions = [s for s in journals.sessions.values() if s.watched]
    watched = {s.id: with_the_missing(declared, s, moments_of(s)) for s in sessions}
    sampled = [s for s in sessions if s.method != "ad-libitum"]
    doubled = recorded_twice(sampled, watched, declared.watching.every_s)
    handled = _kept_out(sampled, watched, _handled(journals))
    rows: list[tuple[object, ...]] = []
    dropped: dict[int, str] = {}
    for session in sessions:
        made = _Made(declared, session, slots, row_of)
        for number, moment in enumerate(watched[session.id]):
            key = session.id, number
            out = AD_LIBITUM if session.method == "ad-libitum" else handled.get(key) or doubled.get(key, "")
            out = out or _unmeasured(declared, moment)
            found = made.row(moment, out)
            if isinstance(found, tuple):
                rows.append(found)
            elif moment.source >= 0:
                dropped[row_of[session.id, moment.source]] = found
        rows += made.budgets(dropped)
    frame = _typed(pd.DataFrame(rows, columns=list(COLUMNS)))
    counted = set(frame["record"].dropna())
    return MomentsMade(
        frame.sort_values(["at", "session", "scan"], kind="stable", ignore_index=True),
        {row: why for row, why in dropped.items() if row not in counted},
    )


class _Made:
    """The rows of one session's moments."""

    def __init__(
        self, declared: Declaration, session: Session, slots: _Slots, row_of: dict[tuple[str, int], int]
    ) -> None:
        self.declared, self.session, self.slots, self.row_of = declared, session, slots, row_of
        self.day = study_day(declared, session.opened)
        self.looked = looked_into(declared, session)
        self.treatments = treatments_of(session)

    def _named(self, moment: Moment) -> Animal | Group | None:
        animals, groups = self.declared.animals, self.declared.groups
        return animals.get(moment.animal or "") or groups.get(moment.group or "")

    def _home(self, one: Animal | Group | None, at: datetime) -> str | None:
        """Where a moment without a zone belongs: where its animal or group lives, or the one enclosure there is."""
        return home(one, at) if one else self._only_enclosure()

    def _treatment(self, moment: Moment, enclosure: str) -> str | None:
        """The treatment of the moment's part of the session, or of its enclosure or animal in it."""
        return under_of(self.treatments.get(moment.part), self.declared, enclosure, moment.name)

    def _lasting(self, moment: Moment) -> str | None:
        """What the animal was doing, where that is declared and lasts."""
        behaviour = self.declared.behaviours.get(moment.behaviour or "")
        return behaviour.id if behaviour and behaviour.lasts else None

    def row(self, moment: Moment, out: str) -> tuple[object, ...] | str:
        """The row, or why the record gives none."""
        declared, session = self.declared, self.session
        if moment.count == 0:
            return NOBODY  # said, and no moment of anybody
        zone = declared.zones.get(moment.zone or "")
        if moment.zone is not None and zone is None:
            return f"{NOT_DECLARED}: zone {moment.zone}"
        one = self._named(moment)
        if one is None and moment.name:
            return f"{NOT_DECLARED}: {'animal' if moment.animal else 'group'} {moment.name}"
        enclosure = zone.enclosure if zone else self._home(one, moment.at)
        if enclosure is None:
            return NOT_HERE
        hour, slot, phase = self.slots.of(enclosure, moment.at)
        treatment = self._treatment(moment, enclosure)
        return (
            moment.at, session.id, session.observer, session.method, moment.scan, treatment, enclosure,
            moment.animal, moment.group, moment.count, moment.zone, zone.place if zone else None,
            self._lasting(moment), moment.hidden, moment.sure, moment.late,
            self.day, hour, slot, phase, float(moment.count or 1), out, self.looked(moment),
            self.row_of.get((session.id, moment.source)),
        )  # fmt: skip

    def budgets(self, dropped: dict[int, str]) -> Iterator[tuple[object, ...]]:
        """The rows of its time budgets; why one gives none goes to ``dropped``."""
        for moment, share in budgets_of(self.session):
            found = self.row(moment, _unmeasured(self.declared, moment) or BUDGET)
            if isinstance(found, tuple):
                yield (*found[:_WEIGHT], share, *found[_WEIGHT + 1 :])
            else:
                dropped[self.row_of[self.session.id, moment.source]] = found

    def _only_enclosure(self) -> str | None:
        """Where somebody not known by name and not found must be, if there is only one enclosure."""
        return None if self.declared.several else next(iter(self.declared.enclosures))


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    frame["at"] = pd.to_datetime(frame["at"], utc=True).astype("datetime64[ms, UTC]")
    for column in ("scan", "count", "record"):
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


def _unmeasured(declared: Declaration, moment: Moment) -> str:
    """Outside every outline; or in a zone whose amount is not given yet: nothing is known of its use for its size."""
    if moment.nowhere:
        return OUTSIDE
    zone = declared.zones.get(moment.zone or "")
    return "" if zone is None or zone.amount else f"{NO_AMOUNT}: zone {zone.id}"


def _kept_out(
    sampled: Sequence[Session],
    watched: Mapping[str, Sequence[Moment]],
    handled: Mapping[str, Sequence[datetime]],
) -> dict[tuple[str, int], str]:
    """Moments of an animal that is where the keeper put it, whichever session saw it; in the order of time."""
    if not handled:
        return {}
    moved: dict[str, _Handled] = {}
    every = [(m.at, s.id, i, m) for s in sampled for i, m in enumerate(watched[s.id]) if m.name in handled]
    return {
        (session, i): HANDLED
        for _, session, i, moment in sorted(every, key=lambda one: one[:3])
        if _still_handled(moment, handled[moment.name], moved)
    }


def _still_handled(moment: Moment, times: Sequence[datetime], moved: dict[str, _Handled]) -> bool:
    """Until the animal has changed zone by itself: at least 60 min, at most 24 h after it was handled."""
    last = max((at for at in times if at <= moment.at), default=None)
    if last is None or moment.at - last >= _MAX_HANDLED:
        return False
    name = moment.name
    state = moved.get(name)
    if state is None or state.at != last:
        state = moved[name] = _Handled(last, moment.zone)
    if state.zone is None:
        state.zone = moment.zone
    if moment.zone is not None and moment.zone != state.zone:
        state.over = True
    return not state.over or moment.at - last < _MIN_HANDLED
