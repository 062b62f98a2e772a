"""How often the preferred temperature of a gradient is right: ``python -m tests.sim.calibrate_gradient [WHAT …]``.

WHAT: animals (limits over animals in a gradient that never moves), turned (turned round half-way), bends (curves
that bend by luck), slots (day and night without a difference). Prints Markdown for docs/methods-gradients.md.
"""

from __future__ import annotations

import argparse

import numpy as np

from tests.sim.calibrate_preference import fitted, inside
from tests.sim.calibrate_zones import error
from tests.sim.climate import Seeker, watch
from zoneuse.answers.preference.shape import constants_tell_little, curve_shape
from zoneuse.stats.choice.flexible import flexible_curve
from zoneuse.stats.choice.place_or_climate import fit_places
from zoneuse.stats.choice.preference import fit_preference
from zoneuse.stats.choice.used import mean_limits, used_by_animal
from zoneuse.stats.time_series.segmented import lag_one_within, variance_inflation

WARMTH = np.array([20.0, 23.0, 26.0, 29.0, 32.0, 35.0])
PEAK, WIDTH, BETWEEN, LIKING, STAY = 28.0, 3.0, 1.5, 0.4, 0.9


def chances(best: np.ndarray, warmth: np.ndarray, liking: np.ndarray) -> np.ndarray:
    """Chance of each zone: animals x zones (… broadcast with ``best``)."""
    pull = -((warmth - best[..., None]) ** 2) / (2 * WIDTH**2) + liking
    chance = np.exp(pull - pull.max(axis=-1, keepdims=True))
    return chance / chance.sum(axis=-1, keepdims=True)


def one_session(chance: np.ndarray, scans: int, random: np.random.Generator) -> np.ndarray:
    """Zone by scan of one animal that keeps its zone with chance STAY."""
    zone = np.zeros(scans, np.int64)
    for i in range(scans):
        stays = i > 0 and random.random() < STAY
        zone[i] = zone[i - 1] if stays else random.choice(chance.size, p=chance)
    return zone


def animals(studies: int, seed: int) -> None:
    """Limits of the preferred temperature over animals, one session each; target 93 to 97."""
    print("\n| animals | limits hold the mean of the kind | s.e. |\n|---|---|---|")
    random = np.random.default_rng(seed)
    many = random.normal(PEAK, BETWEEN, 200_000)
    truth = float((chances(many, WARMTH, np.zeros(6)) * WARMTH).sum(axis=1).mean())
    for count in (6, 10, 20, 40):
        held = []
        for _ in range(studies):
            best = random.normal(PEAK, BETWEEN, count)
            chance = chances(best, WARMTH, np.zeros(6))
            zones = np.array([one_session(c, 40, random) for c in chance])
            found = used_by_animal(
                WARMTH[zones].ravel(), np.ones(zones.size), np.repeat(np.arange(count), 40)
            )
            held.append(found.low <= truth <= found.high)
        print(f"| {count} | {100 * np.mean(held):.1f} | {error(np.mean(held), studies):.1f} |", flush=True)


def gradient_table(count: int, random: np.random.Generator, turn: bool) -> dict[str, np.ndarray]:
    """One session an animal; with ``turn`` the second half has the warm end on the other side."""
    liking = LIKING * random.normal(size=6)
    rows: dict[str, list[np.ndarray]] = {k: [] for k in ("x", "zone", "chosen", "moment", "cluster")}
    for number in range(count):
        warmth = WARMTH[::-1] if turn and number >= count // 2 else WARMTH
        warmth = warmth + random.normal(0, 0.15, 6)
        chance = chances(np.array([random.normal(PEAK, BETWEEN)]), warmth, liking)[0]
        for scan, zone in enumerate(one_session(chance, 40, random)):
            rows["x"].append(warmth)
            rows["zone"].append(np.arange(6))
            rows["chosen"].append(np.arange(6) == zone)
            rows["moment"].append(np.full(6, number * 40 + scan))
            rows["cluster"].append(np.full(6, number))
    table = {k: np.concatenate(v) for k, v in rows.items()}
    return {**table, "x": table["x"][:, None], "offset": np.zeros(len(table["zone"]))}


def turned(studies: int, seed: int) -> None:
    """A gradient turned round half-way: the peak's set, and whether climate is told from place."""
    print("\n| animals | turned | set holds the peak | peaked | never told | uneven | s.e. |")
    print("|---|---|---|---|---|---|---|")
    for count in (12, 24, 40):
        for turn in (True, False):
            random = np.random.default_rng(seed + count)
            held, words, bent = [], [], []
            for _ in range(studies):
                table = gradient_table(count, random, turn)
                fit = fit_preference(**table, quantities=("temperature_c",))
                shape = curve_shape(fit, 0)
                if constants_tell_little(fit, 0, shape):
                    shape = curve_shape(fit, 0, likings=fit_places(**table, quantities=("t",)).curve(0))
                held.append(inside(shape.peak_set, PEAK))
                words.append((shape.shape, shape.reason))
                bent.append(_bent(table, 0, turn) and not _one_top_stands(table, shape, turn))
            peaked = np.mean([w == "peaked" for w, _ in words])
            never = np.mean([r == "never_moved" for _, r in words])
            print(
                f"| {count} | {'half-way' if turn else 'never'} | {100 * np.mean(held):.1f} | {100 * peaked:.1f} | "
                f"{100 * never:.1f} | {100 * np.mean(bent):.1f} | {error(np.mean(held), studies):.1f} |",
                flush=True,
            )


def _curve(table: dict[str, np.ndarray], quantity: int, constants: bool):
    x = table["x"] - np.median(table["x"], axis=0)
    rest = np.delete(x, quantity, axis=1)
    used = np.unique(table["zone"][table["chosen"] > 0])
    rows = np.isin(table["zone"], used) if constants else np.ones(len(x), bool)
    places = (table["zone"][:, None] == used[1:]).astype(float)
    others = np.column_stack([rest, rest**2, *([places] if constants else [])])[rows]
    columns = (table[k][rows] for k in ("moment", "chosen", "offset"))
    return flexible_curve(table["x"][rows, quantity], others, *columns, cluster=table["cluster"][rows])


def _bent(table: dict[str, np.ndarray], quantity: int, constants: bool) -> bool:
    found = _curve(table, quantity, constants)
    return found is not None and found.p <= 0.05


def _one_top_stands(table: dict[str, np.ndarray], shape, constants: bool) -> bool:
    found = _curve(table, 0, constants)
    return found is not None and found.top is not None and inside(shape.peak_set, found.top)


def bends(studies: int, seed: int) -> None:
    """A spline called better than a parabola that is true, at the level of .05 a curve (animals with likings)."""
    print("\n| preference | animals | sessions | bent: °C / % | s.e. |\n|---|---|---|---|---|")
    for width in (4.0, None):
        for count, sessions in ((1, 16), (1, 40), (3, 16), (3, 40)):
            seeker = Seeker(sessions, count, liking_sd=0.5, width_c=width, width_pct=14.0 if width else None)
            found = []
            for number in range(studies):
                table = watch(seeker, seed + number).table()
                within = fitted(watch(seeker, seed + number)).within
                found.append([_bent(table, q, within[q] >= 0.005) for q in (0, 1)])
            c, h = 100 * np.mean(found, axis=0)
            print(
                f"| {'sought' if width else 'none'} | {count} | {sessions} | {c:.1f} / {h:.1f} | "
                f"{error(c / 100, studies):.1f} |", flush=True,
            )  # fmt: skip


def slots(studies: int, seed: int) -> None:
    """Day less night where there is no difference: days of 3 animals that repeat each other, and 8 animals."""
    print("\n| units | carry from day to day | called different | s.e. |\n|---|---|---|---|")
    random = np.random.default_rng(seed)
    for count, days, carry in ((3, 14, 0.0), (3, 14, 0.5), (1, 12, 0.3), (8, 6, 0.5)):
        called = []
        for _ in range(studies):
            step = np.zeros((count, days))
            mood = random.normal(0, 1, count)
            for day in range(days):
                mood = carry * mood + random.normal(0, np.sqrt(1 - carry**2), count)
                step[:, day] = mood
            if count >= 6:
                low, high = mean_limits(step.mean(axis=1))
            else:
                widened = float(
                    variance_inflation(max(lag_one_within(list(step)) + 0.5 / np.sqrt(step.size), 0.0), days)
                )
                low, high = mean_limits(step.ravel(), widened=widened)
            called.append(low * high > 0)
        units = f"{count} animals" if count >= 6 else f"{days} days of {count}"
        print(
            f"| {units} | {carry} | {100 * np.mean(called):.1f} | {error(np.mean(called), studies):.1f} |",
            flush=True,
        )


MEASURES = {"animals": animals, "turned": turned, "bends": bends, "slots": slots}

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", choices=[*MEASURES, []], default=[])
    parser.add_argument("--studies", type=int, default=200)
    asked = parser.parse_args()
    for name in asked.what or MEASURES:
        print(f"\n### {name}, {asked.studies} studies a cell")
        MEASURES[name](asked.studies, 1000)
