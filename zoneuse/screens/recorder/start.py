"""Before the first scan: pre-filled from the last session; asks only what can have changed."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any, cast

from textual.app import ComposeResult
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ...recording.session.cautions import SHORT, put_away, were_put_away
from ...recording.session.moment import Moment
from ...recording.session.newest import broken, read_newest
from ...recording.session.plan import PlanError
from ...recording.telling.care import care_words
from ...recording.words import clock_words, span_words, who_words
from ...study.clock import slot_at
from ...study.labels import visible
from .app import RecorderApp
from .looks import warned

if TYPE_CHECKING:
    from ...journal.reader import Session
    from ...recording.session.notes import Said
    from ...recording.session.recall import Recall


class StartScreen(Screen[None]):
    """One list: the first line begins. What is chosen here is written as soon as the session is open."""

    def compose(self) -> ComposeResult:
        yield Static(id="standing")
        yield Static(id="ask")
        yield OptionList(id="rows")
        yield Static(id="cautions")

    @property
    def recorder(self) -> RecorderApp:
        return cast(RecorderApp, self.app)

    def on_mount(self) -> None:
        self._said: list[tuple[Said, Moment]] = []
        self._light: str | None = None
        self._fed: Moment | None = None
        self._ready = self._begin_when_ready = False
        self._trouble = ""
        self._plan = self.recorder.plan
        self._show()
        self.call_after_refresh(self.run_worker, self._read_past, thread=True)

    def _read_past(self) -> None:
        """Reading years of journals must not keep anybody waiting for the first screen."""
        known = self.recorder.read_past()
        from . import watch as _loaded_by_now  # noqa: F401 - so that Enter need not wait for it

        self.app.call_from_thread(self._past_read, known)

    def _past_read(self, known: Recall) -> None:
        self.recorder.past = known
        self._light = known.light
        if self._plan.observer == "keeper" and known.observer:
            self._plan = dataclasses.replace(self._plan, observer=known.observer)
        self._ready = True
        self._show()
        if self._begin_when_ready and not known.unfinished and self.recorder.core is None:
            self._begin(self.recorder.clocks())

    # The rows. ---------------------------------------------------------------------------------------------

    def _rows(self, now: Moment) -> list[tuple[str, str, Any]]:
        """Text, what choosing it does, and about what."""
        plan, known = self._plan, self.recorder.past
        rows: list[tuple[str, str, Any]] = []
        if self.recorder.practice is not None:
            return [(f"Begin: {self._begin_words()}", "begin", None)]
        for session in known.unfinished[:2] if known else ():
            records = sum(e.record.kind in ("seen", "unseen", "happened", "checked") for e in session.entries)
            name = f"{clock_words(session.opened, plan.declared)[:5]} ({visible(session.observer)}, "
            rows.append((f"Continue {name}{records} records)", "continue", session))
            rows.append(("  … or close it as it is", "recover", session))
        rows.append((f"Begin: {self._begin_words()}", "begin", None))
        rows.append((f"Watching: {visible(plan.observer)}", "observer", None))
        rows.append((f"Light: {visible(self._light or 'not noted')}", "light", None))
        last_fed = known.fed if known else None
        ago = f"{span_words((now.at - last_fed).total_seconds())} ago" if last_fed else "?"
        fed = "now" if self._fed else ago
        rows.append((f"Fed: {fed}" + ("" if self._fed else "  (Enter: now)"), "fed", None))
        closing = {said.closes.place for said, _ in self._said if said.closes is not None}
        for entry in known.open_periods if known else ():
            about = f" {who_words(plan.declared, entry.record.fields)}" if entry.record.get("animal") else ""
            over = entry.place in closing
            state = "over" if over else f"since {span_words((now.at - entry.record.at).total_seconds())}"
            hint = "" if over else "  (Enter: over)"
            what = visible(entry.record.fields["what"])
            rows.append((f"{what.capitalize()}:{about} {state}{hint}", "period", entry))
        rows += [
            (f"Noted: {_said_words(said)}", "said", None) for said, _ in self._said if said.closes is None
        ]
        rows.append(("More: shedding, gravid, disturbed …", "more", None))
        if not were_put_away(plan.declared.folder):
            rows.append(("Cautions are read: hide them here", "cautions", None))
        return rows

    def _begin_words(self) -> str:
        plan = self._plan
        settle = f"settle {span_words(plan.quiet_s)}, " if plan.quiet_s else ""
        if plan.method == "scan":
            scans = f"{plan.scans} scan{'s' if plan.scans > 1 else ''}"
            return f"{settle}{scans}, {span_words(plan.every_s)} apart"
        if plan.method == "retreat-round":
            count = len(plan.retreats)
            return f"look into {count} retreat{'s' if count > 1 else ''}, one after the other"
        if plan.method == "focal":
            return f"{settle}follow {visible(plan.who[0].label)} for {plan.minutes:g} min"
        return "note what is seen in passing"

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
        self.query_one("#standing", Static).update(warned("\n".join(lines)))
        self.query_one("#ask", Static).update(
            Content(self._trouble if self._ready else "Reading what was recorded before …")
        )
        self._list = self._rows(now)
        rows = self.query_one("#rows", OptionList)
        before = rows.highlighted
        rows.set_options([Option(Content(text)) for text, _, _ in self._list])
        rows.highlighted = min(before or 0, len(self._list) - 1)
        rows.focus()
        if self.recorder.practice is not None:
            from ...recording.practice.before import BEFORE

            cautions = "\n".join(BEFORE)
        else:
            cautions = "" if were_put_away(declared.folder) else "\n".join(SHORT)
        self.query_one("#cautions", Static).update(Content.styled(cautions, "$muted"))

    # What choosing a row does. -----------------------------------------------------------------------------

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if self.recorder.core is not None:
            return  # a second Enter that was faster than the screen: the session is open already
        _, what, about = self._list[event.option_index]
        self._trouble = ""
        now = self.recorder.clocks()
        if what == "begin" and not self._ready:
            self._begin_when_ready = True
            return
        if what == "begin":
            self._begin(now)
        elif what == "continue":
            self._continue(about, now)
        elif what == "recover":
            self._recover(about, now)
        elif what == "fed":
            self._fed = None if self._fed else now
        elif what == "period":
            self._over(about, now)
        elif what == "cautions":
            put_away(self._plan.declared.folder)
        elif what in ("observer", "light", "more"):
            self._ask(what, now)
        self._show()

    def _ask(self, what: str, now: Moment) -> None:
        from ...recording.session.notes import understand
        from .boxes import AskText

        plan, known = self._plan, self.recorder.known

        def take(answer: Any) -> None:
            if what == "observer" and answer:
                self._plan = dataclasses.replace(plan, observer=answer)
            elif what == "light" and answer is not None:
                self._light = answer or None
            elif what == "more" and answer:
                self._said.append((answer, now))
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
        value = {"observer": plan.observer, "light": self._light or "", "more": ""}[what]
        self.app.push_screen(AskText(titles[what], "Enter keeps it, Esc goes back", check, value), take)

    def _over(self, entry: Any, now: Moment) -> None:
        from ...recording.session.notes import understand

        kept = [(s, m) for s, m in self._said if s.closes is None or s.closes.place != entry.place]
        if len(kept) == len(self._said):
            fields = entry.record.fields
            words = [
                *str(fields["what"]).split(),
                *([fields["animal"]] if fields.get("animal") else []),
                "over",
            ]
            kept.append((understand(self._plan.declared, words, now.at, [entry]), now))
        self._said = kept

    def _begin(self, now: Moment) -> None:
        try:
            core = self.recorder.open_session(self._plan, now)
        except OSError as error:
            self._trouble = f"Cannot start: {error.strerror} ({error.filename})."
            return
        self._write_answers(now)
        core.acts.clear()
        core.tell("")
        self.recorder.watch_now()

    def _write_answers(self, now: Moment) -> None:
        from ...recording.telling.said import write_said

        core = self.recorder.core
        assert core is not None
        if self._light:
            core.context("light source", now, value=self._light)
        if self._fed is not None:
            core.context("fed", self._fed)
        for said, moment in self._said:
            write_said(core, said, moment)

    def _continue(self, session: Session, now: Moment) -> None:
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

    def _recover(self, session: Session, now: Moment) -> None:
        """Close a session somebody else's crash left open; its records stay as they are."""
        from ...recording.modes.opening import close_as_it_stands

        try:
            close_as_it_stands(self._plan, session, now)
        except OSError as error:
            self._trouble = f"Cannot close it: {error.strerror}."
            return
        left = tuple(s for s in self.recorder.known.unfinished if s.id != session.id)
        self.recorder.past = dataclasses.replace(self.recorder.known, unfinished=left)


def _said_words(said: Said) -> str:
    words = [str(v) for k, v in said.fields.items() if k not in ("from", "until")]
    return visible(" ".join(words))
