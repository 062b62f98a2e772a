"""Two sides that are compared, as they were watched: at which hours, by whom, how many found, and by which animals."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..stats.arrays import Floats
from ..stats.resampling import permute_phases

# A session of up to this long is one look at one time of day (house rule).
_ONE_SITTING = pd.Timedelta(hours=4)
# Hours of the clock that two sides may differ by, on average, before it is worth saying.
HOURS_APART = 1.5
# Parts of the sessions in a time of day that may differ by this much.
SLOTS_APART = 0.2
# Seen shares of the two sides that differ by this much, and hardly by luck, are not alike.
_APART, _BY_LUCK = 0.02, 0.2
# The sides are in other hands where the part of one observer, or method, falls by this much (house rule).
_OTHER_HANDS = 0.5
# Where without one animal less than this part of the change is left, it is that animal's.
_LEFT = 0.4


def whole_sessions(rows: pd.DataFrame) -> pd.DataFrame:
    """Moments with each session of up to four hours in one time of day: the one that most of its moments lie in.

    A session that runs over lights-off would else be two units, as alike as its two halves are. Longer ones are cut.
    """
    if not len(rows):
        return rows
    whose = [rows["enclosure"].astype(str), rows["session"].astype(str)]
    at = rows["at"].groupby(whose)
    short = (at.transform("max") - at.transform("min") <= _ONE_SITTING) & (
        rows["slot"].groupby(whose).transform("nunique") > 1
    )
    if not short.any():
        return rows
    cut = pd.DataFrame({"of": whose[0] + "\x1f" + whose[1], "slot": rows["slot"]})[short]
    # The most frequent first, and of two as frequent the earlier one.
    often = cut.groupby(["of", "slot"], sort=False).size().sort_values(ascending=False, kind="stable")
    most = often.reset_index().drop_duplicates("of").set_index("of")["slot"]
    slot = rows["slot"].copy()
    slot[short] = cut["of"].map(most)
    return rows.assign(slot=slot)


def mean_hour(hours: NDArray[np.float64]) -> float:
    """The mean on a clock's face, so that 23 and 1 o'clock meet at midnight and 11 and 13 at noon.

    The direction of the mean vector (Batschelet 1981, Circular Statistics in Biology, ch. 1).

    >>> round(mean_hour(np.array([23.0, 1.0])), 6) % 24, round(mean_hour(np.array([11.0, 13.0])), 6)
    (0.0, 12.0)
    """
    angle = hours * (2 * np.pi / 24)
    return float(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean()) * 24 / (2 * np.pi) % 24)


def hours_later(before: float, after: float) -> float:
    """By how many hours one hour of the clock is later than another: -12 up to 12."""
    return (after - before + 12) % 24 - 12


def found_apart(
    part: Floats, late: NDArray[np.bool_], slot: NDArray[np.int64], draws: int, seed: int
) -> bool:
    """Whether the parts (units,) of looks in which somebody was found differ between the sides more than by luck."""
    if abs(float(part[late].mean()) - float(part[~late].mean())) < _APART:
        return False
    told = permute_phases(part[:, None], late, slot, draws=draws, seed=seed)
    return float(told.p[0]) <= _BY_LUCK


def other_hands(names: pd.Series, late: NDArray[np.bool_]) -> tuple[str, str, bool] | None:
    """Who watched before and after (or how), and whether only mostly; None where that is not mostly another."""
    usual = [names[side].mode() for side in (~late, late)]
    if not all(map(len, usual)):
        return None
    before, after = (str(m.iloc[0]) for m in usual)
    parts = [float((names[side] == before).mean()) for side in (~late, late)]
    if before == after or parts[0] - parts[1] < _OTHER_HANDS:
        return None
    return before, after, parts[1] > 0 or parts[0] < 1


def one_of(changes: Mapping[str, float]) -> tuple[str, int] | None:
    """The one animal whose own change makes up the whole of all animals', and how many there are; else None.

    >>> one_of({"a": 0.4, "b": 0.01, "c": -0.02}), one_of({"a": 0.2, "b": 0.2, "c": 0.1})
    (('a', 3), None)
    """
    if len(changes) < 3:
        return None
    whole = sum(changes.values())
    most = max(changes, key=lambda name: changes[name] * np.sign(whole))
    rest = (whole - changes[most]) / (len(changes) - 1)
    left = rest / (whole / len(changes)) if whole else 1.0
    return (most, len(changes)) if left < _LEFT else None
