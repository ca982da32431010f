"""Detection limits against normal theory, and against tests of simulated residuals."""

import numpy as np
import pytest
from scipy.special import fdtri, ndtri

from geoqa.causes.power import noncentrality, significance


def test_with_much_freedom_the_limit_is_that_of_the_normal_distribution():
    # NIST/SEMATECH e-Handbook, section 7.2.2.2: N = (z(1−α/2) + z(1−β))²·σ²/δ² for one sample.
    expected = ndtri(1 - 0.05 / 2) + ndtri(0.80)
    assert np.sqrt(noncentrality(1, 10**6, 0.05)) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("amplitudes", "freedom"), [(1, 5), (2, 8), (3, 20)])
def test_at_the_limit_four_of_five_simulated_tests_see_the_effect(amplitudes, freedom):
    rng = np.random.default_rng(amplitudes * 100 + freedom)
    runs, risk = 20_000, 0.01
    needed = noncentrality(amplitudes, freedom, risk)
    signal = rng.normal(size=(runs, amplitudes))
    signal[:, 0] += np.sqrt(needed)
    rest = rng.normal(size=(runs, freedom))
    ratio = ((signal**2).sum(axis=1) / amplitudes) / ((rest**2).sum(axis=1) / freedom)
    seen = (ratio > fdtri(amplitudes, freedom, 1 - risk)).mean()
    assert seen == pytest.approx(0.80, abs=0.012)


def test_without_freedom_nothing_can_be_seen():
    assert noncentrality(2, 0) == np.inf
    assert significance(100.0, 2, 0) == 1.0


def test_smaller_risk_needs_a_larger_effect():
    assert noncentrality(1, 10, 0.001) > noncentrality(1, 10, 0.01) > noncentrality(1, 10, 0.05)
