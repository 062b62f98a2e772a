"""Shares, their limits and what dependent looks are worth."""

from __future__ import annotations

from .any_time import level_any_time
from .clustered import cr1, cr3
from .differences import change_of_mean_shares
from .quantiles import normal_quantile, t_quantile, t_tail
from .rates import event_rate
from .shares import counts_against_offer, looks_interval, mean_shares, pooled_looks, wilson
from .shrinking import narrower, narrower_change
from .units import effective_sample_size, gather, unit_shares

__all__ = [
    "change_of_mean_shares",
    "counts_against_offer",
    "cr1",
    "cr3",
    "effective_sample_size",
    "event_rate",
    "gather",
    "level_any_time",
    "looks_interval",
    "mean_shares",
    "narrower",
    "narrower_change",
    "normal_quantile",
    "pooled_looks",
    "t_quantile",
    "t_tail",
    "unit_shares",
    "wilson",
]
