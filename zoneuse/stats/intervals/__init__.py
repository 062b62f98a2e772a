"""Shares, their limits and what dependent looks are worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .any_time import APART_PART, COMPANY_PART, DRY_PART, KEEPING_PART, PART_OF_LEVEL, level_any_time
    from .clustered import cr1, cr3
    from .differences import bound_of_held, chance_of_limits, change_of_mean_shares
    from .quantiles import normal_quantile, t_quantile, t_tail, t_two_sided
    from .rates import Rate, event_rate
    from .shares import MeanShares, counts_against_offer, looks_interval, mean_shares, pooled_looks, wilson
    from .shrinking import narrower, narrower_change
    from .units import effective_sample_size, gather, unit_shares

__all__ = [
    "APART_PART",
    "COMPANY_PART",
    "DRY_PART",
    "KEEPING_PART",
    "PART_OF_LEVEL",
    "MeanShares",
    "Rate",
    "bound_of_held",
    "chance_of_limits",
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
    "t_two_sided",
    "unit_shares",
    "wilson",
]
__getattr__ = opened(
    __name__,
    {
        "any_time": "APART_PART COMPANY_PART DRY_PART KEEPING_PART PART_OF_LEVEL level_any_time",
        "clustered": "cr1 cr3",
        "differences": "bound_of_held chance_of_limits change_of_mean_shares",
        "quantiles": "normal_quantile t_quantile t_tail t_two_sided",
        "rates": "Rate event_rate",
        "shares": "MeanShares counts_against_offer looks_interval mean_shares pooled_looks wilson",
        "shrinking": "narrower narrower_change",
        "units": "effective_sample_size gather unit_shares",
    },
)
