"""Tests by exchange and redraw: permutation, single case, strata, reversals."""

from __future__ import annotations

from .control_impact import control_impact
from .groups import groups_differ
from .permutation import holm, more_needed, permute_phases, smallest_p_within
from .relabelled import Relabelled, exchanged, least_exchanged, least_paired, relabel_pairs, widened
from .related_samples import cochran, friedman, mcnemar
from .reversals import reversal
from .single_case import hodges_lehmann, log_odds_ratio, nap, tau_u
from .spells import spell_change
from .strata import adjust_for_strata
from .swaps import moved, swapped

__all__ = [
    "Relabelled",
    "adjust_for_strata",
    "cochran",
    "control_impact",
    "exchanged",
    "friedman",
    "groups_differ",
    "hodges_lehmann",
    "holm",
    "least_exchanged",
    "least_paired",
    "log_odds_ratio",
    "mcnemar",
    "more_needed",
    "moved",
    "nap",
    "permute_phases",
    "relabel_pairs",
    "reversal",
    "smallest_p_within",
    "spell_change",
    "swapped",
    "tau_u",
    "widened",
]
