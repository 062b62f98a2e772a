"""What limits the choice model, in words."""

from __future__ import annotations

from ...stats.choice import ChoiceFit, Limit

_SAID = {
    "constant": "{terms} never differs between the places on offer at one moment",
    "collinear": "{terms} is fixed by {by} in everything that was on offer",
    "separated": "{terms}: the choices follow it without exception, so its size has no upper bound",
    "moments_left_out": "{count} moments without a choice or with a single place on offer tell nothing",
    "not_converged": "the fit did not converge",
    "no_information": "the choices seen leave no measure of how uncertain the terms are",
    "one_cluster": "all moments belong to one session or day: its repeats give no measure of spread",
    "one_cluster_carries_a_term": "a single session or day carries all that is known of one term",
}


def limits_said(fit: ChoiceFit) -> str:
    """All that limits a fit in one sentence; "" where nothing does."""
    return "; ".join(_said(one) for one in fit.limits) + "." if fit.limits else ""


def _said(one: Limit) -> str:
    return _SAID[one.code].format(terms=", ".join(one.terms), by=", ".join(one.by), count=one.count)
