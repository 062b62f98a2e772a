"""A difference is claimed exactly where its limits leave out none: prefer's curves, and homes."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sim.calibrate_preference import fitted
from tests.sim.calibrate_retreats import as_checks
from tests.sim.climate import Seeker, watch
from zoneuse.answers.preference.shape import CLAIM, CONFIRM, curve_shape
from zoneuse.answers.retreats.use import use_table


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000), animals=st.sampled_from([1, 3]), sessions=st.integers(6, 14),
    liking=st.sampled_from([0.0, 0.5, 2.0]),
)  # fmt: skip
def test_a_curve_rises_or_falls_exactly_where_both_limits_of_its_ends_leave_out_none(
    seed: int, animals: int, sessions: int, liking: float
) -> None:
    fit = fitted(watch(Seeker(sessions=sessions, animals=animals, liking_sd=liking), seed))
    for shape in (curve_shape(fit, q) for q in (0, 1)):
        if shape.plain is None or shape.constants is None:
            continue
        assert shape.ends is not None and shape.ends_places is not None
        slopes = shape.plain.slope_low, shape.plain.slope_high
        up = min(shape.ends.low, shape.ends_places.low) > 0 and min(slopes) >= 0
        down = max(shape.ends.high, shape.ends_places.high) < 0 and max(slopes) <= 0
        top = shape.plain.p_top <= CLAIM and shape.constants.p_top <= CONFIRM
        said = shape.shape
        assert (said == "peaked") == top
        assert (said == "rising") == (up and not top) and (said == "falling") == (down and not top)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000), checks=st.integers(5, 60), kept=st.sampled_from([0.2, 0.5, 0.8]),
    retreats=st.integers(2, 6),
)  # fmt: skip
def test_a_home_is_told_exactly_where_its_lead_leaves_out_none(
    seed: int, checks: int, kept: float, retreats: int
) -> None:
    random = np.random.default_rng(seed)
    where = np.where(random.random((checks, 2)) < kept, 0, random.integers(0, retreats, (checks, 2)))
    for row in use_table([as_checks(where, 1)])[1].to_dict("records"):
        if np.isfinite(row["home_lead_low"]):
            assert (row["home_standing"] != "") == (row["home_lead_low"] > 0)
            assert row["home_lead_low"] <= row["home_lead"] <= row["home_lead_high"]
