"""Zones that few animals use, and zones hardly used at all: how often limits hold the truth, and false claims.

``nice -n 19 python -m tests.sim.calibrate_seldom 400`` prints the tables of docs/methods/zones.md; a part of a
name behind it only those cells. Array level, with the units that the zones answer would take.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.sim.animals import OFFERED, counted
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.space_use import ZoneUse, zone_use

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
STAY, SCANS, DRAWS = 0.95, 20, 999
CLAIMS = ("avoided", "favoured")


@dataclass(frozen=True, slots=True)
class Cell:
    """One zone of ``share`` in all, of which there is ``offered``; the others are used as they are offered.

    With ``users`` so many of the animals make up the share and the others never go there; with ``chance`` each
    animal is such a one with that chance, and the truth is that of all such animals. ``unit`` "animal": each tried
    alone, in ``sessions`` sessions of its own.
    """

    said: str
    share: float
    offered: float
    animals: int
    sessions: int = 24
    users: int = 0
    chance: float = 0.0
    carry: float = 0.0
    unit: str = "session"
    group: bool = False

    @property
    def offer(self) -> Floats:
        """What is offered, the zone asked about first."""
        return np.r_[self.offered, np.asarray(OFFERED[:5]) / sum(OFFERED[:5]) * (1 - self.offered)]

    @property
    def truth(self) -> Floats:
        """The share of each zone expected."""
        others = self.offer[1:] / self.offer[1:].sum()
        return np.r_[self.share, others * (1 - self.share)]


def few(said: str, offered: float, **more: object) -> Cell:
    """Three of twelve animals spend half their time there, the others none: .125 of all."""
    return Cell(said, 0.125, offered, 12, **{"users": 3, **more})  # type: ignore[arg-type]


CELLS = (
    few("3 of 12, in proportion", 0.125),
    few("3 of 12, in proportion, carry .5", 0.125, carry=0.5),
    few("3 of 12, in proportion, carry .8", 0.125, carry=0.8),
    few("3 of 12, 2.5 times, carry .5", 0.05, carry=0.5),
    few("3 of 12, half, carry .5", 0.25, carry=0.5),
    few("3 of 12 not told apart, in proportion, carry .5", 0.125, carry=0.5, group=True),
    few("12 tried alone twice, 3 use it, in proportion", 0.125, sessions=2, unit="animal"),
    Cell("12 tried alone twice, 1 in 4 uses it", 0.125, 0.125, 12, 2, chance=0.25, unit="animal"),
    Cell("24 tried alone once, 1 in 4 uses it", 0.125, 0.125, 24, 1, chance=0.25, unit="animal"),
    *(
        Cell(f"seldom: {many} of {share:g}, {said}{tail}", share, share / times, many, carry=carry)
        for many in (1, 3, 12)
        for share in (0.003, 0.01)
        for said, times in (("in proportion", 1), ("a quarter", 0.25))
        for tail, carry in (("", 0.0), (", carry .5", 0.5))
        if times == 1 or not carry
    ),
    *(Cell(f"seldom: {many} of 0.01, 4 times", 0.01, 0.0025, many) for many in (1, 3, 12)),
    Cell("seldom: 6 not told apart of 0.01, in proportion", 0.01, 0.01, 6, group=True),
    Cell("seldom: 24 tried alone of 0.01, in proportion", 0.01, 0.01, 24, 1, unit="animal"),
)


def chances(cell: Cell, random: np.random.Generator) -> Floats:
    """Each animal's long-run share of each zone (animals x zones)."""
    own = np.tile(cell.truth, (cell.animals, 1))
    if not cell.users and not cell.chance:
        return own
    uses = np.arange(cell.animals) < cell.users
    part = cell.users / cell.animals
    if cell.chance:
        uses, part = random.random(cell.animals) < cell.chance, cell.chance
    own[:, 0] = np.where(uses, cell.share / part, 0.0)
    others = cell.offer[1:] / cell.offer[1:].sum()
    own[:, 1:] = (1 - own[:, :1]) * others
    return own


def watched(cell: Cell, random: np.random.Generator) -> dict[str, Ints]:
    """One study with a row a moment (or a zone and scan with its count, of animals not told apart)."""
    edges = chances(cell, random).cumsum(axis=1)
    size = (cell.animals, cell.sessions, SCANS)
    drawn = (random.random((*size, 1)) > edges[:, None, None, :]).sum(axis=-1).clip(max=edges.shape[1] - 1)
    stays = random.random(size) < STAY
    stays[:, :, 0] = random.random(size[:2]) < cell.carry
    zone = drawn.reshape(cell.animals, -1)
    stays = stays.reshape(zone.shape)
    stays[:, 0] = False
    # The last scan at which a new zone was chosen.
    at = np.maximum.accumulate(np.where(stays, 0, np.arange(zone.shape[1])), axis=1)
    zone = np.take_along_axis(zone, at, axis=1).reshape(size)
    animal, session, scan = (a.ravel() for a in np.indices(size))
    order = session * 10_000 + scan
    if cell.group:
        return counted(session, order, zone.ravel())
    unit = animal if cell.unit == "animal" else session
    if cell.unit == "animal":
        order = order + animal * 1_000_000
    return {"unit": unit, "animal": animal, "zone": zone.ravel(), "order": order}


def one_study(cell: Cell, seed: int) -> tuple[ZoneUse, tuple[str, ...]]:
    """What the zones answer would find, and its verdicts."""
    found = zone_use(**watched(cell, np.random.default_rng(seed)), availability=cell.offer, draws=DRAWS)
    return found, call_zones(found).verdict


def row(cell: Cell, first: int, studies: int) -> str:
    """One row of the table."""
    truth, offer = cell.truth, cell.offer
    alone, inside, every, low, high, once, right, false = ([] for _ in range(8))
    for k in range(studies):
        found, verdict = one_study(cell, first + k)
        alone.append(found.used_low[0] <= truth[0] <= found.used_high[0])
        holds = (found.ratio_low <= truth / offer) & (truth / offer <= found.ratio_high)
        inside.append(holds[0])
        every.append(holds.all())
        low.append(found.ratio_high[0] < truth[0] / offer[0])
        high.append(found.ratio_low[0] > truth[0] / offer[0])
        once.append(found.units_used[0] == 1)
        wanted = "favoured" if truth[0] > offer[0] else "avoided" if truth[0] < offer[0] else ""
        right.append(verdict[0] == wanted)
        false.append(verdict[0] in CLAIMS and verdict[0] != wanted)
    with_error = [f"{100 * np.mean(x):.1f} ({_error(x):.1f})" for x in (alone, inside, every)]
    plain = [f"{100 * np.mean(x):.1f}" for x in (low, high, once)]
    claims = f"{100 * np.mean(right):.1f}" if wanted else "–"
    said = [cell.said, *with_error, *plain, f"{100 * np.mean(false):.1f} ({_error(false):.1f})", claims]
    return "| " + " | ".join(said) + " |"


def _error(held: list[bool]) -> float:
    share = float(np.mean(held))
    return float(100 * np.sqrt(share * (1 - share) / len(held)))


def main(studies: int, part: str = "") -> None:
    print(f"{studies} studies a cell; percent (s.e.)\n")
    print(
        "| the zone | used, by itself | ratio, family-wise | all ratios at once | limits below the truth "
        "| above it | used in one unit only | false claim | right claim |\n|---|---|---|---|---|---|---|---|---|"
    )
    for c, cell in enumerate(CELLS):
        if part in cell.said:
            print(row(cell, 47_000_000 + 10_000 * c, studies), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400, *sys.argv[2:3])
