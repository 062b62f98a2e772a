"""Journals against a plain model: any order of records, take-backs, crashes and parts, copies and conflicts."""

from __future__ import annotations

import random
import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from zoneuse.journal.reader import read_journals
from zoneuse.journal.writer import FOLDER, Journal, continue_session, start_session

Place = tuple[str, int, int]


class Journals(RuleBasedStateMachine):
    """The model: each record's kind by its place, and which record takes which back."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
        self.at = datetime(2026, 3, 1, 19, tzinfo=UTC)
        self.open: list[Journal] = []
        self.parts: dict[str, int] = {}
        self.records: dict[Place, str] = {}
        self.backs: dict[Place, dict[str, Any]] = {}
        self.copies: dict[str, Path] = {}

    def teardown(self) -> None:
        for journal in self.open:
            journal.close()
        shutil.rmtree(self.folder)

    def _note(self, journal: Journal, kind: str) -> Place:
        place = journal.session, journal.part, journal.n
        self.records[place] = kind
        return place

    @rule(observer=st.sampled_from(["mk", "jo", ""]))
    def start(self, observer: str) -> None:
        journal = start_session(
            self.folder, at=self.at, zone=UTC, study="s", observer=observer, method="scan", every_s=60
        )
        self.open.append(journal)
        self.parts[journal.session] = 1
        self._note(journal, "opened")

    @precondition(lambda self: self.open)
    @rule(
        which=st.integers(0), kind=st.sampled_from(["seen", "noted", "paused"]), step=st.integers(-4000, 4000)
    )
    def record(self, which: int, kind: str, step: int) -> None:
        journal = self.open[which % len(self.open)]
        fields = {"seen": {"zone": "moss", "animal": "a1"}, "noted": {"text": "\x00\ud800=1"}, "paused": {}}[
            kind
        ]
        self.at += timedelta(seconds=step)
        journal.append(kind, self.at, **fields)
        self._note(journal, kind)

    @precondition(lambda self: self.open and self.records)
    @rule(which=st.integers(0), what=st.integers(0))
    def take_back(self, which: int, what: int) -> None:
        journal = self.open[which % len(self.open)]
        session, part, n = sorted(self.records)[what % len(self.records)]
        of = {"session": session, "part": part, "n": n}
        journal.append("took-back", self.at, of=of)
        self.backs[self._note(journal, "took-back")] = of

    @precondition(lambda self: self.open and self.parts)
    @rule(which=st.integers(0), what=st.integers(0))
    def take_back_a_session(self, which: int, what: int) -> None:
        journal = self.open[which % len(self.open)]
        others = sorted(self.parts.keys() - {journal.session})
        if others:
            of = {"session": others[what % len(others)]}
            journal.append("took-back", self.at, of=of)
            self.backs[self._note(journal, "took-back")] = of

    @precondition(lambda self: self.open)
    @rule(which=st.integers(0), torn=st.integers(0, 40))
    def crash_and_go_on(self, which: int, torn: int) -> None:
        """The process is gone in the middle of a line; the session goes on in its next part."""
        old = self.open.pop(which % len(self.open))
        old.close()
        if torn:
            with old.path.open("ab") as stream:
                stream.write(b'{"n":99,"at":"2026-03-01T19:00:00+00:00","is":"x'[:torn])
        part = self.parts[old.session] = self.parts[old.session] + 1
        new = continue_session(
            self.folder, old.session, part, at=self.at, zone=UTC, study="s", observer="mk", method="scan"
        )
        self.open.append(new)
        self._note(new, "opened")

    @precondition(lambda self: len(self.open) > 1)
    @rule(which=st.integers(0))
    def close(self, which: int) -> None:
        journal = self.open.pop(which % len(self.open))
        journal.append("closed", self.at, reason="finished")
        self._note(journal, "closed")
        journal.close()

    @precondition(lambda self: self.records)
    @rule(which=st.integers(0), name=st.sampled_from([".sync-conflict-1", " (copy)"]), keep=st.integers(1, 9))
    def copy(self, which: int, name: str, keep: int) -> None:
        """A synchroniser leaves an older copy of a journal beside it."""
        path = sorted((self.folder / FOLDER).iterdir())[which % len(list((self.folder / FOLDER).iterdir()))]
        lines = path.read_bytes().splitlines(keepends=True)
        path.with_name(f"{path.stem}{name}.jsonl").write_bytes(b"".join(lines[:keep]))

    def _hits(self, own: Place) -> set[Place]:
        of = self.backs[own]
        return {
            p for p in self.records.keys() - {own}
            if p[0] == of["session"] and ("n" not in of or p[1:] == (of["part"], of["n"]))
        }  # fmt: skip

    def _void(self) -> set[Place]:
        """The newest word counts: settled from the take-backs nobody took back, down their chains."""
        void: set[Place] = set()
        for _ in range(len(self.backs) + 1):
            void = {t for own in self.backs.keys() - void for t in self._hits(own)}
        return void

    @invariant()
    def what_is_read_is_what_was_written(self) -> None:
        found = read_journals(self.folder)
        counted = {e.place[:3]: e.record.kind for s in found.sessions.values() for e in s.entries}
        void = {e.place[:3]: e.record.kind for s in found.sessions.values() for e in s.void}
        assert counted | void == self.records
        assert all(p.hint for p in found.problems), found.problems
        assert read_journals(self.folder) == found
        if not self._in_a_circle():
            assert set(void) == self._void()

    def _in_a_circle(self) -> bool:
        """Two take-backs may take each other back; then it is only asked that the same comes out each time."""

        def reaches(start: Place) -> bool:
            todo, known = self._hits(start), set[Place]()
            while todo:
                one = todo.pop()
                if one == start:
                    return True
                if one not in known:
                    known.add(one)
                    todo |= self._hits(one) if one in self.backs else set()
            return False

        return any(map(reaches, self.backs))

    @rule()
    def order_on_the_disk_does_not_matter(self) -> None:
        paths = sorted(self.folder.rglob("*.jsonl"))
        before = read_journals(self.folder)
        random.Random(len(paths)).shuffle(paths)
        for path in paths:
            path.touch()
        assert read_journals(self.folder).sessions == before.sessions


TestJournals = Journals.TestCase
TestJournals.settings = settings(
    max_examples=25, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
)
