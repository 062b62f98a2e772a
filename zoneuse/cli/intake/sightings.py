"""`zoneuse sightings`: take in tables of past observations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...answers.phrases import counted
from ...study import Problem, fault, parse_duration_h, spoken_time
from ..narration import ExitStatus, confirm, say, say_problems, tell, tell_saved
from ..options import someone_there, study_option, wall_clock
from .past_reading import ReadAgainst, can_ask, read_past

if TYPE_CHECKING:
    from ...journal import Journals, RowChange, TableFile, Taken
    from ...journal.past.rows import Sighting
    from ...study import Declaration

_SHOWN = 12
# So many rows with the same fault are named one by one.
_ALIKE = 3


@click.command(
    epilog="Examples:  zoneuse sightings evening.csv    zoneuse sightings notes.xlsx --sheet 2 "
    "--column date=Datum --column time=Uhrzeit --map 'Höhle=cave'"
)
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--column", "columns", multiple=True, metavar="OURS=THEIRS", help="Which column of the file holds what."
)
@click.option("--wide", type=click.Choice(["animal", "zone", "behaviour"]),
              help="A column for each animal (cells are zones), zone (counts) or behaviour (how often).")  # fmt: skip
@click.option("--map", "names", multiple=True, metavar="THEIRS=OURS",
              help="What the file calls a zone, animal, behaviour or treatment ('x=-': not found; 'zone:1=cool': "
                   "in that column only).")  # fmt: skip
@click.option("--dates", type=click.Choice(["DMY", "MDY", "YMD"], case_sensitive=False),
              help="Order of day, month and year.")  # fmt: skip
@click.option("--day-1", "day_1", metavar="DATE", callback=lambda _, __, given: given and _date(given),
              help="When day 1 was, where the table numbers its days (lone hours are then clock times).")  # fmt: skip
@click.option("--session-gap", "gap", metavar="30min",
              help="Without a column of sessions, one ends where nothing was noted for this long (30min).")  # fmt: skip
@click.option("--cells", type=click.Choice(["seconds", "minutes", "hours", "share", "mean"]),
              help="What the numbers are if not counts: time, a share of it, a mean of counts.")  # fmt: skip
@click.option("--of", "of_time", metavar="1h", help="Of how much time (or a column `of`, in the same unit).")
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook, by name or number.")
@click.option("--yes", is_flag=True, help="Take it in without asking.")
@click.option(
    "--long-session",
    "long_sessions",
    multiple=True,
    metavar="ID",
    help="This session of the table really did last for days.",
)
@click.option(
    "--replace", is_flag=True, help="Let rows changed in the file since then count as they are now."
)
@click.option(
    "--undo", "take_out", is_flag=True, help="Take what came from FILE back out; its name is enough."
)
@study_option
@click.pass_context
def sightings(
    ctx: click.Context,
    *,
    files: tuple[Path, ...],
    columns: tuple[str, ...],
    wide: str | None,
    names: tuple[str, ...],
    dates: str | None,
    day_1: str | None,
    gap: str | None,
    sheet: str | None,
    cells: str | None,
    of_time: str | None,
    yes: bool,
    long_sessions: tuple[str, ...],
    replace: bool,
    take_out: bool,
    folder: Path,
) -> None:
    """Take in tables of past notes: text or a workbook, with a column for when, where and which animal.

    Columns: at (or date and time), session, animal, zone, behaviour, observer, group, count, method;
    minutes (or seconds, hours) and of, for so much of the time in a zone or doing something. An empty
    zone means: looked for and not found. No row is ever taken in twice; a later version of a file adds what is new.
    """
    from ...journal import ReadAs, read_journals
    from ...study import load_declaration

    declared = load_declaration(folder)
    said = ReadAs(
        columns=_renamed(columns), wide=wide or "", dates=dates or "", gap_min=_hours(gap, "--session-gap", 60),
        names=_mapped(names), sheet=sheet or "", cells=cells or "",
        of_s=_hours(of_time, "--of", 3600), day_1=day_1 or "",
    )  # fmt: skip
    taken_any = False
    for path in files:
        journals = read_journals(folder)
        say_problems(p for p in journals.problems if not p.hint)
        if take_out:
            taken_any = _undo(declared, path, journals) or taken_any
        else:
            table = read_past(path, said, ReadAgainst(declared, journals, can_ask(yes)))
            how = _How(yes, long_sessions, replace)
            taken_any = _take_in(declared, table, journals, how) or taken_any
    if not taken_any:
        ctx.exit(ExitStatus.WRONG_DATA)


def _renamed(columns: tuple[str, ...]) -> dict[str, str]:
    from ...journal import COLUMNS

    renamed = dict(_pair(pair, "--column") for pair in columns)
    for ours in renamed:
        if ours not in COLUMNS:
            raise click.UsageError(
                f"--column {ours}=…: give it as OURS=THEIRS; ours are {', '.join(COLUMNS)}"
            )
    return renamed


def _mapped(names: tuple[str, ...]) -> dict[str, str]:
    """What ``--map`` says, refused where it says two things of one name: a tank and a chamber called 1."""
    said: dict[str, str] = {}
    for theirs, ours in (_pair(n, "--map") for n in names):
        if said.setdefault(theirs, ours) != ours:
            raise click.UsageError(
                f"--map {theirs}={said[theirs]} and --map {theirs}={ours} say two things of one name; say which "
                f"column each is of, as --map group:{theirs}=… and --map zone:{theirs}=…"
            )
    return said


def _pair(text: str, flag: str) -> tuple[str, str]:
    left, equals, right = text.rpartition("=")
    if not equals or not left.strip() or not right.strip():
        raise click.UsageError(f"{flag} {text}: give it as ONE=OTHER")
    return left.strip(), right.strip()


def _date(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise click.UsageError(f"--day-1 {text}: give a date such as 2026-03-01") from None


def _hours(text: str | None, flag: str, parts: float) -> float | None:
    """A time in so many parts of an hour."""
    try:
        return None if text is None else parse_duration_h(text) * parts
    except ValueError as error:
        raise click.UsageError(f"{flag}: {error}") from None


class _How:
    """How the keeper wants it: unasked, with which long sessions, and whether changed rows count."""

    def __init__(self, yes: bool, long_sessions: tuple[str, ...], replace: bool) -> None:
        self.yes, self.long_sessions, self.replace = yes, long_sessions, replace


def _take_in(declared: Declaration, table: TableFile, journals: Journals, how: _How) -> bool:
    """Say what was understood, ask, take in, and say what came of it. True where the rows are there now."""
    from ...journal import compare, take_in, told, understand, unknown_names

    name = table.path.name
    _refuse_undeclared_treatments(declared, table)
    good, refused = understand(declared, table, how.long_sessions)
    say_problems(told(table, unknown) for unknown in unknown_names(declared, table)[:_SHOWN])
    if not good:
        _say_refused(refused)
        say(f"{name}: none of its {len(table.rows)} rows can be taken in.")
        return False
    _say_understood(declared, table, good, len(refused))
    found = compare(table, good, journals)
    if found.sessions:
        new = len({(s.session, s.observer) for s in found.fresh} - found.sessions.keys())
        say(f"  It is here already in part: {counted(found.as_before, 'session')} as before, {new} new, "
            f"{counted(len(found.changed), 'row')} changed, {len(found.gone)} no longer in it.")  # fmt: skip
    if not how.yes and someone_there() and not confirm("Take it in", default=True):
        say("Nothing was taken in.")
        return False
    taken = take_in(
        declared, table, journals, wall_clock(), long_sessions=how.long_sessions, replace=how.replace
    )
    _say_refused(taken.refused)
    _say_changes(declared, (*taken.changed, *taken.gone), how.replace)
    tell_saved(f"{name}: {_taken_words(taken)}")
    return True


def _refuse_undeclared_treatments(declared: Declaration, table: TableFile) -> None:
    """A column that the keeper says holds treatments is never left out because none is declared."""
    said = table.read_as.columns.get("treatment")
    if said and not declared.treatments:
        found = "the study declares no treatment"
        remedy = f"Declare each that stands in column {said}: [treatments.NAME] (docs/designs.md)"
        raise fault("no-treatments", declared.folder / "study.toml", "treatments", found, remedy=remedy)


def _say_understood(declared: Declaration, table: TableFile, good: Sequence[Sighting], lost: int) -> None:
    from ...journal import USUAL_GAP_MIN

    sessions = {(s.session, s.observer) for s in good}
    first, last = (spoken_time(f(s.at for s in good), declared.timezone) for f in (min, max))
    rows, number = sum(s.rows for s in good), len({s.who for s in good})
    whose = "1 animal or group" if number == 1 else f"{number} animals or groups"
    say(
        f"{table.path.name}: {counted(rows, 'row')} in {counted(len(sessions), 'session')}, {first} to {last} "
        f"({declared.timezone}), {whose}; {counted(lost, 'row')} refused."
    )
    if table.by_gaps:
        gap = table.read_as.gap_min or USUAL_GAP_MIN
        ends = f"one ends where nothing was noted for {gap:g} min (--session-gap), and after a day"
        say(f"  It names no sessions: {ends}.")
    left_out = list(table.left_out)
    if not declared.treatments and any(row.get("treatment") for _, row in table.rows):
        left_out.append("treatment (study.toml declares none)")
    if left_out:
        say(f"  Columns not read: {', '.join(left_out)}.")


def _taken_words(taken: Taken) -> str:
    parts = [f"{counted(taken.rows, 'row')} taken in as {counted(taken.sessions, 'session')}"]
    for number, what in (
        (taken.skipped, "already here"),
        (taken.corrected, "corrected since, which stay corrected"),
        (taken.taken_back, "taken back since, which stay out"),
        (taken.replaced, "replaced"),
        (0 if taken.replaced else len(taken.changed), "changed in the file, which wait for --replace"),
        (
            0 if taken.replaced else len(taken.gone),
            "no longer in the file, which stay (--replace takes them back)",
        ),
    ):
        if number:
            parts.append(f"{number:,} {what}")
    return ", ".join(parts) + f", {len(taken.refused):,} refused."


def _say_changes(declared: Declaration, changes: Sequence[RowChange], replaced: bool) -> None:
    from ...journal.past.versions import where_words

    for change in changes[:_SHOWN]:
        old, new = change.old, change.new
        at = spoken_time(old.at, declared.timezone)
        line = f"line {new.line}" if new else "no longer there"
        now = where_words(new) if new else "nothing"
        moved = f" at {spoken_time(new.at, declared.timezone)}" if new and new.at != old.at else ""
        verb = "was" if replaced else "is here"
        say(
            f"  {line}: {old.who or 'nobody'}, {at}, {verb} {where_words(old)}; the file now says {now}{moved}."
        )
    if len(changes) > _SHOWN:
        say(f"  … and {len(changes) - _SHOWN:,} more.")


def _undo(declared: Declaration, path: Path, journals: Journals) -> bool:
    """Take a file back out, by its name or by what is in it, and say what it leaves."""
    from ...journal import named, undo
    from ...study import sha256_of

    sha256s = named(journals, path.name)
    if path.is_file():
        sha256s.add(sha256_of(path))
    if not sha256s:
        raise fault(
            "not-taken-in", path, "", "nothing of that name was taken in", "a file that zoneuse sightings took in",
            remedy="Give its name as it was then",
        )  # fmt: skip
    done = undo(declared, sha256s, journals, wall_clock())
    if not done.sessions and not done.restored:
        tell(f"{path.name}: nothing of it is here.")
        return False
    tell_saved(
        f"{path.name}: {counted(done.sessions, 'session')} taken back out, with {counted(done.records, 'record')}."
    )
    if done.restored:
        tell_saved(f"  Restored: {counted(done.restored, 'row')} it had replaced.")
    if done.by_hand:
        tell_saved(f"  {done.by_hand:,} of the records had been corrected with mend; those went too.")
    for name, rows in done.left.items():
        tell_saved(f"  Kept: {counted(rows, 'row')} of the same sessions, from {name}.")
    return True


def _say_refused(refused: Sequence[Problem]) -> None:
    """Each fault once, with how many rows have it: two hundred rows of -1 hide no other."""
    kinds: dict[tuple[str, ...], list[Problem]] = {}
    for one in refused:
        column = one.place.partition(", ")[2]
        kinds.setdefault((one.code, column, one.found, one.expected), []).append(one)
    for alike in list(kinds.values())[:_SHOWN]:
        if alike[0].code == "long-session":
            say_problems(alike[:1])
            continue
        more = f", and so in {len(alike) - 1:,} more rows" if len(alike) > _ALIKE else ""
        say_problems([replace(alike[0], found=alike[0].found + more)] if more else alike)
    hidden = sum(map(len, list(kinds.values())[_SHOWN:]))
    if hidden:
        say(f"… and {counted(hidden, 'more row')} refused.")
