"""Designs through journals and the public answer: false alarms by design, and power against the exact test.

``nice -n 19 python -m tests.sim.calibrate_designs 200`` prints the tables of docs/methods/shifts.md;
``alarms`` or ``power`` behind it only one of them, and a part of a name only those cells.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.sim.calibrate_compared import APART, USUAL
from tests.sim.written import FIRST
from zoneuse import open_study
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.stats.resampling import exchanged, relabel_pairs
from zoneuse.study.toml.file import load_declaration

Floats = NDArray[np.float64]
ZONES, EXPECTED, SCANS, STAYS, MOOD = 6, 3, 12, 0.5, 0.4
CLAIMS = ("rose", "fell")


@dataclass(frozen=True, slots=True)
class Cell:
    """``units`` animals tried alone (``each`` 1) or enclosures of ``each``; ``crossed``: each has both sides."""

    said: str
    units: int
    each: int
    crossed: bool
    effect: float


CELLS = (
    Cell("6 animals, each under both", 6, 1, True, 2.6),
    Cell("12 animals, each under both", 12, 1, True, 1.5),
    Cell("24 animals, each under both", 24, 1, True, 1.0),
    Cell("3 animals v 3", 6, 1, False, 2.6),
    Cell("6 animals v 6", 12, 1, False, 1.9),
    Cell("12 animals v 12", 24, 1, False, 1.5),
    Cell("5 enclosures of 3, crossed", 5, 3, True, 1.5),
    Cell("10 enclosures of 3, crossed", 10, 3, True, 0.9),
    Cell("5 enclosures of 3 v 5", 10, 3, False, 1.6),
)


def declared(cell: Cell) -> str:
    text = 'format = 1\ntitle = "Invented"\ntimezone = "Europe/Vienna"\n'
    homes = [f"tub_{u}" for u in range(cell.units)] if cell.each > 1 else ["chamber"]
    text += "".join(f'[enclosures.{h}]\nmeasured_in = "floor_cm2"\n' for h in homes)
    for h in homes:
        for z in range(ZONES):
            text += f'[zones.{h}_z{z}]\nlabel = "z{z} {h}"\nplace = "z{z}"\nenclosure = "{h}"\namount = 100\n'
    for a in range(cell.units * cell.each):
        text += f'[animals.a{a}]\nlabel = "Animal {a}"\n'
        text += f'lives = [{{enclosure = "{homes[a // cell.each if cell.each > 1 else 0]}"}}]\n'
    return text + "[treatments.plain]\n[treatments.model]\n"


def walks(random: np.random.Generator, likes: Floats) -> NDArray[np.int64]:
    """(animals x scans) zones of animals that stay where they are with chance ``STAYS``."""
    odds = np.exp(likes)
    edges = (odds / odds.sum(axis=1, keepdims=True)).cumsum(axis=1)
    drawn = (random.random((len(likes), SCANS, 1)) > edges[:, None, :]).sum(axis=2).clip(max=ZONES - 1)
    for scan in range(1, SCANS):
        stay = random.random(len(likes)) < STAYS
        drawn[stay, scan] = drawn[stay, scan - 1]
    return np.asarray(drawn, np.int64)


def write(folder: Path, cell: Cell, random: np.random.Generator, effect: float) -> float:
    """A study in ``folder``; p of the exact test of the expected zone that knows the design, by units."""
    (folder / "study.toml").write_text(declared(cell), encoding="utf-8")
    told = load_declaration(folder)
    n = cell.units * cell.each
    likes = np.log(USUAL) + random.normal(0, APART, (n, ZONES))
    share = np.full((2, cell.units), np.nan)
    # Half have the model first where all have both: the order is balanced and does nothing.
    first = random.permutation(cell.units) % 2
    for turn in range(2 if cell.crossed else 1):
        treated = (first + turn) % 2
        here = likes + np.repeat(random.normal(0, MOOD, (cell.units, ZONES)), cell.each, axis=0)
        here[:, EXPECTED] += effect * np.repeat(treated, cell.each)
        zone = walks(random, here)
        share[treated, np.arange(cell.units)] = (zone == EXPECTED).reshape(cell.units, -1).mean(axis=1)
        for u in range(cell.units):
            _session(told, cell, zone[u * cell.each : (u + 1) * cell.each], u, turn, bool(treated[u]))
    if cell.crossed:
        return relabel_pairs(share[0], share[1]).p
    return exchanged(np.where(first == 1, share[1], share[0]), first == 1).p


def _session(told: object, cell: Cell, zone: NDArray[np.int64], unit: int, turn: int, treated: bool) -> None:
    start = FIRST + timedelta(days=14 * turn + unit // 6, minutes=30 * (unit % 6))
    home = f"tub_{unit}" if cell.each > 1 else "chamber"
    rows = []
    for scan in range(SCANS):
        at = start + timedelta(minutes=2 * scan)
        for k, own in enumerate(zone[:, scan]):
            about = {"animal": f"a{unit * cell.each + k}", "zone": f"{home}_z{own}", "scan": scan + 1}
            rows.append(RecordToWrite("seen", about, at))
    write_rows(
        told, rows[-1].at + timedelta(minutes=1), rows, method="scan", observer="mk",  # type: ignore[arg-type]
        treatment="model" if treated else "plain",
    )  # fmt: skip


def one_study(cell: Cell, seed: int, effect: float) -> tuple[bool, bool, bool, float]:
    """Whether anything is claimed with nothing expected, and with one zone; whether that zone; its exact p."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        p = write(Path(name), cell, np.random.default_rng(seed), effect)
        study = open_study(name)
        open_ended, expecting = (
            [(f.facts["what"], f.about[-1]) for f in answer.findings if f.verdict in CLAIMS]
            for answer in (study.shifts(between="plain,model", expects=e) for e in ((), (f"z{EXPECTED}:up",)))
        )
    return bool(open_ended), bool(expecting), ("zone", f"z{EXPECTED}") in expecting, p


def main(studies: int, what: str = "both", part: str = "") -> None:
    def shown(many: int) -> str:
        share = many / studies
        return f"{100 * share:.1f} ({100 * (share * (1 - share) / studies) ** 0.5:.1f})"

    cells = [(cell, 31_000_000 + 100_000 * c) for c, cell in enumerate(CELLS) if part in cell.said]
    print(f"{studies} studies a cell; percent (s.e.)")
    if what in ("both", "alarms"):
        print(
            "| units, no effect | any claim, nothing expected | any claim, one zone expected |\n|---|---|---|"
        )
        for cell, first in cells:
            found = [one_study(cell, first + k, 0.0) for k in range(studies)]
            print(
                f"| {cell.said} | {shown(sum(f[0] for f in found))} | {shown(sum(f[1] for f in found))} |",
                flush=True,
            )
    if what in ("both", "power"):
        print("| units, effect | expected zone rose | exact test by itself | ratio |\n|---|---|---|---|")
        for cell, first in cells:
            found = [one_study(cell, first + 50_000 + k, cell.effect) for k in range(studies)]
            rose, exact = sum(f[2] for f in found), sum(f[3] <= 0.05 for f in found)
            ratio = f"{rose / exact:.2f}" if exact else "–"
            print(f"| {cell.said} | {shown(rose)} | {shown(exact)} | {ratio} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, *sys.argv[2:4])
