"""Turn the chamber files of Dye et al. 2023 into a study: eight compartments, shelters taken away step by step.

``python -m tests.real.rockling RAWDIR OUTDIR`` writes OUTDIR/study.toml and OUTDIR/sightings.csv. Three fish
not told apart are one group in each of six trials, each trial a chamber of its own; compartments of one
temperature are one place. The files have minutes from the start and no dates: each phase is given a week and
each trial a day of it, so that the order of the phases is kept and nothing else is claimed.

Dye B et al. (2023) J Exp Mar Biol Ecol 151959. doi:10.1016/j.jembe.2023.151959
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

WARMTH = (10, 13, 16, 19, 22)
COMPARTMENTS = {10: 1, 13: 2, 16: 2, 19: 2, 22: 1}
START = datetime(2022, 5, 2, 10)
# The phases in their order: the chamber without and with a gradient, then without the shelters at so many °C.
PHASES = ("I", "II", "III", *(f"without {t}" for t in WARMTH))
REMOVED = ("shelter_removal_10", "shelter_removal_13", "shelter_removal_16_end")


@dataclass(frozen=True)
class Count:
    """So many fish of a trial in the compartments of one temperature, at one time of a phase."""

    trial: str
    phase: str
    minute: int
    warmth: int
    fish: int


def read_raw(folder: Path) -> list[Count]:
    """Every count of both kinds of file."""
    found = []
    for row in _rows(folder / "rockling_temp_preference_data.csv"):
        found += _counts(row, row["phase"])
    for name in REMOVED:
        for row in _rows(folder / f"rockling_{name}.csv"):
            found += _counts(row, f"without {row['removed_temp']}")
    return found


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def _counts(row: dict[str, str], phase: str) -> list[Count]:
    times = {int(n[1:]): v for n, v in row.items() if n[0] == "T" and n[1:].isdigit()}
    return [
        Count(row["experiment"], phase, minute, int(row["temperature"]), int(fish))
        for minute, fish in times.items()
    ]


def opened(count: Count, trials: list[str]) -> datetime:
    """When a trial's session of a phase began: a week for each phase, a day for each trial."""
    return START + timedelta(weeks=PHASES.index(count.phase), days=trials.index(count.trial))


def write_study(counts: list[Count], folder: Path) -> Path:
    """study.toml and the table of sightings a keeper would take in."""
    trials = sorted({c.trial for c in counts}, key=int)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(study_toml(trials), encoding="utf-8")
    with (folder / "sightings.csv").open("w", newline="", encoding="utf-8") as stream:
        out = csv.writer(stream)
        out.writerow(["at", "session", "group", "count", "zone"])
        for (trial, phase, minute, warmth), fish in summed(counts).items():
            if fish:
                at = opened(Count(trial, phase, minute, warmth, fish), trials) + timedelta(minutes=minute)
                zone = f"t{warmth}_{trial}"
                out.writerow([at.isoformat(), f"{trial} {phase}", f"fish_{trial}", fish, zone])
    return folder


def summed(counts: list[Count]) -> dict[tuple[str, str, int, int], int]:
    """Fish by trial, phase, minute and temperature, over the compartments of that temperature."""
    found: dict[tuple[str, str, int, int], int] = {}
    for c in counts:
        key = c.trial, c.phase, c.minute, c.warmth
        found[key] = found.get(key, 0) + c.fish
    return found


def study_toml(trials: list[str]) -> str:
    text = ['format = 1\ntitle = "Rockling in a chamber"\ntimezone = "UTC"\nspecies = "Ciliata mustela"\n']
    for trial in trials:
        text.append(f'[enclosures.chamber_{trial}]\nmeasured_in = "places"\n')
        for key, warmth in zip("abcde", WARMTH, strict=True):
            text.append(
                f'[zones.t{warmth}_{trial}]\nlabel = "{warmth} °C"\nkey = "{key}"\n'
                f'amount = {COMPARTMENTS[warmth]}\nenclosure = "chamber_{trial}"\nplace = "t{warmth}"\n'
            )
        text.append(
            f'[groups.fish_{trial}]\nlabel = "Fish of {trial}"\nkey = "F"\nsize = 3\n'
            f'lives = [{{enclosure = "chamber_{trial}"}}]\n'
        )
    return "\n".join(text)


def changes(trials: list[str]) -> list[tuple[str, list[str], datetime]]:
    """What was done between the phases: kind, zones, when (the evening before the next phase's week)."""
    found = []
    for number, phase in enumerate(PHASES[1:], 1):
        at = START + timedelta(weeks=number, days=-1)
        warmth = WARMTH if phase in ("II", "III") else (int(phase.split()[1]),)
        kind = "heat" if phase in ("II", "III") else "cover"
        found.append((kind, [f"t{t}_{n}" for n in trials for t in warmth], at))
    return found


if __name__ == "__main__":
    print(write_study(read_raw(Path(sys.argv[1])), Path(sys.argv[2])))
