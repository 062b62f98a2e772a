"""Turn the raw arena file of Stark et al. 2024 into what a keeper would have: a study for each season.

``python -m tests.real.lizards RAW.csv OUTDIR`` writes OUTDIR/summer and OUTDIR/winter, each with a
study.toml (three arenas as enclosures of one layout), sightings.csv and one readings file per zone and arena.

Stark G, Ma L, Zeng Z-G, Du W-G, Levy O (2024) J Therm Biol 121:103841. doi:10.1016/j.jtherbio.2024.103841
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

PLACES = ("rock", "bush", "open")
KEYS = {"rock": "r", "bush": "b", "open": "o"}
TIMEZONE = "Asia/Jerusalem"


@dataclass(frozen=True)
class Minute:
    """One raw row: an animal-minute, its zone the one with the largest share, °C in all three."""

    animal: str
    arena: str
    season: str
    at: datetime
    place: str
    temperature_c: dict[str, float]


def read_raw(path: Path) -> list[Minute]:
    """All rows. Dates are dd.mm.yyyy; one is written 2023 among those of 2021 (a year typo, mended here)."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return [_minute(row) for row in csv.DictReader(stream)]


def _minute(row: dict[str, str]) -> Minute:
    at = datetime.strptime(f"{row['Date']} {row['Hour']}", "%d.%m.%Y %H:%M")
    if (at.year, at.month) == (2023, 6):
        at = at.replace(year=2021)
    shares = [float(row[f"{p.capitalize()}_Time"]) for p in PLACES]
    return Minute(
        row["ID"],
        row["Arena"],
        row["Season"].lower(),
        at,
        PLACES[shares.index(max(shares))],
        {p: float(row[f"Temp_{p.capitalize()}"]) for p in PLACES},
    )


def spread_repeats(minutes: Iterable[Minute]) -> list[Minute]:
    """Give the second and third row of one animal-minute a later second of that minute.

    The raw file writes 223 animal-minutes more than once, most of them with another zone and other
    temperatures (several recordings of one morning). They have no seconds; spread, each counts once, as in
    the figures that were computed from all rows.
    """
    seen: Counter[tuple[str, datetime]] = Counter()
    spread = []
    for minute in minutes:
        repeat = seen[minute.animal, minute.at]
        seen[minute.animal, minute.at] += 1
        later = minute.at + timedelta(seconds=20 * repeat)
        spread.append(
            Minute(minute.animal, minute.arena, minute.season, later, minute.place, minute.temperature_c)
        )
    return spread


def write_season(minutes: Iterable[Minute], season: str, folder: Path) -> Path:
    """A study folder's study.toml, and beside it the tables a keeper would take in."""
    rows = [m for m in minutes if m.season == season]
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(study_toml(rows, season), encoding="utf-8")
    with (folder / "sightings.csv").open("w", newline="", encoding="utf-8") as stream:
        out = csv.writer(stream)
        out.writerow(["at", "session", "animal", "zone"])
        out.writerows((m.at.isoformat(), f"{m.animal} {m.at:%Y-%m-%d}", m.animal, m.place) for m in rows)
    for arena in sorted({m.arena for m in rows}):
        for place in PLACES:
            known = {m.at: m.temperature_c[place] for m in rows if m.arena == arena}
            with (folder / f"{place}_{arena}.csv").open("w", newline="", encoding="utf-8") as stream:
                out = csv.writer(stream)
                out.writerow(["time", "temperature (°C)"])
                out.writerows((at.isoformat(sep=" "), known[at]) for at in sorted(known))
    return folder


def study_toml(rows: list[Minute], season: str) -> str:
    """Three arenas of one layout; a lizard lives in its arena on the days it was watched there."""
    arenas = sorted({m.arena for m in rows})
    text = [
        f'format = 1\ntitle = "Desert lizards, {season}"\n'
        f'timezone = "{TIMEZONE}"\nspecies = "Mesalina bahaeldini"\n'
    ]
    text += [f'[enclosures.arena_{a}]\nmeasured_in = "places"\n' for a in arenas]
    for arena in arenas:
        for place in PLACES:
            text.append(
                f'[zones.{place}_{arena}]\nlabel = "{place.capitalize()}"\nkey = "{KEYS[place]}"\namount = 1\n'
                f'enclosure = "arena_{arena}"\nplace = "{place}"\nrole = "{"open" if place == "open" else "other"}"\n'
            )
            text.append(
                f'[loggers.{place}_{arena}]\nplaced = [{{zone = "{place}_{arena}", from = 2021-01-01}}]\n'
            )  # fmt: skip
    for name in dict.fromkeys(m.animal for m in rows):
        mine = [m for m in rows if m.animal == name]
        first, last = min(m.at for m in mine).date(), max(m.at for m in mine).date()
        span = f"from = {first}, until = {last + timedelta(days=1)}"
        text.append(
            f'[animals.{name}]\nlabel = "{name}"\nkey = "1"\npresent = [{{{span}}}]\n'
            f'lives = [{{enclosure = "arena_{mine[0].arena}", {span}}}]\n'
        )
    return "\n".join(text)


def main(raw: Path, out: Path) -> None:
    minutes = spread_repeats(read_raw(raw))
    for season in ("summer", "winter"):
        print(write_season(minutes, season, out / season))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
