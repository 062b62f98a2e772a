"""Turn the counts of Vera et al. 2023 into a study: three tanks of five chambers along a gradient, hour by hour.

``python -m tests.real.fish RAWDIR SPECIES GROUP OUTDIR`` writes study.toml, sightings.csv and one readings file
for each chamber (SPECIES ZF or Tilapia, GROUP Experiment or Control). A count is a mean over the hour and may be a
fraction: it is written in sixtieths of a fish. ``ZT`` is hours since lights-on, so lights are on from 00:00 to 12:00.
One temperature a chamber and day is given; it is written for every hour of that day (a header of
its own for each tank, since equal files are one).

Vera LM et al. (2023) J Therm Biol. Data: see the README beside the raw files.
"""

from __future__ import annotations

import csv
import sys
from datetime import datetime, timedelta
from pathlib import Path

START = datetime(2022, 5, 1)
TANKS, CHAMBERS = ("1", "2", "3"), (1, 2, 3, 4, 5)
SIXTIETHS = 60


def _rows(path: Path, group: str) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return [row for row in csv.DictReader(stream) if row["Group"] == group]


def read_counts(raw: Path, species: str, group: str) -> list[tuple[str, int, int, int, float]]:
    """(tank, day, ZT, chamber, fish) of every count that is not missing."""
    return [
        (r["Tank"], int(r["Day"]), int(r["ZT"]), int(r["Chamber"]), float(r["FishCount"]))
        for r in _rows(raw / f"{species}_RawData.csv", group)
        if float(r["FishCount"]) >= 0
    ]


def read_temperatures(raw: Path, species: str, group: str) -> dict[int, tuple[float, ...]]:
    """°C of the five chambers by day."""
    return {
        int(r["Day"]): tuple(float(r[f"chamber_{c}"]) for c in CHAMBERS)
        for r in _rows(raw / f"temperature_{species}.csv", group)
    }


def write_study(raw: Path, species: str, group: str, folder: Path) -> Path:
    """study.toml, the table of sightings, and readings/chamber_TANK_N.csv beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(study_toml(), encoding="utf-8")
    with (folder / "sightings.csv").open("w", newline="", encoding="utf-8") as stream:
        out = csv.writer(stream)
        out.writerow(["at", "session", "group", "count", "zone"])
        for tank, day, zt, chamber, fish in read_counts(raw, species, group):
            if number := round(fish * SIXTIETHS):
                at = START + timedelta(days=day, hours=zt)
                row = [at.isoformat(), f"{tank} {day}", f"fish_{tank}", number, f"c{chamber}_{tank}"]
                out.writerow(row)
    warmth = read_temperatures(raw, species, group)
    for tank in TANKS:
        for chamber in CHAMBERS:
            with (folder / f"L{chamber}_{tank}.csv").open("w", newline="", encoding="utf-8") as stream:
                out = csv.writer(stream)
                out.writerow(["time", f"temperature °C (tank {tank})"])
                for day, by_chamber in warmth.items():
                    for hour in range(24):
                        at = START + timedelta(days=day, hours=hour)
                        # A value that stands still for a day is a stuck sensor's; this is a mean of the day.
                        shaken = by_chamber[chamber - 1] + (0.001 if hour % 2 else -0.001)
                        out.writerow([at.isoformat(), f"{shaken:.3f}"])
    return folder


def study_toml() -> str:
    text = ['format = 1\ntitle = "Fish in thermal tanks"\ntimezone = "UTC"\n']
    for tank in TANKS:
        text.append(
            f'[enclosures.tank_{tank}]\nmeasured_in = "places"\nlights = {{on = "00:00", off = "12:00"}}\n'
        )
        for chamber in CHAMBERS:
            text.append(
                f'[zones.c{chamber}_{tank}]\nlabel = "Chamber {chamber}"\nkey = "{"abcde"[chamber - 1]}"\n'
                f'amount = 1\nenclosure = "tank_{tank}"\nplace = "c{chamber}"\n'
                f'[loggers.L{chamber}_{tank}]\nplaced = [{{zone = "c{chamber}_{tank}"}}]\n'
            )
        text.append(
            f'[groups.fish_{tank}]\nlabel = "Fish of {tank}"\nkey = "F"\nsize = {12 * SIXTIETHS}\n'
            f'lives = [{{enclosure = "tank_{tank}"}}]\n'
        )
    return "\n".join(text)


if __name__ == "__main__":
    print(write_study(Path(sys.argv[1]), sys.argv[2], sys.argv[3], Path(sys.argv[4])))
