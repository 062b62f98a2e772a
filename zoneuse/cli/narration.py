"""What the program says beside the answer, on stderr, and the exit statuses a script can rely on."""

from __future__ import annotations

import contextlib
import enum
import errno
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, TextIO

import click

from ..study import Problem, ProblemError, visible

_WIDTH = 79
_NARROWEST = 20
# So many entries of study.toml with the same fault are each told.
_EACH = 4
# What a list begins its lines with: its further lines stand under the words.
_NUMBERED = re.compile(r" *\S{1,3}  +")


class ExitStatus(enum.IntEnum):
    """What a script can rely on."""

    DONE = 0
    WRONG_DATA = 1
    WRONG_COMMAND = 2
    NEEDS_KEEPER = 3
    CANNOT_TELL = 4


def say(text: str = "") -> None:
    """Narration, on stderr."""
    for part in text.split("\n"):
        click.echo(_fitted(visible(part), sys.stderr), err=True)


def say_wrapped(text: str) -> None:
    """Narration of more than a line, in lines a terminal of 80 columns holds."""
    for part in text.split("\n"):
        say(textwrap.fill(part, min(_WIDTH, terminal_width())))


def tell(text: str) -> None:
    """What came of a command, on stdout; names from outside cannot steer a terminal."""
    for part in text.split("\n"):
        click.echo(_fitted(visible(part), sys.stdout))


def tell_saved(text: str) -> None:
    """As ``tell``, of what is on record by now: output that fails must not make anybody give the command again."""
    try:
        tell(text)
    except OSError as error:
        # What waits in the stream would fail once more when the program ends.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        with contextlib.suppress(OSError):
            say(f"It is saved; only the words could not be shown ({error.strerror}).")


def ask(question: str, **how: Any) -> Any:
    """Ask in a terminal, as ``click.prompt`` does; a long question is broken between words."""
    shown = f" [{how['default']}]" if how.get("default") and how.get("show_default", True) else ""
    return click.prompt(_fitted(visible(question), sys.stderr, room=10 + len(shown)), err=True, **how)


def confirm(question: str, **how: Any) -> bool:
    """Ask yes or no, likewise."""
    return click.confirm(_fitted(visible(question), sys.stderr, room=8), err=True, **how)


def terminal_width() -> int:
    """The columns of the terminal, or 80 where there is none."""
    return max(_NARROWEST, shutil.get_terminal_size((_WIDTH + 1, 24)).columns - 1)


def _fitted(line: str, stream: TextIO, room: int = 0) -> str:
    """A line broken between words where a terminal would break it anywhere; whole where it goes to a file."""
    width = max(_NARROWEST, terminal_width() - room)
    if not stream.isatty() or len(line) <= width:
        return line
    indent = line[: len(line) - len(line.lstrip())]
    number = _NUMBERED.match(line)
    rest = " " * len(number[0]) if number else indent
    broken = textwrap.wrap(
        line.strip(), width, initial_indent=indent, subsequent_indent=rest, break_on_hyphens=False
    )
    return "\n".join(broken)


def say_problems(problems: Iterable[Problem]) -> None:
    """Each with its place and remedy; what is alike in many entries of a declaration once, with their ids."""
    kinds: dict[Problem, list[Problem]] = {}
    for problem in problems:
        kinds.setdefault(_kind(problem), []).append(problem)
    for alike in kinds.values():
        first, named = alike[0], [p.place.split(".")[1] for p in alike[1:_EACH] if "." in p.place]
        rest = f" The same goes for {', '.join(named)} and {len(alike) - _EACH:,} more."
        for problem in (
            alike
            if len(alike) <= _EACH
            else [replace(first, remedy=f"{first.remedy.removesuffix('.')}.{rest}")]
        ):
            say(f"{'Hint' if problem.hint else 'Fault'}: {problem}")


def _kind(problem: Problem) -> Problem:
    """The problem without the id of the entry it stands in: ``zones.moss.amount`` as ``zones.amount``."""
    table, *rest = problem.place.split(".")
    return replace(problem, place=".".join([table, *rest[1:]])) if len(rest) > 1 else problem


def report_error(error: Exception) -> ExitStatus:
    """Say what stopped the command, with its place and remedy; a fault of our own keeps its traceback."""
    if isinstance(error, ProblemError):
        say_problems(error.problems)
        return ExitStatus.WRONG_DATA
    if isinstance(error, OSError) and error.errno is not None:
        full = (
            " The disk is full: free some space and run the command again."
            if error.errno == errno.ENOSPC
            else ""
        )
        where = f"{error.filename}: " if error.filename else ""
        say(f"Fault: {where}{error.strerror}.{full}")
        return ExitStatus.WRONG_DATA
    raise error
