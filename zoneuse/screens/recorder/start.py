"""Before the first scan: pre-filled from the last session; asks only what can have changed."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any, cast

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static

from ...recording import SHORT, Instant, Plan, PlanError, broken, care_words, put_away, read_newest
from ...recording.session.cautions import were_put_away
from ...recording.words import clock_words
from ...study import slot_at, visible
from .host import Host, part_of
from .listed import MarkedList
from .looks import warned
from .start_rows import Answers, StartItem, begin_words, next_treatment, start_rows

if TYPE_CHECKING:
    from ...journal import Entry, Session
    from ...recording import Recall


# Rows below which the cautions leave no room for the list.
_LOW = 16


class StartScreen(Screen[None]):
    """One list: the first line begins. What is chosen here is written as soon as the session is open."""

    AUTO_FOCUS = ""

    def __init__(self) -> None:
        super().__init__()
        self.answers = Answers()
        self._ready = self._begin_when_ready = False
        self._trouble = ""
        self._rows: list[StartItem] = []
        self._at = 0
        self.drawn = False

    def compose(self) -> ComposeResult:
        yield Static(id="first-lines")
        yield Static(id="ask")
        yield MarkedList(id="rows")
        yield Static(id="cautions")

    @property
    def recorder(self) -> Host:
        return cast(Host, self.app)

    def on_mount(self) -> None:
        self.drawn = True
        self._plan = self.recorder.plan
        self._show()
        self.call_after_refresh(self.run_worker, self._read_past, thread=True)

    def _read_past(self) -> None:
        """Reading years of journals must not keep anybody waiting for the first screen."""
        known = self.recorder.read_past()
        from . import boxes, opened, watch  # noqa: F401 - so that Enter need not wait for them

        self.app.call_from_thread(self._past_read, known)

    def _past_read(self, known: Recall) -> None:
        self.recorder.past = known
        self.answers.light = known.light
        if self._plan.observer == "keeper" and known.observer:
            self._plan = dataclasses.replace(self._plan, observer=known.observer)
        self._ready = True
        self._show()
        if self._begin_when_ready and not known.unfinished and self.recorder.core is None:
            self._begin(self._plan, self.recorder.clocks())

    def on_resize(self) -> None:
        """Lower than any terminal here is meant for, the list is what must be seen."""
        self.set_class(self.size.height < _LOW, "low")

    # Keys and touches. -------------------------------------------------------------------------------------

    def take_key(self, event: events.Key) -> None:
        steps = {"down": 1, "up": -1, "pagedown": 5, "pageup": -5, "home": -99, "end": 99}
        if self.recorder.core is not None:
            return
        if event.key == "enter":
            # What Enter begins it does not also answer.
            self.recorder.closing.closed("enter", self.recorder.instant_of(event).mono)
            self.choose(self._at)
        elif event.key in steps:
            self._at = max(0, min(self._at + steps[event.key], len(self._rows) - 1))
            if self.drawn and (rows := part_of(self, "rows", MarkedList)) is not None:
                rows.go_to(self._at)

    def take_text(self, text: str) -> None:
        """Nothing is asked yet."""

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self._at = event.option_index
        self.choose(event.option_index)

    def choose(self, index: int) -> None:
        """Do what a line says."""
        if self.recorder.core is not None or not 0 <= index < len(self._rows):
            return  # a second Enter that was faster than the screen: the session is open already
        row, now = self._rows[index], self.recorder.clocks()
        self._trouble = ""
        if row.does == "begin" and not self._ready:
            self._begin_when_ready = True
            return
        self._do(row, now)
        if self.recorder.core is None:
            self._show()

    def _do(self, row: StartItem, now: Instant) -> None:
        if row.does == "begin":
            self._begin(self._plan, now)
        elif row.does == "continue":
            self._continue(row.about, now)
        elif row.does == "join":
            self._join(row.about, now)
        elif row.does == "recover":
            self._recover(row.about, now)
        elif row.does == "fed":
            self.answers.fed = None if self.answers.fed else now
        elif row.does == "treatment":
            self._plan = dataclasses.replace(self._plan, treatment=next_treatment(self._plan))
        elif row.does == "period":
            self._over(row.about, now)
        elif row.does == "cautions":
            put_away(self._plan.declared.folder)
        elif row.does in ("observer", "light", "more"):
            self._ask(row.does, now)

    # What is shown. ----------------------------------------------------------------------------------------

    def _show(self) -> None:
        now, plan = self.recorder.clocks(), self._plan
        declared = plan.declared
        slot = slot_at(declared, plan.enclosures[0], now.at)
        top = [f"{visible(declared.title)} · {slot} · {clock_words(now.at, declared)[:5]}"]
        care = care_words(declared, plan.enclosures[0], self.recorder.past, None, now.at)
        warnings = broken(declared, read_newest(declared.folder), now.at)
        lines = [f"! {text}" for text in warnings[:3]]
        if warnings:
            lines.append("The animal comes before the record: see to it first.")
        lines += [*top, " · ".join(care)]
        if self.recorder.past and self.recorder.past.unread:
            lines.append(self.recorder.past.unread_words)
        away = were_put_away(declared.folder)
        if self.recorder.practice is not None:
            self._rows = [StartItem(f"Begin: {begin_words(plan)}", "begin")]
        else:
            self._rows = start_rows(plan, self.recorder.past, self.answers, now.at)
            self._rows += [] if away else [StartItem("Cautions read: hide them from now on", "cautions")]
        self._at = min(self._at, len(self._rows) - 1)
        if (rows := part_of(self, "rows", MarkedList)) is not None:
            rows.show([row.says for row in self._rows], self._at)
        for name, words in (
            ("first-lines", warned("\n".join(lines), len(warnings[:3]))),
            ("ask", Content(self._trouble if self._ready else "Reading earlier records …")),
            ("cautions", Content.styled(self._below(away), "$muted")),
        ):
            if (part := part_of(self, name, Static)) is not None:
                part.update(words)

    def _below(self, away: bool) -> str:
        if self.recorder.practice is not None:
            from ...recording import before

            return "\n".join(before(self._plan.method))
        return "" if away else "\n".join(SHORT)

    # What choosing a line does. ----------------------------------------------------------------------------

    def _ask(self, what: str, now: Instant) -> None:
        from ...recording import understand
        from .boxes import AskText

        plan, known = self._plan, self.recorder.known

        def take(answer: Any) -> None:
            if what == "observer" and answer:
                self._plan = dataclasses.replace(self._plan, observer=answer)
            elif what == "light" and answer is not None:
                self.answers.light = answer or None
            elif what == "more" and answer:
                self.answers.said = [*self.answers.all_said, (answer, now)]
            self._show()

        def check(text: str) -> Any:
            if what != "more":
                return text.strip()[:60]
            words = text.split()
            return understand(plan.declared, words, now.at, known.open_periods) if words else None

        titles = {
            "observer": "Who is watching?",
            "light": "Light to see by (red torch, none …)",
            "more": "What else?",
        }
        value = {"observer": plan.observer, "light": self.answers.light or "", "more": ""}[what]
        box = AskText(titles[what], "Enter keeps it, Esc goes back", check, take, value)
        self.app.push_screen(box)

    def _over(self, entry: Entry, now: Instant) -> None:
        from ...recording import understand

        said = self.answers.all_said
        kept = [(s, m) for s, m in said if s.closes is None or s.closes.place != entry.place]
        if len(kept) == len(said):
            fields = entry.record.fields
            words = [
                *str(fields["what"]).split(),
                *([fields["animal"]] if fields.get("animal") else []),
                "over",
            ]
            kept.append((understand(self._plan.declared, words, now.at, [entry]), now))
        self.answers.said = kept

    def _begin(self, plan: Plan, now: Instant) -> None:
        try:
            core = self.recorder.open_session(plan, now)
        except OSError as error:
            self._trouble = f"Cannot start: {error.strerror} ({error.filename})."
            self._show()
            return
        self._write_answers(now)
        core.acts.clear()
        core.tell("")
        self.recorder.watch_now()

    def _write_answers(self, now: Instant) -> None:
        from ...recording import write_said

        core = self.recorder.core
        assert core is not None
        if self.answers.light:
            core.context("light source", now, value=self.answers.light)
        if self.answers.fed is not None:
            core.context("fed", self.answers.fed)
        for said, instant in self.answers.all_said:
            write_said(core, said, instant)

    def _continue(self, session: Session, now: Instant) -> None:
        try:
            self.recorder.plan = dataclasses.replace(self._plan, quiet_s=0.0)
            self.recorder.continue_session(session, now)
        except PlanError as error:
            self._trouble = f"Cannot continue: {error}."
            return
        except OSError as error:
            self._trouble = f"Cannot continue: {error.strerror} ({error.filename})."
            return
        self.recorder.watch_now()

    def _join(self, session: Session, now: Instant) -> None:
        """A session of one's own beside another person's, in their beat: a name of one's own comes first."""
        from .boxes import AskText

        def check(text: str) -> str:
            name = text.strip()[:60]
            if not name or name == session.observer:
                raise ValueError(f"give a name other than {visible(session.observer)}")
            return name

        def take(name: str) -> None:
            from ...recording import joined_plan

            at = self.recorder.clocks()
            try:
                plan = joined_plan(dataclasses.replace(self._plan, observer=name), session, at.at)
            except PlanError as error:
                self._trouble = f"Cannot join: {error}."
                return
            self._begin(plan, at)

        if self._plan.observer != session.observer:
            take(self._plan.observer)
        else:
            self.app.push_screen(AskText("Who joins?", "Your own name. Esc goes back", check, take))

    def _recover(self, session: Session, now: Instant) -> None:
        """Close a session somebody else's crash left open; its records stay as they are."""
        from ...recording import close_as_it_stands

        try:
            close_as_it_stands(self._plan, session, now)
        except OSError as error:
            self._trouble = f"Cannot close it: {error.strerror}."
            return
        left = tuple(s for s in self.recorder.known.unfinished if s.id != session.id)
        self.recorder.past = dataclasses.replace(self.recorder.known, unfinished=left)
