"""What the record of an intake holds: its parts, a logger each, and what a logger wrote down beside readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Part:
    """What one intake holds of one logger. ``crc``: of its file; empty where that was not kept yet."""

    logger: str
    rows: int
    first_ms: int
    last_ms: int
    quantities: tuple[str, ...]
    crc: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something the logger wrote down that is no reading: a button, a start, a stop."""

    at_ms: int
    logger: str
    says: str


@dataclass(frozen=True, slots=True)
class Intake:
    """One committed file: where it came from, what was understood, what was kept and refused."""

    id: str
    file: str
    sha256: str
    size: int
    made: str
    parts: tuple[Part, ...]
    marks: tuple[Mark, ...] = ()
    kept: int = 0
    doubles: int = 0
    refused: int = 0
    layout: Mapping[str, Any] = field(default_factory=dict)
