"""`zoneuse readings`: take in what loggers wrote, see what is there, and take a file back out."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from dataclasses import replace
from datetime import datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, available_timezones

import click

from ...study import Declaration, Problem, ProblemError, fault, load_declaration
from ..narration import ExitStatus, ask, confirm, say, say_problems, tell, tell_saved
from ..options import asked_time, someone_there, study_option, wall_clock

if TYPE_CHECKING:
    from ...readings.layout import Hints, LeftOpen
    from ...readings.read import Staged
    from ...readings.store import Intake


def _zone(ctx: click.Context, param: click.Parameter, value: str | None) -> tzinfo | None:
    if value is None:
        return None
    if value in available_timezones():
        return ZoneInfo(value)
    text = value.upper().removeprefix("UTC").removeprefix("GMT").replace("−", "-")
    hours, _, minutes = text.lstrip("+-").partition(":")
    if re.fullmatch(r"[+-]([0-9]|0[0-9]|1[0-4])(:[0-5]?[0-9])?", text):
        total = int(hours) * 60 + int(minutes or 0)
        return timezone(timedelta(minutes=-total if text[0] == "-" else total))
    raise click.BadParameter(f"{value!r} is not a time zone; give a name such as Europe/Vienna, or +01:00")


def _pairs(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    found = []
    for value in values:
        name, mark, what = value.rpartition("=")
        if not mark or not name or not what:
            raise click.BadParameter(f"{value!r} should look like NAME=VALUE")
        found.append((name.strip(), what.strip()))
    return tuple(found)


@click.command(
    epilog="Examples:  zoneuse readings L1_april.csv    zoneuse readings *.csv --yes    zoneuse readings"
)
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--logger", metavar="ID", help="The logger the files are from (else from the file's name).")
@click.option(
    "--tz",
    "zone",
    metavar="ZONE",
    callback=_zone,
    help="Time zone of times that name none (Europe/Vienna, +01:00).",
)
@click.option("--unit", type=click.Choice(["C", "F"]), help="Unit of temperatures that name none.")
@click.option(
    "--dates",
    type=click.Choice(["DMY", "MDY", "YMD"], case_sensitive=False),
    help="Order of day, month and year.",
)
@click.option("--decimal", type=click.Choice([",", "."]), help="The decimal mark.")
@click.option("--column", "columns", multiple=True, metavar="COLUMN=[LOGGER:]QUANTITY", callback=_pairs,
              help="What a column holds: its header, or its number from 1; QUANTITY may be temperature_c, "
              "temperature_f, humidity_pct … or at (the time).")  # fmt: skip
@click.option("--by", metavar="COLUMN[,COLUMN]", help="Columns that tell the loggers of one file apart.")
@click.option(
    "--series",
    multiple=True,
    metavar="NAME=LOGGER",
    callback=_pairs,
    help="Which logger each name in --by is.",
)
@click.option(
    "--where", multiple=True, metavar="COLUMN=VALUE", callback=_pairs, help="Take only rows with this value."
)
@click.option("--start", metavar="TIME", help="When the logger started, for files with elapsed time.")
@click.option("--doubled-hour", "doubled", type=click.Choice(["first", "second"]),
              help="Which pass the repeated hour belongs to, when summer time ended.")  # fmt: skip
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook, by name or number.")
@click.option("--as-written", is_flag=True,
              help="Times that go back, leap or repeat are right as they are; all rows are one logger's.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Take in what was understood without asking.")
@click.option("--undo", multiple=True, metavar="FILE", help="Take a file back out.")
@click.option("--salt-point", "salts", nargs=4, multiple=True, type=str, metavar="LOGGER SALT AT_C SHOWN_PCT",
              help="Record a humidity check above a saturated salt (L1 NaCl 20 78.2).")  # fmt: skip
@click.option("--side-by-side", "together", nargs=2, metavar="FROM UNTIL",
              help="Compare loggers over a time when they lay side by side.")  # fmt: skip
@click.option("--now", metavar="TIME", help="The time that ages count from (default: now).")
@study_option
def readings(
    *, files: tuple[Path, ...], logger: str | None, zone: tzinfo | None, unit: str | None,
    dates: str | None, decimal: str | None, columns: tuple[tuple[str, str], ...], by: str | None,
    series: tuple[tuple[str, str], ...], where: tuple[tuple[str, str], ...], start: str | None,
    doubled: str | None, sheet: str | None, as_written: bool, yes: bool,
    undo: tuple[str, ...], salts: tuple[tuple[str, str, str, str], ...],
    together: tuple[str, str] | None, now: str | None, folder: Path,
) -> None:  # fmt: skip
    """Take in logger exports, as the loggers' programs write them.

    Says in words what it understood of each file, and asks. Rows that cannot be used are refused with their
    line and reason; no row is taken in twice. Without files: what is there, how old, and what is suspect.
    """
    declared = load_declaration(folder)
    if logger is not None and logger not in declared.loggers:
        known = ", ".join(declared.loggers) or "none yet"
        raise click.UsageError(f"--logger {logger}: the study's loggers are {known}")
    _check_columns(columns, series, declared)
    from ...readings.layout import Hints

    at = asked_time(now, declared, wall_clock())
    hints = Hints(
        logger, zone, unit, dates, decimal, columns, tuple(b.strip() for b in by.split(",")) if by else (),
        series, where, asked_time(start, declared, at) if start else None, doubled, as_written,
        sheet, at,
    )  # fmt: skip
    if undo:
        _undo(folder, undo, declared)
    if salts:
        _add_salts(folder, salts, declared, at)
    if together:
        _compare(folder, declared, together, at)
    if files:
        status = _take_in(folder, files, declared, hints, yes)
        if status:
            sys.exit(int(status))
    elif not (undo or salts or together):
        _show(folder, declared, at)


def _check_columns(
    columns: tuple[tuple[str, str], ...], series: tuple[tuple[str, str], ...], declared: Declaration
) -> None:
    from ...readings.recognise import column_meaning
    from ...study import QUANTITIES

    for name, what in columns:
        meaning = column_meaning(what)
        if what != "at" and meaning is None:
            known = ", ".join((*QUANTITIES, "temperature_f", "humidity_fraction", "at"))
            raise click.UsageError(f"--column {name}={what}: a column can hold {known}")
        if meaning and meaning[0] and meaning[0] not in declared.loggers:
            raise click.UsageError(f"--column {name}={what}: there is no logger {meaning[0]} in the study")
    for name, what in series:
        if what not in declared.loggers:
            raise click.UsageError(f"--series {name}={what}: there is no logger {what} in the study")


def _undo(folder: Path, names: tuple[str, ...], declared: Declaration) -> None:
    from ...readings.read import undo_file

    for name in names:
        for intake in undo_file(folder, name, wall_clock()):
            tell_saved(f"{intake.file}: taken out again ({intake.kept:,} readings no longer count).")
    _refresh_newest(folder, declared)


def _take_in(
    folder: Path, files: tuple[Path, ...], declared: Declaration, hints: Hints, yes: bool
) -> ExitStatus:
    problems: list[Problem] = []
    done = 0
    for path in files:
        try:
            done += _one_file(folder, path, declared, hints, yes)
        except ProblemError as error:
            say_problems(error.problems)
            problems += error.problems
    if done:
        _refresh_newest(folder, declared)
    return ExitStatus.WRONG_DATA if problems else ExitStatus.DONE


def _one_file(folder: Path, path: Path, declared: Declaration, hints: Hints, yes: bool) -> bool:
    """Take one file in. Returns whether anything was stored."""
    from ...readings.read import already_taken_in, describe, taken_words
    from ...readings.store import intakes

    intaken, damaged = intakes(folder)
    say_problems(damaged)
    if not path.exists():
        raise fault(
            "no-file",
            path,
            "",
            "there is no such file",
            "a logger's export",
            remedy="Check its name and folder",
        )
    if same := already_taken_in(path, hints, intaken):
        tell(f"{path.name}: taken in already (as {same.file}); nothing new.")
        return False
    staged = _staged(folder, path, declared, hints, yes, intaken=intaken)
    try:
        for line in describe(staged, declared.timezone):
            say(_wrapped(line))
        if not staged.kept:
            tell(f"{path.name}: all {staged.doubles:,} readings are there already; nothing new.")
            staged.discard()
            return False
        if not _agreed(path, yes):
            staged.discard()
            say(f"{path.name}: not taken in.")
            return False
        staged.commit(wall_clock())
    except BaseException:
        staged.discard()
        raise
    counts = staged.counts.refused_count
    refused = f", {counts:,} row{'s' * (counts != 1)} refused" if counts else ""
    kept = f"{staged.kept:,} reading{'s' * (staged.kept != 1)}"
    tell_saved(f"{path.name}: {kept} taken in ({taken_words(staged, declared.timezone)}){refused}.")
    return True


def _wrapped(line: str) -> str:
    """A line of narration broken to fit the terminal, its continuation set in; whole where nobody reads it."""
    if not sys.stderr.isatty():
        return line
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    return textwrap.fill(line, max(40, shutil.get_terminal_size().columns - 1), subsequent_indent=indent)


def _agreed(path: Path, yes: bool) -> bool:
    if yes:
        return True
    if not someone_there():
        raise fault("not-asked", path, "", "nobody is here to ask whether this is right", "a terminal, or --yes",
                    remedy="Give --yes to take in what was understood; nothing was taken in")  # fmt: skip
    return confirm("Is that right?", default=True)


def _staged(
    folder: Path, path: Path, declared: Declaration, hints: Hints, yes: bool, *, intaken: list[Intake]
) -> Staged:
    """Read the file, asking what it leaves open, or refusing it where nobody can be asked."""
    from ...readings.layout import UndecidedError
    from ...readings.read import stage

    for _ in range(8):
        try:
            return stage(folder, path, tuple(declared.loggers), declared.timezone, hints, intaken=intaken)
        except UndecidedError as error:
            if yes or not someone_there():
                raise ProblemError(
                    Problem("undecided", str(path), "", q.asks, "", f"Give {q.flag}; nothing was taken in")
                    for q in error.questions
                ) from None
            say(f"{path.name}:")
            for question in error.questions:
                hints = _answered(question, hints, declared)
    raise fault(
        "undecided",
        path,
        "",
        "is still not understood",
        "",
        remedy="Give the flags that zoneuse readings -h lists",
    )


def _answered(question: LeftOpen, hints: Hints, declared: Declaration) -> Hints:
    say(_wrapped(f"  {question.asks}."))
    if question.hint in ("columns", "by"):
        return _answered_columns(question, hints, declared)
    if question.hint == "as_written":
        if not confirm("  Are the times right as they stand?", default=False):
            raise fault("times", "", "", "the times are not right as they stand", "true times",
                        remedy="Mend the file, or export it again; nothing was taken in")  # fmt: skip
        return replace(hints, as_written=True)
    if question.hint == "sheet":
        return replace(hints, sheet=ask("  Sheet"))
    if question.options:
        answer = ask("  Which", type=click.Choice(question.options))
        answers: dict[str, Any] = {question.hint: answer}
        return replace(hints, **answers)
    if question.hint == "start":
        text = ask("  Start (2026-04-03 14:05)")
        return replace(hints, start=asked_time(text, declared, wall_clock()))
    text = ask("  Time zone (Europe/Vienna, +01:00)")
    return replace(hints, zone=_zone(click.get_current_context(), click.Option(["--tz"]), text))


def _answered_columns(question: LeftOpen, hints: Hints, declared: Declaration) -> Hints:
    """Which columns, one to a line; an empty line ends."""
    context, option = click.get_current_context(), click.Option(["--column"])
    if question.hint == "by":
        text = ask("  Columns, separated by commas")
        hints = replace(hints, by=tuple(t.strip() for t in text.split(",")))
        say("  Which name stands for which logger? NAME=LOGGER, an empty line when done.")
    else:
        say("  COLUMN=QUANTITY or COLUMN=LOGGER:QUANTITY, an empty line when done.")
    given: list[str] = []
    while text := ask("  ", default="", show_default=False, prompt_suffix=""):
        given.append(text)
    pairs = _pairs(context, option, tuple(given))
    if question.hint == "by":
        return replace(hints, series=(*hints.series, *pairs))
    _check_columns(pairs, (), declared)
    return replace(hints, columns=(*hints.columns, *pairs))


def _refresh_newest(folder: Path, declared: Declaration) -> None:
    """The newest value per zone, for the recorder's first screen."""
    from ...readings.trust import refresh_newest

    refresh_newest(folder, declared)


def _add_salts(
    folder: Path, salts: tuple[tuple[str, str, str, str], ...], declared: Declaration, at: datetime
) -> None:
    from ...readings.trust import add_salt_point

    for logger, salt, at_c, shown in salts:
        try:
            numbers = float(at_c), float(shown)
        except ValueError:
            raise click.UsageError(
                f"--salt-point {logger} {salt} {at_c} {shown}: the last two are numbers"
            ) from None
        on = at.astimezone(declared.timezone).date()
        true = add_salt_point(folder / "study.toml", logger, salt, *numbers, on=on)
        tell_saved(f"{logger}: {true:.1f} % above {salt} at {numbers[0]:g} °C, shown {numbers[1]:g} % "
                   f"({true - numbers[1]:+.1f}); noted in study.toml.")  # fmt: skip
    _refresh_newest(folder, load_declaration(folder))


def _compare(folder: Path, declared: Declaration, together: tuple[str, str], at: datetime) -> None:
    from ...readings.trust import load_all, side_by_side_lines

    low, high = (int(asked_time(text, declared, at).timestamp() * 1000) for text in together)
    for line in side_by_side_lines(load_all(folder, declared, low, high), declared, low, high):
        tell(line)


_MARKS_SHOWN = 8


def _show(folder: Path, declared: Declaration, at: datetime) -> None:
    """What is there of each logger: a table, a strip of coverage, and what is suspect."""
    from ...readings.store import intakes
    from ...readings.trust import mark_lines, marks_of, overview, overview_lines

    intaken, damaged = intakes(folder)
    say_problems(damaged)
    name = max((len(n) for n in declared.loggers), default=0)
    width = max(20, min(shutil.get_terminal_size((80, 24)).columns - name - 4, 100))
    views = overview(folder, declared, intaken, at, width)
    for line in overview_lines(views, at, declared.timezone):
        tell(line)
    marks = mark_lines(marks_of(intaken), declared.timezone)
    if marks:
        tell("\nMarks, newest first (zoneuse adjust … --mark LOGGER:N puts one on record as a change):")
    for line in marks[:_MARKS_SHOWN]:
        tell(f"  {line}")
    if len(marks) > _MARKS_SHOWN:
        tell(f"  and {len(marks) - _MARKS_SHOWN:,} earlier")
