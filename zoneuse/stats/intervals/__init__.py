"""Shares, their limits and what dependent looks are worth."""

from __future__ import annotations

from .any_time import level_any_time
from .clustered import cr1, cr3
from .differences import change_of_mean_shares
from .dispersion import dispersion
from .electivity import evenness, jacobs_d, spread_of_participation, zone_electivity
from .quantiles import normal_quantile, t_quantile, t_tail
from .rates import event_rate
from .recent_change import recent_change
from .sample_size import sample_size_to_settle
from .shares import counts_against_offer, looks_interval, mean_shares, pooled_looks, wilson
from .shrinking import narrower, narrower_change
from .stays import home, stays
from .units import effective_sample_size, gather, unit_shares
from .zone_use import zone_use

__all__ = [
    "change_of_mean_shares",
    "counts_against_offer",
    "cr1",
    "cr3",
    "dispersion",
    "effective_sample_size",
    "evenness",
    "event_rate",
    "gather",
    "home",
    "jacobs_d",
    "level_any_time",
    "looks_interval",
    "mean_shares",
    "narrower",
    "narrower_change",
    "normal_quantile",
    "pooled_looks",
    "recent_change",
    "sample_size_to_settle",
    "spread_of_participation",
    "stays",
    "t_quantile",
    "t_tail",
    "unit_shares",
    "wilson",
    "zone_electivity",
    "zone_use",
]
