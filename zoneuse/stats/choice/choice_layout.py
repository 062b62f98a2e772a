"""Rows of a choice table laid out for fast sums: one padded array over term, alternative and moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats

Ints = NDArray[np.intp]

# Stands for "not on offer" in the offsets: exp() of it is zero, yet 0 * it is no NaN as 0 * -inf would be.
NOT_OFFERED = -1e300
# Moments turned over at once: few enough that both sides of it stay in a core's cache.
_AT_ONCE = 2048


@dataclass(frozen=True, slots=True)
class ChoiceLayout:
    """A choice table as arrays.

    ``x`` is terms x alternatives x moments, ``y`` and ``offset`` are alternatives x moments. ``x`` is centred
    within each moment, which changes no probability but makes a column without variation inside moments exactly
    zero. ``row`` and ``place`` say where each kept row of the table stands, or are None where all rows are kept,
    in order and as many a moment. ``largest`` is the greatest size of each term as given. Padded places have
    ``offset`` NOT_OFFERED. Moments with nothing chosen or a single alternative carry no information and are not in
    here.
    """

    x: Floats
    y: Floats
    offset: Floats
    total: Floats
    cluster: Ints
    row: Ints | None
    place: Ints | None
    rows: int
    moments_left_out: int
    largest: Floats

    @property
    def clusters(self) -> int:
        """Number of clusters that hold at least one informative moment."""
        return int(self.cluster.max()) + 1 if self.cluster.size else 0


def lay_out(
    x: ArrayLike,
    moment: ArrayLike,
    chosen: ArrayLike,
    offset: ArrayLike | None = None,
    cluster: ArrayLike | None = None,
) -> ChoiceLayout:
    """Check the columns of a choice table and lay them out; ValueError names what does not fit."""
    xs, ids, weight, off, group = _checked(x, moment, chosen, offset, cluster)
    largest = _largest_finite(xs)
    order = None if ids.size < 2 or bool(np.all(ids[1:] >= ids[:-1])) else np.argsort(ids, kind="stable")
    if order is not None:
        xs, ids, weight, off, group = xs[order], ids[order], weight[order], off[order], group[order]
    starts = np.flatnonzero(np.r_[True, ids[1:] != ids[:-1]]) if ids.size else np.zeros(0, np.intp)
    sizes = np.diff(np.r_[starts, ids.size])
    offered = off > -np.inf
    total = np.add.reduceat(weight, starts) if starts.size else np.zeros(0)
    on_offer = np.add.reduceat(offered.astype(np.intp), starts) if starts.size else np.zeros(0, np.intp)
    kept = (total > 0) & (on_offer > 1)
    row = place = None
    xs_kept = xs
    if not (order is None and kept.all() and offered.all() and (sizes == sizes[:1]).all()):
        row = np.flatnonzero(np.repeat(kept, sizes) & offered)
        xs_kept, weight, off, group = xs[row], weight[row], off[row], group[row]
        number = np.repeat(np.cumsum(kept) - 1, sizes)[row]
        sizes = on_offer[kept]
        starts = (np.cumsum(sizes) - sizes).astype(np.intp)
        place = _places(number, starts, sizes)
        row = row if order is None else order[row]
    if group.size and not bool(np.all(group == np.repeat(group[starts], sizes))):
        raise ValueError("cluster: every row of a moment must carry the same cluster")
    wide, y, padded = _padded(xs_kept, weight, off, starts, sizes)
    _, codes = np.unique(group[starts], return_inverse=True)
    return ChoiceLayout(
        x=wide,
        y=y,
        offset=padded,
        total=total[kept],
        cluster=np.asarray(codes, np.intp).reshape(-1),
        row=row,
        place=place,
        rows=ids.size,
        moments_left_out=int(np.count_nonzero(~kept)),
        largest=largest,
    )


def _checked(
    x: ArrayLike, moment: ArrayLike, chosen: ArrayLike, offset: ArrayLike | None, cluster: ArrayLike | None
) -> tuple[Floats, Ints, Floats, Floats, Ints]:
    """The columns as arrays of one length, or a ValueError that says which column is wrong and why."""
    xs = np.asarray(x, np.float64)
    if xs.ndim != 2:
        raise ValueError(f"x: expected rows x terms, found {xs.ndim} dimension(s)")
    rows = xs.shape[0]
    ids = _codes(moment)
    weight = np.asarray(chosen, np.float64)
    off = np.zeros(rows) if offset is None else np.asarray(offset, np.float64)
    group = ids if cluster is None else _codes(cluster)
    for name, column in (("moment", ids), ("chosen", weight), ("offset", off), ("cluster", group)):
        if column.shape != (rows,):
            raise ValueError(f"{name}: expected one value for each of the {rows} rows, found {column.shape}")
    if not np.isfinite(weight).all() or (weight < 0).any():
        raise ValueError("chosen: expected true/false or counts of zero and more")
    if np.isnan(off).any() or (off == np.inf).any():
        raise ValueError("offset: expected finite values, or -inf for what was not on offer")
    if (weight[off == -np.inf] > 0).any():
        raise ValueError("chosen: a row with offset -inf (not on offer) was chosen")
    return xs, ids, weight, off, group


def _largest_finite(xs: Floats) -> Floats:
    """The largest size of each column's values; ValueError names one with missing or infinite values."""
    largest = _largest(xs)
    if not np.isfinite(largest).all():
        column = int(np.flatnonzero(~np.isfinite(largest))[0])
        raise ValueError(f"x: column {column} has missing or infinite values; leave those rows out")
    return largest


def _largest(xs: Floats) -> Floats:
    """The greatest size in each column; NaN where one is missing."""
    # Side by side, so that numpy runs along thousands of numbers at a time and not along a row's few.
    terms, many = xs.shape[1], xs.shape[0] // _AT_ONCE * _AT_ONCE
    found = np.zeros(terms)
    for part in (xs[:many].reshape(many // _AT_ONCE, _AT_ONCE * terms), xs[many:]):
        if part.size:
            size = np.maximum(part.max(axis=0), -part.min(axis=0)).reshape(-1, terms)
            found = np.maximum(found, size.max(axis=0))
    return found


def _codes(ids: ArrayLike) -> Ints:
    """Ids of any kind as integers that sort as the ids do."""
    given = np.asarray(ids)
    if given.dtype.kind in "iu":
        return given.astype(np.intp, copy=False)
    return np.unique(given, return_inverse=True)[1].reshape(given.shape).astype(np.intp, copy=False)


def _padded(
    xs: Floats, weight: Floats, off: Floats, starts: Ints, sizes: Ints
) -> tuple[Floats, Floats, Floats]:
    """Columns of sorted rows as padded arrays; the terms centred within each moment."""
    moments, terms = starts.size, xs.shape[1]
    widest = int(sizes.max()) if moments else 0
    if moments and bool((sizes == widest).all()):
        wide = _turned(xs.reshape(moments, widest, terms))
        y = np.ascontiguousarray(weight.reshape(moments, widest).T)
        padded = np.ascontiguousarray(off.reshape(moments, widest).T)
        return wide, y, padded
    number = np.repeat(np.arange(moments), sizes)
    place = np.arange(number.size) - np.repeat(starts, sizes)
    wide = np.zeros((terms, widest, moments))
    y = np.zeros((widest, moments))
    padded = np.full((widest, moments), NOT_OFFERED)
    wide[:, place, number] = xs.T
    y[place, number] = weight
    padded[place, number] = off
    if moments:
        wide -= wide.sum(axis=1, keepdims=True) / sizes
        wide[:, padded == NOT_OFFERED] = 0.0
    return wide, y, padded


def _turned(cube: Floats) -> Floats:
    """Moments x places x terms as terms x places x moments, centred within each moment."""
    wide = np.empty(cube.shape[::-1])
    for start in range(0, cube.shape[0], _AT_ONCE):
        part = np.ascontiguousarray(cube[start : start + _AT_ONCE].transpose(2, 1, 0))
        part -= part.mean(axis=1, keepdims=True)
        wide[:, :, start : start + _AT_ONCE] = part
    return wide


def _places(number: Ints, starts: Ints, sizes: Ints) -> Ints:
    """Where each kept row stands in a flattened (alternatives, moments) array."""
    place = np.arange(number.size) - np.repeat(starts, sizes)
    return np.asarray(place * starts.size + number, np.intp)
