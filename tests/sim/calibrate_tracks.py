"""False alarms of `zones` on tracked animals without a preference: `python -m tests.sim.calibrate_tracks 200`.

An animal rests where it likes for a while, then goes to any zone with the chance of its share; positions come at 25
a second, each second or each minute, some of them within a hair of a border where noise carries them over.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from tests.making import run
from zoneuse import open_study
from zoneuse.answers.finding import TOO_EARLY

STUDY = """
format = 1
title = "Tracked"
timezone = "UTC"
[enclosure]
measured_in = "surface_cm2"
{zones}
[animals.a]
label = "Ada"
key = "1"
[tracks.t]
columns = {{at = "at", x = "x", y = "y"}}
border = {border}
every_s = 60
"""
SHARES = (0.1, 0.2, 0.3, 0.4)
NIGHTS, HOURS, STAY_S = 20, 2, 900.0


def study_text(border: float) -> str:
    left, zones = 0.0, []
    for k, share in enumerate(SHARES):
        right = left + 100 * share
        outline = [[left, 0], [right, 0], [right, 40], [left, 40]]
        zones.append(
            f'[zones.z{k}]\nlabel = "Z{k}"\nkey = "{"abcd"[k]}"\namount = {share}\noutline = {outline}'
        )
        left = right
    return STUDY.format(zones="\n".join(zones), border=border)


def track(random: np.random.Generator, step_s: float, jitter: float) -> pa.Table:
    """Nights of one animal without a preference. ``jitter``: the part of the stays spent on a border."""
    edges = 100 * np.concatenate([[0], np.cumsum(SHARES)])
    at, xs = [], []
    for night in range(NIGHTS):
        n = int(HOURS * 3600 / step_s)
        second = np.arange(n) * step_s
        stays = random.exponential(STAY_S, 60)
        zone = random.choice(len(SHARES), 60, p=SHARES)
        place = random.uniform(edges[zone], edges[zone + 1])
        # Some rest with the nose on the border they came by: the zone is drawn as ever, noise carries them over.
        border = random.random(60) < jitter
        side = np.where(zone == 0, 1, np.where(zone == len(SHARES) - 1, 0, random.integers(0, 2, 60)))
        place = np.where(border, edges[zone + side] + np.where(side == 1, -0.2, 0.2), place)
        which = np.searchsorted(np.cumsum(stays), second)
        xs.append(np.clip(place[which] + random.normal(0, 0.3, n), 0.001, 99.999))
        at.append(
            np.datetime64("2026-03-01T20:00") + np.timedelta64(night, "D") + (second * 1000).astype("m8[ms]")
        )
    x = np.concatenate(xs)
    stamps = pa.array(np.concatenate(at).astype("M8[ms]"), pa.timestamp("ms", "UTC"))
    return pa.table({"at": stamps, "x": x, "y": random.uniform(1, 39, len(x))})


def claims(seed: int, step_s: float, jitter: float, border: float, folder: Path) -> bool:
    """Whether a study of one animal without a preference claims one."""
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(study_text(border), "utf-8")
    pq.write_table(track(np.random.default_rng(seed), step_s, jitter), folder / "t.parquet")
    done = run("tracks", folder / "t.parquet", "--study", folder, "--yes")
    assert done.exit_code == 0, done.output
    answer = open_study(folder).zones(cuts=False)
    return any(f.verdict not in (TOO_EARLY, "in proportion") for f in answer.findings)


def main(studies: int) -> None:
    for step_s in (0.04, 1.0, 60.0):
        for jitter, border in ((0.0, 0.0), (0.1, 0.0), (0.1, 1.0)):
            wrong = 0
            for seed in range(studies):
                with tempfile.TemporaryDirectory() as made:
                    wrong += claims(seed, step_s, jitter, border, Path(made) / "s")
            share = wrong / studies
            error = (share * (1 - share) / studies) ** 0.5
            print(
                f"{step_s:5} s, jitter {jitter}, border {border}: {100 * share:.1f} of 100, s.e. {100 * error:.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
