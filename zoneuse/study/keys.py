"""Keys: the one or two characters that stand for a zone, an animal or a behaviour, and which may live together."""

from __future__ import annotations

import string
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

ZONE_KEY = "a letter, or a letter and one more letter or digit (ä, ж and the like are letters too)"
ANIMAL_KEY = "a digit or a capital letter, alone or before one more letter or digit"
BEHAVIOUR_KEY = "one or two letters or digits"
# Animals' keys to propose, in this order.
ANIMALS = string.digits[1:] + "0" + string.ascii_uppercase
ZONES = string.ascii_lowercase


def composed(text: str) -> str:
    """A text with its accents as one character each: ``ä`` is the same key however a file spells it."""
    return unicodedata.normalize("NFC", text)


def _types(character: str) -> bool:
    """Whether a key press gives it, and a screen draws it in one cell."""
    return character.isalnum() and unicodedata.east_asian_width(character) not in "WF"


def may_be_zone(key: str) -> bool:
    return _fits(key) and key[0].isalpha()


def may_be_animal(key: str) -> bool:
    return _fits(key) and (key[0].isdigit() or key[0].isupper())


def may_be_behaviour(key: str) -> bool:
    return _fits(key)


def _fits(key: str) -> bool:
    return 1 <= len(key) <= 2 and all(map(_types, key))


def begins(one: str, other: str) -> bool:
    """Whether one of two different keys begins the other, so that typing it leaves open which is meant."""
    return bool(one and other) and one != other and (one.startswith(other) or other.startswith(one))


def typed_so_far(typed: str, keys: Iterable[str]) -> list[str]:
    """The longer keys that begin with what was typed."""
    return [key for key in keys if len(key) > len(typed) and key.startswith(typed)]


def free_key(taken: Iterable[str], wanted: str, pool: str = ZONES) -> str:
    """A key nobody uses, and that begins none: a letter of the name if one is free, else of the pool, else two.

    Empty where there is none.

    >>> free_key("ab", "bark"), free_key(string.ascii_lowercase.replace("b", ""), "bark", "ab")
    ('r', 'b')
    >>> free_key(["ba", "a"], "bark", "ab")
    'bb'
    """
    used = {key for key in taken if key}
    letters = [letter for letter in dict.fromkeys(wanted.lower() + pool) if letter in pool]
    heads = {key[0] for key in used}
    single = next((letter for letter in letters if letter not in heads), None)
    if single is not None:
        return single
    pairs = (a + b for a in letters if a not in used for b in letters)
    return next((pair for pair in pairs if pair not in used), "")


def offered(taken: Iterable[str], wanted: str, pool: str = ZONES) -> str:
    """The remedy where a key cannot be had: one that can."""
    offer = free_key(taken, wanted, pool)
    if not offer:
        return "None is left: give some of them keys of two characters, as in ha, hb, hc"
    return f'{offer!r} is free: key = "{offer}"'


def clashes(keys: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Pairs of places in a list at which the later key begins the earlier one, or goes on from it."""
    first: dict[str, int] = {}
    single: dict[str, int] = {}
    for i, key in enumerate(keys):
        if len(key) == 1 and key in first:
            yield first[key], i
        elif len(key) > 1 and key[0] in single:
            yield single[key[0]], i
        if key:
            (single if len(key) == 1 else first).setdefault(key[0], i)


def cells_of(rows: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """A sketch's cells: a character each, or what stands between spaces where any row has some.

    >>> cells_of(["aab", "b.."]) == (("a", "a", "b"), ("b", ".", "."))
    True
    >>> cells_of(["h1 h1 h2", "w . h2"])
    (('h1', 'h1', 'h2'), ('w', '.', 'h2'))
    """
    texts = [composed(row) for row in rows]
    parted = any(" " in row for row in texts)
    return tuple(tuple(row.split()) if parted else tuple(row) for row in texts)
