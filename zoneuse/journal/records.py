"""The kinds of journal record, and the one line of JSON each becomes.

A line is ``{"n":1,"at":"…","is":"seen",…,"crc":"1a2b3c4d"}``: the checksum is zlib's CRC-32 of the UTF-8
bytes before ``,"crc":``, so a damaged line is never read as a record.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from .forms import FORMS, spent_problem, within_years, without_half_letters

FORMAT = 1
_CRC = b',"crc":"'
# Frame: `,"crc":"` + 8 hex digits + `"}`.
_TAIL = len(_CRC) + 10

Check = type | tuple[type, ...]
_TEXT: Check = (str, type(None))
_COUNT: Check = (int, type(None))
_NUMBER: Check = (int, float, type(None))
_FLAG: Check = (bool, type(None))


@dataclass(frozen=True, slots=True)
class Kind:
    """Fields a record of a kind must have and may have, with their JSON types."""

    must: Mapping[str, Check]
    may: Mapping[str, Check]


_WHO: dict[str, Check] = {"animal": _TEXT, "group": _TEXT, "count": _COUNT}

# One line each; a new kind of record starts here.
KINDS: dict[str, Kind] = {
    "opened": Kind(
        {
            "format": int, "study": str, "session": str, "part": int,
            "observer": str, "method": str, "timezone": str,
        },
        {
            "every_s": _NUMBER, "minutes": _NUMBER, "source": (dict, type(None)), "zones": (list, type(None)),
            "animals": (list, type(None)), "treatment": (str, dict, type(None)), "file": _TEXT,
        },
    ),
    "seen": Kind(
        {"zone": str}, {**_WHO, "behaviour": _TEXT, "scan": _COUNT, "sure": _FLAG, "hidden": _FLAG}
    ),
    # `nowhere`: seen, and outside the outline of every zone (a track); `why`: what a track could not tell it by.
    "unseen": Kind({}, {**_WHO, "scan": _COUNT, "nowhere": _FLAG, "why": _TEXT}),
    "missed": Kind({"scan": int}, {"animal": _TEXT, "group": _TEXT}),
    "happened": Kind({"behaviour": str}, {**_WHO, "zone": _TEXT}),
    "checked": Kind({"zone": str}, {"lifted": _FLAG, "skipped": _FLAG}),
    "drawn": Kind({"adjustment": str, "days": list, "day": str, "seed": int}, {}),
    "adjusted": Kind(
        {"adjustment": str, "what": str, "zones": list},
        {
            "amount": _NUMBER, "unit": _TEXT, "why": _TEXT, "expects": (list, type(None)),
            "settle_h": _NUMBER, "undoes": _TEXT, "forecast": (dict, type(None)),
        },
    ),
    "context": Kind(
        {"what": str},
        {"animal": _TEXT, "value": (str, int, float, type(None)), "from": _TEXT, "until": _TEXT},
    ),
    "noted": Kind({"text": str}, {"animal": _TEXT}),
    "paused": Kind({}, {}),
    "resumed": Kind({}, {}),
    "spent": Kind(
        {"seconds": (int, float), "of_seconds": (int, float)},
        {"animal": _TEXT, "group": _TEXT, "zone": _TEXT, "behaviour": _TEXT},
    ),
    "took-back": Kind({"of": dict}, {"replaces": (dict, type(None)), "undo": _TEXT}),
    "closed": Kind({"reason": str}, {}),
}  # fmt: skip

ADJUSTMENTS = ("water", "heat", "light", "cover", "layout", "feeding", "company", "other")
# Hours a change needs before it can be judged, by kind (common practice; an adjustment may set its own).
SETTLE_H = {
    "water": 48.0, "heat": 48.0, "light": 48.0, "feeding": 48.0, "other": 48.0,
    "cover": 168.0, "layout": 168.0, "company": 672.0,
}  # fmt: skip
RECORD_METHOD = "record"
_MOST = 10**15


class Record(NamedTuple):
    """One line of a journal. ``at`` and ``entered`` are aware datetimes; ``fields`` are the kind's own.

    A named tuple, since a long study has hundreds of thousands and frozen dataclasses take four times as long to make.
    """

    n: int
    at: datetime
    kind: str
    fields: Mapping[str, Any]
    entered: datetime | None = None
    mono: float | None = None

    def get(self, name: str) -> Any:
        return self.fields.get(name)


class RecordError(ValueError):
    """A line that is not a record; the message says what was found."""


def encode(record: Record) -> bytes:
    """A record as its line, newline included. None values are left out."""
    line: dict[str, Any] = {"n": record.n, "at": record.at.isoformat(timespec="milliseconds")}
    if record.entered is not None and record.entered != record.at:
        line["entered"] = record.entered.isoformat(timespec="milliseconds")
    if record.mono is not None:
        line["mono"] = round(record.mono, 3)
    line["is"] = record.kind
    line.update((name, value) for name, value in record.fields.items() if value is not None)
    body = json.dumps(line, ensure_ascii=False, separators=(",", ":"), allow_nan=False)[:-1]
    # A lone surrogate cannot be UTF-8; it is kept as its escape so that nothing typed can stop a record.
    data = body.encode("utf-8", "backslashreplace")
    return data + _CRC + b"%08x" % zlib.crc32(data) + b'"}\n'


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is not JSON")


# The scanner json.loads calls, without its four layers: they take longer than a line does.
_SCAN = json.JSONDecoder(parse_constant=_no_number).scan_once  # type: ignore[attr-defined]


def decode(line: bytes) -> Record:
    """The record in a line (without its newline). Raises RecordError where it is not one."""
    body = line[:-_TAIL]
    if line[-_TAIL:-10] != _CRC or line[-2:] != b'"}':
        raise RecordError("it does not end in a checksum")
    if line[-10:-2] != b"%08x" % zlib.crc32(body):
        raise RecordError("its checksum does not fit")
    try:
        text = body.decode() + "}"
        values, end = _SCAN(text, 0)
        if end != len(text):
            raise RecordError("something follows it on its line")
        # Halves of letters are written as escapes, in whichever case.
        return _record(without_half_letters(values) if "\\ud" in text or "\\uD" in text else values)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, StopIteration) as error:
        raise RecordError(f"it is not a record ({error})") from None


def _record(values: dict[str, Any]) -> Record:
    n, kind = values.pop("n"), values.pop("is")
    if isinstance(n, bool) or not isinstance(n, int) or not 1 <= n < _MOST:
        raise RecordError("n is not a whole number from 1")
    at = parse_time(values.pop("at"))
    entered = values.pop("entered", None)
    mono = values.pop("mono", None)
    if not _fits(mono, _NUMBER):
        raise RecordError("mono is not a number")
    check_fields(kind, values)
    return Record(n, at, kind, values, None if entered is None else parse_time(entered), mono)


def _may_be(value: Any, check: Any) -> bool:
    # Nearly all fields are texts that may be absent: no need to look further at those.
    return (check is _TEXT and type(value) is str) or _fits(value, check)


def check_fields(kind: str, fields: Mapping[str, Any]) -> None:
    """Raise RecordError where a kind's fields are missing or of a wrong type; extra fields are kept."""
    known = KINDS.get(kind)
    if known is None:
        raise RecordError(f"{kind!r} is not a kind of record")
    for name, needed in known.must.items():
        value = fields.get(name)
        if (type(value) is not needed or needed is int) and not _fits(value, needed):
            raise RecordError(f"{kind} needs {name}, found {value!r}")
    _check_values(kind, known, fields)
    if kind == "spent" and (problem := spent_problem(fields)):
        raise RecordError(f"spent {problem}")


def _check_values(kind: str, known: Kind, fields: Mapping[str, Any]) -> None:
    for name, value in fields.items():
        check = known.may.get(name)
        if check is not None and not _may_be(value, check):
            raise RecordError(f"{kind} has {name} = {value!r}")
        known_to_us = check is not None or name in known.must
        if name in FORMS and known_to_us and value is not None and not FORMS[name](value):
            raise RecordError(f"{kind} has {name} = {value!r}")


def _fits(value: Any, check: Check) -> bool:
    # True is an int to Python; to a count or a number it is a mistake.
    if isinstance(value, bool):
        return check is bool or (isinstance(check, tuple) and bool in check)
    # No count, number or scan of an enclosure comes near this; tables hold 64 bits, and 1e999 reads as infinite.
    if isinstance(value, int | float) and not (0 if check in (int, _COUNT) else -_MOST) <= value < _MOST:
        return False
    return isinstance(value, check)


def parse_time(text: Any) -> datetime:
    """An ISO 8601 time with offset, in UTC. Raises RecordError otherwise."""
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is not None and within_years(at):
            return at.astimezone(UTC)
    except (TypeError, ValueError, OverflowError):
        pass
    raise RecordError(f"{text!r} is not a time with offset")
