"""`watch --from-paper`: a session written by hand goes in with the same keys, its times typed once."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import click

from ...journal import RecordToWrite, write_rows
from ...recording import Plan, Who
from ...study import Declaration, parse_when, spoken_time, visible
from ...study.treatments import Under
from ..narration import say, say_wrapped, tell_saved
from .recording import answer_rows, event_row

_HOW = (
    "For each, in this order: the zone's key and the behaviour's, as in cr; - not found; = as in the scan before; "
    ". nothing ticked; c? a guess, c~ hidden, cr!x an event x too; a group c3,w2,-1. < takes the last scan back; "
    "an empty line ends and saves."
)


def enter_paper(plan: Plan, now: datetime) -> None:
    """Ask for the first scan's time, then for a line a scan; written as one session, at the paper's times."""
    declared = plan.declared
    first = _first_scan(declared, now)
    if first is None:
        say("Nothing was entered.")
        return
    every = timedelta(seconds=plan.every_s)
    say_wrapped(f"Scans every {plan.every_s:g} s (--every changes it). {_HOW}")
    say_wrapped("Order: " + ", ".join(f"{one.key or one.id} {visible(one.label)}" for one in plan.who))
    scans: list[list[RecordToWrite]] = []
    while (
        line := _asked(f"Scan {len(scans) + 1}, {_clock(declared, first + every * len(scans))}")
    ) is not None:
        if line == "<":
            say(f"Scan {len(scans)} is taken back." if scans else "There is none before it.")
            scans = scans[:-1]
            continue
        at = first + every * len(scans)
        if at > now:
            say("That scan would be in the future: the paper ends before it, or began earlier.")
            continue
        try:
            scans.append(_scan(plan, line.split(), scans, at))
        except click.UsageError as error:
            say_wrapped(f"{error.message} The line again, please.")
    _save(plan, [row for scan in scans for row in scan], len(scans), now)


def _save(plan: Plan, rows: Sequence[RecordToWrite], scans: int, now: datetime) -> None:
    if not rows:
        say("Nothing was entered.")
        return
    treatment: Under | None = plan.treatment
    write_rows(
        plan.declared, now, rows, method="scan", observer=plan.observer, treatment=treatment,
        timed={"every_s": plan.header["every_s"], "minutes": max(1, round(scans * plan.every_s / 60))},
    )  # fmt: skip
    began = spoken_time(rows[0].at or now, plan.declared.timezone)
    made = f"{len(rows)} record{'s' * (len(rows) != 1)} of {scans} scan{'s' * (scans != 1)}"
    tell_saved(f"Saved: {made} from {began}, entered now.")


def _clock(declared: Declaration, at: datetime) -> str:
    return f"{at.astimezone(declared.timezone):%H:%M:%S}"


def _asked(question: str) -> str | None:
    """A line; None where it is empty, or there are no more: what was entered so far is then saved."""
    say(f"{question}:")
    try:
        line = sys.stdin.readline()
    except KeyboardInterrupt:
        return None
    return line.strip() or None


def _first_scan(declared: Declaration, now: datetime) -> datetime | None:
    while (line := _asked("When was the first scan (yesterday 21:30, or 2026-03-01 21:30)")) is not None:
        try:
            at = parse_when(line, now, declared.timezone)
        except ValueError as error:
            say(f"  {error}.")
            continue
        if at <= now:
            return at
        say("  That is in the future.")
    return None


def _scan(
    plan: Plan, words: Sequence[str], before: Sequence[Sequence[RecordToWrite]], at: datetime
) -> list[RecordToWrite]:
    """The rows of one scan. Raises click.UsageError, in words, where the line cannot be read."""
    if len(words) != len(plan.who):
        raise click.UsageError(
            f"{len(words)} answers for {len(plan.who)}: one for each, with spaces between."
        )
    number = len(before) + 1
    rows: list[RecordToWrite] = []
    for who, word in zip(plan.who, words, strict=True):
        found = _again(who, before) if word == "=" else _answer(plan, who, word, at)
        for row in found:
            about = {} if row.kind == "happened" else {"scan": number}
            rows.append(replace(row, at=at, fields={**row.fields, **about}))
    return rows


def _again(who: Who, before: Sequence[Sequence[RecordToWrite]]) -> list[RecordToWrite]:
    """What was answered for this one in the scan before; an event is not repeated."""
    mine = who.fields.items()
    found = [r for r in (before[-1] if before else ()) if mine <= r.fields.items() and r.kind != "happened"]
    if not found:
        raise click.UsageError(f"{visible(who.label)} has no answer before this one to repeat.")
    return found


def _answer(plan: Plan, who: Who, word: str, at: datetime) -> list[RecordToWrite]:
    if word == ".":
        return [RecordToWrite("missed", who.fields)]
    if who.group:
        return answer_rows(plan.declared, who.id, word, at)
    place, *events = word.split("!")
    rows = answer_rows(plan.declared, who.id, _parted(plan, who, place), at)
    zone = rows[0].fields.get("zone")
    return [*rows, *(event_row(plan.declared, who.id, key, zone) for key in events if key)]


def _parted(plan: Plan, who: Who, text: str) -> str:
    """``cr`` as ``c,r``: a zone's key, and what is left a behaviour's; with the marks behind."""
    bare = text.rstrip("?~")
    marks = text[len(bare) :]
    if bare == "-" or "," in bare:
        return text
    zones = plan.zone_by_key(who.enclosure)
    behaviours = {b.key for b in plan.behaviours}
    for i in range(len(bare), 0, -1):
        if bare[:i] in zones and (bare[i:] in behaviours or i == len(bare)):
            return f"{bare[:i]}{marks}" + (f",{bare[i:]}" if bare[i:] else "")
    return text
