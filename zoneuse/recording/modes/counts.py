"""Counts of animals not told apart, as typed: ``c3 w2 -1`` is three in c, two in w, one not found."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass

_ITEM = re.compile(r"(?P<zone>[^\W\d_])(?P<count>\d{0,3})(?P<behaviour>[^\W\d_])?")
# Typed without spaces, as fingers do: a letter after a number is a behaviour unless a number follows it.
_PAIR = re.compile(r"[^\W\d_]\d{1,3}(?:[^\W\d_](?!\d))?")
_PAIRS = re.compile(rf"(?:{_PAIR.pattern}){{2,}}")
_GONE = re.compile(r"-(?P<count>\d{0,3})")
_AFTER_GONE = re.compile(r"(-\d{0,3})(?=[^\W\d_])")
FORM = "zone key and number, as in: c3 w2 -1 (-1: one not found)"


@dataclass(frozen=True, slots=True)
class Part:
    """So many of a group in one zone (``zone`` is a key), or not found (``zone`` None)."""

    zone: str | None
    count: int
    behaviour: str | None = None


class CountsError(ValueError):
    """What was typed is not a count; the message says what is understood."""


def parse_counts(text: str, zones: Container[str], behaviours: Container[str] = ()) -> tuple[Part, ...]:
    """Counts per zone, from keys. A letter straight after the number is a behaviour: ``c3r``.

    A zone without a number is one animal. Raises CountsError naming the piece that is not understood.

    >>> [(p.zone, p.count) for p in parse_counts("c3 w2 -1", "cw")]
    [('c', 3), ('w', 2), (None, 1)]
    >>> [(p.zone, p.count, p.behaviour) for p in parse_counts("-1c3rw2", "cw", "r")]
    [(None, 1, None), ('c', 3, 'r'), ('w', 2, None)]
    """
    parts: list[Part] = []
    for piece in re.split(r"[\s,]+", _AFTER_GONE.sub(r"\1 ", text.replace("-", " -")).strip()):
        if _PAIRS.fullmatch(piece):
            parts += [_part(pair, zones, behaviours) for pair in _PAIR.findall(piece)]
        elif piece:
            parts.append(_part(piece, zones, behaviours))
    if not parts:
        raise CountsError(f"nothing was counted; type {FORM}")
    named = [(p.zone, p.behaviour) for p in parts]
    for one in named:
        if named.count(one) > 1:
            raise CountsError(f"{one[0] or '-'} was given twice; give each zone once")
    return tuple(parts)


def _part(piece: str, zones: Container[str], behaviours: Container[str]) -> Part:
    if gone := _GONE.fullmatch(piece):
        return Part(None, _number(gone["count"], piece))
    found = _ITEM.fullmatch(piece)
    if found is None:
        raise CountsError(f"{piece!r} is not a count; type {FORM}")
    if found["zone"] not in zones:
        raise CountsError(f"{found['zone']!r} is no zone's key here")
    if found["behaviour"] is not None and found["behaviour"] not in behaviours:
        raise CountsError(f"{found['behaviour']!r} is no behaviour's key")
    return Part(found["zone"], _number(found["count"], piece), found["behaviour"])


def _number(digits: str, piece: str) -> int:
    count = int(digits) if digits else 1
    if count == 0:
        raise CountsError(f"{piece!r} counts nobody; leave it out")
    return count


def mismatch(parts: tuple[Part, ...], size: int | None) -> str | None:
    """What to ask where the counts do not add up to the group's size; None where they do."""
    total = sum(part.count for part in parts)
    if size is None or total == size:
        return None
    if total < size:
        return f"{total} of {size} counted, {size - total} not accounted for"
    return f"{total} counted, but the group is {size}"
