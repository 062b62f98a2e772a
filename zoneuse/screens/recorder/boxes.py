"""What opens over the watching screen, while the beat goes on: notes, the list, readings, keys, the summary."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from ...recording.modes.recorder import Recorder
from ...recording.session.actions import ACTIONS
from ...recording.session.ledger import Line
from ...recording.session.moment import Moment
from ...recording.session.newest import age_words, broken, value_words
from ...recording.session.notes import WHATS, Said, understand
from ...recording.telling.said import write_said
from ...recording.words import clock_words, line_words, zone_label
from ...study.labels import visible
from .app import RecorderApp

if TYPE_CHECKING:
    from .watch import WatchScreen


class Modal(ModalScreen[Any]):
    """A box at the lower edge; Escape closes it."""

    BINDINGS = [Binding("escape", "close", show=False)]  # noqa: RUF012 - Textual reads it so

    def action_close(self) -> None:
        self.dismiss(None)


class AskText(Modal):
    """One line of text. A mistake is said under it and can be mended."""

    def __init__(self, title: str, hint: str, check: Callable[[str], object], value: str = "") -> None:
        super().__init__()
        self._title, self._hint, self._check, self._value = title, hint, check, value

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Content(self._title))
            yield Input(self._value, id="text", select_on_focus=False)
            yield Static(Content(self._hint), id="hint")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        try:
            answer = self._check(event.value)
        except ValueError as error:
            self.query_one("#hint", Static).update(Content(f"{error}."))
            return
        self.dismiss(answer)


class Pick(Modal):
    """One of several things, by arrows and Enter or by touch."""

    def __init__(self, title: str, options: Sequence[tuple[str, object]], at: int = 0) -> None:
        super().__init__()
        self._title, self._options, self._at = title, list(options), at

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Content(self._title))
            yield OptionList(*[Option(Content(text)) for text, _ in self._options])

    def on_mount(self) -> None:
        self.query_one(OptionList).highlighted = self._at if self._options else None

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self._options[event.option_index][1])


class Page(Modal):
    """Lines to read."""

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self._lines = lines

    def compose(self) -> ComposeResult:
        with VerticalScroll(classes="box page"):
            yield Static(Content("\n".join([*self._lines, "", "Esc or a touch closes this."])))

    def on_click(self, event: events.Click) -> None:
        self.dismiss(None)

    def on_key(self, event: events.Key) -> None:
        if event.key in ("enter", "question_mark", "f1", "space", "q"):
            event.stop()
            self.dismiss(None)


def open_box(name: str, screen: WatchScreen, moment: Moment) -> None:
    """Open what an action asks for."""
    {"write": _write, "records": _records, "limits": _limits, "elsewhere": _elsewhere, "help": _help}[name](
        screen, moment
    )


def _write(screen: WatchScreen, moment: Moment) -> None:
    """A note or context; its time is that of the key that opened this."""
    core, known = screen.core, screen.recorder.known

    def take(said: Said | None) -> None:
        if said is not None:
            write_said(core, said, moment)
        screen.show()

    def check(text: str) -> Said | None:
        if not text.strip():
            return None
        return understand(core.plan.declared, text.split(), moment.at, known.open_periods)

    hint = (
        f"{', '.join(WHATS[:6])} …: then the animal's key, and more words. "
        "adjust water ZONE 2 l. Anything else is a note."
    )
    screen.app.push_screen(AskText("Note (the beat goes on)", hint, check), take)


def _records(screen: WatchScreen, moment: Moment) -> None:
    core = screen.core
    lines = list(reversed(core.records))
    if not lines:
        core.tell("Nothing recorded yet.")
        return

    def chosen(line: Line | None) -> None:
        if line is not None and not line.void:
            _correct(screen, line)
        screen.show()

    options = [(_listed(core, line), line) for line in lines]
    screen.app.push_screen(Pick(f"{len(lines)} records, newest first. Enter corrects one.", options), chosen)


def _listed(core: Recorder, line: Line) -> str:
    scan = f" scan {line.fields['scan']}" if line.fields.get("scan") is not None else ""
    state = "taken back: " if line.void else "" if line.saved else "NOT SAVED: "
    said = line_words(core.plan.declared, line)
    return f"{clock_words(line.moment.at, core.plan.declared)}{scan}  {state}{said}"


def corrections(core: Recorder, line: Line) -> list[tuple[str, dict[str, Any] | None]]:
    """What may have been meant instead: each one change of the record; None takes it back."""
    declared, fields = core.plan.declared, dict(line.fields)
    options: list[tuple[str, dict[str, Any] | None]] = [("Take it back", None)]
    if line.kind == "checked":
        said = {key: bool(fields.get(key)) for key in ("skipped", "lifted")}
        for text, skipped, lifted in (
            ("Looked into, its cover was lifted", False, True),
            ("Looked into, its cover was not lifted", False, False),
            ("It was not looked into", True, False),
        ):
            if said != {"skipped": skipped, "lifted": lifted}:
                how = {"skipped": True} if skipped else {"lifted": lifted}
                options.append((text, {"zone": fields["zone"], **how}))
        return options
    if line.kind not in ("seen", "unseen", "happened"):
        return options
    who = next((w for w in core.plan.who if w.id == (fields.get("animal") or fields.get("group"))), None)
    there = declared.zones.get(str(fields.get("zone")))
    enclosure = who.enclosure if who is not None else there.enclosure if there else core.plan.enclosures[0]
    if line.kind == "seen":
        for zone in core.plan.zones(enclosure):
            if zone.id != fields.get("zone"):
                options.append((f"{zone.key}  it was in {visible(zone.label)}", {**fields, "zone": zone.id}))
    for behaviour in declared.behaviours.values():
        fits = behaviour.lasts == (line.kind == "seen") and line.kind != "unseen"
        if fits and behaviour.id != fields.get("behaviour"):
            text = f"{behaviour.key}  it was {visible(behaviour.label).lower()}"
            options.append((text, {**fields, "behaviour": behaviour.id}))
    for other in core.plan.who:
        # One without a name can be told apart afterwards; several at once cannot.
        one = bool(fields.get("animal")) or (not fields.get("group") and fields.get("count") in (None, 1))
        if one and not other.group and other != who and other.enclosure == enclosure:
            named = {**fields, "animal": other.id, "count": None}
            options.append((f"{other.key}  it was {visible(other.label)}", named))
    if line.kind == "seen":
        guess, hidden = fields.get("sure") is False, bool(fields.get("hidden"))
        options.append(
            ("It was sure" if guess else "It was a guess", {**fields, "sure": None if guess else False})
        )
        options.append(
            ("It was visible" if hidden else "It was hidden", {**fields, "hidden": None if hidden else True})
        )
    return options


def _correct(screen: WatchScreen, line: Line) -> None:
    core = screen.core
    options = corrections(core, line)

    def chosen(index: int | None) -> None:
        if index is not None:
            core.correct(line, screen.recorder.clocks(), options[index][1])
        screen.show()

    texts = [(text, i) for i, (text, _) in enumerate(options)]
    title = f"{line_words(core.plan.declared, line)}. What was it?"
    screen.app.push_screen(Pick(title, texts, min(1, len(texts) - 1)), chosen)


def _limits(screen: WatchScreen, moment: Moment) -> None:
    declared = screen.core.plan.declared
    outside = broken(declared, screen.newest, moment.at)
    lines = [f"! {text}" for text in outside]
    if outside:
        lines += ["The animal comes before the record: act first, write it down after.", ""]
    for zone in declared.zones:
        mine = [one for one in screen.newest if one.zone == zone]
        if mine:
            values = ", ".join(f"{value_words(declared, o)} {age_words(o, moment.at)} ago" for o in mine)
            lines.append(f"{zone_label(declared, zone)}: {values}")
    screen.app.push_screen(
        Page(lines or ["No readings yet. zoneuse readings FILE takes in a logger's export."])
    )


def _elsewhere(screen: WatchScreen, moment: Moment) -> None:
    core = screen.core

    def check(text: str) -> Path:
        if not text.strip():
            raise ValueError("give a folder on another disk, such as /media/stick")
        return Path(text.strip()).expanduser()

    def take(folder: Path | None) -> None:
        if folder is not None:
            done = core.ledger.go_elsewhere(folder, screen.recorder.clocks())
            where = core.ledger.journal.path
            core.tell(f"Saved in {where}" if done else f"There too: {core.ledger.trouble}.")
        screen.show()

    hint = "This session goes on in a file there. Copy that file into the study's journal folder later."
    screen.app.push_screen(AskText("Write the records to another folder", hint, check), take)


def _help(screen: WatchScreen, moment: Moment) -> None:
    plan = screen.core.plan
    here = (screen.core.prompt(moment).who or plan.who[0]).enclosure
    lines = ["Your keys"]
    lines += [f"  {z.key}  {visible(z.label)}" for z in plan.zones(here)]
    lines += [f"  {b.key}  {visible(b.label)}{'' if b.lasts else '!  (momentary)'}" for b in plan.behaviours]
    lines += [f"  {w.key}  {visible(w.label)}" for w in plan.who]
    lines += [
        "",
        "A group's counts: c3 w2 -1, then Enter",
        "Marks: 2? a guess, 2~ hidden, [2] asked about",
        *(["In a round: ▸ looked into now, ✓ done, × left out", *_ROUND_KEYS] if plan.retreats else []),
        "",
    ]
    lines += ["The program's keys"]
    lines += [f"  {action.shows:<12} {action.says}" for action in ACTIONS]
    screen.app.push_screen(Page(lines))


# Where a key does to retreats what it does elsewhere to animals.
_ROUND_KEYS = (
    "  Enter or -   this retreat is done, the next one",
    "  Tab          this retreat is not looked into",
    "  _            its cover is lifted, or not",
    "  *            some not told apart: how many",
    "  <            back a retreat; a zone's key goes there",
)


class SummaryScreen(Screen[None]):
    """What the session was; any key leaves."""

    def compose(self) -> ComposeResult:
        yield Static(id="banner")
        if self.recorder.practice is None:
            yield Static(id="summary", classes="box")
            return
        # What a practice tells is longer than a phone's screen.
        with VerticalScroll(classes="box page"):
            yield Static(id="summary")

    @property
    def recorder(self) -> RecorderApp:
        return cast(RecorderApp, self.app)

    def on_mount(self) -> None:
        self.set_interval(3.0, self._retry)
        self._show()

    def _retry(self) -> None:
        core = self.recorder.core
        if core is not None and core.ledger.waiting:
            core.ledger.retry(self.recorder.clocks())
            self._show()

    def _show(self) -> None:
        core = self.recorder.core
        assert core is not None
        lines = ["The session is finished.", "", *self.recorder.closing_words(core)]
        if self.recorder.practice is not None:
            lines[0] = "The practice is finished."
        end = "Enter leaves." if not core.ledger.waiting else "F6 writes them to another folder."
        self.query_one("#summary", Static).update(Content("\n".join([*lines, "", end])))

    def on_key(self, event: events.Key) -> None:
        event.stop()
        core = self.recorder.core
        if event.key == "f6" and core is not None:
            self._elsewhere(core)
        elif event.key in ("enter", "escape", "full_stop", "f10", "q"):
            self._leave()

    def on_click(self, event: events.Click) -> None:
        self._leave()

    def _leave(self) -> None:
        core = self.recorder.core
        if core is None or not core.ledger.waiting:
            lines = self.recorder.closing_words(core) if core is not None else []
            # Read in the shell afterwards, which breaks lines anywhere.
            self.app.exit("\n".join(textwrap.fill(line, max(20, self.app.size.width - 1)) for line in lines))

    def _elsewhere(self, core: Recorder) -> None:
        def take(folder: Path | None) -> None:
            if folder is not None:
                core.ledger.go_elsewhere(folder, self.recorder.clocks())
            self._show()

        def check(text: str) -> Path:
            return Path(text.strip() or ".").expanduser()

        self.app.push_screen(
            AskText("Write the records to another folder", "A folder on another disk", check), take
        )
