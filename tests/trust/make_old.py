"""Makes tests/trust/fixtures/format1, a study of every kind of record, and what this version reads of it.

``python -m tests.trust.make_old``: never again once a version is out, since it is what later versions must open.
``python -m tests.trust.make_old expected``: the answers anew, after a method was changed on purpose.
"""

from __future__ import annotations

import json
import shutil
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from tests.making import TWO_ZONES, VIENNA, vienna
from zoneuse import open_study
from zoneuse.answers.showing.plain import rows
from zoneuse.journal.records import Record, encode
from zoneuse.journal.writer import file_name
from zoneuse.readings.store.store import PartWriter, commit, undo
from zoneuse.readings.store.taken import Intake, Mark
from zoneuse.readings.trust.newest import refresh_newest
from zoneuse.study.toml.file import load_declaration

HOME = Path(__file__).parent / "fixtures"
STUDY, EXPECTED = HOME / "format1", HOME / "format1-expected.json"
ANSWERS = ("zones", "activity", "preference", "climate")


class Writer:
    """Lines of one journal file, a minute apart unless told."""

    def __init__(self, session: str, at: datetime, part: int = 1, **opened: Any) -> None:
        self.session, self.part, self.start, self.lines, self.n = session, part, at, b"", 0
        head = {"format": 1, "study": "Two zones", "session": session, "part": part, "observer": "mk",
                "method": "scan", "timezone": "Europe/Vienna", "every_s": 60, "minutes": 10}  # fmt: skip
        self.add("opened", 0, **head | opened)

    def add(self, kind: str, minute: float, entered: datetime | None = None, **fields: Any) -> Writer:
        self.n += 1
        at = self.start + timedelta(minutes=minute)
        kept = {k: v for k, v in fields.items() if v is not None}
        self.lines += encode(Record(self.n, at, kind, kept, entered, round(60.0 * minute, 3)))
        return self

    def place(self, torn: bytes = b"") -> Path:
        path = STUDY / "journal" / file_name(self.session, self.part)
        path.write_bytes(self.lines + torn)
        return path


def make() -> None:
    shutil.rmtree(STUDY, ignore_errors=True)
    (STUDY / "journal").mkdir(parents=True)
    toml = TWO_ZONES.replace(
        'measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nlights = {on = "07:30", off = "19:00"}'
    )
    (STUDY / "study.toml").write_text(
        "# A study of format 1, kept for later versions to open.\n" + toml, "utf-8"
    )
    _evenings()
    _other_methods()
    _notes_and_changes()
    _copies()
    _readings()


def _evenings() -> None:
    """Twelve evenings of scans; the third goes on in a second part after a torn line."""
    chance = np.random.default_rng(11)
    for day in range(1, 13):
        at, session = vienna(f"2026-03-{day:02d}T20:00"), f"2026-03-{day:02d}T190000Z-mk-00{day:02x}"
        writer = Writer(session, at)
        for scan in range(1, 9):
            if day == 3 and scan == 5:
                writer.place(torn=b'{"n":99,"at":"2026-03-03T20:0')
                writer = Writer(session, at + timedelta(minutes=6), part=2)
            minute = scan - (6 if writer.part == 2 else 0) + 2 * (writer.part == 2)
            for animal, liking in (("a1", 0.8), ("a2", 0.4)):
                if chance.random() < 0.08:
                    writer.add("unseen", minute, animal=animal, scan=scan)
                    continue
                zone = "moss" if chance.random() < liking else "bark"
                doing = "resting" if chance.random() < 0.7 else "walking"
                sure, hidden = (
                    (False if chance.random() < 0.1 else None),
                    (True if chance.random() < 0.1 else None),
                )
                writer.add(
                    "seen",
                    minute,
                    animal=animal,
                    zone=zone,
                    behaviour=doing,
                    scan=scan,
                    sure=sure,
                    hidden=hidden,
                )
            writer.add("seen", minute, group="young", count=4, zone="moss", scan=scan)
            writer.add("seen", minute, group="young", count=1, zone="bark", scan=scan)
            writer.add("unseen", minute, group="young", count=1, scan=scan)
            if scan == 2:
                writer.add("happened", minute, animal="a1", behaviour="strike", zone="moss").add(
                    "paused", minute
                )
                writer.add("resumed", minute + 0.5)
        writer.add("missed", 9, scan=9, animal="a1").add("missed", 9, scan=9, group="young")
        if day == 4:
            writer.add("seen", 9.2, animal="a1", zone="moss", scan=9)
            writer.add("took-back", 9.4, of={"session": session, "part": 1, "n": 3},
                       replaces={"session": session, "part": 1, "n": 2})  # fmt: skip
        writer.add("closed", 10, reason="finished").place()


def _other_methods() -> None:
    at = vienna("2026-03-14T20:00")
    focal = Writer("2026-03-14T190000Z-mk-0101", at, method="focal", every_s=30)
    focal.add("seen", 0, animal="a1", zone="moss", behaviour="resting").add(
        "seen", 4, animal="a1", zone="bark"
    )
    focal.add("unseen", 7, animal="a1").add("closed", 9, reason="left").place()
    walk = Writer(
        "2026-03-15T190000Z-jo-0102", vienna("2026-03-15T20:00"), method="retreat-round", observer="jo"
    )
    walk.add("checked", 0, zone="moss", lifted=True).add("seen", 0, animal="a2", zone="moss", scan=1)
    walk.add("seen", 0, count=1, zone="moss").add("checked", 1, zone="bark", skipped=True).add(
        "closed", 2, reason="finished"
    ).place()
    passing = Writer("2026-03-15T120000Z-mk-0103", vienna("2026-03-15T13:00"), method="ad-libitum")
    passing.add("seen", 0, animal="a2", zone="bark", sure=False).add("closed", 0, reason="finished").place()
    table = Writer("2026-02-01T190000Z-mk-0badf0-0104", vienna("2026-02-01T20:00"),
                   source={"name": "old.csv", "sha256": "0" * 64, "session": "7"})  # fmt: skip
    table.add("seen", 0, entered=vienna("2026-04-01T10:00"), animal="a1", zone="bark", scan=1)
    table.add("closed", 0, reason="finished").place()


def _notes_and_changes() -> None:
    note = Writer("2026-03-06T120000Z-mk-0201", vienna("2026-03-06T13:00"), method="record")
    note.add("context", 0, animal="a1", what="fed", value="2 crickets").add(
        "context", 0, animal="a2", what="weighed", value=23.5
    )
    note.add("context", 0, animal="a2", what="shedding", **{"from": "2026-03-05T08:00:00+01:00"})
    note.add("noted", 0, text="Tür stand offen \x1b[2J \ud800").add("closed", 0, reason="finished").place()
    change = Writer("2026-03-07T110000Z-mk-0202", vienna("2026-03-07T12:00"), method="record")
    change.add("adjusted", 0, adjustment="water-2026-03-07-7f", what="water", zones=["moss"], amount=2.0, unit="l",
               why="dry", expects=[{"zone": "moss", "direction": "up"}], settle_h=48.0,
               forecast={"moss": {"share": 0.6, "low": 0.5, "high": 0.7}, "version": "0.1.0"})  # fmt: skip
    change.add("closed", 0, reason="finished").place()
    lot = Writer("2026-03-08T110000Z-mk-0203", vienna("2026-03-08T12:00"), method="record")
    days = [f"2026-04-{d:02d}" for d in range(1, 21)]
    lot.add("drawn", 0, adjustment="heat-2026-03-08-01", days=days, day="2026-04-07", seed=5)
    lot.add("closed", 0, reason="finished").place()
    back = Writer("2026-04-02T110000Z-mk-0204", vienna("2026-04-02T12:00"), method="record")
    back.add("took-back", 0, of={"session": "2026-03-12T190000Z-mk-000c"})
    back.add("took-back", 0, of={"session": "2026-03-05T190000Z-mk-0005", "part": 1, "n": 2})
    back.add("closed", 0, reason="finished").place()
    again = Writer("2026-04-03T110000Z-mk-0205", vienna("2026-04-03T12:00"), method="record")
    again.add("took-back", 0, of={"session": back.session, "part": 1, "n": 3}).add(
        "closed", 0, reason="finished"
    ).place()


def _copies() -> None:
    """What synchronisers leave: an older copy, and one that differs in a record."""
    place = STUDY / "journal"
    first = place / "2026-03-01T190000Z-mk-0001.jsonl"
    lines = first.read_bytes().splitlines(keepends=True)
    first.with_name(f"{first.stem}.sync-conflict-20260302-101500-ABCDEF7.jsonl").write_bytes(
        b"".join(lines[:9])
    )
    other = place / "2026-03-02T190000Z-mk-0002.jsonl"
    lines = other.read_bytes().splitlines(keepends=True)
    wrong = Record(
        2, vienna("2026-03-02T20:01"), "seen", {"animal": "a1", "zone": "bark", "scan": 1}, None, 60.0
    )
    other.with_name(f"{other.stem} (conflicted copy).jsonl").write_bytes(
        b"".join([lines[0], encode(wrong), *lines[2:5]])
    )


def _readings() -> None:
    chance = np.random.default_rng(12)
    start = int(vienna("2026-03-01T00:00").timestamp() * 1000)
    times = start + np.arange(16 * 48, dtype=np.int64) * 1_800_000
    hours = np.arange(len(times)) / 2 % 24
    for number, (logger, warm, moist) in enumerate(
        (("L1", 14.0, 82.0), ("L2", 18.0, 60.0), ("L2", 30.0, 10.0))
    ):
        intake = f"f0000{number:03x}"
        writer = PartWriter(STUDY, intake, logger, ("temperature_c", "humidity_pct"))
        drawn = np.round(warm + 2 * np.sin(hours / 24 * 2 * np.pi) + chance.normal(0, 0.2, len(times)), 2)
        writer.write(times, {"temperature_c": drawn, "humidity_pct": np.round(moist - 2 * drawn + 30, 1)})
        part = writer.place()
        marks = (Mark(int(times[300]), logger, "button"),) if number == 0 else ()
        made = datetime(2026, 4, 1, 10, number, tzinfo=VIENNA).isoformat()
        commit(
            STUDY,
            Intake(intake, f"{logger}.csv", f"{number}" * 64, 1000, made, (part,), marks, part.rows, 0, 0),
        )
        if number == 2:
            undo(STUDY, intake, made)
    refresh_newest(STUDY, load_declaration(STUDY))


def read_now() -> dict[str, Any]:
    """What this version makes of it: records, moments, readings, answers."""
    from zoneuse.readings.trust.series import load_series

    study = open_study(STUDY)
    counted = {
        s.id: [len(s.entries), len(s.void), s.parts, s.closed] for s in study.journals.sessions.values()
    }
    loggers = {
        f"{name} {quantity}": [len(series.times), float(np.nansum(series.believed)), int(series.times[-1])]
        for name, logger in study.declared.loggers.items()
        for quantity, series in load_series(STUDY, logger).items()
    }
    moments = study.moments[
        ["at", "session", "animal", "group", "count", "zone", "behaviour", "day", "slot", "phase", "out"]
    ]
    return {
        "sessions": counted,
        "problems": sorted(f"{p.code} {Path(p.file).name} {p.place}" for p in study.problems),
        "readings": loggers,
        "moments": [[None if v != v else v for v in row.values()] for row in rows(moments)],
        "answers": {name: rows(getattr(study, name)().table) for name in ANSWERS},
    }


if __name__ == "__main__":
    if sys.argv[1:] != ["expected"]:
        make()
    EXPECTED.write_text(json.dumps(read_now(), ensure_ascii=False, indent=0, default=str), "utf-8")
