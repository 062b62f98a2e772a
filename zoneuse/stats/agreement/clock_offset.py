"""How far one observer's clock runs ahead of the other's, from the changes of state that both saw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_quantile
from ..special import special

Codes = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Changes:
    """Changes one observer saw: when (seconds), in which session, of which animal, and what (from where to where).

    All but the times are whole numbers that mean the same for both observers.
    """

    at: Floats
    session: Codes
    animal: Codes
    what: Codes

    @classmethod
    def of(cls, at: ArrayLike, session: ArrayLike, animal: ArrayLike, what: ArrayLike) -> Changes:
        """From anything array-like. ValueError for lengths that differ."""
        times = np.asarray(at, np.float64)
        codes = [np.asarray(c, np.int64) for c in (session, animal, what)]
        if any(c.size != times.size for c in codes):
            raise ValueError("at, session, animal, what: expected one of each for every change")
        return cls(times, *codes)


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """Seconds the second clock runs ahead of the first; NaN where it cannot be told.

    ``matched`` of ``possible`` changes (the smaller of what the two saw) fit the offset; ``expected`` pairs would by
    chance. ``low`` and ``high`` are 95 % limits.
    """

    seconds: float
    low: float
    high: float
    matched: int
    possible: int
    expected: float


def clock_offset(
    first: Changes, second: Changes, *, most: float = 600.0, window: float = 60.0
) -> ClockOffset:
    """The offset at which the most changes of one observer meet a like change of the other.

    Like changes are of one session, animal and what. Offsets up to ``most`` seconds either way are tried;
    changes meet within ``window`` seconds (what one scan can be off).

    The offset is the mean difference within the fullest window, less what chance brings there: that is read
    off the changes of different animals in the same sessions, which lie to each other as scans do and share
    nothing else. Between scans a change is put down up to one scan late by either, in the mean as late by the one as
    by the other; a median would follow how the two observers' scans lie to each other. It is told where more meet
    than chance would bring together anywhere in the range (Poisson), and a quarter of them are more than chance.

    >>> one = Changes.of([0, 100, 300, 700], [1, 1, 1, 1], [1, 2, 1, 2], [1, 2, 1, 2])
    >>> other = Changes.of([41, 139, 341, 741], [1, 1, 1, 1], [1, 2, 1, 2], [1, 2, 1, 2])
    >>> found = clock_offset(one, other, window=5)
    >>> round(found.seconds, 1), found.matched
    (40.5, 4)
    """
    i, j = _within(first, second, most + window)
    apart = second.at[j] - first.at[i]
    same = first.animal[i] == second.animal[j]
    chance = apart[~same]
    like = same & (first.what[i] == second.what[j])
    i, j, apart = i[like], j[like], apart[like]
    possible = _possible(first, second)
    if not apart.size:
        return _unknown(0, possible, 0.0)
    centre = _fullest(apart, most, window)
    inside = np.abs(apart - centre) <= window
    count = int(inside.sum())
    expected, middle = _by_chance(apart.size, count, chance, centre, window, most=most)
    matched = _one_to_one(i, j, apart, centre, window)
    above = count - expected
    if matched.size < 3 or above < count / 4 or not _beyond_chance(count, expected, most, window):
        return _unknown(matched.size, possible, expected)
    if expected < 0.1 * count:
        kept = _without_stray(matched)
        mean, error = float(kept.mean()), float(kept.std(ddof=1)) / np.sqrt(kept.size)
    else:
        mean = (float(apart[inside].sum()) - expected * middle) / above
        error = float(np.sqrt(((apart[inside] - mean) ** 2).sum() + expected * window**2 / 3)) / above
        by_session, sessions = _over_sessions(apart[inside] - mean, first.session[i[inside]])
        if by_session / above > error:
            half = t_quantile(0.975, min(sessions, matched.size) - 1) * by_session / above
            return ClockOffset(mean, mean - half, mean + half, matched.size, possible, expected)
    half = t_quantile(0.975, matched.size - 1) * error
    return ClockOffset(mean, mean - half, mean + half, matched.size, possible, expected)


def _over_sessions(away: Floats, session: Codes) -> tuple[float, int]:
    """The error of a sum of differences, sessions as clusters, and how many there are; 0 below three.

    One change meets several like ones of its session, so differences of a session are not each by itself.
    """
    _, code = np.unique(session, return_inverse=True)
    sums = np.bincount(code.ravel(), away)
    if sums.size < 3:
        return 0.0, int(sums.size)
    return float(np.sqrt((sums**2).sum() * sums.size / (sums.size - 1))), int(sums.size)


def _unknown(matched: int, possible: int, expected: float) -> ClockOffset:
    nan = float("nan")
    return ClockOffset(nan, nan, nan, matched, possible, expected)


def _within(one: Changes, other: Changes, reach: float) -> tuple[Codes, Codes]:
    """Every pair of changes of one session at most ``reach`` seconds apart."""
    if not one.at.size or not other.at.size:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    start = min(one.at.min(), other.at.min())
    # Sessions are laid so far apart that no reach leads from one to the next.
    length = max(one.at.max(), other.at.max()) - start + 3 * reach
    at, at_other = (c.at - start + c.session * length for c in (one, other))
    order = np.argsort(at_other, kind="stable")
    ranked = at_other[order]
    begin, end = np.searchsorted(ranked, at - reach, "left"), np.searchsorted(ranked, at + reach, "right")
    times = end - begin
    i = np.repeat(np.arange(at.size), times)
    skipped = np.repeat(begin - np.concatenate([[0], np.cumsum(times)[:-1]]), times)
    return i.astype(np.int64), order[np.arange(i.size) + skipped].astype(np.int64)


def _possible(one: Changes, other: Changes) -> int:
    """Of each kind of change the smaller number of the two, in all."""
    sides = [np.stack([c.session, c.animal, c.what], axis=1) for c in (one, other)]
    kinds, place = np.unique(np.concatenate(sides), axis=0, return_inverse=True)
    counts = [np.bincount(part, minlength=len(kinds)) for part in np.split(place.ravel(), [one.at.size])]
    return int(np.minimum(*counts).sum())


def _fullest(apart: Floats, most: float, window: float) -> float:
    """The middle of the window that holds the most differences; of windows that hold nearly as many, the middle."""
    at = np.sort(apart)
    centres = np.unique(np.clip(np.concatenate([at - window, at, at + window, [0.0]]), -most, most))
    held = np.searchsorted(at, centres + window, "right") - np.searchsorted(at, centres - window, "left")
    full = held >= 0.97 * held.max()
    best = int(np.flatnonzero(full)[np.argmin(np.abs(centres[full]))])
    first = last = best
    while first > 0 and full[first - 1] and centres[best] - centres[first - 1] <= 2 * window:
        first -= 1
    while last < full.size - 1 and full[last + 1] and centres[last + 1] - centres[best] <= 2 * window:
        last += 1
    return float((centres[first] + centres[last]) / 2)


def _by_chance(
    pairs: int, count: int, chance: Floats, centre: float, window: float, *, most: float
) -> tuple[float, float]:
    """How many of the pairs within the window chance brings there, and the mean of their differences."""
    near = chance[np.abs(chance - centre) <= window]
    # With few changes of other animals beside, chance is taken to be twice as dense as an even spread: sessions
    # watched together have most of their pairs near no offset.
    if chance.size < 30:
        share, middle = min(2 * window / (most + window), 0.9), centre
    else:
        share, middle = min(near.size / chance.size, 0.9), float(near.mean()) if near.size else centre
    # What meets in truth is none of chance's: count = above + (pairs - above) share.
    above = max((count - pairs * share) / (1 - share), 0.0)
    return max((pairs - above) * share, 0.0), middle


def _one_to_one(i: Codes, j: Codes, apart: Floats, centre: float, window: float) -> Floats:
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


def _without_stray(matched: Floats) -> Floats:
    """Observers who follow one animal are seconds apart, not a scan: what meets by chance is then left out."""
    spread = max(3 * float(matched.std(ddof=1)), 1.0)
    return np.asarray(matched[np.abs(matched - matched.mean()) <= spread], np.float64)


def _beyond_chance(met: int, expected: float, most: float, window: float) -> bool:
    """Whether so many would meet by chance in one of all the windows in less than 1 of 500 tries.

    Asked of Poisson numbers; one change makes several pairs, so that it comes to 2 or 3 in 100 (measured).
    """
    windows = max(most / window, 1.0)
    return float(special.gammainc(met, max(expected, 1e-9))) * windows < 0.002
