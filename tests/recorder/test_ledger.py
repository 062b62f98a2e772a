"""What the disk refuses waits in memory, in order, and is never called saved."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.recorder.driver import continued, drive
from zoneuse.journal.reader import read_journals


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> Callable[[bool], None]:
    """Make the disk full, or free again. A write stops in the middle of a line, as it does there."""
    real, state = os.write, {"full": False, "half": False}

    def write(handle: int, data: bytes) -> int:
        if not state["full"]:
            return real(handle, data)
        state["half"] = not state["half"]
        if state["half"]:
            return real(handle, data[:20])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("zoneuse.journal.writer.os.write", write)
    return lambda on: state.update(full=on)


def test_a_full_disk_keeps_records_in_memory_and_writes_them_in_order(
    tmp_path: Path, full: Callable[[bool], None]
) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    full(True)
    d.keys("wm-")
    assert d.core.ledger.trouble == "the disk is full"
    assert (d.core.saved, len(d.core.ledger.waiting)) == (1, 2)
    assert [line.saved for line in d.core.records] == [True, False, False]
    full(False)
    assert d.core.ledger.retry(d.now)
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]
    assert d.core.ledger.trouble is None


def test_undo_of_a_record_never_written_only_forgets_it(tmp_path: Path, full: Callable[[bool], None]) -> None:
    d = drive(tmp_path)
    full(True)
    d.keys("crwm⌫")
    full(False)
    d.core.ledger.retry(d.now)
    assert d.said("seen") == ["a1 moss_end resting @1"]
    assert d.records("took-back") == []


def test_undo_of_a_written_record_while_full_is_written_later(
    tmp_path: Path, full: Callable[[bool], None]
) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    full(True)
    d.keys("⌫wm")
    full(False)
    d.core.ledger.retry(d.now)
    assert d.said("seen") == ["a1 water_dish moving @1"]


def test_written_elsewhere_and_copied_back_it_is_one_session(
    tmp_path: Path, full: Callable[[bool], None]
) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    full(True)
    d.keys("wm")
    full(False)
    stick = tmp_path / "stick"
    assert d.core.ledger.go_elsewhere(stick, d.now)
    d.keys("-")
    path = d.core.ledger.journal.path
    assert path.is_relative_to(stick)
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1"]
    (d.core.plan.declared.folder / "journal" / path.name).write_bytes(path.read_bytes())
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]


def test_elsewhere_that_cannot_be_written_changes_nothing(
    tmp_path: Path, full: Callable[[bool], None]
) -> None:
    d = drive(tmp_path)
    full(True)
    d.keys("cr")
    blocked = tmp_path / "a file"
    blocked.write_text("")
    assert not d.core.ledger.go_elsewhere(blocked, d.now)
    full(False)
    assert d.core.ledger.retry(d.now)
    assert d.said("seen") == ["a1 moss_end resting @1"]


def test_a_torn_line_that_cannot_be_cut_off_is_never_followed(
    tmp_path: Path, full: Callable[[bool], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    d = drive(tmp_path)
    d.keys("cr")

    def refuse(handle: int, length: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr("zoneuse.journal.writer.os.ftruncate", refuse)
    full(True)
    d.keys("wm")
    full(False)
    d.keys("-")
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]
    assert d.session().parts == 2
    # Each part counts from its own opening, which is when the oldest record that waited for it happened.
    monos = [(e.part, e.record.mono) for e in d.session().entries if e.record.kind in ("seen", "unseen")]
    assert monos == [(1, 0.1), (2, 0.0), (2, 0.2)]


def test_a_journal_taken_away_is_noticed(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    d.core.ledger.journal.path.unlink()
    d.keys("wm")
    assert d.core.saved == 2
    assert d.said("seen") == ["a2 water_dish moving @1"]
    assert d.core.ledger.journal.part == 2


def test_two_recorders_at_once_write_two_files(tmp_path: Path) -> None:
    one = drive(tmp_path)
    other = drive(tmp_path, observer="mk")
    one.keys("c")
    other.keys("w")
    one.keys("r")
    other.keys("m")
    assert one.said("seen") == ["a1 moss_end resting @1"]
    assert other.said("seen") == ["a1 water_dish moving @1"]
    assert len(read_journals(one.core.plan.declared.folder).sessions) == 2


def test_both_continue_one_session_in_parts_of_their_own(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    first, second = continued(d), continued(d)
    first.keys("wm")
    second.keys("b")
    second.keys("r")
    assert {first.core.ledger.journal.part, second.core.ledger.journal.part} == {2, 3}
    assert first.session().parts == 3
