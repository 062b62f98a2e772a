"""Random journals as recorders, shells, tables' owners and second devices would leave them."""

from __future__ import annotations

import random
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tests.making import study_folder
from zoneuse.journal.fold import Place, reference
from zoneuse.journal.writer import Journal, continue_session, start_session

UTC = ZoneInfo("UTC")
STUDY = """
format = 1
title = "Differential"
timezone = "UTC"

[enclosure]
measured_in = "floor_cm2"

[zones.moss]
label = "Moss"
key = "m"
amount = 300

[zones.bark]
label = "Bark"
key = "b"
amount = 100

[zones.cave]
label = "Cave"
key = "c"
amount = 50
present = [{from = 2026-03-03}]

[zones.sand]
label = "Sand"
key = "s"
amount = 70
present = [{until = 2026-03-05}]

[animals.a1]
label = "Dot"
key = "1"

[animals.a2]
label = "Line"
key = "2"

[animals.a3]
label = "Ring"
key = "3"

[groups.young]
label = "Young"
key = "Y"
size = 4
"""
ZONES = ("moss", "bark", "cave", "sand", "gone")
ANIMALS = ("a1", "a2", "a3", "lost")
DECLARED: dict[str, Any] = {
    "zones": {"moss", "bark", "cave", "sand"}, "who": {"a1", "a2", "a3", "young"}, "animals": ["a1", "a2", "a3"],
    "groups": {"young": 4},
}  # fmt: skip


class Made:
    """One study in the making; every record gets a second of its own."""

    def __init__(self, folder: Path, dice: random.Random) -> None:
        self.folder, self.dice = study_folder(folder, STUDY), dice
        self.now = datetime(2026, 3, 2, 18, tzinfo=UTC)
        self.sightings: list[Place] = []
        self.backs: list[Place] = []
        self.rows: dict[Place, dict[str, Any]] = {}
        self.at: dict[Place, datetime] = {}
        self.begun: dict[str, datetime] = {}

    def pass_time(self, most_s: int = 50) -> datetime:
        self.now += timedelta(seconds=self.dice.randint(1, most_s))
        return self.now

    def put(
        self, journal: Journal, kind: str, at: datetime, entered: datetime | None = None, **fields: Any
    ) -> Place:
        mono = journal._started + (at - self.begun[journal.file]).total_seconds()
        record = journal.append(kind, at, entered=entered, mono=mono, **fields)
        place = Place(journal.session, journal.part, record.n, journal.file)
        self.rows[place], self.at[place] = {"kind": kind, **record.fields}, at
        if kind in ("seen", "unseen"):
            self.sightings.append(place)
        return place

    def open(self, method: str, observer: str, **header: Any) -> Journal:
        zones = self.dice.choice([None, ["moss", "bark", "cave", "sand"], ["moss", "bark"]])
        journal = start_session(
            self.folder,
            at=self.now,
            zone=UTC,
            study="d",
            observer=observer,
            method=method,
            zones=zones,
            **header,
        )
        self.begun[journal.file] = self.now
        return journal

    def go_on(self, journal: Journal, part: int, method: str, observer: str, **header: Any) -> Journal:
        new = continue_session(
            self.folder,
            journal.session,
            part,
            at=self.now,
            zone=UTC,
            study="d",
            observer=observer,
            method=method,
            **header,
        )
        self.begun[new.file] = self.now
        return new


def scan_session(made: Made, observer: str, torn: bool = False) -> None:
    dice, every = made.dice, made.dice.choice([60, 120])
    journal = made.open("scan", observer, every_s=every)
    scans = dice.randint(1, 6)
    owed: list[tuple[int, str]] = []
    for scan in range(1, scans + 1):
        for animal in ANIMALS:
            told = dice.random()
            if told < 0.6:
                made.put(
                    journal, "seen", made.pass_time(9), animal=animal, zone=dice.choice(ZONES), scan=scan
                )
            elif told < 0.75:
                made.put(journal, "unseen", made.pass_time(9), animal=animal, scan=scan)
            elif told < 0.9:
                made.put(journal, "missed", made.pass_time(9), animal=animal, scan=scan)
                owed.append((scan, animal))
        if owed and dice.random() < 0.5:  # a late answer
            late, animal = owed.pop()
            made.put(journal, "seen", made.pass_time(9), animal=animal, zone=dice.choice(ZONES), scan=late)
        for _ in range(dice.choice([0, 0, 1, 2])):
            at = made.pass_time(9)
            made.put(journal, "seen", at, group="young", zone="moss", count=dice.randint(0, 3), scan=scan)
            made.put(journal, "seen", at, group="young", zone="bark", count=1, scan=scan)
        if dice.random() < 0.15:
            journal.close()
            made.pass_time(4000)
            journal = made.go_on(journal, journal.part + 1, "scan", observer, every_s=every)
        made.pass_time(every)
    if torn or dice.random() < 0.2:
        journal.close()
        with journal.path.open("ab") as stream:
            stream.write(b'{"n":99,"at":"2026-03-02T19:00:0')
        return
    made.put(journal, "closed", made.pass_time(), reason="finished")
    journal.close()


def focal_session(made: Made, observer: str) -> None:
    dice = made.dice
    journal = made.open("focal", observer, every_s=dice.choice([30, 60]))
    who = dice.sample(ANIMALS[:3], dice.randint(1, 2))
    for _ in range(dice.randint(1, 8)):
        kind = dice.choice(["seen", "seen", "seen", "unseen", "paused", "resumed"])
        if kind == "seen":
            made.put(
                journal, "seen", made.pass_time(200), animal=dice.choice(who), zone=dice.choice(ZONES[:4])
            )
        elif kind == "unseen":
            made.put(journal, "unseen", made.pass_time(200), animal=dice.choice(who))
        else:
            made.put(journal, kind, made.pass_time(200))
    if dice.random() < 0.7:
        made.put(journal, "closed", made.pass_time(200), reason="finished")
    journal.close()


def round_session(made: Made, observer: str) -> None:
    dice = made.dice
    journal = made.open("retreat-round", observer)
    for zone in dice.sample(ZONES[:4], dice.randint(0, 4)):
        made.put(journal, "checked", made.pass_time(), zone=zone, skipped=dice.choice([None, None, True]))
        if dice.random() < 0.7:
            made.put(journal, "seen", made.pass_time(), animal=dice.choice(ANIMALS[:3]), zone=zone)
        if dice.random() < 0.3:
            made.put(journal, "seen", made.pass_time(), group="young", zone=zone, count=dice.randint(1, 2))
    if dice.random() < 0.3:
        made.put(journal, "unseen", made.pass_time(), animal=dice.choice(ANIMALS[:3]))
    made.put(journal, "closed", made.pass_time(), reason="finished")
    journal.close()


def look(made: Made, observer: str, method: str = "scan") -> None:
    journal = made.open(method, observer)
    for animal in made.dice.sample(ANIMALS[:3], made.dice.randint(1, 3)):
        made.put(journal, "seen", made.now, animal=animal, zone=made.dice.choice(ZONES), scan=1)
    made.put(journal, "closed", made.now, reason="finished")
    journal.close()


def budgets(made: Made, observer: str) -> None:
    """So many minutes of the hour in some zones, or doing something: shares that need not add up to the hour."""
    journal = made.open("focal", observer)
    made.pass_time()
    for animal in made.dice.sample(ANIMALS[:3], made.dice.randint(1, 3)):
        left = 3600
        for zone in made.dice.sample(ZONES, made.dice.randint(1, len(ZONES))):
            seconds = made.dice.choice([0, left, made.dice.randint(0, left)])
            left -= seconds
            made.put(journal, "spent", made.now, animal=animal, zone=zone, seconds=seconds, of_seconds=3600)
        if made.dice.random() < 0.4:
            made.put(journal, "spent", made.now, animal=animal, behaviour="resting", seconds=9, of_seconds=10)
    made.put(journal, "closed", made.now, reason="finished")
    journal.close()


def handled(made: Made) -> None:
    journal = made.open("record", "mk")
    made.put(journal, "context", made.pass_time(), what="handled", animal=made.dice.choice(ANIMALS[:3]))
    journal.close()


def mended(made: Made) -> None:
    """Correct, correct again, take back, put back: each from a file of its own, perhaps on another device."""
    dice = made.dice
    if not made.sightings:
        return
    made.pass_time(5)
    journal = made.open("record", dice.choice(["mk", "jo"]))
    if made.backs and dice.random() < 0.3:
        of, new = dice.choice(made.backs), None
    else:
        of = dice.choice(made.sightings[-12:])
        row = dict(made.rows[of])
        new = None
        if dice.random() < 0.75:
            kind = row.pop("kind")
            if kind == "seen" and not row.get("group"):
                row["zone"] = dice.choice(ZONES)
            new = made.put(journal, kind, made.at[of], entered=made.now, **row)
    named = reference(of)
    if dice.random() < 0.3:
        named.pop("file", None)
    back = made.put(
        journal, "took-back", made.pass_time(5), of=named, **({"replaces": reference(new)} if new else {})
    )
    made.backs.append(back)
    journal.close()


def two_devices(made: Made, observer: str) -> None:
    """A session cut off and continued on two devices at the same time."""
    journal = made.open("scan", observer, every_s=60)
    made.put(journal, "seen", made.pass_time(), animal="a1", zone="moss", scan=1)
    journal.close()
    made.pass_time(600)
    parts = [made.go_on(journal, 2, "scan", observer, every_s=60) for _ in range(2)]
    for scan in (2, 3):
        for part in parts:
            made.put(
                part, "seen", made.pass_time(9), animal=made.dice.choice(ANIMALS[:3]), zone="bark", scan=scan
            )
        made.pass_time(60)
    for part in parts:
        part.close()


def copied(made: Made) -> None:
    """A synchroniser leaves an older copy of a journal beside it."""
    paths = sorted((made.folder / "journal").glob("*.jsonl"))
    path = made.dice.choice(paths)
    kept = path.read_bytes().splitlines(keepends=True)
    (path.with_name(f"{path.stem} (copy).jsonl")).write_bytes(
        b"".join(kept[: made.dice.randint(1, len(kept))])
    )


def make(folder: Path, dice: random.Random) -> Path:
    """A study of a few days of anything that may come."""
    shutil.rmtree(folder, ignore_errors=True)
    made = Made(folder, dice)
    for _ in range(dice.randint(2, 7)):
        observer = dice.choice(["mk", "mk", "jo"])
        kind = dice.choice(
            [
                "scan",
                "scan",
                "scan",
                "focal",
                "round",
                "look",
                "budgets",
                "adlib",
                "handled",
                "devices",
                "mend",
                "mend",
                "copy",
            ]
        )
        # Now and then the next thing happens while the last still ran.
        if dice.random() < 0.35:
            made.now -= timedelta(seconds=dice.randint(0, 400))
        if kind == "scan":
            scan_session(made, observer)
        elif kind == "focal":
            focal_session(made, observer)
        elif kind == "round":
            round_session(made, observer)
        elif kind in ("look", "adlib"):
            look(made, observer, "scan" if kind == "look" else "ad-libitum")
        elif kind == "budgets":
            budgets(made, observer)
        elif kind == "handled":
            handled(made)
        elif kind == "devices":
            two_devices(made, observer)
        elif kind == "mend":
            mended(made)
        elif (made.folder / "journal").exists():
            copied(made)
        if dice.random() < 0.5:
            made.pass_time(dice.choice([600, 7200, 90_000]))
    return made.folder
