"""Moments gathered into independent units (sessions or days): shares, and how far units repeat each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from .shares import pooled_looks

Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Moments:
    """Checked columns with a row a moment, in time order; ``unit`` and ``animal`` as codes 0, 1, 2 …

    ``animal`` is -1 for animals not told apart, ``zone`` -1 where an animal was looked for and not found;
    ``availability`` has rows that sum to one. Units are numbered in time order.
    """

    unit: Ints
    animal: Ints
    zone: Ints
    availability: Floats
    weight: Floats

    @property
    def zones(self) -> int:
        """Number of zones."""
        return int(self.availability.shape[1])

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Whether each moment's animal was found."""
        return self.zone >= 0


def _check_availability(offer: Floats, rows: int) -> None:
    """ValueError where what was offered does not fit the moments."""
    if offer.ndim != 2 or offer.shape[0] != rows or offer.shape[1] < 1:
        raise ValueError(f"availability: expected {rows} moments x zones, found {offer.shape}")
    if not np.isfinite(offer).all() or (offer < 0).any() or (offer.sum(axis=1) <= 0).any():
        raise ValueError("availability: expected shares of zero and more, something on offer at each moment")


def gather(
    unit: ArrayLike,
    animal: ArrayLike,
    zone: ArrayLike,
    order: ArrayLike,
    availability: ArrayLike,
    *,
    weight: ArrayLike | None = None,
) -> Moments:
    """Check the columns and sort them by time; ValueError names the column that does not fit."""
    where = np.asarray(zone)
    offer = np.asarray(availability, np.float64)
    rows = where.shape[0] if where.ndim == 1 else -1
    if offer.ndim == 1:
        offer = np.broadcast_to(offer, (max(rows, 0), offer.size))
    heavy = np.ones(max(rows, 0)) if weight is None else np.asarray(weight, np.float64)
    columns = {"unit": np.asarray(unit), "animal": np.asarray(animal), "order": np.asarray(order)}
    for name, column in {**columns, "weight": heavy, "zone": where}.items():
        if column.shape != (rows,):
            raise ValueError(f"{name}: expected one value for each of {rows} moments, found {column.shape}")
    if not rows:
        raise ValueError("zone: no moments")
    _check_availability(offer, rows)
    if where.dtype.kind not in "iu" or where.min() < -1 or where.max() >= offer.shape[1]:
        raise ValueError(f"zone: expected -1 (unseen) or an index below {offer.shape[1]}")
    if not np.isfinite(heavy).all() or (heavy < 0).any():
        raise ValueError("weight: expected counts of zero and more")
    time = np.argsort(columns["order"], kind="stable")
    _, first, units = np.unique(columns["unit"][time], return_index=True, return_inverse=True)
    rank = np.empty(first.size, np.intp)
    rank[np.argsort(first)] = np.arange(first.size)
    return Moments(
        unit=rank[units.reshape(-1)],
        animal=_animal_codes(columns["animal"][time]),
        zone=where[time].astype(np.intp),
        availability=offer[time] / offer[time].sum(axis=1, keepdims=True),
        weight=heavy[time],
    )


def _animal_codes(animal: NDArray[np.generic]) -> Ints:
    """Codes 0, 1, 2 …; integer ids below zero stay -1 (animals not told apart)."""
    codes: Ints = np.unique(animal, return_inverse=True)[1].reshape(-1).astype(np.intp)
    if animal.dtype.kind in "iu":
        codes[animal.astype(np.int64) < 0] = -1
    return codes


@dataclass(frozen=True, slots=True)
class UnitShares:
    """Seen moments as shares of units: ``share`` and ``offer`` are units x zones, ``pull`` one value a moment.

    A moment's ``pull`` is its part of the mean share over units, so all pulls sum to one.
    """

    rows: Ints
    pull: Floats
    unit: Ints
    share: Floats
    offer: Floats
    count: Floats

    @property
    def used(self) -> Floats:
        """Mean share of each zone over units."""
        return np.asarray(self.share.mean(axis=0), np.float64)

    @property
    def availability(self) -> Floats:
        """Mean share of each zone in what was offered, over the same units and moments."""
        return np.asarray(self.offer.mean(axis=0), np.float64)


def unit_shares(moments: Moments) -> UnitShares:
    """Shares of the units in which something was seen, each unit with equal weight."""
    rows = np.flatnonzero(moments.seen & (moments.weight > 0))
    if not rows.size:
        raise ValueError("zone: no moment at which an animal was seen")
    _, unit = np.unique(moments.unit[rows], return_inverse=True)
    unit = unit.reshape(-1)
    size = int(unit.max()) + 1
    total = np.asarray(np.bincount(unit, moments.weight[rows], size), np.float64)
    part = moments.weight[rows] / total[unit]
    share = np.zeros((size, moments.zones))
    np.add.at(share, (unit, moments.zone[rows]), part)
    offer = np.zeros((size, moments.zones))
    np.add.at(offer, unit, part[:, None] * moments.availability[rows])
    return UnitShares(rows, part / size, unit, share, offer, total)


def unseen_bounds(moments: Moments) -> tuple[Floats, Floats, Floats]:
    """Mean shares with every unseen moment taken as elsewhere, and as here; and what was offered at all moments.

    Units in which nothing was seen count here, though they have no share of their own.
    """
    rows = np.flatnonzero(moments.weight > 0)
    _, unit = np.unique(moments.unit[rows], return_inverse=True)
    unit = unit.reshape(-1)
    size = int(unit.max()) + 1
    part = moments.weight[rows] / (np.bincount(unit, moments.weight[rows], size)[unit] * size)
    zone = moments.zone[rows]
    low = np.asarray(np.bincount(zone[zone >= 0], part[zone >= 0], moments.zones), np.float64)
    return low, low + float(part[zone < 0].sum()), np.asarray(part @ moments.availability[rows], np.float64)


@dataclass(frozen=True, slots=True)
class Looks:
    """How many independent looks the units are worth, and the degrees of freedom of that number."""

    looks: float
    degrees: float
    by_unit: float


def effective_sample_size(moments: Moments, units: UnitShares, kept: float) -> Looks:
    """Looks from the spread between units, or between chains of units where animals may have stayed.

    A chain joins successive units of an animal where it began in the zone in which it had ended. ``kept``
    (0..1) is how far such beginnings are taken as stays (``bouts.kept_between_units``): the variance goes
    that far from the one clustered by unit to the one clustered by chain, if that is larger. Animals not
    told apart have no chains; there, the correlation of successive units widens instead.
    """
    used, size = units.used, units.share.shape[0]
    most = float(moments.weight[units.rows].sum())
    if size < 2:
        return Looks(1.0, 0.0, 1.0)
    by_unit = _clustered(units, moments, units.unit, used)
    plain = pooled_looks(used, by_unit, size, most)
    if (moments.animal[units.rows] < 0).any():
        return Looks(*crowd_looks(units, plain), plain)
    chain = chain_codes(moments.animal[units.rows], units.unit, moments.zone[units.rows])
    count = int(chain.max()) + 1
    if count < 2:
        return Looks(1.0, 0.0, plain) if kept > 0 else Looks(plain, size - 1, plain)
    by_chain = _clustered(units, moments, chain, used)
    more = np.maximum(by_chain - by_unit, 0.0) if by_chain.sum() > by_unit.sum() else np.zeros(used.size)
    degrees = min(size, size - kept * (size - count)) - 1
    return Looks(pooled_looks(used, by_unit + kept * more, size, most), max(degrees, 1.0), plain)


def crowd_looks(units: UnitShares, by_unit: float) -> tuple[float, float]:
    """Looks and degrees of freedom of animals taken as one crowd, fewer where successive units are alike."""
    factor = _serial_factor(units)
    return max(by_unit / factor, 1.0), max((units.share.shape[0] - 1) / factor, 1.0)


def chain_codes(animal: Ints, unit: Ints, zone: Ints) -> Ints:
    """A number for each seen moment (in time order): the chain of units of one animal that it belongs to.

    >>> chain_codes(np.zeros(4, int), np.array([0, 1, 2, 3]), np.array([5, 5, 2, 2]))
    array([0, 0, 1, 1])
    """
    sequence = np.argsort(animal, kind="stable")
    who, when, where = animal[sequence], unit[sequence], zone[sequence]
    begins = np.r_[True, (who[1:] != who[:-1]) | ((when[1:] != when[:-1]) & (where[1:] != where[:-1]))]
    codes = np.empty(animal.size, np.intp)
    codes[sequence] = np.cumsum(begins) - 1
    return codes


def _clustered(units: UnitShares, moments: Moments, cluster: Ints, used: Floats) -> Floats:
    """Variance of the mean shares with moments gathered by cluster, with the factor C/(C-1)."""
    count = int(cluster.max()) + 1
    zone = moments.zone[units.rows]
    total = np.bincount(cluster * used.size + zone, units.pull, count * used.size).reshape(count, used.size)
    residual = total - np.bincount(cluster, units.pull, count)[:, None] * used
    return np.asarray(count / (count - 1) * (residual**2).sum(axis=0), np.float64)


def _serial_factor(units: UnitShares) -> float:
    """How far successive units' likeness widens a variance: (1 + r)/(1 - r), r pooled over zones, rounded up."""
    residual = units.share - units.used
    size = residual.shape[0]
    spread = float((residual**2).sum())
    if size < 4 or spread <= 0:
        return 1.0
    # The mean of the same units is taken out, which pulls r down by about 1/size; half an error is added.
    r = float((residual[1:] * residual[:-1]).sum()) / spread + 1 / size + 0.5 / np.sqrt(size)
    r = min(max(r, 0.0), 0.9)
    return float((1 + r) / (1 - r))
