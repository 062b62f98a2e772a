"""What verdicts do when a house rule is halved and doubled: ``python -m tests.sim.house_rules [NAME …] [--studies N]``.

Rules are numbers without a published source. Each is put in place of itself wherever it was imported to, and the same
invented animals are asked about again (``house_asked``). Prints the Markdown table of docs/methods/house-rules.md.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any

from tests.sim.house_asked import ASKED, Told


@dataclass(frozen=True)
class Rule:
    """``name`` in ``module``, and what is asked with it: a key of ``ASKED``.

    ``instead`` is put in its place where half and twice say nothing; ``also`` are rules that go with it.
    """

    module: str
    name: str
    asked: str
    instead: tuple[Any, Any] | None = None
    also: tuple[tuple[str, str], ...] = ()


_UNITS = ("zoneuse.answers.zones.judge", "LEAST_UNITS")
_MANY = ("zoneuse.answers.observers.judge", "MANY_UNCOMMON")
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
    Rule("zoneuse.stats.intervals.any_time", "LEVELS", "often"),
    Rule("zoneuse.answers.finding", "SURE_FROM", "often"),
    Rule("zoneuse.stats.time_series.recent_change", "LEVEL_MOVING", "moving"),
    Rule(
        "zoneuse.answers.finding",
        "LEAST",
        "early",
        ((3, 2), (10, 6)),
        (("zoneuse.answers.zones.judge", "LEAST_UNITS"),),
    ),
    Rule("zoneuse.answers.zones.judge", "EVEN_WITHIN", "even", ((0.82, 1.22), (0.45, 2.25))),
    Rule("zoneuse.stats.space_use.sample_size", "COMING_WORTH", "ahead"),
    Rule("zoneuse.answers.shifts.judge", "LEAST_FOR_REST", "expected"),
    Rule("zoneuse.answers.watched", "_APART", "unseen"),
    Rule("zoneuse.answers.watched", "_BY_LUCK", "unseen"),
    Rule("zoneuse.answers.watched", "_OTHER_HANDS", "hands", (0.25, 0.75)),
    Rule("zoneuse.stats.association.sharing", "PAIR_POWER", "company"),
    Rule("zoneuse.stats.association.sharing", "LEVEL_TOGETHER", "company"),
    Rule("zoneuse.stats.association.sharing", "LEVEL_APART", "company"),
    Rule("zoneuse.stats.intervals.any_time", "COMPANY_PART", "parts"),
    Rule("zoneuse.stats.intervals.any_time", "APART_PART", "parts"),
    Rule("zoneuse.stats.intervals.any_time", "KEEPING_PART", "parts"),
    Rule("zoneuse.stats.intervals.any_time", "DRY_PART", "parts"),
    Rule(
        "zoneuse.answers.observers.judge",
        "FEWEST_UNCOMMON",
        "rare",
        None,
        (("zoneuse.answers.observers.judge", "MANY_UNCOMMON"),),
    ),
    Rule("zoneuse.stats.agreement.agreement", "_FEWEST_TELLING", "rare"),
    Rule("zoneuse.answers.preference.judge", "TWO_LINES_SURELY", "surely"),
    Rule("zoneuse.answers.preference.judge", "EDGE_UNITS", "surely"),
    Rule("zoneuse.stats.choice.preference", "SERIAL_ERRORS", "serial"),
    Rule("zoneuse.answers.preference.measured.loggers", "SUN_LEAST_C", "sun"),
    Rule("zoneuse.answers.preference.measured.loggers", "SUN_TURNS", "sun"),
    Rule("zoneuse.answers.preference.measured.loggers", "SUN_MORE", "sun"),
    Rule("zoneuse.answers.second_opinion.judge", "CLUSTERS_ENOUGH", "clusters"),
)


@contextmanager
def held_to(module: str, name: str, after: Any) -> Iterator[None]:
    """A number put in place of a rule in every module that holds it, and the rule put back."""
    before = getattr(importlib.import_module(module), name)
    held = [
        m for n, m in list(sys.modules.items())
        if n.startswith("zoneuse.") and m is not None and getattr(m, name, None) == before
    ]  # fmt: skip
    for one in held:
        setattr(one, name, after)
    try:
        yield
    finally:
        for one in held:
            setattr(one, name, before)


def times(before: Any, by: float) -> Any:
    """A rule, or each of its numbers, that many times; a whole number stays one."""
    if isinstance(before, tuple):
        return tuple(times(b, by) for b in before)
    return max(round(before * by), 1) if isinstance(before, int) else before * by


@contextmanager
def set_to(rule: Rule, by: float) -> Iterator[None]:
    """The rule, and those that go with it, half (``by`` .5) or twice as large; or what stands for that."""
    with ExitStack() as stack:
        for module, name in ((rule.module, rule.name), *rule.also):
            before = getattr(importlib.import_module(module), name)
            after = times(before, by)
            if rule.instead is not None:
                after = rule.instead[int(by > 1)]
                after = after[0] if isinstance(after, tuple) and not isinstance(before, tuple) else after
            stack.enter_context(held_to(module, name, after))
        yield


def _said(value: Any) -> str:
    return ", ".join(f"{v:g}" for v in value) if isinstance(value, tuple) else f"{value:g}"


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
        if rule.asked not in kept:
            kept[rule.asked] = ask(given.studies)
        told = []
        for by in (0.5, 2.0):
            with set_to(rule, by):
                told.append(" / ".join(ask(given.studies)))
        value = _said(getattr(importlib.import_module(rule.module), rule.name))
        if rule.instead is not None:
            value += f" ({'; '.join(_said(v) for v in rule.instead)})"
        place = rule.module.removeprefix("zoneuse.").replace(".", "/")
        print(
            f"| `{rule.name}` in `{place}` | {value} | {what} | {told[0]} | {' / '.join(kept[rule.asked])} | "
            f"{told[1]} |", flush=True,
        )  # fmt: skip
