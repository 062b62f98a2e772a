"""Journals: what is shown as saved is there, what is damaged is named, nothing is counted twice or lost."""

from __future__ import annotations

import json
import os
import shutil
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.making import VIENNA, session, study_folder, vienna
from zoneuse.journal.fold import Place, place_named
from zoneuse.journal.forms import without_half_letters
from zoneuse.journal.reader import read_journals
from zoneuse.journal.records import Record, RecordError, decode, encode
from zoneuse.journal.writer import continue_session, file_name

AT = datetime(2026, 3, 4, 18, 2, 11, tzinfo=UTC)


def recorded(folder: Path, *zones: str) -> Path:
    journal = session(folder, AT)
    for n, zone in enumerate(zones, 1):
        journal.append("seen", AT + timedelta(seconds=n), animal="a1", zone=zone, scan=n)
    journal.close()
    return journal.path


# Every letter there is: the first of them takes a second to make on a busy machine.
@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    st.dictionaries(
        st.sampled_from(["animal", "behaviour", "extra"]), st.text(st.characters(codec=None), max_size=40)
    ),
    st.integers(1, 10**6),
    st.floats(0, 1e6),
)
def test_any_text_survives_being_written_and_read(fields: dict[str, str], n: int, mono: float) -> None:
    record = Record(n, AT, "seen", {"zone": "moss", **fields}, mono=round(mono, 3))
    line = encode(record)
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    # Half of a letter is no text anything can show: it comes back as its escape.
    assert decode(line[:-1]) == record._replace(fields=without_half_letters(dict(record.fields)))


def test_the_checksum_is_that_of_the_format() -> None:
    line = encode(Record(1, AT, "noted", {"text": "Häutung, ruhig"}))[:-1]
    body, _, tail = line.partition(b',"crc":"')
    assert tail == b'%08x"}' % zlib.crc32(body)
    assert json.loads(line)["text"] == "Häutung, ruhig"


@settings(max_examples=200)
@given(st.data())
def test_a_flipped_bit_is_never_a_record(data: st.DataObject) -> None:
    line = bytearray(encode(Record(7, AT, "seen", {"animal": "a1", "zone": "moss", "scan": 3}))[:-1])
    bit = data.draw(st.integers(0, 8 * len(line) - 1))
    line[bit // 8] ^= 1 << bit % 8
    with pytest.raises(RecordError):
        decode(bytes(line))


def test_a_file_cut_anywhere_keeps_every_whole_record(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss", "bark", "moss")
    data = path.read_bytes()
    ends = [i for i, byte in enumerate(data) if byte == 10]
    for cut in range(ends[0] + 1, len(data)):
        path.write_bytes(data[:cut])
        journals = read_journals(folder)
        (only,) = journals.sessions.values()
        # A last line without its newline still counts once its checksum is whole.
        assert len(only.entries) in (sum(e < cut for e in ends), sum(e <= cut for e in ends))
        assert all(p.hint for p in journals.problems)
        assert path.read_bytes() == data[:cut]


def test_a_damaged_inner_line_is_named_and_skipped_and_left_as_it_is(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss", "bark", "moss")
    data = path.read_bytes().replace(b'"zone":"bark"', b'"zone":"lark"')
    path.write_bytes(data)
    journals = read_journals(folder)
    assert [e.record.get("zone") for e in journals.entries("seen")] == ["moss", "moss"]
    codes = {p.code: p for p in journals.problems}
    assert codes["damaged"].place == "line 3"
    assert str(path) == codes["damaged"].file
    assert "n-missing" in codes
    assert path.read_bytes() == data


def test_a_session_goes_on_in_a_new_part_after_a_crash(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    first = recorded(folder, "moss")
    with first.open("ab") as stream:
        stream.write(b'{"n":3,"at":"2026-03-0')
    name = first.stem
    torn = first.read_bytes()
    second = continue_session(
        folder,
        name,
        2,
        at=AT + timedelta(minutes=5),
        zone=VIENNA,
        study="Two zones",
        observer="mk",
        method="scan",
    )
    second.append("seen", AT + timedelta(minutes=6), animal="a1", zone="bark", scan=2)
    second.close()
    (only,) = read_journals(folder).sessions.values()
    assert only.parts == 2
    assert [e.record.get("zone") for e in only.entries if e.record.kind == "seen"] == ["moss", "bark"]
    assert first.read_bytes() == torn


def test_copies_of_a_synchroniser_count_once_and_add_what_only_they_hold(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss", "bark", "moss")
    copy = path.with_name(f"{path.stem} (copy).jsonl")
    shutil.copy(path, copy)
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:3]))
    journals = read_journals(folder)
    assert len(list(journals.entries("seen"))) == 3
    assert journals.problems == ()


def test_copies_that_differ_are_reported_and_the_named_file_counts(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss", "bark")
    lines = path.read_bytes().splitlines()
    other = decode(lines[2])
    changed = encode(Record(other.n, other.at, other.kind, {**other.fields, "zone": "moss"}, mono=other.mono))
    path.with_name("a-copy.jsonl").write_bytes(b"\n".join(lines[:2]) + b"\n" + changed)
    journals = read_journals(folder)
    assert [e.record.get("zone") for e in journals.entries("seen")] == ["moss", "bark"]
    assert [p.code for p in journals.problems] == ["copies-differ"]


def test_a_take_back_takes_back_and_can_be_taken_back(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    journal = session(folder, AT)
    name = journal.session
    journal.append("seen", AT, animal="a1", zone="moss", scan=1)
    journal.append("took-back", AT, of={"session": name, "part": 1, "n": 2})
    assert not list(read_journals(folder).entries("seen"))
    journal.append("took-back", AT, of={"session": name, "part": 1, "n": 3})
    assert [e.record.n for e in read_journals(folder).entries("seen")] == [2]
    journal.close()


def test_a_correction_from_another_file_names_what_replaces(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    first = recorded(folder, "moss")
    mend = session(folder, AT + timedelta(days=1), method="record")
    new = mend.append("seen", AT, animal="a1", zone="bark", scan=1)
    here = {"session": mend.session, "part": 1, "n": new.n}
    mend.append(
        "took-back", AT + timedelta(days=1), of={"session": first.stem, "part": 1, "n": 2}, replaces=here
    )
    mend.close()
    journals = read_journals(folder)
    assert [e.record.get("zone") for e in journals.entries("seen")] == ["bark"]
    assert {(p.session, p.n): (q.session, q.n) for p, q in journals.replaced.items()} == {
        (first.stem, 2): (mend.session, 2)
    }
    assert len(journals.sessions[first.stem].void) == 1


def test_nothing_that_exists_is_opened_for_writing_again(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss")
    with pytest.raises(FileExistsError):
        continue_session(folder, path.stem, 1, at=AT, zone=VIENNA, study="x", observer="mk", method="scan")


def test_a_full_disk_leaves_no_half_record_and_the_same_record_can_be_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = study_folder(tmp_path)
    journal = session(folder, AT)
    write = os.write
    before = journal.path.read_bytes()

    def short_then_full(handle: int, data: bytes) -> int:
        if len(data) > 20:
            return write(handle, data[:20])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", short_then_full)
    with pytest.raises(OSError, match="space"):
        journal.append("seen", AT, animal="a1", zone="moss", scan=1)
    assert journal.path.read_bytes() in (before, before)
    monkeypatch.undo()
    assert journal.append("seen", AT, animal="a1", zone="moss", scan=1).n == 2
    assert [e.record.n for e in read_journals(folder).entries("seen")] == [2]
    journal.close()


def test_fields_that_do_not_fit_their_kind_are_refused_before_anything_is_written(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    journal = session(folder, AT)
    before = journal.path.read_bytes()
    for kind, fields in (("seen", {"animal": "a1"}), ("missed", {"scan": True}), ("danced", {})):
        with pytest.raises(RecordError):
            journal.append(kind, AT, **fields)
    assert journal.path.read_bytes() == before
    journal.close()


def test_times_carry_the_studys_offset(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    journal = session(folder, vienna("2026-03-29T03:30"))
    assert '"at":"2026-03-29T03:30:00.000+02:00"' in journal.path.read_text(encoding="utf-8")
    assert journal.path.name == file_name(journal.session, 1)
    assert journal.session.startswith("2026-03-29T013000Z-mk-")
    journal.close()


def test_a_newer_journal_is_said_and_left_out(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    path = recorded(folder, "moss")
    lines = path.read_bytes().splitlines()
    opened = decode(lines[0])
    newer = encode(Record(1, opened.at, "opened", {**opened.fields, "format": 2}, mono=0.0))
    path.write_bytes(newer + b"\n".join(lines[1:]) + b"\n")
    journals = read_journals(folder)
    assert not journals.sessions
    assert [p.code for p in journals.problems] == ["newer-format"]


def test_a_folder_of_rubbish_is_reported_and_never_a_traceback(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    place = folder / "journal"
    place.mkdir()
    for name, data in {"a": b"", "b": os.urandom(500), "c": b"\n\n{}\n", "d": b'{"n":1}\n' * 3}.items():
        (place / f"{name}.jsonl").write_bytes(data)
    (place / "e.jsonl").mkdir()
    journals = read_journals(folder)
    assert not journals.sessions
    assert {Path(p.file).stem for p in journals.problems} == set("abcde")


def test_a_take_back_that_names_no_part_means_the_first(tmp_path: Path) -> None:
    assert place_named({"session": "s", "n": 3}) == Place("s", 1, 3)
    folder = study_folder(tmp_path)
    journal = session(folder, AT)
    journal.append("seen", AT, animal="a1", zone="moss", scan=1)
    journal.append("took-back", AT, of={"session": journal.session, "n": 2})
    journal.close()
    found = read_journals(folder)
    assert not list(found.entries("seen"))
    assert found.problems == ()
