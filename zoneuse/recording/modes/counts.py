"""Counts of animals not told apart, as typed: ``c3 w2 -1`` is three in c, two in w, one not found."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass

_COUNT = re.compile(r"\d{0,3}")
_GONE = re.compile(r"-(\d{0,3})")
FORM = "zone key and number, as in: c3 w2 -1 (-1: one not found)"


@dataclass(frozen=True, slots=True)
class GroupPart:
    """So many of a group in one zone (``zone`` is a key), or not found (``zone`` None)."""

    zone: str | None
    count: int
    behaviour: str | None = None


class CountsError(ValueError):
    """What was typed is not a count; the message says what is understood."""


def parse_counts(text: str, zones: Container[str], behaviours: Container[str] = ()) -> tuple[GroupPart, ...]:
    """Counts per zone, from keys. A letter straight after the number is a behaviour: ``c3r``.

    A zone without a number is one animal. Raises CountsError naming the piece that is not understood.

    >>> [(p.zone, p.count) for p in parse_counts("c3 w2 -1", "cw")]
    [('c', 3), ('w', 2), (None, 1)]
    >>> [(p.zone, p.count, p.behaviour) for p in parse_counts("-1c3rw2", "cw", "r")]
    [(None, 1, None), ('c', 3, 'r'), ('w', 2, None)]
    """
    parts: list[GroupPart] = []
    for piece in re.split(r"[\s,]+", text.replace("-", " -").strip()):
        parts += _parts(piece, zones, behaviours)
    if not parts:
        raise CountsError(f"nothing was counted; type {FORM}")
    named = [(p.zone, p.behaviour) for p in parts]
    for one in named:
        if named.count(one) > 1:
            raise CountsError(f"{one[0] or '-'} was given twice; give each zone once")
    return tuple(parts)


def _parts(piece: str, zones: Container[str], behaviours: Container[str]) -> list[GroupPart]:
    """What stands without a space: a count after the other. Only the first may go without its number."""
    parts: list[GroupPart] = []
    at = 0
    if gone := _GONE.match(piece):
        parts.append(GroupPart(None, _number(gone[1], piece)))
        at = gone.end()
    first = at
    while at < len(piece):
        zone = _key(piece, at, zones)
        if zone is None or not piece[at].isalpha():
            raise CountsError(_no_zone(piece, at))
        digits = _COUNT.match(piece, at + len(zone))
        assert digits is not None
        if not digits[0] and at > first:
            raise CountsError(f"{zone!r} is not a behaviour's key")
        at = digits.end()
        behaviour = _behaviour(piece, at, behaviours)
        parts.append(GroupPart(zone, _number(digits[0], piece), behaviour))
        at += len(behaviour or "")
    return parts


def _key(piece: str, at: int, keys: Container[str]) -> str | None:
    """The key that stands there: of one character or two, as no key begins another."""
    rest = piece[at : at + 2]
    return next((rest[:n] for n in range(1, len(rest) + 1) if rest[:n] in keys), None)


def _behaviour(piece: str, at: int, behaviours: Container[str]) -> str | None:
    """A behaviour straight after the number; with a number after it, it is the next zone."""
    found = _key(piece, at, behaviours) if piece[at : at + 1].isalpha() else None
    return None if found is None or piece[at + len(found) : at + len(found) + 1].isdigit() else found


def _no_zone(piece: str, at: int) -> str:
    if not piece[at].isalpha():
        return f"{piece!r} is not a count; type {FORM}"
    ends = at > 0 and not any(c.isdigit() for c in piece[at:])
    return f"{piece[at:]!r} is not a behaviour's key" if ends else f"{piece[at]!r} is not a zone's key here"


def _number(digits: str, piece: str) -> int:
    count = int(digits) if digits else 1
    if count == 0:
        raise CountsError(f"{piece!r} counts nobody; leave it out")
    return count


def mismatch(parts: tuple[GroupPart, ...], size: int | None) -> str | None:
    """What to ask where the counts do not add up to the group's size; None where they do."""
    total = sum(part.count for part in parts)
    if size is None or total == size:
        return None
    if total < size:
        return f"{total} of {size} counted, {size - total} not accounted for"
    return f"{total} counted, but the group is {size}"
