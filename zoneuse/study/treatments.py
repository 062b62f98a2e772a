"""What a session was under: its treatment, from the words of a command or the fields of a record; phases by name."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import TypeVar

from .model import Declaration, Phase, Treatment
from .names import UnknownNameError

Under = str | dict[str, str]
"""One treatment for all, or one for each enclosure or animal named."""
Named = TypeVar("Named", Treatment, Phase)


def find_treatment(declared: Declaration, name: str) -> Treatment:
    """A treatment by id or label. Raises UnknownNameError with those there are."""
    return _find(declared.treatments, "treatment", name)


def find_phase(declared: Declaration, name: str) -> Phase:
    """A phase by id or label. Raises UnknownNameError with those there are."""
    return _find(declared.phases, "phase", name)


def _find(every: Mapping[str, Named], kind: str, name: str) -> Named:
    wanted = name.strip()
    for same in (
        lambda t: t.id == wanted,
        lambda t: wanted.casefold() in (t.id.casefold(), t.label.casefold()),
    ):
        found = [t for t in every.values() if same(t)]
        if len(found) == 1:
            return found[0]
    known = list(every)
    close = difflib.get_close_matches(wanted, known, 1)
    if close:
        raise UnknownNameError(f"{name!r} is no {kind} here; the nearest name is {close[0]!r}")
    told = f"known: {', '.join(known)}" if known else f"none is declared: add [{kind}s.NAME] to study.toml"
    raise UnknownNameError(f"{name!r} is no {kind} here; {told}")


def read_under(declared: Declaration, words: Sequence[str]) -> Under | None:
    """``spider``, or ``tub_1=spider`` once for each enclosure (or animal) that was under one; None for no word.

    Raises UnknownNameError for a name nobody bears, ValueError where the words do not go together.
    """
    plain = [w for w in words if "=" not in w]
    if not words:
        return None
    if plain and len(words) > 1:
        raise ValueError(
            "a session has one treatment, or one for each enclosure: give --treatment once, or as "
            "--treatment ENCLOSURE=TREATMENT for each"
        )
    if plain:
        return find_treatment(declared, plain[0]).id
    whose: dict[str, str] = {}
    places = declared.enclosures.keys()
    living = declared.animals.keys() | declared.groups.keys()
    for word in words:
        where, _, name = word.partition("=")
        if where not in places and where not in living:
            known = [*places] if len(places) > 1 else [*living]
            raise UnknownNameError(f"{where!r} is no enclosure or animal here; known: {', '.join(known)}")
        if where in whose:
            raise ValueError(f"{where} is given two treatments; give it one")
        whose[where] = find_treatment(declared, name).id
    if whose.keys() - places and whose.keys() & places:
        raise ValueError("name enclosures or animals in --treatment, not both in one session")
    return whose


def under_of(under: object, declared: Declaration, enclosure: str, who: str) -> str | None:
    """Which treatment of a session's holds for somebody in an enclosure."""
    if not isinstance(under, dict):
        return under if isinstance(under, str) else None
    found = under.get(enclosure if under.keys() <= declared.enclosures.keys() else who)
    return found if isinstance(found, str) else None


def under_words(declared: Declaration, under: Under | None) -> str:
    """``Spider model``, or ``tub_1 Spider model, tub_2 Control``; empty for none."""

    def called(name: str) -> str:
        return declared.treatments[name].label if name in declared.treatments else name

    if isinstance(under, dict):
        return ", ".join(f"{where} {called(name)}" for where, name in under.items())
    return called(under) if under else ""
