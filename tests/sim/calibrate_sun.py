"""A logger that stands in the sun on half of the days: ``python -m tests.sim.calibrate_sun [STUDIES]``.

Six zones of 20 to 35 °C, a session at any hour of each day, readings every half hour, through journals and the
readings' store, read as the answer does. On half of the days one logger lies in a beam and says too much. Counts how
often it is named, and whether the printed limits of a named peak hold it. Prints Markdown for
docs/methods/preference.md.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.answers.climates import START, put_readings
from tests.sim.calibrate_zones import error
from tests.sim.climate import OFFERED
from tests.sim.curves import BASE, SCANS, SWING, Pull, even
from zoneuse import open_study
from zoneuse.answers.effort import unit_codes
from zoneuse.answers.preference.curves import read_curves
from zoneuse.answers.preference.judge import peak_spans
from zoneuse.answers.preference.measured.loggers import logger_errors
from zoneuse.answers.preference.model import alternatives, known_quantities
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.stats.curves import limits_with_offset
from zoneuse.study import modelled
from zoneuse.study.toml.file import load_declaration
from zoneuse.tables import adjustments, choices

Floats = NDArray[np.float64]
ZONES = "abcdef"
PER_DAY = 48


@dataclass(frozen=True)
class Sunlit:
    """``by`` degrees too many at zone ``zone`` on a share ``days`` of the days; ``noise`` on all."""

    pull: Pull
    sessions: int = 40
    by: float = 8.0
    zone: int = 4
    days: float = 0.5
    noise: float = 0.0
    animals: int = 3


def written(folder: Path, ways: Sunlit, seed: int) -> Path:
    """One study with its readings."""
    random = np.random.default_rng(seed)
    folder.mkdir(parents=True)
    text = 'format = 1\ntitle = "Sun"\ntimezone = "UTC"\n[enclosure]\nmeasured_in = "floor_cm2"\n'
    for name, share in zip(ZONES, OFFERED, strict=True):
        text += f'[zones.{name}]\nlabel = "{name.upper()}"\nkey = "{name}"\namount = {1000 * share:.0f}\n'
        own = "" if ways.noise == 0 else f"accuracy = {{temperature_c = {ways.noise}}}\n"
        text += f'[loggers.{name}]\nplaced = [{{zone = "{name}"}}]\n{own}'
    for animal in range(ways.animals):
        text += f'[animals.a{animal}]\nlabel = "A{animal}"\nkey = "{animal + 1}"\n'
    (folder / "study.toml").write_text(text, encoding="utf-8")
    days = np.arange(0, ways.sessions, 1 / PER_DAY)
    weather = np.zeros(ways.sessions)
    for day in range(1, ways.sessions):
        weather[day] = 0.7 * weather[day - 1] + random.normal(0, 1.2)
    of_day = weather[days.astype(int)]
    cycle = np.sin((24 * (days % 1) - 9) / 24 * 2 * np.pi)
    true = BASE[:, None] + SWING[:, None] * cycle + of_day + random.normal(0, 0.3, (6, days.size))
    shines = (random.random(ways.sessions) < ways.days)[days.astype(int)]
    said = true + ways.noise * random.normal(size=true.shape)
    said[ways.zone] += ways.by * shines
    for i, name in enumerate(ZONES):
        put_readings(folder, name, days, {"temperature_c": said[i]})
    declared = load_declaration(folder)
    for day in range(ways.sessions):
        begins = day + random.uniform(0, 22.9) / 24
        at = begins + np.arange(SCANS) * 3 / 1440
        there = np.array([np.interp(at, days, t) for t in true]).T
        pull = ways.pull(there) + np.log(OFFERED)
        chance = np.exp(pull - pull.max(axis=1, keepdims=True))
        edges = (chance / chance.sum(axis=1, keepdims=True)).cumsum(axis=1)
        here = np.full(ways.animals, -1)
        rows = []
        for scan in range(SCANS):
            fresh = (random.random(ways.animals)[:, None] > edges[scan]).sum(axis=1).clip(max=5)
            here = np.where((here < 0) | (random.random(ways.animals) > 0.95), fresh, here)
            moment = START + timedelta(days=float(at[scan]))
            rows += [
                RecordToWrite("seen", {"animal": f"a{k}", "scan": scan + 1, "zone": ZONES[z]}, moment)
                for k, z in enumerate(here)
            ]
        write_rows(declared, rows[-1].at + timedelta(minutes=1), rows, method="scan", observer="mk")
    return folder


@dataclass(frozen=True)
class Read:
    """What the answer makes of one study's warmth: the word, a named peak's limits, whose logger is named."""

    word: str
    sure: bool
    low: float
    high: float
    named: tuple[str, ...]


def asked(ways: Sunlit, seed: int) -> Read:
    """One study as the answer reads it, without what stands beside the curve."""
    with tempfile.TemporaryDirectory() as folder:
        question = open_study(written(Path(folder) / "s", ways, seed)).question({})
        chosen = choices(
            question.declared, question.rows, adjustments(question.journals), readings=question.readings
        )
        errors = logger_errors(question, chosen, known_quantities(chosen, modelled()))
    units = unit_codes(chosen.rows, question.unit)
    found = read_curves(
        alternatives(question.declared, errors.chosen, errors.quantities, units), question.effort
    )
    if found is None:
        return Read("too early", False, np.nan, np.nan, errors.in_sun)
    (curve,) = found.each
    spans = peak_spans(curve) if curve.verdict == "peaked" else ()
    sure = curve.holds and not errors.in_sun
    if not spans or curve.shape.peak is None:
        return Read(curve.verdict, sure, np.nan, np.nan, errors.in_sun)
    ends = min(a for a, _ in spans), max(b for _, b in spans)
    peak = float(np.clip(curve.shape.peak, *ends))
    return Read(
        curve.verdict,
        sure,
        *limits_with_offset(peak, *ends, errors.offset["temperature_c"]),
        errors.in_sun,
    )


def main() -> None:
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print(
        "| the sun | named rightly, wrongly | peaked, fairly sure | limits hold the top | width, °C | s.e. |"
    )
    print("|---|---|---|---|---|---|")
    cells = {
        "8 °C on half of the days": Sunlit(even(28.0, 3.0)),
        "4 °C on half of the days": Sunlit(even(28.0, 3.0), by=4.0),
        "none": Sunlit(even(28.0, 3.0), by=0.0),
        "none, loggers scatter by 1.5 °C": Sunlit(even(28.0, 3.0), by=0.0, noise=1.5),
    }
    for name, ways in cells.items():
        found = [asked(ways, 600_000 + i) for i in range(studies)]
        right = [ZONES[ways.zone] in f.named and ways.by > 0 for f in found]
        wrong = [any(z != ZONES[ways.zone] or ways.by == 0 for z in f.named) for f in found]
        tops = [f for f in found if f.word == "peaked"]
        held = [f.low <= 28.0 <= f.high for f in tops]
        sure = [f.sure and f.word == "peaked" for f in found]
        print(
            f"| {name} | {100 * np.mean(right):.0f}, {100 * np.mean(wrong):.0f} | {100 * len(tops) / studies:.0f}, "
            f"{100 * np.mean(sure):.0f} | {100 * np.mean(held or [np.nan]):.0f} of {len(held)} | "
            f"{np.median([f.high - f.low for f in tops] or [np.nan]):.1f} | "
            f"{error(float(np.mean(held or [1.0])), max(len(held), 1)):.1f} |", flush=True,
        )  # fmt: skip


if __name__ == "__main__":
    main()
