"""Moves swapped between animals, and how often each pair is then in one retreat: fast, for many draws."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import ArrayLike, NDArray

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Cells = NDArray[np.uint16]

# No retreat has this number: not found.
NOWHERE = np.uint16(65535)
CHAINS = 2
# Below this many cells a second thread costs more than it brings.
_WORTH_A_THREAD = 20_000


def moved(where: ArrayLike) -> Flags:
    """Checks x animals: found elsewhere than where it was last found (never at its first).

    >>> moved([[0], [-1], [0], [2]]).ravel()
    array([False, False, False,  True])
    """
    places = np.asarray(where, np.int64)
    index = np.where(places >= 0, np.arange(len(places))[:, None], -1)
    last = np.maximum.accumulate(index, axis=0)
    before = np.vstack([np.full((1, places.shape[1]), -1), last[:-1]])
    old = np.take_along_axis(places, np.maximum(before, 0), axis=0)
    return np.asarray((places >= 0) & (before >= 0) & (old != places), np.bool_)


def together(where: ArrayLike, retreats: int) -> Ints:
    """Animals x animals: checks at which both are in one retreat, from animals x checks (NOWHERE: not found).

    Each retreat is a row of bits over the checks; two animals' rows are laid over each other and counted.

    >>> together(np.array([[0, 1, 1], [0, 1, 2]], np.uint16), 3)
    array([[3, 2],
           [2, 3]])
    """
    cells = np.asarray(where, np.uint16)
    here = cells[:, None, :] == np.arange(retreats, dtype=np.uint16)[:, None]
    packed = np.packbits(here, axis=-1)
    spare = -packed.shape[-1] % 8
    bits = np.pad(packed, ((0, 0), (0, 0), (0, spare))).reshape(len(cells), -1).view(np.uint64)
    counts = np.zeros((len(cells), len(cells)), np.int64)
    for i in range(len(cells)):
        counts[i, i:] = np.bitwise_count(bits[i:] & bits[i]).sum(axis=1, dtype=np.int64)
    return np.maximum(counts, counts.T)


def swapped(where: ArrayLike, draws: int, seed: int) -> tuple[Ints, NDArray[np.int32]]:
    """Arrivals into company as they were (animals x animals) and under swapped moves (draws x animals x animals).

    ``where`` is checks x animals, the retreat's number or -1. An arrival counts for a pair at a check where
    both are in one retreat and at least one of them has just moved. Two chains of swaps run from what was
    seen, each after as many rounds as there are animals.
    """
    places = np.asarray(where, np.int64)
    retreats = int(places.max(initial=0)) + 1
    if retreats >= NOWHERE:
        raise ValueError(f"where: expected fewer than {NOWHERE} retreats")
    cells = np.ascontiguousarray(np.where(places >= 0, places, NOWHERE).astype(np.uint16).T)
    arrived = np.ascontiguousarray(moved(places).T)
    stays = together(np.where(arrived, NOWHERE, cells), retreats)
    redrawn = np.empty((draws, len(cells), len(cells)), np.int32)

    def chain(number: int) -> None:
        rng = np.random.default_rng([seed, number])
        state = cells.copy()
        for _ in range(len(cells)):
            swap(state, arrived, retreats, rng)
        for i in range(number, draws, CHAINS):
            swap(state, arrived, retreats, rng)
            redrawn[i] = together(state, retreats) - stays

    if cells.size < _WORTH_A_THREAD:
        for number in range(CHAINS):
            chain(number)
    else:
        with ThreadPoolExecutor(CHAINS) as pool:
            list(pool.map(chain, range(CHAINS)))
    return together(cells, retreats) - stays, redrawn


def swap(cells: Cells, arrived: Flags, retreats: int, rng: np.random.Generator) -> None:
    """One round, every animal paired with one other at random (in place; animals x checks).

    Of a pair, at the checks where both moved and are apart, who got which is shuffled within each unordered
    pair of retreats.
    """
    order = rng.permutation(len(cells))
    half = len(order) // 2
    one, other = order[:half], order[half : 2 * half]
    a, b = cells[one], cells[other]
    at = np.flatnonzero(arrived[one] & arrived[other] & (a != b))
    if not at.size:
        return
    first, second = a.reshape(-1)[at], b.reshape(-1)[at]
    low, high = np.minimum(first, second), np.maximum(first, second)
    key = _keys(at // cells.shape[1], low, high, retreats, half)
    turned = _shuffled(key, first == low, rng)
    a.reshape(-1)[at] = np.where(turned, low, high)
    b.reshape(-1)[at] = np.where(turned, high, low)
    cells[one], cells[other] = a, b


def _keys(pair: Ints, low: Cells, high: Cells, retreats: int, pairs: int) -> NDArray[np.unsignedinteger]:
    """One number for each pair of animals and unordered pair of retreats; 16 bits, if they do, sort fastest."""
    key = (pair * retreats + low) * retreats + high
    return key.astype(np.uint16 if pairs * retreats**2 < 1 << 16 else np.uint32)


def _shuffled(key: NDArray[np.unsignedinteger], labels: Flags, rng: np.random.Generator) -> Flags:
    """``labels`` shuffled among the entries of equal key: sorted once as they stand and once in random order."""
    index_bits = int(key.size).bit_length()
    chance_bits = 64 - index_bits - 8 * key.dtype.itemsize
    packed = key.astype(np.uint64) << np.uint64(index_bits + chance_bits)
    packed |= rng.integers(0, 1 << chance_bits, key.size, dtype=np.uint64) << np.uint64(index_bits)
    packed |= np.arange(key.size, dtype=np.uint64)
    packed.sort()
    redrawn = (packed & np.uint64((1 << index_bits) - 1)).astype(np.intp)
    found = np.empty_like(labels)
    found[np.argsort(key, kind="stable")] = labels[redrawn]
    return found
