"""How many sessions with the gradient turned round would part a condition from the places: by simulation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from .choice import fit_choice
from .place_or_climate import fit_places, looks_per_cluster
from .preference import PreferenceFit, fit_preference

# Whether a fit tells the condition from the place: quantity 0, and likings drawn towards zero where wanted.
BearsOut = Callable[[PreferenceFit, int, Callable[[], tuple[Floats, Floats]]], bool]
# Values, moment, zone, chosen and offset, as ``fit_preference`` takes them.
Columns = tuple[Floats, NDArray[np.intp], NDArray[np.intp], Floats, Floats]
TRIES = (3, 5, 8, 12, 18, 26, 40)


@dataclass(frozen=True, slots=True)
class Turned:
    """``sessions`` turned round part it with chance ``chance``; None where ``most`` would not."""

    sessions: int | None
    chance: float
    most: int


def sessions_turned(
    values: ArrayLike,
    moment: ArrayLike,
    zone: ArrayLike,
    chosen: ArrayLike,
    offset: ArrayLike,
    *,
    cluster: ArrayLike,
    bears_out: BearsOut,
    seed: int = 1,
    studies: int = 40,
    wanted: float = 0.8,
) -> Turned:
    """Sessions to come with warm and cool end changed over (the warmest place gets the coolest one's value, and so
    on), animals choosing as the fitted plain curve says and each session worth as many looks as one so far.

    One row a moment and place on offer, as for ``preference.fit_preference``. Parted: the fit of
    ``wanted`` of the simulated studies ``bears_out`` a shape.
    """
    v, where = np.asarray(values, np.float64), np.asarray(zone).astype(np.intp)
    took, off = np.asarray(chosen, np.float64), np.asarray(offset, np.float64)
    _, group = np.unique(np.asarray(cluster), return_inverse=True)
    centre = float(np.median(v))
    curve = fit_choice(_bent(v - centre), moment, took, offset=off, cluster=group)
    coef = np.where(np.isfinite(curve.coef), curve.coef, 0.0)
    places = np.unique(where)
    cells = group * (where.max() + 1) + where
    size = (int(group.max()) + 1) * (int(where.max()) + 1)
    count = np.bincount(cells, minlength=size).astype(float)

    def by_cell(x: Floats) -> Floats:
        mean = np.divide(np.bincount(cells, x, size), count, out=np.full(size, np.nan), where=count > 0)
        return np.asarray(mean.reshape(-1, int(where.max()) + 1)[:, places], np.float64)

    warm, share = by_cell(v), by_cell(off)
    seen = np.asarray(np.bincount(cells, took, size).reshape(warm.shape[0], -1)[:, places], np.float64)
    whole = ~np.isnan(warm).any(axis=1)
    if whole.sum() < 2 or places.size < 2:
        return Turned(None, 0.0, TRIES[-1])
    warm, share, seen = warm[whole], share[whole], seen[whole]
    looks = max(looks_per_cluster(where, took, group, int(where.max()) + 1), 1.0)
    rank = np.argsort(np.argsort(warm, axis=1), axis=1)
    turned = np.take_along_axis(np.sort(warm, axis=1), places.size - 1 - rank, axis=1)
    eta = share + _pull(turned - centre, coef)
    chance = np.exp(eta - eta.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    random = np.random.default_rng(seed)
    reached = 0.0
    for number in TRIES:
        redrawn = [
            _redrawn(warm, share, seen, (turned, chance, looks), number, random=random)
            for _ in range(studies)
        ]
        # The chance of the most sessions is told even where it is too small.
        reached = _part_of(redrawn, bears_out, 0.0 if number == TRIES[-1] else wanted)
        if reached >= wanted:
            return Turned(number, reached, TRIES[-1])
    return Turned(None, reached, TRIES[-1])


def _bent(x: Floats) -> Floats:
    return np.column_stack([x, x**2])


def _pull(x: Floats, coef: Floats) -> Floats:
    return np.asarray(coef[0] * x + coef[1] * x**2, np.float64)


def _redrawn(
    warm: Floats,
    share: Floats,
    seen: Floats,
    to_come: tuple[Floats, Floats, float],
    number: int,
    *,
    random: np.random.Generator,
) -> tuple[Columns, NDArray[np.intp]]:
    """One simulated study, and each row's session: what was seen so far, and ``number`` sessions turned round."""
    turned, chance, looks = to_come
    redrawn = random.integers(0, turned.shape[0], number)
    came = random.multinomial(max(round(looks), 1), chance[redrawn]).astype(float)
    scale = seen.sum(axis=1, keepdims=True) / max(round(looks), 1)
    x = np.concatenate([warm, turned[redrawn]])
    sessions, places = x.shape
    moment = np.repeat(np.arange(sessions), places)
    where = np.tile(np.arange(places), sessions)
    took = np.concatenate([seen / np.maximum(scale, 1e-9), came]).ravel()
    columns = (x.reshape(-1, 1), moment, where, took, np.concatenate([share, share[redrawn]]).ravel())
    return columns, moment


def _part_of(studies: list[tuple[Columns, NDArray[np.intp]]], bears_out: BearsOut, least: float) -> float:
    """The part of the studies that bear a shape out; 0 as soon as it cannot come to ``least`` any more."""
    missed = 0
    for columns, moment in studies:
        missed += not _parted(columns, moment, bears_out)
        if 1 - missed / len(studies) < least:
            return 0.0
    return 1 - missed / len(studies)


def _parted(columns: Columns, moment: NDArray[np.intp], bears_out: BearsOut) -> bool:
    """Whether the fit of one simulated study bears a shape out."""

    def likings() -> tuple[Floats, Floats]:
        return fit_places(*columns, cluster=moment, quantities=("x",), spreads=(0.3, 0.9)).curve(0)

    try:
        fit = fit_preference(*columns, cluster=moment, quantities=("x",))
        return bears_out(fit, 0, likings)
    except (ValueError, np.linalg.LinAlgError):
        return False
