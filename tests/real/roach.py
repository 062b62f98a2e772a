"""Turn the tanks of the roach refuge study into a study: three places, a new refuge, an old one closed and opened.

``python -m tests.real.roach roach_wide.csv OUTDIR`` writes OUTDIR/study.toml and OUTDIR/sightings.csv. Twelve
fish not told apart are one group in each of 24 tanks; a tank's day is a session. Each tank's places are dated by
its own sequences: the reed bed comes with 2, the old shelter is closed in 3 and open again in 4.

Norman J et al., data CC0 (see the data's README).
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

PLACES = {"bed": "c_hab", "open": "c_open", "shelter": "c_ps"}
KEYS = {"bed": "b", "open": "o", "shelter": "s"}


@dataclass(frozen=True)
class Count:
    """One raw row: how many of a tank's twelve were in each place at one time of a sequence."""

    tank: str
    sequence: int
    at: datetime
    fish: dict[str, int]


def read_raw(path: Path) -> list[Count]:
    """Every row, dates as day/month/year."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return [
            Count(
                row["trial"], int(row["sequence"]),
                datetime.strptime(f"{row['date']} {row['time']}", "%d/%m/%Y %H:%M:%S"),
                {place: int(row[column]) for place, column in PLACES.items()},
            )
            for row in csv.DictReader(stream)
        ]  # fmt: skip


def begun(counts: list[Count]) -> dict[str, dict[int, datetime]]:
    """When each sequence of each tank began."""
    first: dict[str, dict[int, datetime]] = defaultdict(dict)
    for one in sorted(counts, key=lambda c: c.at):
        first[one.tank].setdefault(one.sequence, one.at)
    return first


def write_study(counts: list[Count], folder: Path) -> Path:
    """The study's folder, with its table of sightings."""
    folder.mkdir(parents=True, exist_ok=True)
    starts = begun(counts)
    lines = ["format = 1", 'title = "Roach refuge"', 'timezone = "UTC"', ""]
    for tank in starts:
        lines += [f"[enclosures.tank_{tank}]", 'measured_in = "places"', ""]
    for tank, start in starts.items():
        at = {k: t.isoformat() for k, t in start.items()}
        present = {
            "bed": f"[{{from = {at[2]}}}]",
            "open": "[{}]",
            "shelter": f"[{{until = {at[3]}}}, {{from = {at[4]}}}]" if 4 in at else f"[{{until = {at[3]}}}]",
        }
        for place in PLACES:
            lines += [
                f"[zones.{place}_{tank}]", f'label = "{place.capitalize()}"', f'key = "{KEYS[place]}"',
                f'enclosure = "tank_{tank}"', f'place = "{place}"', "amount = 1",
                *([] if present[place] == "[{}]" else [f"present = {present[place]}"]), "",
            ]  # fmt: skip
        lines += [
            f"[groups.fish_{tank}]", f'label = "Fish of tank {tank}"', 'key = "F"', "size = 12",
            f'lives = [{{enclosure = "tank_{tank}"}}]', "",
        ]  # fmt: skip
    (folder / "study.toml").write_text("\n".join(lines), encoding="utf-8")
    with (folder / "sightings.csv").open("w", encoding="utf-8", newline="") as stream:
        out = csv.writer(stream)
        out.writerow(["at", "session", "group", "zone", "count"])
        for one in counts:
            session = f"{one.tank}-{one.at:%Y%m%d}-{one.sequence}"
            for place, fish in one.fish.items():
                if fish:
                    out.writerow(
                        [one.at.isoformat(), session, f"fish_{one.tank}", f"{place}_{one.tank}", fish]
                    )
    return folder


if __name__ == "__main__":
    write_study(read_raw(Path(sys.argv[1])), Path(sys.argv[2]))
