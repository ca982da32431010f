"""The RMSE predicted before the cure against that of the same points without what was wrong."""

from dataclasses import replace

import numpy as np
import pytest

from geoqa.examine import examined
from geoqa.records.results import FindingVerdict
from geoqa.records.survey import TieVerdict
from tests.builders import make_tie
from tests.diagnoses.causes import wrong
from tests.diagnoses.simulator import detection_size, make_case, make_site


def of(cause, seed, points=30, multiple=8.0):
    rng = np.random.default_rng(seed)
    site = make_site(rng, points)
    what = wrong(cause, site)
    size = 1.0 if what.fixed else multiple * detection_size(site, what)
    case = make_case(site, (what,), (size,))
    effect = size * what.effect_m
    if what.shifts_map:
        effect[:, 2] -= (case.samples.gradient * effect[:, :2]).sum(axis=1)
    left = case.residuals.delta_m - effect
    true = np.sqrt((left[:, :2] ** 2).sum(axis=1).mean()), np.sqrt((left[:, 2] ** 2).mean())
    return examined(case)[0][0], true


@pytest.mark.parametrize("cause", ["base-correction", "height-reference", "survey-foot", "half-pixel"])
def test_a_known_effect_is_taken_off_exactly(cause):
    finding, (plan, up) = of(cause, 31)
    assert finding.diagnosis == cause
    assert finding.predicted_rmse_m["horizontal"] == pytest.approx(plan, rel=1e-3)
    assert finding.predicted_rmse_m["vertical"] == pytest.approx(up, rel=1e-3)


@pytest.mark.parametrize("cause", ["tilt", "dome", "rotation"])
def test_a_fitted_effect_is_predicted_within_fifteen_per_cent_and_its_interval(cause):
    finding, (plan, up) = of(cause, 32)
    assert finding.diagnosis == cause
    true = {"horizontal": plan, "vertical": up}
    ends = {item.name: item.value for item in finding.quantities}
    for name, value in finding.predicted_rmse_m.items():
        assert value == pytest.approx(true[name], rel=0.15)
        low, high = (
            ends[f"{name} RMSE after the cure, {side} end of the 95 % interval"]
            for side in ("lower", "upper")
        )
        assert low <= true[name] * (1 + 1e-9)
        assert high >= true[name] * (1 - 1e-9)


def with_mark(measured_m):
    """Return the first finding of heights 8 cm too high, beside a known mark that shows this much."""
    rng = np.random.default_rng(33)
    site = make_site(rng, 20)
    what = wrong("antenna-height", site)
    effect = np.zeros((20, 3))
    effect[:, 2] = 0.08
    case = make_case(site, (replace(what, effect_m=effect),), (1.0,))
    tie = replace(
        make_tie(TieVerdict.WITHIN),
        difference_m=np.array([0.0, 0.0, measured_m]),
        tolerance_m=np.array([0.03, 0.03, 0.03]),
    )
    return examined(replace(case, ties=(tie,)))[0][0]


def test_a_known_mark_that_shows_the_offset_decides_for_the_rover():
    # The survey is 8 cm too low at the mark, so product minus survey is 8 cm too high everywhere.
    finding = with_mark(-0.08)
    assert finding.diagnosis == "antenna-height"
    assert finding.not_separable_from == ()
    assert "known marks measured with the rover show it too" in finding.evidence


def test_a_known_mark_that_does_not_show_it_clears_the_rover():
    finding = with_mark(0.005)
    assert finding.verdict is FindingVerdict.PRESENT
    assert finding.diagnosis == "camera-constant"
    assert "antenna-height" not in finding.not_separable_from
