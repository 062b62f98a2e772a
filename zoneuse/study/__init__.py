"""What the keeper declares: study.toml, its names, clock and quantities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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
_WHERE = {
    "Declaration": "model",
    "Problem": "problems",
    "ProblemError": "problems",
    "QUANTITIES": "quantities",
    "Quantity": "quantities",
    "UnknownNameError": "names",
    "fault": "problems",
    "find_behaviour": "names",
    "find_who": "names",
    "find_zone": "names",
    "load_declaration": "toml.file",
    "parse_when": "clock",
    "quantity": "quantities",
    "read_declaration": "toml.file",
    "slot_at": "clock",
    "spoken_time": "clock",
    "study_day": "clock",
}


def __getattr__(name: str) -> Any:
    # A list of commands, or a fault, is shown without reading what a study may declare.
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
