"""What the program says beside the answer, on stderr, and the exit statuses a script can rely on."""

from __future__ import annotations

import enum
import errno
import textwrap
from collections.abc import Iterable

import click

from ..study.labels import visible
from ..study.problems import Problem, ProblemError

_WIDTH = 79


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
        click.echo(visible(part), err=True)


def say_wrapped(text: str) -> None:
    """Narration of more than a line, in lines a terminal of 80 columns holds."""
    for part in text.split("\n"):
        say(textwrap.fill(part, _WIDTH))


def tell(text: str) -> None:
    """What came of a command, on stdout; names from outside cannot steer a terminal."""
    for part in text.split("\n"):
        click.echo(visible(part))


def say_problems(problems: Iterable[Problem]) -> None:
    for problem in problems:
        say(f"{'Hint' if problem.hint else 'Fault'}: {problem}")


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
