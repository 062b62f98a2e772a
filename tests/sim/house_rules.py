"""What verdicts do when a house rule is halved and doubled: ``python -m tests.sim.house_rules [NAME …] [--studies N]``.

Rules are numbers without a published source. Each is put in place of itself wherever it was imported to, and the same
invented animals are asked about again. Prints the Markdown table of docs/methods/house-rules.md.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tests.sim.animals import simulate
from tests.sim.calibrate_curves import SAME, read, word
from tests.sim.calibrate_evenings import told as surely
from tests.sim.calibrate_shifts import Design as Change
from tests.sim.calibrate_shifts import simulate as changed
from tests.sim.calibrate_shifts import verdicts
from tests.sim.calibrate_zones import STEEP
from tests.sim.changes import Ints, step, wave
from tests.sim.creatures import OFFER, columns, long_stays, together
from tests.sim.curves import Ways, avoids_above, even, indifferent, watched
from zoneuse.answers.zones.judge import EVEN_WITHIN, call_zones
from zoneuse.stats.space_use.zone_use import zone_use

Told = tuple[str, ...]


@dataclass(frozen=True)
class Rule:
    """``name`` in ``module``, and what is asked with it: a key of ``ASKED``."""

    module: str
    name: str
    asked: str


RULES = (
    Rule("zoneuse.stats.space_use.lasting", "UNEVEN", "zones"),
    Rule("zoneuse.stats.space_use.lasting", "CROWD_ERRORS", "zones"),
    Rule("zoneuse.stats.space_use.zone_use", "LASTING_LEVEL", "zones"),
    Rule("zoneuse.stats.space_use.zone_use", "STAY_ERRORS", "zones"),
    Rule("zoneuse.stats.space_use.zone_use", "FEWEST_UNITS", "zones"),
    Rule("zoneuse.stats.space_use.lasting", "SPREAD_ALLOWED", "zones"),
    Rule("zoneuse.stats.resampling.spells", "PERSISTS", "shifts"),
    Rule("zoneuse.answers.shifts.moved", "DEPENDENT", "shifts"),
    Rule("zoneuse.answers.shifts.moved", "WIDENED", "shifts"),
    Rule("zoneuse.stats.time_series.steady_sides", "BREAK_BEFORE", "shifts"),
    Rule("zoneuse.stats.time_series.steady_sides", "BREAK_AFTER", "shifts"),
    Rule("zoneuse.stats.time_series.steady_sides", "DRIFT", "shifts"),
    Rule("zoneuse.stats.resampling.spells", "PERSISTS_SURE", "sure"),
    Rule("zoneuse.stats.time_series.steady_sides", "LINE", "sure"),
    Rule("zoneuse.stats.intervals.any_time", "PART_OF_LEVEL", "sure"),
    Rule("zoneuse.answers.preference.curves", "CYCLE_CARRIES", "prefer"),
    Rule("zoneuse.answers.preference.judge", "TWO_LINES", "prefer"),
    Rule("zoneuse.answers.preference.judge", "EDGE_BORNE_OUT", "prefer"),
    Rule("zoneuse.answers.preference.shape", "CONFIRM", "prefer"),
    Rule("zoneuse.answers.preference.shape", "MOVED_LEAST", "prefer"),
)


@contextmanager
def set_to(rule: Rule, times: float) -> Iterator[float]:
    """The rule multiplied, in every module that holds it, and put back."""
    home = importlib.import_module(rule.module)
    before = getattr(home, rule.name)
    after = before * times
    held = [
        m for n, m in list(sys.modules.items())
        if n.startswith("zoneuse.") and m is not None and getattr(m, rule.name, None) == before
    ]  # fmt: skip
    for module in held:
        setattr(module, rule.name, after)
    try:
        yield after
    finally:
        for module in held:
            setattr(module, rule.name, before)


def zones_told(studies: int) -> Told:
    """Percent of studies with a false word: company, long stays; and in which a true preference is told."""
    told = []
    for make in (partial(together, carry=0.8, joins=0.95), partial(long_stays, shape=0.8)):
        hits = []
        for seed in range(studies):
            zone = make(4, 24, np.random.default_rng(seed))
            found = zone_use(**columns(zone), offered=OFFER, draws=499, seed=seed)
            hits.append(any(w in ("avoided", "favoured") for w in call_zones(found, EVEN_WITHIN).verdict))
        told.append(f"{100 * np.mean(hits):.0f}")
    design = replace(STEEP, animals=3, sessions=24)
    made, hits = simulate(design, studies, 7), []
    for i in range(studies):
        found = zone_use(**made.study(i), offered=design.offered, draws=499, seed=i)
        hits.append("favoured" in call_zones(found, EVEN_WITHIN).verdict)
    return (*told, f"{100 * np.mean(hits):.0f}")


def shifts_told(studies: int) -> Told:
    """Percent with a false rise or fall of the zone expected (moods that last; a drift), and of a true rise told."""
    cells = (Change(12, phi=0.7, mood=1.0), Change(12, drift=1.5), Change(12, after=0.45))
    told = []
    for cell in cells:
        hits = []
        for seed in range(studies):
            words, moved, _ = verdicts(changed(cell, np.random.default_rng(seed)), seed, True)
            main = [w for w, m in zip(words, moved, strict=True) if m.name == "z3"]
            hits.append(any(w in ("rose", "fell") for w in main))
        told.append(f"{100 * np.mean(hits):.0f}")
    return tuple(told)


def sure_told(studies: int) -> Told:
    """Percent fairly sure in a slow wave, of a rise begun three days before, and of a true rise; 16 v 16 days."""
    cells: tuple[Callable[[np.random.Generator], Ints], ...] = (
        lambda r: wave(16, 16, 3, r),
        lambda r: step(16, 16, 3, r, 0.45, 3),
        lambda r: step(16, 16, 3, r, 0.45),
    )
    return tuple(
        f"{100 * np.mean([surely(make(np.random.default_rng(i)), i)[1] for i in range(studies)]):.0f}"
        for make in cells
    )


def prefer_told(studies: int) -> Told:
    """Percent called peaked with a peak; threshold with an edge; and fairly sure of anything by the hour alone."""
    cells: tuple[tuple[Ways, Callable[[str], bool]], ...] = (
        (Ways(even(), 20, 2), lambda w: w.startswith("peaked")),
        (Ways(avoids_above(31.0, 0.8), 20, 2), lambda w: w.startswith("threshold")),
        (Ways(indifferent, 20, 2, out_by_day=2.0, base=SAME), lambda w: w.endswith("*")),
    )
    return tuple(
        f"{100 * np.mean([hit(word(read(watched(ways, 50 + i)))) for i in range(studies)]):.0f}"
        for ways, hit in cells
    )


ASKED: dict[str, tuple[str, Callable[[int], Told]]] = {
    "zones": ("false in company / false in long stays / favoured zone told", zones_told),
    "shifts": ("false in lasting moods / false in a drift / true rise told", shifts_told),
    "sure": ("fairly sure in a wave / of a rise begun before / of a true rise", sure_told),
    "prefer": ("peak told / edge told / fairly sure by the hour alone", prefer_told),
}

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*")
    parser.add_argument("--studies", type=int, default=40)
    given = parser.parse_args()
    kept: dict[str, Told] = {}
    print(f"| rule | value | what is asked, {given.studies} studies | halved | as it is | doubled |")
    print("|---|---|---|---|---|---|")
    for rule in RULES:
        if given.names and rule.name not in given.names and rule.asked not in given.names:
            continue
        what, ask = ASKED[rule.asked]
        kept.setdefault(rule.asked, ask(given.studies))
        told = []
        for times in (0.5, 2.0):
            with set_to(rule, times):
                told.append(" / ".join(ask(given.studies)))
        value = getattr(importlib.import_module(rule.module), rule.name)
        place = rule.module.removeprefix("zoneuse.").replace(".", "/")
        print(
            f"| `{rule.name}` in `{place}` | {value:g} | {what} | {told[0]} | {' / '.join(kept[rule.asked])} | "
            f"{told[1]} |", flush=True,
        )  # fmt: skip
