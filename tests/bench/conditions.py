"""Conditions of many moments from ten million readings, beside numpy, pandas and DuckDB on the same arrays."""

from __future__ import annotations

import numpy as np

from tests.bench.measure import Line, by_turns
from zoneuse.readings.trust.joining import interpolate_each

LOGGERS, READINGS = 16, 625_000  # 8 zones with two loggers each
MAX_GAP_MS = 1_800_000
Series = list[tuple[np.ndarray, np.ndarray]]


def series(seed: int = 20260301) -> Series:
    """A reading about a minute for each logger, with gaps now and then."""
    random = np.random.default_rng(seed)
    found = []
    for k in range(LOGGERS):
        steps = random.integers(55_000, 65_000, READINGS)
        steps[random.integers(0, READINGS, 200)] += 7_200_000
        times = 1_700_000_000_000 + k * 977 + np.cumsum(steps)
        found.append((times, 20 + np.sin(times / 1.4e7) + random.normal(0, 0.1, READINGS)))
    return found


def ours(moments: np.ndarray, loggers: Series) -> list[np.ndarray]:
    return list(interpolate_each((moments, times, values, MAX_GAP_MS, ()) for times, values in loggers))


def by_interp(moments: np.ndarray, loggers: Series) -> list[np.ndarray]:
    """np.interp, and a mask where the readings around a moment are too far apart."""
    found = []
    for times, values in loggers:
        line = np.interp(moments, times, values, left=np.nan, right=np.nan)
        right = np.clip(np.searchsorted(times, moments, "left"), 1, times.size - 1)
        line[times[right] - times[right - 1] > MAX_GAP_MS] = np.nan
        found.append(line)
    return found


def lines(rounds: int = 5) -> list[Line]:
    """100,000 and a million moments, in order of time as a study has them."""
    import duckdb
    import pandas as pd

    loggers = series()
    low, high = loggers[0][0][0], loggers[0][0][-1]
    frames = [pd.DataFrame({"at": t.astype("datetime64[ms]"), "v": v}) for t, v in loggers]
    found = []
    for number in (100_000, 1_000_000):
        moments = np.sort(np.random.default_rng(7).integers(low, high, number))
        wanted = pd.DataFrame({"at": moments.astype("datetime64[ms]")})
        base = duckdb.connect()
        base.register("moments", wanted)
        for k, frame in enumerate(frames):
            base.register(f"logger{k}", frame)

        def by_asof(wanted: pd.DataFrame = wanted) -> list[pd.DataFrame]:
            return [pd.merge_asof(wanted, frame, on="at") for frame in frames]

        def by_duckdb(base: duckdb.DuckDBPyConnection = base) -> list[dict[str, np.ndarray]]:
            ask = "SELECT m.at, l.v FROM moments m ASOF JOIN logger{} l ON m.at >= l.at"
            return [base.sql(ask.format(k)).fetchnumpy() for k in range(LOGGERS)]

        np.testing.assert_allclose(
            np.concatenate(ours(moments, loggers)), np.concatenate(by_interp(moments, loggers)), atol=1e-9
        )
        times = by_turns(
            {
                "zoneuse": lambda m=moments: ours(m, loggers),
                "np.interp and a mask": lambda m=moments: by_interp(m, loggers),
                "pandas.merge_asof (only looks up)": by_asof,
                "DuckDB ASOF JOIN": by_duckdb,
            },
            rounds,
        )
        mine = times.pop("zoneuse")
        goals = {
            "np.interp and a mask": 0.6,
            "pandas.merge_asof (only looks up)": 1.1,
            "DuckDB ASOF JOIN": 0.15,
        }
        found.append(
            Line(
                f"conditions for {number:,} moments x 16 loggers, {READINGS * LOGGERS:,} readings",
                mine,
                times,
                goals,
            )
        )
    return found
