"""Tests by exchange and redraw: permutation, single case, strata, reversals."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .control_impact import ControlImpact, control_impact
    from .groups import groups_differ, stays_in
    from .permutation import holm, more_needed, permute_phases, smallest_p_within
    from .relabelled import Relabelled, exchanged, least_exchanged, least_paired, relabel_pairs, widened
    from .related_samples import cochran, friedman, mcnemar
    from .reversals import Reversal, reversal
    from .single_case import Overlap, TypicalShift, hodges_lehmann, log_odds_ratio, nap, tau_u
    from .spells import PERSISTS, PERSISTS_SURE, spell_change
    from .strata import adjust_for_strata
    from .swaps import moved, swapped
    from .together import Rearranged, Together, chances, held_together

__all__ = [
    "PERSISTS",
    "PERSISTS_SURE",
    "ControlImpact",
    "Overlap",
    "Rearranged",
    "Relabelled",
    "Reversal",
    "Together",
    "TypicalShift",
    "adjust_for_strata",
    "chances",
    "cochran",
    "control_impact",
    "exchanged",
    "friedman",
    "groups_differ",
    "held_together",
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
    "stays_in",
    "swapped",
    "tau_u",
    "widened",
]
__getattr__ = opened(
    __name__,
    {
        "control_impact": "ControlImpact control_impact",
        "groups": "groups_differ stays_in",
        "permutation": "holm more_needed permute_phases smallest_p_within",
        "relabelled": "Relabelled exchanged least_exchanged least_paired relabel_pairs widened",
        "related_samples": "cochran friedman mcnemar",
        "reversals": "Reversal reversal",
        "single_case": "Overlap TypicalShift hodges_lehmann log_odds_ratio nap tau_u",
        "spells": "PERSISTS PERSISTS_SURE spell_change",
        "strata": "adjust_for_strata",
        "swaps": "moved swapped",
        "together": "Rearranged Together chances held_together",
    },
)
