"""What the keeper declares: study.toml, its names, clock and quantities."""

from __future__ import annotations

from .clock import parse_when, slot_at, spoken_time, study_day
from .model import Declaration
from .names import UnknownNameError, find_behaviour, find_who, find_zone
from .problems import Problem, ProblemError, fault
from .quantities import QUANTITIES, Quantity, quantity
from .toml.file import load_declaration, read_declaration

__all__ = [
    "QUANTITIES",
    "Declaration",
    "Problem",
    "ProblemError",
    "Quantity",
    "UnknownNameError",
    "fault",
    "find_behaviour",
    "find_who",
    "find_zone",
    "load_declaration",
    "parse_when",
    "quantity",
    "read_declaration",
    "slot_at",
    "spoken_time",
    "study_day",
]
