"""Permutations: sessions within slots beside a plain numpy loop, togetherness beside a pandas merge."""

from __future__ import annotations

import numpy as np

from tests.bench.measure import Line, by_turns
from zoneuse.stats.association.sharing import sharing
from zoneuse.stats.resampling.permutation import permute_phases

DRAWS = 10_000


def plain_loop(shares: np.ndarray, late: np.ndarray, slot: np.ndarray, draws: int) -> np.ndarray:
    """What a careful person writes: shuffle the marks within each slot, take means, count."""
    random = np.random.default_rng(1)
    slots = [np.flatnonzero(slot == s) for s in np.unique(slot)]
    weights = np.array([late[w].sum() * (~late[w]).sum() / w.size for w in slots])

    def change(marks: np.ndarray) -> np.ndarray:
        steps = [shares[w][marks[w]].mean(axis=0) - shares[w][~marks[w]].mean(axis=0) for w in slots]
        return np.average(steps, axis=0, weights=weights)

    seen, reached = np.abs(change(late)), np.zeros(shares.shape[1])
    for _ in range(draws):
        marks = late.copy()
        for where in slots:
            marks[where] = random.permutation(late[where])
        reached += np.abs(change(marks)) >= seen - 1e-12
    return (reached + 1) / (draws + 1)


def of_sessions(rounds: int = 5) -> list[Line]:
    """10,000 permutations of 60 and of 500 sessions in four slots, eight zones at once; and one exact count."""
    found = []
    for sessions, goal in ((60, 1 / 20), (500, 1 / 4)):
        random = np.random.default_rng(2)
        shares = random.dirichlet(np.ones(8), sessions)
        late, slot = np.arange(sessions) >= sessions // 2, np.arange(sessions) % 4
        times = by_turns(
            {
                "zoneuse": lambda v=shares, a=late, s=slot: permute_phases(v, a, s, draws=DRAWS),
                "plain numpy loop": lambda v=shares, a=late, s=slot: plain_loop(v, a, s, DRAWS),
            },
            rounds,
        )
        found.append(
            Line(
                f"{DRAWS:,} permutations of {sessions} sessions within slots, 8 zones",
                times.pop("zoneuse"),
                times,
                {"plain numpy loop": goal},
            )
        )
    shares, late = np.random.default_rng(3).dirichlet(np.ones(8), 15), np.arange(15) >= 7
    exact = by_turns({"zoneuse": lambda: permute_phases(shares, late)}, 11)["zoneuse"]
    arrangements = permute_phases(shares, late).arrangements
    found.append(
        Line(
            f"all {arrangements:,} arrangements of 7 + 8 sessions",
            exact,
            {},
            {},
            ("at most 5 ms per 25,000",),
        )
    )
    return found


def of_company(rounds: int = 3) -> Line:
    """30 animals, 2,000 checks, 12 retreats, 1,000 permutations; pandas shuffles and merges (from 5)."""
    import pandas as pd

    random = np.random.default_rng(4)
    where = np.zeros((2_000, 30), np.int64)
    where[0] = random.integers(0, 12, 30)
    for check in range(1, 2_000):
        goes = random.random(30) < 0.4
        where[check] = np.where(goes, random.integers(0, 12, 30), where[check - 1])
    where[random.random(where.shape) < 0.1] = -1
    check, animal = np.nonzero(where >= 0)
    frame = pd.DataFrame({"check": check, "animal": animal, "retreat": where[check, animal]})

    def merged() -> None:
        for _ in range(5):
            drawn = frame.assign(
                retreat=frame.groupby("check")["retreat"].transform(lambda v: random.permutation(v))
            )
            pairs = drawn.merge(drawn, on=["check", "retreat"])
            pairs.groupby(["animal_x", "animal_y"]).size()

    times = by_turns({"zoneuse": lambda: sharing(where, 1_000), "merge": merged}, rounds)
    rival = "pandas, a merge for each permutation"
    return Line("togetherness: 30 animals x 2,000 checks x 12 retreats, 1,000 permutations", times["zoneuse"],
                {rival: 200 * times["merge"]}, {rival: 0.12}, ("asked: within 3 s",))  # fmt: skip


def lines() -> list[Line]:
    """All lines of permutations."""
    return [*of_sessions(), of_company()]
