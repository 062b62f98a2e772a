"""What a keeper says in passing, as records: ``fed a1 2 crickets``, ``shedding over 1``, or a free note."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ...journal import Entry
from ...study import (
    Declaration,
    UnknownNameError,
    fahrenheit_to_celsius,
    find_who,
    find_zone,
    iso_local,
    study_day,
)
from ...study.model import Animal
from .recall import PERIODS, began

# Words with a meaning of their own; anything else is a free note.
MOMENTS = (
    "fed", "handled", "disturbed", "weighed", "watered", "cleaned", "misted", "moved", "laid", "shed", "temp",
)  # fmt: skip
WHATS = (*MOMENTS, *PERIODS, "felt", "light source")
# What a finger says of a place.
FELT = ("dry", "damp", "wet", "soaked")
# What is a number: its unit, in words, and how it is said.
_NUMBERS = {
    "weighed": ("g", "a weight in grams", "weighed a1 23.5"),
    "temp": ("c", "a body temperature", "temp a1 31.2C or temp a1 88F"),
}
_OVER = ("over", "ended", "end")


@dataclass(frozen=True, slots=True)
class Said:
    """A record to write: its kind and fields; ``closes`` is the open period it ends."""

    kind: str
    fields: Mapping[str, Any]
    closes: Entry | None = None


def understand(
    declared: Declaration,
    words: Sequence[str],
    at: datetime,
    open_periods: Sequence[Entry] = (),
    start: datetime | None = None,
    *,
    until: datetime | None = None,
) -> Said:
    """The record that some words mean. Raises ValueError, in words, where a name or number is wrong.

    The first word (or two) says what; an animal's id, key or label may follow; the rest is the value.
    ``over`` after a period (shedding, gravid …) ends the open one.
    """
    if words and words[0].lower() == "adjust":
        return _adjustment(declared, words[1:], at)
    what, rest = _what(words)
    if what is None:
        if start is not None or until is not None:
            raise ValueError(f"a period needs one of: {', '.join(WHATS)}; a free note has only its moment")
        return Said("noted", {"text": " ".join(words)})
    if what == "felt":
        return _felt(declared, rest)
    return _context(declared, what, rest, at, open_periods, start=start, until=until)


def _context(
    declared: Declaration,
    what: str,
    rest: list[str],
    at: datetime,
    open_periods: Sequence[Entry],
    *,
    start: datetime | None,
    until: datetime | None,
) -> Said:
    """Something of a moment, or of a period that begins, is over, or ends one that is open."""
    rest, over = _without_over(what, rest)
    animal, rest = _animal(declared, rest, at)
    value = read_value(what, " ".join(rest), declared.fahrenheit)
    if over:
        until = until or at
    elif what in PERIODS and until is None:
        start = start or at
    closes = _open(open_periods, what, animal) if until is not None else None
    if closes is not None:
        start = start or began(closes)
        value = value if value is not None else closes.record.get("value")
        animal = animal or closes.record.get("animal")
    elif over:
        raise ValueError(
            f"no open {what} is on record for {animal or 'the enclosure'}; give its animal, or --from"
        )
    fields = {"what": what, "animal": animal, "value": value, **_span(declared, start, until)}
    return Said("context", {k: v for k, v in fields.items() if v is not None}, closes)


def _without_over(what: str, rest: list[str]) -> tuple[list[str], bool]:
    """The words without the one that ends a period, and whether there was one."""
    kept = [word for word in rest if word.lower() not in _OVER]
    return (kept, len(kept) < len(rest)) if what in PERIODS else (rest, False)


def _span(declared: Declaration, start: datetime | None, until: datetime | None) -> dict[str, str]:
    """A period's ends, as far as they are known. Raises ValueError where it would end before it began."""
    if start is not None and until is not None and until < start:
        raise ValueError("it would end before it began")
    ends = {"from": start, "until": until}
    return {name: iso_local(at, declared.timezone) for name, at in ends.items() if at is not None}


def _felt(declared: Declaration, rest: Sequence[str]) -> Said:
    """``felt moss_end damp``: a reading by hand, of a zone."""
    if len(rest) < 2 or rest[-1].lower() not in FELT:
        raise ValueError(f"say where and how it feels ({', '.join(FELT)}), as in: felt moss_end damp")
    zone = find_zone(declared, " ".join(rest[:-1]), None)
    return Said("context", {"what": "felt", "zone": zone.id, "value": rest[-1].lower()})


def _adjustment(declared: Declaration, words: Sequence[str], at: datetime) -> Said:
    """``adjust water moss_end 2 l expects moss_end:up because the hide is dry`` as a change on record."""
    # Loaded on use: few sessions change anything, and the recorder must open at once.
    from ...journal import ADJUSTMENTS, SETTLE_H, new_adjustment_id, read_expects, split_amount

    lower = [word.lower() for word in words]
    cut = lower.index("because") if "because" in lower else len(words)
    why, words = " ".join(words[cut + 1 :]), list(words[:cut])
    cut = next((i for i, word in enumerate(words) if word.lower() == "expects"), len(words))
    expected = [read_expects(declared, text) for text in words[cut + 1 :]]
    what, names = (words[0].lower() if words[:cut] else ""), words[1:cut]
    if what not in ADJUSTMENTS or not names:
        raise ValueError(
            f"say what and where: adjust water ZONE 2 l; what is one of {', '.join(ADJUSTMENTS)}"
        )
    zones, amount, unit = split_amount(names)
    fields: dict[str, Any] = {
        "adjustment": new_adjustment_id(what, study_day(declared, at), ()),
        "what": what,
        "zones": [find_zone(declared, name, None).id for name in zones],
        "amount": amount,
        "unit": unit,
        "why": why or None,
        "expects": [one.fields for one in expected] or None,
        "settle_h": SETTLE_H[what],
    }
    return Said("adjusted", {k: v for k, v in fields.items() if v is not None})


def _what(words: Sequence[str]) -> tuple[str | None, list[str]]:
    if not words or not words[0].strip():
        raise ValueError(f"say what happened: {', '.join(WHATS)}, or a free note")
    first, two = words[0].lower(), " ".join(words[:2]).lower()
    if two in WHATS:
        return two, list(words[2:])
    return (first, list(words[1:])) if first in WHATS else (None, list(words))


def _animal(declared: Declaration, rest: list[str], at: datetime) -> tuple[str | None, list[str]]:
    """An animal may be named by one word, or by its whole label; anything else is the value."""
    for count in (3, 2, 1):
        if len(rest) >= count:
            try:
                one = find_who(declared, " ".join(rest[:count]), at)
            except UnknownNameError:
                continue
            if isinstance(one, Animal):
                return one.id, rest[count:]
    return None, rest


def read_value(what: str, text: str, fahrenheit: bool = False) -> str | float | None:
    """What follows a word: a number of a weight or a body temperature, else as written.

    Body temperatures are held in °C; a plain number is in °F where the study speaks ``fahrenheit``. Raises ValueError
    where a number is none.
    """
    if what not in _NUMBERS:
        return text or None
    unit, meant, example = _NUMBERS[what]
    if not text:
        raise ValueError(f"{what} needs {meant}, as in: {example}")
    plain = text.lower().strip()
    told = plain[-1:] if what == "temp" and plain[-1:] in ("c", "f") else ""
    try:
        number = float(plain.removesuffix(told or unit).strip(" °"))
    except ValueError:
        raise ValueError(f"{text!r} is not {meant}, as in: {example}") from None
    # "nan" and "1e999" are numbers to float(); nothing weighs less than nothing.
    if not abs(number) < 1e6 or (what == "weighed" and number <= 0):
        raise ValueError(f"{text!r} is not {meant}, as in: {example}")
    in_f = what == "temp" and (told == "f" or (fahrenheit and not told))
    return round(fahrenheit_to_celsius(number), 2) if in_f else number


def _open(open_periods: Sequence[Entry], what: str, animal: str | None) -> Entry | None:
    mine = [e for e in open_periods if e.record.fields["what"] == what]
    same = [e for e in mine if e.record.get("animal") == animal]
    if same:
        return same[-1]
    return mine[0] if animal is None and len(mine) == 1 else None
