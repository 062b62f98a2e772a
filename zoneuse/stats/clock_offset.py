"""How far one observer's clock runs ahead of the other's, from the changes of state that both saw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from .quantiles import t_quantile

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """Seconds the second clock runs ahead of the first; NaN where it cannot be told.

    ``matched`` of ``possible`` changes (the smaller of what the two saw) fit the offset; ``expected`` would by
    chance. ``low`` and ``high`` are 95 % limits.
    """

    seconds: float
    low: float
    high: float
    matched: int
    possible: int
    expected: float


def clock_offset(
    first: ArrayLike,
    first_what: ArrayLike,
    second: ArrayLike,
    second_what: ArrayLike,
    *,
    most: float = 600.0,
    window: float = 60.0,
) -> ClockOffset:
    """The offset at which the most changes of one observer meet a like change of the other.

    ``first`` and ``second`` are the times of the changes in seconds; ``what`` is a number for what changed
    (session, animal, from, to): only changes of one number can be the same one. Offsets up to ``most`` seconds
    either way are tried; changes meet within ``window`` seconds (what one scan can be off).

    The offset is the mean of the differences that meet, with Student's t: between scans a change is put down
    up to one scan late by either, in the mean as late by the one as by the other, while a median would follow
    how the two observers' scans lie to each other. It is told only where more changes meet than chance would
    bring together anywhere in the range (Poisson, 1 %).

    >>> found = clock_offset([0, 100, 300, 700], [1, 2, 1, 2], [41, 139, 341, 741], [1, 2, 1, 2], window=5)
    >>> found.seconds, found.matched
    (40.5, 4)
    """
    one, other = np.asarray(first, np.float64), np.asarray(second, np.float64)
    one_what, other_what = (np.asarray(what, np.int64) for what in (first_what, second_what))
    if one.size != one_what.size or other.size != other_what.size:
        raise ValueError("first, second: expected one number of what for every time")
    i, j, possible = _alike(one_what, other_what)
    apart = other[j] - one[i]
    near = np.abs(apart) <= most + window
    i, j, apart = i[near], j[near], apart[near]
    if not apart.size:
        return _unknown(0, possible, 0.0)
    centre = _fullest(apart, most, window)
    meeting = _one_to_one(i, j, apart, centre, window)
    expected = apart.size * min(window / (most + window), 1.0)
    if meeting.size < 3 or not _beyond_chance(meeting.size, expected, most, window):
        return _unknown(meeting.size, possible, expected)
    # Observers who follow one animal are seconds apart, not a scan: what meets by chance is then left out.
    spread = max(3 * float(meeting.std(ddof=1)), 1.0)
    meeting = meeting[np.abs(meeting - meeting.mean()) <= spread]
    middle = float(meeting.mean())
    half = t_quantile(0.975, meeting.size - 1) * float(meeting.std(ddof=1)) / np.sqrt(meeting.size)
    return ClockOffset(middle, middle - half, middle + half, meeting.size, possible, expected)


def _alike(
    one: NDArray[np.int64], other: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
    """Every pair of places with one number, and how many of the smaller side's there are in all."""
    order = np.argsort(other, kind="stable")
    ranked = other[order]
    begin, end = np.searchsorted(ranked, one, "left"), np.searchsorted(ranked, one, "right")
    times = end - begin
    i = np.repeat(np.arange(one.size), times)
    first = np.repeat(begin - np.concatenate([[0], np.cumsum(times)[:-1]]), times) if one.size else begin
    j = order[np.arange(i.size) + first] if i.size else np.zeros(0, np.int64)
    numbers, counts = np.unique(one, return_counts=True)
    there = np.searchsorted(ranked, numbers, "right") - np.searchsorted(ranked, numbers, "left")
    return i.astype(np.int64), j.astype(np.int64), int(np.minimum(counts, there).sum())


def _unknown(matched: int, possible: int, expected: float) -> ClockOffset:
    nan = float("nan")
    return ClockOffset(nan, nan, nan, matched, possible, expected)


def _fullest(apart: Floats, most: float, window: float) -> float:
    """The middle of the window that holds the most differences; of equals the one nearest to no offset."""
    at = np.sort(apart)
    centres = np.unique(np.clip(np.concatenate([at - window, at, at + window, [0.0]]), -most, most))
    held = np.searchsorted(at, centres + window, "right") - np.searchsorted(at, centres - window, "left")
    best = centres[held == held.max()]
    return float(best[np.argmin(np.abs(best))])


def _one_to_one(
    i: NDArray[np.int64], j: NDArray[np.int64], apart: Floats, centre: float, window: float
) -> Floats:
    """Differences that meet at an offset, each change used once, the nearest first."""
    off = np.abs(apart - centre)
    taken: list[float] = []
    used_i: set[int] = set()
    used_j: set[int] = set()
    for k in np.argsort(off, kind="stable"):
        if off[k] > window:
            break
        if int(i[k]) not in used_i and int(j[k]) not in used_j:
            used_i.add(int(i[k]))
            used_j.add(int(j[k]))
            taken.append(float(apart[k]))
    return np.sort(np.array(taken))


def _beyond_chance(met: int, expected: float, most: float, window: float) -> bool:
    """Whether so many would meet by chance in one of all the windows in less than 1 of 100 tries."""
    windows = max(most / window, 1.0)
    return float(special.gammainc(met, max(expected, 1e-9))) * windows < 0.01
