"""Treatments held against each other on invented animals: false alarms and power by design.

``nice -n 15 python -m tests.sim.calibrate_compared 300`` prints the table of docs/methods/shifts.md.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoneuse.answers.shifts.compared.design import BLOCKS, GROUPS, PAIRS, Design
from zoneuse.answers.shifts.compared.held import Held
from zoneuse.answers.shifts.compared.judge import Comparison, judged
from zoneuse.answers.shifts.compared.repeated import allowing_for_repeats
from zoneuse.stats.resampling import exchanged, least_exchanged, least_paired, relabel_pairs

Floats = NDArray[np.float64]
ZONES, SCANS, STAYS, EXPECTED = 6, 30, 0.8, 3
# The zones' usual shares, and how much animals differ in them (log odds).
USUAL, APART = np.array([0.3, 0.2, 0.15, 0.15, 0.1, 0.1]), 0.7


def shares(random: np.random.Generator, likes: Floats) -> Floats:
    """(animals x zones) shares of ``SCANS`` scans of animals that stay where they are with chance ``STAYS``."""
    odds = np.exp(likes)
    chance = odds / odds.sum(axis=1, keepdims=True)
    counts = np.zeros(chance.shape)
    where = _drawn(random, chance)
    for _ in range(SCANS):
        counts[np.arange(len(counts)), where] += 1
        moves = random.random(len(where)) > STAYS
        where = np.where(moves, _drawn(random, chance), where)
    return counts / SCANS


def _drawn(random: np.random.Generator, chance: Floats) -> NDArray[np.int64]:
    return np.asarray((chance.cumsum(axis=1) < random.random((len(chance), 1))).sum(axis=1), np.int64)


def one_study(random: np.random.Generator, kind: str, units: int, *, effect: float, each: int) -> Comparison:
    """``units`` animals (or enclosures of ``each``); ``effect`` in log odds of the expected zone on the second side."""
    n = units * each
    likes = np.log(USUAL) + random.normal(0, APART, (n, ZONES))
    # The mood of an enclosure or animal at one time is no effect of a treatment.
    moods = [np.repeat(random.normal(0, 0.4, (units, ZONES)), each, axis=0) for _ in range(2)]
    second = likes + moods[1]
    second[:, EXPECTED] += effect
    first, then = (
        shares(random, v).reshape(units, each, ZONES).mean(axis=1) for v in (likes + moods[0], second)
    )
    late = np.arange(units) >= units // 2
    names = tuple(map(str, range(units)))
    least = least_paired(units) if kind == PAIRS else least_exchanged(units // 2, units - units // 2)
    block = np.zeros(units, np.int64)
    design = Design("animal", "tried_alone", kind, names, np.arange(units), block, late, least)
    found = []
    for z in range(ZONES):
        before, after = first[:, z], then[:, z]
        if kind == PAIRS:
            test = relabel_pairs(before, after, draws=1_999)
        else:
            own = np.where(late, after, before)
            test = exchanged(own, late, draws=1_999)
            before, after = np.where(late, np.nan, before), np.where(late, after, np.nan)
        found.append(Held("zone", f"z{z}", before, after, test, 0.5))
    expected = {("zone", f"z{EXPECTED}"): "up"} if effect else {}
    return Comparison(("a",), ("a", "b"), ("a", "b"), design, found, expected, 0.1)


def cell(kind: str, units: int, each: int, studies: int, effect: float) -> tuple[float, float, float]:
    """Percent of studies with any claim, with one on the expected zone, and with p <= .05 of its test alone."""
    any_claim = own = exact = 0
    for k in range(studies):
        random = np.random.default_rng(520_000 + 1_000 * units + k)
        study = one_study(random, kind, units, effect=effect, each=each)
        (rows,) = judged([study])
        claims = [j.held.name for j in rows if j.verdict in ("rose", "fell")]
        any_claim += bool(claims)
        own += f"z{EXPECTED}" in claims
        exact += study.held[EXPECTED].test.p <= 0.05
    return 100 * any_claim / studies, 100 * own / studies, 100 * exact / studies


def sessions_of(random: np.random.Generator, sessions: int, carry: float, effect: float) -> Comparison:
    """One animal in one enclosure: from session to session it keeps its main place with chance ``carry``."""
    late = np.arange(sessions) >= sessions // 2
    own = np.array(USUAL)
    rose = own * np.exp(effect * (np.arange(ZONES) == EXPECTED))
    homes = np.zeros(sessions, np.int64)
    counts = np.zeros((sessions, ZONES))
    for s in range(sessions):
        chance = (rose if late[s] else own) / (rose if late[s] else own).sum()
        fresh = s == 0 or random.random() > carry
        homes[s] = random.choice(ZONES, p=chance) if fresh else homes[s - 1]
        where = homes[s]
        for _ in range(10):
            counts[s, where] += 1
            where = where if random.random() < STAYS else int(random.choice(ZONES, p=chance))
    at = pd.to_datetime("2026-03-01T20:00Z") + pd.to_timedelta(np.arange(sessions), "D")
    unit, place = np.nonzero(counts)
    rows = pd.DataFrame(
        {"at": at[unit], "enclosure": "tub", "place": [f"z{z}" for z in place], "animal": "a1", "group": None,
         "weight": counts[unit, place]}
    )  # fmt: skip
    names = tuple(map(str, range(sessions)))
    least = least_exchanged(sessions // 2, sessions - sessions // 2)
    design = Design("session", "one_a_day", BLOCKS, names, unit, np.zeros(sessions, np.int64), late, least)
    share = counts / counts.sum(axis=1, keepdims=True)
    found = []
    for z in np.flatnonzero(counts.any(axis=0)):
        test = exchanged(share[:, z], late, draws=1_999)
        before, after = np.where(late, np.nan, share[:, z]), np.where(late, share[:, z], np.nan)
        found.append(Held("zone", f"z{z}", before, after, test, 0.5))
    found = allowing_for_repeats(rows, late[unit], design, found)
    expected = {("zone", f"z{EXPECTED}"): "up"} if effect else {}
    return Comparison(("a",), ("a", "b"), ("a", "b"), design, found, expected, 0.1)


def by_sessions(studies: int, sessions: int, carry: float, effect: float = 0.0) -> float:
    """Percent of studies with any claim (of the expected zone, where there is an effect)."""
    claims = 0
    for k in range(studies):
        study = sessions_of(np.random.default_rng(990_000 + k), sessions, carry, effect)
        (rows,) = judged([study])
        named = [j.held.name for j in rows if j.verdict in ("rose", "fell")]
        claims += f"z{EXPECTED}" in named if effect else bool(named)
    return 100 * claims / studies


def main(studies: int) -> None:
    print(f"{studies} studies a cell")
    print("| units | any claim, no effect | zone expected rose: zoneuse / exact test knowing the design |")
    print("|---|---|---|")
    for said, kind, units, each in (
        ("6 animals, each both ways", PAIRS, 6, 1),
        ("12 animals, each both ways", PAIRS, 12, 1),
        ("24 animals, each both ways", PAIRS, 24, 1),
        ("6 animals, 3 against 3", GROUPS, 6, 1),
        ("12 animals, 6 against 6", GROUPS, 12, 1),
        ("24 animals, 12 against 12", GROUPS, 24, 1),
        ("5 enclosures of 3, before and after", PAIRS, 5, 3),
        ("10 enclosures of 3, before and after", PAIRS, 10, 3),
    ):
        none, _, _ = cell(kind, units, each, studies, 0.0)
        _, found, exact = cell(kind, units, each, studies, 1.3)
        print(f"| {said} | {none:.1f} | {found:.1f} / {exact:.1f} |", flush=True)

    print(
        "| sessions of one animal, half before and half after | carry 0 | .5 | .8 | effect at carry 0 | .5 |"
    )
    print("|---|---|---|---|---|---|")
    for sessions in (12, 24, 40):
        none = [f"{by_sessions(studies, sessions, carry):.1f}" for carry in (0.0, 0.5, 0.8)]
        found = [f"{by_sessions(studies, sessions, carry, 2.0):.1f}" for carry in (0.0, 0.5)]
        print(f"| {sessions} | {' | '.join((*none, *found))} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
