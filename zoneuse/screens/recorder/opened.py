"""What the program's keys open over the watching screen, while the beat goes on."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from ...recording import (
    ACTIONS,
    WHATS,
    Action,
    Added,
    Correction,
    Instant,
    LedgerEntry,
    Recorder,
    Rounding,
    Said,
    broken,
    corrections,
    free_zone_key,
    line_words,
    put_into_session,
    read_key,
    reading_age,
    understand,
    value_words,
    write_said,
)
from ...recording.words import clock_words, zone_label
from ...study import visible
from .boxes import AskText, ListItem, Page, Pick
from .host import Beneath
from .shown import NARROW


def open_box(name: str, screen: Beneath, instant: Instant) -> None:
    """Open what an action asks for."""
    {
        "write": _write, "records": _records, "limits": _limits, "elsewhere": _elsewhere, "help": _help,
        "menu": _menu, "new_zone": _new_zone,
    }[name](screen, instant)  # fmt: skip


def _menu(screen: Beneath, instant: Instant) -> None:
    """Every action, by its letter, by arrows, or by touch."""

    def take(action: Action) -> None:
        screen.do(action.name, screen.recorder.clocks())

    wide = screen.size.width >= NARROW
    choices = [
        ListItem(f"{a.short} ({a.shows})" + (f": {a.says}" if wide else ""), a, a.letter)
        for a in ACTIONS
        if a.name != "menu"
    ]
    screen.app.push_screen(Pick("Menu: a letter does it, Esc closes.", choices, take, None, at_once=True))


def _write(screen: Beneath, instant: Instant) -> None:
    """A note or context; its time is that of the key that opened this."""
    core, known = screen.core, screen.recorder.known

    def take(said: Said | None) -> None:
        if said is not None:
            write_said(core, said, instant)
        screen.show()

    def check(text: str) -> Said | None:
        if not text.strip():
            return None
        return understand(core.plan.declared, text.split(), instant.at, known.open_periods)

    hint = (
        f"{', '.join(WHATS[:6])} …: then the animal's key, and more words. "
        "adjust water ZONE 2 l. Anything else is a note."
    )
    screen.app.push_screen(AskText("Note (the beat goes on)", hint, check, take))


def _records(screen: Beneath, instant: Instant) -> None:
    core = screen.core
    lines = list(reversed(core.records))
    if not lines:
        core.tell("Nothing recorded yet.")
        return

    def take(line: LedgerEntry) -> None:
        if line.void:
            core.tell("That record was taken back already.")
        else:
            _correct(screen, line)
        screen.show()

    choices = [ListItem(_listed(core, line), line) for line in lines]
    many = f"{len(lines)} records, newest first" if len(lines) > 1 else "1 record"
    screen.app.push_screen(Pick(f"{many}. Enter corrects one.", choices, take))


def _listed(core: Recorder, line: LedgerEntry) -> str:
    scan = f" scan {line.fields['scan']}" if line.fields.get("scan") is not None else ""
    state = "taken back: " if line.void else "" if line.saved else "NOT SAVED: "
    said = line_words(core.plan.declared, line)
    return f"{clock_words(line.instant.at, core.plan.declared)}{scan}  {state}{said}"


def _correct(screen: Beneath, line: LedgerEntry) -> None:
    core = screen.core

    def take(chosen: Correction) -> None:
        core.correct(line, screen.recorder.clocks(), chosen.fields)
        screen.show()

    choices = [ListItem(one.says, one, one.key) for one in corrections(core, line)]
    title = f"{line_words(core.plan.declared, line)}. What was it?"
    screen.app.push_screen(Pick(title, choices, take, None))


def _limits(screen: Beneath, instant: Instant) -> None:
    declared = screen.core.plan.declared
    outside = broken(declared, screen.newest, instant.at)
    lines = [f"! {text}" for text in outside]
    if outside:
        lines += ["The animal comes before the record: act first, write it down after.", ""]
    for zone in declared.zones:
        mine = [one for one in screen.newest if one.zone == zone]
        if mine:
            values = ", ".join(f"{value_words(declared, o)} {reading_age(o, instant.at)} ago" for o in mine)
            lines.append(f"{zone_label(declared, zone)}: {values}")
    screen.app.push_screen(
        Page(lines or ["No readings yet. zoneuse readings FILE takes in a logger's export."])
    )


def _elsewhere(screen: Beneath, instant: Instant) -> None:
    core = screen.core

    def check(text: str) -> Path:
        if not text.strip():
            raise ValueError("give a folder on another disk, such as /media/stick")
        return Path(text.strip()).expanduser()

    def take(folder: Path) -> None:
        done = core.ledger.go_elsewhere(folder, screen.recorder.clocks())
        where = core.ledger.journal.path
        core.tell(f"Saved in {where}" if done else f"That failed too: {core.ledger.trouble}.")
        screen.show()

    hint = "This session goes on in a file there. Copy that file into the study's journal folder later."
    screen.app.push_screen(AskText("Write the records to another folder", hint, check, take))


def _new_zone(screen: Beneath, instant: Instant) -> None:
    """Its label, then its key; both are in study.toml before it can be recorded."""
    core = screen.core
    if screen.recorder.practice is not None:
        core.tell("Zones cannot be added in practice.")
        return

    def take_label(label: str | None) -> None:
        if label:
            hint = "A letter that is free. Its amount is given later, in study.toml."
            check = partial(read_key, core, label)
            proposal = free_zone_key(core, label)
            box = AskText(f"The key of {visible(label)}", hint, check, take_key, proposal, proposed=True)
            screen.app.push_screen(box)

    def take_key(added: Added) -> None:
        put_into_session(core, added, screen.recorder.clocks())
        screen.show()

    hint = "As you would call it, such as: under the new bark. Esc goes back"
    screen.app.push_screen(AskText("A zone that turned up", hint, lambda text: text.strip()[:60], take_label))


def _help(screen: Beneath, instant: Instant) -> None:
    core = screen.core
    plan = core.plan
    here = (core.prompt(instant).who or plan.who[0]).enclosure
    lines = ["Your keys"]
    lines += [f"  {z.key}  {visible(z.label)}" for z in plan.zones(here)]
    lines += [f"  {b.key}  {visible(b.label)}{'' if b.lasts else '!  (momentary)'}" for b in plan.behaviours]
    lines += [f"  {w.key}  {visible(w.label)}" for w in plan.who]
    lines += [
        "",
        "A group's counts: c3 w2 -1, then Enter",
        "Marks: 2? a guess, 2~ hidden, [2] asked about",
        *(_ROUND_KEYS if isinstance(core.mode, Rounding) else ()),
        "",
        "The program's keys",
        *(
            f"  {a.shows:<17} {a.says}" if screen.size.width >= NARROW else f"  {a.shows}  {a.says}"
            for a in ACTIONS
        ),
        "",
        "None of them needs Shift; F9 or Ctrl+P, then a letter, does each of them too.",
    ]
    screen.app.push_screen(Page(lines))


# Where a key does to retreats what it does elsewhere to animals.
_ROUND_KEYS: tuple[Any, ...] = (
    "In a round: ▸ looked into now, ✓ done, × left out",
    "  Enter or -   this retreat is done, the next one",
    "  Tab          this retreat is not looked into",
    "  F7 or _      its cover is lifted, or not",
    "  End or *     some not told apart: how many",
    "  PgUp or <    back a retreat; a zone's key goes there",
)
