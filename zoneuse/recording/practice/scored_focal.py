"""How a practice of following one animal went: its state at each tick, and how soon each change was recorded."""

from __future__ import annotations

from dataclasses import dataclass

from ...journal import read_journals
from ...tables import moments_of
from ..modes.focal import Focal
from .script import Practice, Stay


@dataclass(frozen=True, slots=True)
class Tick:
    """What was recorded of the animal at a moment (``zone`` None: out of sight), and what was true."""

    zone: str | None
    behaviour: str | None
    true: Stay


def ticks(core: Focal, practice: Practice) -> list[Tick]:
    """The moments of the session as every answer would count them, one every ``every_s`` from the first record."""
    session = read_journals(core.sheet.ledger.folder).sessions[core.sheet.ledger.journal.session]
    opened = session.entries[0].record.at
    return [
        Tick(
            m.zone,
            m.behaviour,
            practice.script.at(str(m.animal), (m.at - opened).total_seconds()),
        )
        for m in moments_of(session)
    ]


def changes(core: Focal, practice: Practice) -> tuple[list[float], int]:
    """Seconds from each change to its record, for those recorded before the next change; and how many were not.

    Counted for each animal followed from its first record to the last moment of the session.
    """
    delays: list[float] = []
    not_recorded = 0
    for who in core.animals:
        mine, missing = _changes_of(core, practice, who.id)
        delays += mine
        not_recorded += missing
    return delays, not_recorded


def _changes_of(core: Focal, practice: Practice, animal: str) -> tuple[list[float], int]:
    ledger = core.sheet.ledger
    in_force = sorted(
        (
            x
            for x in ledger.lines
            if not x.void and x.kind in ("seen", "unseen") and x.fields.get("animal") == animal
        ),
        key=lambda x: x.instant.mono,
    )
    if not in_force:
        return [], 0
    started, last = ledger.started, ledger.lines[-1].instant.mono
    states = [(x.instant.mono - started, x.fields.get("zone"), x.fields.get("behaviour")) for x in in_force]
    delays: list[float] = []
    not_recorded = 0
    for start, until, zone, behaviour in _true_changes(
        practice.script.stays[animal], states[0][0], last - started
    ):
        hits = [t for t, *state in states if start <= t < until and state == [zone, behaviour]]
        if hits:
            delays.append(hits[0] - start)
        else:
            not_recorded += 1
    return delays, not_recorded


def _true_changes(stays: tuple[Stay, ...], since: float, until: float) -> list[tuple[float, float, str, str]]:
    """When the animal came to be somewhere else or to do something else, and until when that held."""
    found: list[tuple[float, float, str, str]] = []
    for stay in stays:
        if found and found[-1][2:] == (stay.zone, stay.behaviour):
            found[-1] = (found[-1][0], stay.until, stay.zone, stay.behaviour)
        else:
            found.append((stay.start, stay.until, stay.zone, stay.behaviour))
    return [(s, min(e, until), z, b) for s, e, z, b in found if since < s < until]
