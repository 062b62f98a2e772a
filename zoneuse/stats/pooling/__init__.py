"""Pooling over studies: shares as counts, and estimates with known errors."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .binomial_normal import PooledShares, pool_shares, pool_shares_under, ratio_of
    from .effects import PooledEffects, next_interval, paule_mandel, pool_effects

__all__ = [
    "PooledEffects",
    "PooledShares",
    "next_interval",
    "paule_mandel",
    "pool_effects",
    "pool_shares",
    "pool_shares_under",
    "ratio_of",
]
__getattr__ = opened(
    __name__,
    {
        "binomial_normal": "PooledShares pool_shares pool_shares_under ratio_of",
        "effects": "PooledEffects next_interval paule_mandel pool_effects",
    },
)
