"""A year of one enclosure: every answer and the page, cold; and how time grows as the study does."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from tests.bench.measure import Line, command
from zoneuse.journal.records import Record
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.journal.writer import write_journal
from zoneuse.readings.store.store import PartWriter, commit, new_id
from zoneuse.readings.store.taken import Intake
from zoneuse.study.toml.file import load_declaration

ZONE = ZoneInfo("Europe/Vienna")
ZONES = 8
ANSWERS = ("zones", "activity", "prefer", "shifts", "retreats", "climate", "observers", "plan")


def declared_text(animals: int) -> str:
    """Eight zones with a logger each, three of them retreats."""
    text = 'format = 1\ntitle = "Year"\ntimezone = "Europe/Vienna"\n[enclosure]\nmeasured_in = "floor_cm2"\n'
    text += 'lights = {on = "08:00", off = "20:00"}\n[watching]\ncan = ["weekdays 19:00-23:00"]\n'
    for z in range(ZONES):
        role = "retreat" if z % 3 == 0 else "open"
        text += f'[zones.z{z}]\nlabel = "Zone {z}"\nkey = "{"abcdefgh"[z]}"\namount = {100 + 20 * z}\nrole = "{role}"\n'
        text += f'[loggers.L{z}]\nplaced = [{{zone = "z{z}", from = 2025-01-01}}]\n'
    for a in range(animals):
        text += f'[animals.a{a}]\nlabel = "Animal {a}"\nkey = "{"0123456789ABCDEFGHIJKLMNOPQRSTUV"[a]}"\n'
    for name, key in (("resting", "r"), ("walking", "w")):
        text += f'[behaviours.{name}]\nlabel = "{name.capitalize()}"\nkey = "{key}"\nlasts = true\n'
    return text


def make_year(
    folder: Path, sessions: int = 400, scans: int = 10, animals: int = 2, step_min: float = 10
) -> Path:
    """Sticky animals in a study with a year of readings; two changes on record."""
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(declared_text(animals), encoding="utf-8")
    declared, random = load_declaration(folder), np.random.default_rng(5)
    _readings(folder, step_min, random)
    where = random.integers(0, ZONES, animals)
    first = datetime(2025, 2, 1, 20, tzinfo=ZONE)
    for s in range(sessions):
        opened = first + timedelta(days=s * 300 / sessions)
        name = f"{opened:%Y%m%dT%H%M%S}Z-mk-{s:04x}"
        header = {"format": 1, "study": "Year", "session": name, "part": 1, "observer": "mk", "method": "scan",
                  "timezone": "Europe/Vienna", "every_s": 60, "minutes": scans, "file": f"{s:08x}"}  # fmt: skip
        records = [Record(1, opened, "opened", header, None, 0.0)]
        for scan in range(1, scans + 1):
            moves = random.random(animals) < 0.2
            where = np.where(moves, random.integers(0, ZONES, animals), where)
            for a in range(animals):
                does = "resting" if random.random() < 0.8 else "walking"
                fields = {"animal": f"a{a}", "zone": f"z{where[a]}", "behaviour": does, "scan": scan}
                at = opened + timedelta(minutes=scan)
                records.append(Record(len(records) + 1, at, "seen", fields, None, 60.0 * scan))
        end = opened + timedelta(minutes=scans + 1)
        records.append(
            Record(len(records) + 1, end, "closed", {"reason": "finished"}, None, 60.0 * (scans + 1))
        )
        write_journal(folder, records)
    for k, day in enumerate((100, 200)):
        at = first + timedelta(days=day)
        expects = [{"zone": "z0", "direction": "up"}]
        fields = {
            "adjustment": f"water-{k}",
            "what": "water",
            "zones": ["z0"],
            "expects": expects,
            "settle_h": 48.0,
        }
        write_rows(declared, at, [RecordToWrite("adjusted", fields, at)])
    return folder


def _readings(folder: Path, step_min: float, random: np.random.Generator) -> None:
    start = int(datetime(2025, 1, 1, tzinfo=UTC).timestamp() * 1000)
    times = start + np.arange(int(365 * 1440 / step_min), dtype=np.int64) * int(step_min * 60_000)
    day = 2 * np.pi * times / 86_400_000
    for z in range(ZONES):
        intake = new_id()
        writer = PartWriter(folder, intake, f"L{z}", ("temperature_c", "humidity_pct"))
        celsius = 18 + z + 2 * np.sin(day) + random.normal(0, 0.2, times.size)
        humidity = 80 - 5 * z - 8 * ((times / 86_400_000) % 9) / 9 + random.normal(0, 0.5, times.size)
        writer.write(times, {"temperature_c": celsius, "humidity_pct": humidity})
        part = writer.place()
        made = "2026-01-01T00:00:00+00:00"
        commit(folder, Intake(intake, f"L{z}.csv", f"{z:064d}", 1, made, (part,), kept=times.size))


def lines(folder: Path, rounds: int = 3) -> list[Line]:
    """Every answer within 2 s, the page within 10 s; each in a process of its own, imports included."""
    study = str(make_year(folder / "year"))
    # Each line of the table has its own limit in seconds instead of a rival.
    commands = {f"zoneuse {a}": [a, "--study", study] for a in ANSWERS}
    commands["zoneuse report"] = ["report", "--study", study, "-o", str(folder / "page.html"), "--force"]
    found = []
    for name, words in commands.items():
        runs = [command(words) for _ in range(rounds)]
        seconds, memory = (float(np.median(part)) for part in zip(*runs, strict=True))
        limit = "the limit asked for"
        most = 10.0 if name.endswith("report") else 2.0
        found.append(
            Line(
                f"{name}, a year of one enclosure, cold",
                seconds,
                {limit: most},
                {limit: 1.0},
                (f"{memory:.0f} MB",),
            )
        )
    return found


def growth(folder: Path) -> list[str]:
    """Rows of a table: seconds and memory of what grows, for 1, 4 and 16 times the readings, moments and animals."""
    grown = {
        "readings (climate)": ("climate", [{"step_min": 40 / k, "sessions": 40} for k in (1, 4, 16)]),
        "moments (zones)": ("zones", [{"sessions": 100 * k, "step_min": 60} for k in (1, 4, 16)]),
        "moments (prefer)": ("prefer", [{"sessions": 100 * k, "step_min": 60} for k in (1, 4, 16)]),
        "animals (retreats)": (
            "retreats",
            [{"animals": 2 * k, "sessions": 100, "step_min": 60} for k in (1, 4, 16)],
        ),
    }
    rows = []
    for what, (answer, sizes) in grown.items():
        cells = []
        for number, size in enumerate(sizes):
            study = make_year(folder / f"{answer}-{number}", **size)
            seconds, memory = command([answer, "--study", str(study)])
            cells.append(f"{seconds:.2f} s, {memory:.0f} MB")
        rows.append(f"| {what} | {' | '.join(cells)} |")
    return rows
