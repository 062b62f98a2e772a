"""Options many commands share, and the opening of the study they name."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from ..study import Declaration, parse_when, spoken_time

# Whether files that exist may be replaced, in the context of a command.
FORCE = "zoneuse.force"
# How an answer is printed and drawn, in the same place.
FULL, PLOT, WIDTH = "zoneuse.full", "zoneuse.plot", "zoneuse.width"
F = TypeVar("F", bound=Callable[..., Any])
# How far two clocks in one room may differ.
_CLOCKS_DIFFER = timedelta(minutes=2)


def study_option(command: F) -> F:
    """``--study DIR``: the study's folder, the current one unless given."""
    return click.option(
        "--study",
        "folder",
        type=click.Path(path_type=Path),
        default=Path(),
        metavar="DIR",
        help="The study's folder (default: the current one).",
    )(command)


def json_csv_options(command: F) -> F:
    command = click.option(
        "--force", is_flag=True, expose_value=False, help="Replace a file that is there already.",
        callback=lambda ctx, _, given: ctx.meta.update({FORCE: given}),
    )(command)  # fmt: skip
    command = click.option("--json", "as_json", is_flag=True, help="Print the whole answer as JSON.")(command)
    return click.option(
        "--csv", "csv_file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
        help="Also write the table to FILE.",
    )(command)  # fmt: skip


def plot_option(drawn: str, *named: str, **given: Any) -> Callable[[F], F]:
    """``--plot FILE``, of what is ``drawn``; ``named`` and ``given`` as click takes them."""
    return click.option(
        "--plot", *named, type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
        help=f"Draw {drawn} into FILE: .svg, .png or .pdf.", **given,
    )  # fmt: skip


def width_option(**given: Any) -> Callable[[F], F]:
    """``--width MM``, of what ``--plot`` draws."""
    return click.option(
        "--width", default="180", show_default=True, metavar="MM",
        help="Width of the picture: 85 for a column, 180 for a page of a paper, or card (1200 x 630) to share.",
        **given,
    )  # fmt: skip


def answer_options(command: F) -> F:
    """What every answer takes beside its own: everything or in short, JSON, a table, a picture."""
    for option in (
        width_option(expose_value=False, callback=_kept(WIDTH)),
        plot_option("it", expose_value=False, callback=_kept(PLOT)),
        click.option(
            "--full", is_flag=True, expose_value=False, callback=_kept(FULL),
            help="Print every sentence, the whole table and all cautions.",
        ),
    ):  # fmt: skip
        command = option(command)
    return json_csv_options(command)


def _kept(name: str) -> Callable[[click.Context, click.Parameter, Any], None]:
    """A callback that puts an option where the printing of an answer looks for it."""

    def keep(context: click.Context, _: click.Parameter, given: Any) -> None:
        context.meta[name] = given

    return keep


def asked_time(text: str | None, declared: Declaration, now: datetime) -> datetime:
    """A time from the command line in UTC, now without one. Exit status 2 where it is not a time."""
    try:
        return now if text is None else parse_when(text, now, declared.timezone)
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def past_time(text: str | None, declared: Declaration, now: datetime) -> datetime:
    """As ``asked_time``, for what is said to have happened: the future has not."""
    at = asked_time(text, declared, now)
    if at - now > _CLOCKS_DIFFER:
        raise click.UsageError(
            f"{spoken_time(at, declared.timezone)} is in the future; give a time up to now."
        )
    return at


def wall_clock() -> datetime:
    """The time on the wall; nothing below the command line asks for it."""
    return datetime.now(UTC)


def someone_there() -> bool:
    """Whether a person can be asked: no command prompts without a terminal."""
    return sys.stdin.isatty() and sys.stderr.isatty()
