"""Every command that writes: cut at every file operation, killed at random instants.

``python -m tests.trust.kill 200`` kills each 200 times and cuts each everywhere; the table goes to docs/trust.md.
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

from tests.trust.commands import TRIALS, Counts, Trial, fresh_copy, judge, make_base, prepared, run
from tests.trust.cutting import KINDS, UNREADABLE, Cut


def cut_everywhere(trial: Trial, base: Path, place: Path, few: int | None = None) -> dict[str, Counts]:
    """Cut a command at each of its operations in every way; returns what came of it by kind.

    ``few``: at one operation only for each kind, another one for each number given.
    """
    states, whole = prepared(trial, base, place)
    names = [*whole.told, "the end"]
    found = {}
    for number, kind in enumerate((*KINDS, UNREADABLE)):
        counts = found[kind] = Counts()
        # The power may also go once the command has said that it is done.
        last = whole.reads if kind == UNREADABLE else len(whole.told) + (kind == "power")
        if last == 0:
            continue
        wanted = range(1, last + 1) if few is None else [(few + 2 * number) % last + 1]
        for at in wanted:
            fresh_copy(base, place)
            ended = run(trial, place, Cut(kind, at))
            try:
                judge(trial, place, states, ended, counts, kind == UNREADABLE)
            except AssertionError as error:
                raise AssertionError(
                    f"{trial.name}, {kind} at {at} ({'reading' if kind == UNREADABLE else names[at - 1]}): {error}"
                ) from None
    return found


def kill_often(trial: Trial, base: Path, place: Path, times: int, seed: int = 0, late: float = 0.0) -> Counts:
    """Kill a command at instants spread over its run, every other time on a slow disk.

    ``late``: the share of its run that is left alone first, where it works long before it writes.
    """
    states, whole = prepared(trial, base, place)
    chance, counts = random.Random(f"{trial.name} {seed}"), Counts()
    for number in range(times):
        fresh_copy(base, place)
        slowly = 0.002 * (number % 2)
        most = whole.seconds + slowly * len(whole.told)
        ended = run(trial, place, Cut(slowly=slowly), kill_after=chance.uniform(late * most, 1.05 * most))
        judge(trial, place, states, ended, counts)
    return counts


def main(times: int, names: list[str]) -> None:
    with tempfile.TemporaryDirectory(dir="/dev/shm") as where:
        base = make_base(Path(where) / "base")
        for name in names or TRIALS:
            try:
                said = _row(TRIALS[name], base, Path(where) / "place", times)
            except AssertionError as error:
                said = f"FOUND {error}"
            print(said, flush=True)


def _row(trial: Trial, base: Path, place: Path, times: int) -> str:
    """One command's row of the table: cuts, kills, what was there afterwards."""
    cuts = list(cut_everywhere(trial, base, place).values())
    kills = kill_often(trial, base, place, times) if times else Counts()
    cells: list[object] = [f"`{trial.name}`"]
    for tried in (cuts, [kills]):
        cells += [sum(getattr(c, n) for c in tried) for n in ("tried", "undone", "partly", "done_anyway")]
    return "| " + " | ".join(map(str, [*cells, kills.acknowledged])) + " |"


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2:])
