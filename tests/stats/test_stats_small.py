"""Held-out comparison, set-range indices and the spread index, against outside numbers."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from tests.sim.climate import Seeker, watch
from zoneuse.stats.choice.cross_validation import better_by, held_out_loglik
from zoneuse.stats.choice.spread import spread_interval
from zoneuse.stats.choice.thermoregulation import outside_range, set_range_indices


def test_set_range_toy_and_its_limits() -> None:
    """CHECK 2.4 (constructed from Hertz, Huey & Stevenson 1993)."""
    found = set_range_indices([28, 29, 30.5, 32, 33, 31], [22, 25, 29, 36, 40, 31], 29, 32)
    assert found.accuracy == pytest.approx(1 / 3)
    assert found.quality == pytest.approx(3.8333333)
    assert found.effectiveness == pytest.approx(0.9130435)
    assert found.gain == pytest.approx(3.5)
    assert set_range_indices([20, 40], [20, 40], 29, 32).effectiveness == 0
    assert set_range_indices([30], [20, 40], 29, 32).effectiveness == 1
    assert set_range_indices([30], [30, 31], 29, 32).effectiveness is None
    np.testing.assert_allclose(outside_range([20, 26.5, 28.1, 29.8, 35], 26.5, 29.8), [6.5, 0, 0, 0, 5.2])


def test_massasauga() -> None:
    """Can. J. Zool. 89:60-68: d_b 6.9 and d_e - d_b 3.3 give E = 0.3235 (CHECK 2.4)."""
    found = set_range_indices([30 - 6.9], [30 - 10.2], 30, 33.6)
    assert found.gain == pytest.approx(3.3)
    assert found.effectiveness == pytest.approx(0.3235294)


def test_spread_index_corrects_its_bias() -> None:
    """Use in proportion: few sessions give a raw index well above zero; corrected, it is nearer."""
    random = np.random.default_rng(2)
    offer = np.tile([0.4, 0.3, 0.2, 0.1], (10, 1))
    found = [spread_interval(random.multinomial(4, offer[0], 10) / 4, offer) for _ in range(200)]
    assert np.mean([f.index for f in found]) < 0.7 * np.mean([f.raw for f in found])
    assert all(f.low <= f.index <= f.high for f in found)


def test_the_true_quantity_foretells_better() -> None:
    """Animals that mind temperature only: held out, it beats humidity; the same model ties with itself."""
    table = watch(Seeker(sessions=40, animals=2, width_pct=None, width_c=3.0), 5).table()
    columns = {k: table[k] for k in ("moment", "chosen", "cluster", "offset")}
    curves = [np.column_stack([table["x"][:, q], table["x"][:, q] ** 2]) for q in (0, 1)]
    warm, damp = (held_out_loglik(c, **columns) for c in curves)
    by, error = better_by(warm, damp)
    assert by > 2 * error > 0
    assert better_by(warm, warm) == (0.0, 0.0)
    assert warm.clusters.size == 40


def test_functions_of_probability_come_past_their_package_and_leave_it_as_it_was() -> None:
    code = (
        "import sys; from zoneuse.stats.special import special; assert 'scipy.special' not in sys.modules; "
        "import scipy.special; assert scipy.special.ndtr is special.ndtr; scipy.special.logsumexp([1.0, 2.0])"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
