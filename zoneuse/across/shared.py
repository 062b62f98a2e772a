"""What a keeper gives away of a study: numbers without names, as frozen records, and as JSON that outlives us.

A file is read as what it is, a stranger's: bounded in size and depth, numbers checked one by one, texts few and short.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from ..study import fault, read_regular

FORMAT = 1
MOST_BYTES = 2_000_000
_MOST_ROWS = 2_000
_MOST_LETTERS = 80
_TOKEN = re.compile("[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class SharedZone:
    """Use of one kind of place in one enclosure. Shares are 0 to 1; ``n_eff`` is what all looks are worth."""

    name: str
    offered: float
    used: float
    n_eff: float
    df: float | None
    se: float | None
    unseen_low: float | None
    unseen_high: float | None
    sessions: int


@dataclass(frozen=True, slots=True)
class SharedAnimal:
    """What one animal used of a quantity: mean, median and quartiles over its moments, in the quantity's unit."""

    quantity: str
    mean: float
    median: float
    q25: float
    q75: float
    moments: int


@dataclass(frozen=True, slots=True)
class SharedTerm:
    """A term of the plain fit of preference, with its standard error by unit.

    ``centre`` is the value from which it counts, in the quantity's unit; ``covariance`` that with each term of the
    list up to this one; ``df`` the units less one. None in files written before these were given.
    """

    term: str
    coefficient: float
    se: float | None
    centre: float | None
    covariance: tuple[float, ...] | None
    df: float | None


@dataclass(frozen=True, slots=True)
class SharedChange:
    """What moved after one change: its kind, what was expected of it, and the difference with its error."""

    kind: str
    where: str
    what: str
    expected: str
    change: float
    se: float
    df: float | None
    sessions_before: int
    sessions_after: int
    confounded: bool


@dataclass(frozen=True, slots=True)
class SharedEnclosure:
    """One enclosure, or a study of several of one layout taken as one (``enclosures``)."""

    token: str
    enclosures: int
    animals: int
    sessions: int
    days: int
    measured_in: str
    methods: tuple[str, ...]
    slots: tuple[str, ...]
    months: tuple[int, ...]
    zones: tuple[SharedZone, ...]
    animals_used: tuple[SharedAnimal, ...]
    terms: tuple[SharedTerm, ...]
    changes: tuple[SharedChange, ...]


@dataclass(frozen=True, slots=True)
class Consent:
    """What the keeper agreed to, in the keeper's words: what for, under which licence, until when (ISO date)."""

    purpose: str
    licence: str
    until: str


@dataclass(frozen=True, slots=True)
class Shared:
    """One shared file."""

    format: int
    zoneuse: str
    keeper: str
    species: str
    consent: Consent
    enclosure: SharedEnclosure


def to_json(shared: Shared) -> str:
    """The file's text, as people can read it."""
    return json.dumps(asdict(shared), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def read_shared(path: Path) -> Shared:
    """A shared file. Raises ProblemError with its place where anything in it is not what it must be."""
    try:
        data = read_regular(path, MOST_BYTES)
    except OSError as error:
        raise fault(
            "unreadable", path, "", f"cannot be read ({error.strerror})", "a shared file of zoneuse"
        ) from None
    return parse_shared(data, path)


def parse_shared(data: bytes, path: Path | str) -> Shared:
    """The same of bytes that came from ``path``."""
    try:
        raw = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
        if isinstance(raw, dict) and isinstance(raw.get("format"), int) and raw["format"] > FORMAT:
            raise _WrongError("format", f"found {raw['format']}, which a newer zoneuse wrote; update zoneuse")
        shared: Shared = _record(Shared, raw, "")
        if shared.format != FORMAT or not _TOKEN.fullmatch(shared.keeper):
            raise _WrongError("keeper", "is no token of zoneuse")
    except _WrongError as error:
        raise fault("shared-file", path, error.place, error.found, "a file written by zoneuse share",
                    remedy="Ask its keeper for a new one; it is left out") from None  # fmt: skip
    except (ValueError, RecursionError):
        raise fault("shared-file", path, "", "is no JSON", "a file written by zoneuse share",
                    remedy="Ask its keeper for a new one; it is left out") from None  # fmt: skip
    return shared


class _WrongError(Exception):
    def __init__(self, place: str, found: str) -> None:
        self.place, self.found = place, found


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is not JSON")


def _record(kind: Any, raw: Any, place: str) -> Any:
    """A record of a kind from plain values; fields nobody knows are left, as a later version may write more."""
    if not isinstance(raw, Mapping):
        raise _WrongError(place, "is not a table")
    hints = _hints(kind)
    return kind(
        **{
            f.name: _value(hints[f.name], raw.get(f.name), f"{place}.{f.name}".lstrip("."))
            for f in fields(kind)
        }
    )


@functools.cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _value(kind: Any, raw: Any, place: str) -> Any:
    if get_origin(kind) is tuple:
        if not isinstance(raw, list) or len(raw) > _MOST_ROWS:
            raise _WrongError(place, "is not a list of a usual length")
        return tuple(_value(get_args(kind)[0], one, f"{place}[{i}]") for i, one in enumerate(raw))
    if isinstance(kind, UnionType):
        return None if raw is None else _value(get_args(kind)[0], raw, place)
    if kind not in _FITS:
        return _record(kind, raw, place)
    if not _FITS[kind](raw):
        raise _WrongError(place, "is not what it must be")
    return kind(raw)


def _number(raw: Any) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) < _LARGEST


_LARGEST = 10**12
_FITS: dict[Any, Callable[[Any], bool]] = {
    bool: lambda raw: isinstance(raw, bool),
    float: _number,
    int: lambda raw: _number(raw) and raw == int(raw),
    str: lambda raw: isinstance(raw, str) and len(raw) <= _MOST_LETTERS and raw.isprintable(),
}
