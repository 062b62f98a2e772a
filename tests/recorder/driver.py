"""Drives the recorder's core with a clock of its own: no screen, no waiting."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.recorder.studies import STUDY, make_study
from zoneuse.journal.reader import Session, read_journals
from zoneuse.recording.modes.opening import begin, go_on, plan_of
from zoneuse.recording.modes.recorder import Recorder
from zoneuse.recording.session.instant import Instant
from zoneuse.recording.session.plan import Plan, make_plan
from zoneuse.study.toml.file import load_declaration

START = datetime(2026, 3, 4, 18, 0, tzinfo=UTC)
SIGNS = {
    "=": "same", "+": "same_all", "-": "unseen", ",": "guess", ";": "hidden", "*": "someone", "!": "event",
    "<": "earlier", ">": "now", ":": "pause", "⏎": "accept", "⌫": "undo", "→": "next_one", " ": "same", "_": "lifted",
}  # fmt: skip


@dataclasses.dataclass
class Driver:
    """``keys`` types, a tenth of a second a key; ``wait`` lets time pass with a tick a second."""

    core: Recorder
    now: Instant

    def keys(self, text: str) -> Driver:
        for sign in text:
            self.now = self.now.shifted(0.1)
            if sign in SIGNS:
                self.core.act(SIGNS[sign], self.now)
            else:
                self.core.press(sign, self.now)
        return self

    def wait(self, seconds: float) -> Driver:
        end = self.now.mono + seconds
        while self.now.mono < end - 1e-9:
            self.now = self.now.shifted(min(1.0, end - self.now.mono))
            self.core.tick(self.now)
        return self

    def step_clock(self, seconds: float) -> Driver:
        """The wall clock jumps; the monotonic one does not."""
        self.now = Instant(self.now.shifted(seconds).at, self.now.mono)
        return self

    @property
    def ask(self) -> str:
        return self.core.prompt(self.now).ask

    def session(self) -> Session:
        """What a reader finds on the disk."""
        journals = read_journals(self.core.plan.declared.folder)
        assert not [p for p in journals.problems if not p.hint], journals.problems
        return journals.sessions[self.core.ledger.journal.session]

    def records(self, *kinds: str) -> list[dict[str, Any]]:
        """The fields of the records on the disk that count."""
        return [dict(e.record.fields) for e in self.session().entries if e.record.kind in kinds]

    def said(self, *kinds: str) -> list[str]:
        return [line(fields) for fields in self.records(*kinds)]


def line(fields: dict[str, Any]) -> str:
    """``a1 moss_end resting @2``: enough of a record to compare."""
    who = fields.get("animal") or fields.get("group") or "?"
    count = f"x{fields['count']}" if "count" in fields else ""
    words: Iterable[str] = (str(fields[k]) for k in ("zone", "behaviour") if fields.get(k))
    marks = ("~" if fields.get("hidden") else "") + ("?" if fields.get("sure") is False else "")
    scan = f"@{fields['scan']}" if fields.get("scan") is not None else ""
    return " ".join([f"{who}{count}", *words, marks + scan]).strip()


def drive(tmp_path: Path, text: str = STUDY, **asked: Any) -> Driver:
    """A session that has just begun; no settling unless asked for."""
    folder = make_study(tmp_path / "study", text)
    now = Instant(START, 1000.0)
    plan = make_plan(load_declaration(folder), now.at, **{"quiet_min": 0.0, **asked})
    core = begin(plan, now)
    core.tick(now)
    return Driver(core, now)


def continued(earlier: Driver, away_s: float = 30.0) -> Driver:
    """The same session, taken up by a new process after a cut."""
    now = Instant(earlier.now.shifted(away_s).at, 50.0)
    plan: Plan = dataclasses.replace(earlier.core.plan, quiet_s=0.0)
    session = earlier.session()
    core = go_on(plan_of(plan, session), session, now)
    core.tick(now)
    return Driver(core, now)
