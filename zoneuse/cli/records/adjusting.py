"""`zoneuse adjust`: put a change to the enclosure on record, with what is expected of it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from ...journal import (
    ADJUSTMENTS,
    Change,
    Journals,
    draw_day,
    new_adjustment_id,
    read_expects,
    read_journals,
    record_change,
    split_amount,
)
from ...study import (
    Declaration,
    UnknownNameError,
    find_zone,
    load_declaration,
    parse_duration_h,
    spoken_time,
    study_day,
)
from ...study.model import Zone
from ..narration import say, say_problems, tell_saved
from ..options import past_time, study_option, wall_clock

_DATE = click.DateTime(formats=["%Y-%m-%d"])


@click.command(
    epilog='Example:  zoneuse adjust water moss_end 2 l --why "hides drying" --expects moss_end:up --study my-demo'
)
@click.argument("what", type=click.Choice(ADJUSTMENTS))
@click.argument("words", metavar="ZONE... [AMOUNT UNIT]", nargs=-1, required=True)
@click.option("--why", metavar="TEXT", help="Why it was changed.")
@click.option(
    "--expects",
    multiple=True,
    metavar="NAME:up|down",
    help="What you expect, said before it is seen: a zone, behaviour, active, moves or quantity.",
)
@click.option("--settle", metavar="2d", help="How long to let it settle (usual: by kind, 2 to 28 days).")
@click.option("--at", "when", metavar="TIME", help="When it was made (default: now).")
@click.option(
    "--mark",
    metavar="LOGGER[:N]",
    help="It was made when that logger was marked: its N-th newest mark (default 1).",
)
@click.option("--forecast", metavar="ZONE.QUANTITY=VALUE", help="Also record the shares expected under that.")
@click.option("--undoes", metavar="ID", help="The earlier adjustment this one takes back in the enclosure.")
@click.option(
    "--draw-from", type=_DATE, metavar="DATE", help="Draw the day of the change by lot: first allowed day."
)
@click.option("--draw-until", type=_DATE, metavar="DATE", help="The last allowed day.")
@click.option("--drawn", metavar="ID", help="This is the drawn change, made now.")
@study_option
def adjust(
    *,
    what: str,
    words: tuple[str, ...],
    why: str | None,
    expects: tuple[str, ...],
    settle: str | None,
    when: str | None,
    mark: str | None,
    forecast: str | None,
    undoes: str | None,
    draw_from: date | None,
    draw_until: date | None,
    drawn: str | None,
    folder: Path,
) -> None:
    """Put a change on record: water, heat, light, cover, layout, feeding, company or other."""
    declared = load_declaration(folder)
    journals = read_journals(folder)
    say_problems(p for p in journals.problems if not p.hint)
    now = wall_clock()
    names, amount, unit = split_amount(words)
    try:
        at = _made_at(folder, declared, when, mark, now=now)
        zones = tuple(_there(declared, find_zone(declared, name, None), at) for name in names)
        expected = tuple(read_expects(declared, text) for text in expects)
        settle_h = None if settle is None else parse_duration_h(settle)
        _check_ids(journals, undoes, drawn)
        taken = [str(e.record.get("adjustment")) for e in journals.entries("adjusted", "drawn")]
        change_id = drawn or new_adjustment_id(what, study_day(declared, at), taken)
        if draw_from is not None or draw_until is not None:
            _draw(declared, change_id, draw_from, draw_until)
            return
        shares = None if forecast is None else _forecast(folder, forecast)
        change = Change(change_id, what, zones, amount, unit, why, expected, settle_h, undoes, shares)
        record_change(declared, change, at, now)
    except (UnknownNameError, ValueError) as error:
        raise click.UsageError(str(error)) from None
    tell_saved(f"{change_id}: on record for {spoken_time(at, declared.timezone)}.")
    if not expected:
        say("No expectation is on record for it, so treat every later finding about it as a lead.")


def _there(declared: Declaration, zone: Zone, at: datetime) -> str:
    """The zone's id, where it was there around then: a change may put it in, or take it away."""
    if not any(p.span.holds(at + days * timedelta(days=1)) for p in zone.present for days in (-1, 0, 1)):
        raise ValueError(
            f"{zone.id} was not there on {spoken_time(at, declared.timezone)}, by its present dates in study.toml"
        )
    return zone.id


def _made_at(
    folder: Path, declared: Declaration, when: str | None, mark: str | None, *, now: datetime
) -> datetime:
    """When the change was made, by the clock or by a logger's mark."""
    if mark is None:
        return past_time(when, declared, now)
    if when is not None:
        raise click.UsageError("--mark and --at both say when it was made; give one of them")
    return _marked(folder, declared, mark)


def _marked(folder: Path, declared: Declaration, mark: str) -> datetime:
    """The time of an event mark a logger kept."""
    # Loads the readings; only an adjustment that is put down by a mark needs them.
    from ...readings.store import intakes
    from ...readings.trust import mark_named, marks_of, time_of

    intaken, damaged = intakes(folder)
    say_problems(damaged)
    found = mark_named(marks_of(intaken), mark, declared.timezone)
    at = time_of(found, declared.loggers[found.logger])
    say(f"Marked {found.says!r} on {spoken_time(at, declared.timezone)}.")
    return at


def _check_ids(journals: Journals, undoes: str | None, drawn: str | None) -> None:
    for option, name, kind in (("--undoes", undoes, "adjusted"), ("--drawn", drawn, "drawn")):
        known = [str(e.record.get("adjustment")) for e in journals.entries(kind)]
        if name is not None and name not in known:
            raise ValueError(
                f"{option} {name}: there is no such adjustment; known: {', '.join(known) or 'none yet'}"
            )


def _draw(declared: Declaration, change_id: str, first: date | None, last: date | None) -> None:
    if first is None or last is None:
        raise ValueError("--draw-from and --draw-until go together")
    days = [d.date() if hasattr(d, "date") else d for d in (first, last)]
    day = draw_day(declared, change_id, days[0], days[1], wall_clock())
    tell_saved(
        f"{change_id}: the lot fell on {day.day} {day:%b %Y}. Make the change on that day, and say so with:"
    )
    tell_saved(f"zoneuse adjust … --drawn {change_id}")


def _forecast(folder: Path, what_if: str) -> dict[str, Any]:
    """The shares expected under a change, as they go on record before it is made."""
    # Loads the answers; only an adjustment with a forecast needs them.
    from ... import __version__
    from ...answers.showing.plain import rows
    from ...answers.study import Study

    answer = Study(folder).preference(what_if=what_if)
    if "what_if" not in answer.parts:
        raise ValueError(f"--forecast {what_if}: {answer.findings[0].says}")
    say(answer.headline)
    shares = {
        r["zone"]: {k: round(r[k], 4) for k in ("share", "low", "high")}
        for r in rows(answer.parts["what_if"])
    }
    return {**shares, "version": __version__}
