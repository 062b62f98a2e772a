"""The answers there are: one registry for the command line, Python, the review, the page and the plan.

Light on purpose: nothing of an answer is loaded until it is asked.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .columns import Schema


@dataclass(frozen=True, slots=True)
class AnswerKind:
    """One answer: ``name`` is its command, ``function`` the one in its folder's ``ask`` and of an open study.

    ``title`` asks the question, ``short`` is its heading, ``line`` its line of help. ``open`` answers have findings
    that more watching may settle: the plan looks through them. ``command`` says where a command with options of its
    own lives; without one it takes the filters only.
    """

    name: str
    folder: str
    function: str
    short: str
    title: str
    line: str
    open: bool = True
    command: str = ""


ANSWERS: tuple[AnswerKind, ...] = (
    AnswerKind(
        "zones", "zones", "zones", "Zones", "Which zones are avoided, and which favoured?",
        "Which zones are avoided or favoured, and how sure is that?", command="answering:zones",
    ),
    AnswerKind(
        "activity", "activity", "activity", "Activity", "What do they do, how much, and when?",
        "What do they do, how much, and is that more than usual?", command="answering:activity",
    ),
    AnswerKind(
        "prefer", "preference", "preference", "Conditions", "Which conditions are chosen?",
        "Which conditions are chosen when there is a choice?", command="answering:prefer",
    ),
    AnswerKind(
        "shifts", "shifts", "shifts", "Changes", "What moved after each change?",
        "Did a change alter anything, and how sure is that?", command="shifting:shifts",
    ),
    AnswerKind(
        "retreats", "retreats", "retreats", "Retreats", "Which retreats are used, by whom, with whom?",
        "Which retreats are used, by whom, together or apart?", command="retreating:retreats",
    ),
    AnswerKind(
        "climate", "climate", "climate", "Climate", "How do the zones differ, and which is drying?",
        "Is there a gradient, is a retreat drying, when is water due?", open=False, command="climate:climate",
    ),
    AnswerKind(
        "observers", "observers", "observers", "Observers", "Do observers agree?",
        "Do two observers agree, and what do they confuse?", command="observing:observers",
    ),
    AnswerKind(
        "plan", "plan", "plan", "Plan", "When to watch next?",
        "What has been watched, and what should be next?", open=False, command="planning:plan",
    ),
)  # fmt: skip


def answer_kind(name: str) -> AnswerKind:
    """The answer of a name. Raises KeyError where there is none."""
    return {kind.name: kind for kind in ANSWERS}[name]


def ask_of(kind: AnswerKind) -> Callable[..., Any]:
    """The function that answers: it takes a ``Question`` and the answer's own options."""
    module = importlib.import_module(f".{kind.folder}.ask", __package__)
    asking: Callable[..., Any] = getattr(module, kind.function)
    return asking


def columns_of(kind: AnswerKind) -> tuple[Schema, dict[str, Schema]]:
    """The columns of an answer's rows, and of those of its parts that are declared."""
    module = importlib.import_module(f".{kind.folder}.columns", __package__)
    return module.ROWS, module.PARTS


def picture_of(kind: AnswerKind) -> Any:
    """The module with an answer's headline and figure."""
    return importlib.import_module(f".{kind.folder}.picture", __package__)


def verdicts_of(kind: AnswerKind) -> tuple[str, ...]:
    """The words an answer's findings may bear."""
    module = importlib.import_module(f".{kind.folder}.judge", __package__)
    verdicts: tuple[str, ...] = module.VERDICTS
    return verdicts
