"""How often curves are right that are no parabola: ``python -m tests.sim.calibrate_curves [WHAT …] [--studies N]``.

WHAT: tops (a curve's top where its sides are unlike), edges (avoided beyond a value), hours (out by day and hidden by
night), noise (loggers that err), bends (a spline called better than a parabola by luck). As the answer reads them
(``answers.preference.curves``). Prints Markdown for docs/methods/preference.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np

from tests.sim.calibrate_zones import error
from tests.sim.curves import Pull, Ways, avoids_above, even, indifferent, skewed, steps_down, watched
from zoneuse.answers.effort import Effort
from zoneuse.answers.preference.curves import Curves, read_curves
from zoneuse.answers.preference.judge import peak_spans
from zoneuse.answers.preference.model import Alternatives
from zoneuse.stats.curves.logger_error import calibrated

SAME = (25.0,) * 6


def read(table: dict[str, np.ndarray], noise: float = 0.0) -> Curves:
    """A simulated study read as the answer does; ``noise`` is what its loggers are known to scatter by."""
    x, zone = np.asarray(table["x"], float), np.asarray(table["zone"], np.int64)
    if noise:
        x = calibrated(x.reshape(-1, 6), np.full(6, noise**2)).reshape(-1, 1)
    size = len(zone)
    model = Alternatives(
        quantities=("temperature_c",), places=tuple("abcdef"), extras=(),
        moment=np.asarray(table["moment"], np.int64), place=zone, chosen=np.asarray(table["chosen"], float),
        log_share=np.asarray(table["offset"], float), cluster=np.asarray(table["cluster"], np.int64), x=x,
        extra=np.zeros((size, 0)), stayed=np.zeros(size), kept=np.ones(size, bool),
        hour=np.asarray(table["hour"], float),
    )  # fmt: skip
    sessions = len(np.unique(model.cluster))
    found = read_curves(model, Effort(sessions, sessions, 3, size // 6, 0, 0, 0, "session", sessions))
    assert found is not None
    return found


def word(found: Curves) -> str:
    """The verdict, with a star where it is fairly sure in a study long enough."""
    (curve,) = found.each
    return curve.verdict + ("*" if curve.holds and curve.verdict not in ("too early", "flat") else "")


def top_of(pull: Pull) -> float:
    """Where a pull is strongest."""
    at = np.linspace(15, 45, 6001)
    return float(at[np.argmax(pull(at))])


def studies_of(ways: Ways, studies: int, seed: int, known_noise: float = 0.0) -> list[Curves]:
    """So many studies read."""
    return [read(watched(ways, seed + i), known_noise) for i in range(studies)]


def percent(hits: list[bool]) -> str:
    """Percent of hits; a dash where there is nothing to count."""
    return f"{100 * np.mean(hits):.0f} of {len(hits)}" if hits else "-"


def covered(found: list[Curves], truth: float) -> tuple[list[bool], list[float]]:
    """Whether the printed limits hold the truth, where a peak is named, and how wide they are."""
    named = [c.each[0] for c in found if c.each[0].verdict == "peaked"]
    spans = [peak_spans(c) for c in named]
    ends = [(min(a for a, _ in s), max(b for _, b in s)) for s in spans if s]
    return [a <= truth <= b for a, b in ends], [b - a for a, b in ends]


def tops(studies: int, seed: int) -> None:
    """Limits of the top where the sides are unlike; target 92 to 98."""
    print("\n| curve | sessions | peaked, of it fairly sure | limits hold the top | width, °C | s.e. |")
    print("|---|---|---|---|---|---|")
    cells = {
        "even, 28 °C": even(), "slow up, fast down (6, 2)": skewed(), "slow up, fast down (5, 3)": skewed(29, 5, 3),
        "fast up, slow down (2.5, 6)": skewed(26, 2.5, 6),
    }  # fmt: skip
    for name, pull in cells.items():
        for sessions in (16, 40):
            found = studies_of(Ways(pull, sessions), studies, seed)
            words = [word(f) for f in found]
            held, wide = covered(found, top_of(pull))
            claimed = 100 * np.mean([w.startswith("peaked") for w in words])
            sure = 100 * np.mean([w == "peaked*" for w in words])
            print(
                f"| {name} | {sessions} | {claimed:.0f}, {sure:.0f} | {percent(held)} | {np.median(wide):.1f} | "
                f"{error(float(np.mean(held)), len(held)):.1f} |", flush=True,
            )  # fmt: skip


def edges(studies: int, seed: int) -> None:
    """Avoided above a value: the word, and limits of the value; and how often an edge is seen where there is none."""
    print(
        "\n| curve | sessions | threshold, fairly sure | limits hold it | mean | peaked, fairly sure | s.e. |"
    )
    print("|---|---|---|---|---|---|---|")
    cells = {
        "above 32 °C less by .5 a degree": (Ways(avoids_above()), 32.0),
        "above 30 °C less by .3 a degree": (Ways(avoids_above(30.0, 0.3)), 30.0),
        "above 32 °C less by 2 at once": (Ways(steps_down()), 32.0),
        "no preference": (Ways(indifferent), None),
        "no preference, zones liked (sd .5)": (Ways(indifferent, liking=0.5), None),
        "a peak at 28 °C": (Ways(even()), None),
    }  # fmt: skip
    for name, (ways, truth) in cells.items():
        for sessions in (16, 40):
            found = studies_of(replace(ways, sessions=sessions), studies, seed)
            words = [word(f) for f in found]
            told = [f.each[0].edge_shown for f in found if f.each[0].edge_shown is not None]
            held = [] if truth is None else [e.low <= truth <= e.high for e in told]
            share = {
                w: 100 * np.mean([x == w or x == w + "*" for x in words]) for w in ("threshold", "peaked")
            }
            sure = {w: 100 * np.mean([x == w + "*" for x in words]) for w in ("threshold", "peaked")}
            print(
                f"| {name} | {sessions} | {share['threshold']:.0f}, {sure['threshold']:.0f} | {percent(held)} | "
                f"{np.mean([e.value for e in told]) if told else float('nan'):.1f} | {share['peaked']:.0f}, "
                f"{sure['peaked']:.0f} | {error(share['threshold'] / 100, studies):.1f} |", flush=True,
            )  # fmt: skip


def hours(studies: int, seed: int) -> None:
    """Out by day, hidden by night, no liking for warmth: anything claimed, and fairly sure (target at most 5)."""
    print(
        "\n| zones | pull of the hour | sessions | peaked, rising, falling or threshold | fairly sure | s.e. |"
    )
    print("|---|---|---|---|---|---|")
    for base in (None, SAME):
        for pull in (1.0, 2.0):
            for sessions in (16, 40):
                ways = Ways(indifferent, sessions, out_by_day=pull)
                ways = ways if base is None else replace(ways, base=base)
                words = [word(f) for f in studies_of(ways, studies, seed)]
                claimed = float(np.mean([w.rstrip("*") not in ("too early", "flat") for w in words]))
                sure = float(np.mean([w.endswith("*") for w in words]))
                print(
                    f"| {'20 to 35 °C' if base is None else 'alike but for the day'} | {pull} | {sessions} "
                    f"| {100 * claimed:.0f} | {100 * sure:.0f} | {error(sure, studies):.1f} |", flush=True,
                )  # fmt: skip


def noise(studies: int, seed: int) -> None:
    """Loggers that scatter by 1.5 °C: limits of the top as they say, and with the noise taken for what it is."""
    print("\n| curve | sessions | peaked | limits hold the top: as read / calibrated | s.e. |")
    print("|---|---|---|---|---|")
    for name, pull in (
        ("even, 28 °C", even()),
        ("even, 25 °C", even(25.0, 3.0)),
        ("even, 31 °C", even(31.0, 3.0)),
    ):
        for sessions in (16, 40):
            ways = Ways(pull, sessions, noise=1.5)
            (raw, _), (held, _) = (
                covered(studies_of(ways, studies, seed, n), top_of(pull)) for n in (0.0, 1.5)
            )
            print(
                f"| {name} | {sessions} | {100 * len(held) / studies:.0f} | {percent(raw)} / {percent(held)} | "
                f"{error(float(np.mean(held)), len(held)):.1f} |", flush=True,
            )  # fmt: skip


def bends(studies: int, seed: int) -> None:
    """A spline called better than a parabola that is true, one curve at .05 (target 5)."""
    print("\n| preference | zones liked | sessions | bent | s.e. |\n|---|---|---|---|---|")
    for name, pull in (("sought", even()), ("none", indifferent)):
        for liking in (0.0, 0.5):
            for sessions in (16, 40):
                found = studies_of(Ways(pull, sessions, liking=liking), studies, seed)
                bent = float(np.mean([(b := f.each[0].bend) is not None and b.p <= 0.05 for f in found]))
                print(
                    f"| {name} | {liking} | {sessions} | {100 * bent:.1f} | {error(bent, studies):.1f} |",
                    flush=True,
                )


MEASURES = {"tops": tops, "edges": edges, "hours": hours, "noise": noise, "bends": bends}

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", choices=[*MEASURES, []], default=[])
    parser.add_argument("--studies", type=int, default=100)
    asked = parser.parse_args()
    for chosen in asked.what or MEASURES:
        print(f"\n### {chosen}, {asked.studies} studies a cell")
        MEASURES[chosen](asked.studies, 4000)
