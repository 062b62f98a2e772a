"""A zone that turns up while a session runs: into study.toml, and into the session, from now on."""

from __future__ import annotations

from dataclasses import dataclass

from ...study import Declaration, ProblemError, begins, composed, free_key
from ...study.keys import may_be_zone
from ..session.instant import Instant
from .recorder import Recorder


@dataclass(frozen=True, slots=True)
class Added:
    """A zone to be: its label, and a key that is free."""

    label: str
    key: str


def free_zone_key(core: Recorder, label: str) -> str:
    """A key to propose: a letter of the label that nothing in this enclosure has."""
    return free_key(_taken(core), label)


def _taken(core: Recorder) -> set[str]:
    declared = core.plan.declared
    behaviours = {b.key for b in declared.behaviours.values()}
    return {z.key for z in declared.zones.values()} | behaviours | {w.key for w in core.plan.who}


def read_key(core: Recorder, label: str, text: str) -> Added:
    """The key that was typed. Raises ValueError, in words, where it cannot be the new zone's."""
    key = composed(text.strip())
    if not may_be_zone(key):
        raise ValueError("a key is a letter, or a letter and one more letter or digit")
    bearer = next((z for z in core.plan.zones(core.here) if z.key == key), None)
    if bearer is not None:
        raise ValueError(f"{key} is the key of {bearer.label}; {free_zone_key(core, label)} is free")
    if any(who.key == key for who in core.plan.who):
        raise ValueError(f"{key} is an animal's key; {free_zone_key(core, label)} is free")
    if other := next((one for one in sorted(_taken(core)) if begins(key, one)), None):
        raise ValueError(f"{key} and the key {other} begin alike; {free_zone_key(core, label)} is free")
    return Added(label, key)


def put_into_session(core: Recorder, added: Added, instant: Instant) -> bool:
    """Write the zone to study.toml and go on in a part that lists it; whether it is there. Says what came of it."""
    # Loaded on use: few sessions change a study, and the recorder must open at once.
    from ...study import NewZone, add_zone

    declared: Declaration = core.plan.declared
    if core.ledger.waiting:
        core.tell("Not everything is saved yet; add the zone once it is.")
        return False
    new = NewZone(added.label, added.key, instant.at, core.here)
    try:
        after, zone = add_zone(declared.folder, declared, new)
        core.zone_added(after, zone, instant)
    except ProblemError as error:
        core.tell(f"study.toml was not changed: {error}")
    except OSError as error:
        core.tell(f"It could not be written: {error.strerror}.")
    else:
        return True
    return False
