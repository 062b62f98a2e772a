"""How often preference curves are right on invented animals: python -m tests.sim.calibrate_preference [WHAT …].

WHAT: peaks, alarms, why, forecast (default all). Prints Markdown tables for docs/methods/preference.md.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from tests.sim.calibrate_zones import error
from tests.sim.climate import OFFERED, ClimateStudy, Seeker, conditions, watch
from zoneuse.answers.preference.shape import curve_shape
from zoneuse.stats.choice.place_or_climate import Account, account, fit_places, forecast_shares
from zoneuse.stats.choice.preference import PreferenceFit, fit_preference

NAMES = ("temperature_c", "humidity_pct")
CELLS = [(animals, sessions) for animals in (1, 3) for sessions in (8, 16, 40)]


def fitted(study: ClimateStudy) -> PreferenceFit:
    """Both fits of one study."""
    return fit_preference(**study.table(), quantities=NAMES)


def inside(spans: tuple[tuple[float, float], ...], value: float) -> bool:
    """Whether a value lies in a set of spans."""
    return any(a <= value <= b for a, b in spans)


def peaks(studies: int, seed: int) -> None:
    """Coverage of the peak's 95 % set over all studies, and how often a peak is claimed where there is one."""
    print(
        "\n| carry | liking sd | animals | sessions | set covers: °C / % | plain set: °C / % | peaked: °C / % | s.e. |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for carry, liking in ((0.0, 0.0), (0.0, 0.5), (0.5, 0.5)):
        for animals, sessions in CELLS:
            seeker = Seeker(sessions=sessions, animals=animals, carry=carry, liking_sd=liking)
            cover, plain, claimed = [], [], []
            for number in range(studies):
                fit = fitted(watch(seeker, seed + number))
                shapes = [curve_shape(fit, q) for q in (0, 1)]
                truth = (seeker.peak_c, seeker.peak_pct)
                cover.append([inside(s.peak_set, t) for s, t in zip(shapes, truth, strict=True)])
                plain.append([inside(s.peak_set_plain, t) for s, t in zip(shapes, truth, strict=True)])
                claimed.append([s.shape == "peaked" for s in shapes])
            (ct, ch), (pt, ph), (kt, kh) = (100 * np.mean(v, axis=0) for v in (cover, plain, claimed))
            print(
                f"| {carry} | {liking} | {animals} | {sessions} | {ct:.1f} / {ch:.1f} | {pt:.1f} / {ph:.1f} | "
                f"{kt:.1f} / {kh:.1f} | {error(ct / 100, studies):.1f} |",
                flush=True,
            )


def alarms(studies: int, seed: int) -> None:
    """Animals without climate preference: how often any quantity is called peaked, or anything definite."""
    print(
        "\n| carry | liking sd | animals | sessions | any peaked | any rising or falling | any flat | s.e. |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for carry, liking in ((0.0, 0.0), (0.0, 0.5), (0.5, 0.5)):
        for animals, sessions in CELLS:
            seeker = Seeker(sessions, animals, carry=carry, liking_sd=liking, width_c=None, width_pct=None)
            words = []
            for number in range(studies):
                fit = fitted(watch(seeker, seed + 50_000 + number))
                words.append([curve_shape(fit, q).shape for q in (0, 1)])
            peaked = float(np.mean(["peaked" in w for w in words]))
            sloped = float(np.mean(["rising" in w or "falling" in w for w in words]))
            flat = float(np.mean(["flat" in w for w in words]))
            print(
                f"| {carry} | {liking} | {animals} | {sessions} | {100 * peaked:.1f} | {100 * sloped:.1f} | "
                f"{100 * flat:.1f} | {error(peaked, studies):.1f} |",
                flush=True,
            )


def why(studies: int, seed: int) -> None:
    """The least used zone against the most used one: is the true largest part named?"""
    print(
        "\n| liking sd | animals | sessions | parts > .5 apart | largest is the true one | named | of them rightly |"
    )
    print("|---|---|---|---|---|---|---|")
    for liking in (0.0, 0.5):
        for animals, sessions in CELLS:
            seeker = Seeker(sessions=sessions, animals=animals, liking_sd=liking)
            right, named, rightly = [], [], []
            for number in range(studies):
                study = watch(seeker, seed + number)
                truth, told = accounts(study)
                if np.diff(np.sort(truth))[0] <= 0.5 or truth.min() >= 0:
                    continue
                cause = told.names[int(truth.argmin())]
                right.append(told.names[int(told.parts.argmin())] == cause)
                named.append(told.cause is not None)
                if told.cause is not None:
                    rightly.append(told.cause == cause)
            print(
                f"| {liking} | {animals} | {sessions} | {len(right)} | {100 * np.mean(right):.1f} | "
                f"{100 * np.mean(named):.1f} | {100 * np.mean(rightly):.1f} |",
                flush=True,
            )


def accounts(study: ClimateStudy) -> tuple[np.ndarray, Account]:
    """True parts (temperature, humidity, size, place) and the account, least against most used for its size."""
    table = study.table()
    fit = fit_places(**table, quantities=NAMES, zones=6)
    used = np.bincount(study.zone.ravel(), minlength=6) / OFFERED
    avoided, best = int(used.argmin()), int(used.argmax())
    warm, damp = study.temperature.reshape(-1, 6), study.humidity.reshape(-1, 6)
    s = study.seeker
    parts = []
    for values, peak, width in ((warm, s.peak_c, s.width_c), (damp, s.peak_pct, s.width_pct)):
        pull = -((values - peak) ** 2) / (2 * width**2) if width else 0 * values
        parts.append(float((pull[:, avoided] - pull[:, best]).mean()))
    size = float(np.log(OFFERED[avoided] / OFFERED[best]))
    truth = np.array([*parts, size, study.liking[avoided] - study.liking[best]])
    columns = {k: table[k] for k in ("x", "moment", "zone", "offset")}
    return truth, account(fit, **columns, avoided=avoided, best=best)


def forecast(studies: int, seed: int) -> None:
    """90 % limits of shares to come, at the conditions that come: as usual, and one zone moistened by 12 points."""
    print(
        "\n| change | liking sd | animals | sessions before / to come | hold: mean / worst zone | changed zone | s.e. |"
    )
    print("|---|---|---|---|---|---|---|")
    for change in (0.0, 12.0):
        for liking in (0.0, 0.5):
            for animals, sessions in CELLS:
                seeker = Seeker(sessions=sessions, animals=animals, liking_sd=liking)
                later = Seeker(sessions=12, animals=animals, liking_sd=liking)
                held = []
                for number in range(studies):
                    before = watch(seeker, seed + number)
                    random = np.random.default_rng(seed + 10**6 + number)
                    warm, damp = conditions(12, later.scans, random, first_day=sessions)
                    damp = damp + change * (np.arange(6) == 3)
                    after = watch(later, seed + 2 * 10**6 + number, liking=before.liking, given=(warm, damp))
                    columns = {k: after.table()[k] for k in ("x", "moment", "zone", "offset")}
                    told = forecast_shares(
                        fit_places(**before.table(), quantities=NAMES, zones=6),
                        **columns,
                        clusters=12,
                        seed=number,
                    )
                    came = np.bincount(after.zone.ravel(), minlength=6) / after.zone.size
                    held.append((told.low - 1e-9 <= came) & (came <= told.high))
                zones = 100 * np.mean(held, axis=0)
                hold = f"{zones.mean():.1f} / {zones.min():.1f} | {zones[3]:.1f}"
                print(
                    f"| {change:.0f} | {liking} | {animals} | {sessions} / 12 | {hold} | "
                    f"{error(zones.mean() / 100, studies):.1f} |",
                    flush=True,
                )


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", default=[])
    parser.add_argument("--studies", type=int, default=400)
    parser.add_argument("--seed", type=int, default=20260501)
    asked = parser.parse_args()
    for name, part in {"peaks": peaks, "alarms": alarms, "why": why, "forecast": forecast}.items():
        if not asked.what or name in asked.what:
            start = time.perf_counter()
            print(f"\n## {name}: {asked.studies} studies a cell, seed {asked.seed}")
            part(asked.studies, asked.seed)
            print(f"\n({time.perf_counter() - start:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
