"""Invented animals written as a keeper's study: the slower way, through journals and the public answers."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from zoneuse import Study, open_study
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study.toml.file import load_declaration

ZONE = ZoneInfo("Europe/Vienna")
FIRST = datetime(2026, 3, 1, 20, 0, tzinfo=ZONE)
ACTS = ("resting", "walking", "basking")


def declaration(offer: NDArray[np.float64], animals: int, acts: bool = False) -> str:
    """A study.toml with so many zones of these shares, and so many animals."""
    text = 'format = 1\ntitle = "Invented"\ntimezone = "Europe/Vienna"\n\n[enclosure]\nmeasured_in = "floor_cm2"\n'
    for z, share in enumerate(offer):
        text += f'\n[zones.z{z}]\nlabel = "Zone {z}"\nkey = "{"mbvnjk"[z]}"\namount = {1000 * share:.0f}\n'
        text += 'role = "retreat"\n'
    for a in range(animals):
        text += f'\n[animals.a{a}]\nlabel = "Animal {a}"\nkey = "{a + 1}"\n'
    for b in ACTS if acts else ():
        text += f'\n[behaviours.{b}]\nlabel = "{b.title()}"\nkey = "{b[0]}"\nlasts = true\nactive = false\n'
    return text


def write_study(
    folder: Path, zone: NDArray[np.int64], offer: NDArray[np.float64], acts: NDArray[np.int64] | None = None
) -> None:
    """One scan session a day, six minutes from scan to scan; ``zone`` is animals x days x scans, -1 not found."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(declaration(offer, zone.shape[0], acts is not None), encoding="utf-8")
    declared = load_declaration(folder)
    for day in range(zone.shape[1]):
        rows = []
        for scan in range(zone.shape[2]):
            at = FIRST + timedelta(days=day, minutes=6 * scan)
            for animal in range(zone.shape[0]):
                where = int(zone[animal, day, scan])
                about = {"animal": f"a{animal}", "scan": scan + 1}
                if where < 0:
                    rows.append(RecordToWrite("unseen", about, at))
                    continue
                did = None if acts is None else ACTS[int(acts[animal, day, scan])]
                rows.append(RecordToWrite("seen", {**about, "zone": f"z{where}", "behaviour": did}, at))
        write_rows(declared, rows[-1].at + timedelta(minutes=1), rows, method="scan", observer="mk")


def changed_on(folder: Path, day: int, zone: int, direction: str | None = "up") -> None:
    """A change an hour before the session of that day, settled at once; expected to move one zone, or nothing."""
    at = FIRST + timedelta(days=day, hours=-1)
    fields = {"adjustment": "water-1", "what": "water", "zones": [f"z{zone}"], "settle_h": 0.0}
    expects = [{"zone": f"z{zone}", "direction": direction}] if direction else None
    write_rows(load_declaration(folder), at, [RecordToWrite("adjusted", {**fields, "expects": expects}, at)])


def studied(
    folder: Path, zone: NDArray[np.int64], offer: NDArray[np.float64], acts: NDArray[np.int64] | None = None
) -> Study:
    """The same, written and opened."""
    write_study(folder, zone, offer, acts)
    return open_study(folder)
