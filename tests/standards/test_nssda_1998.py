"""NSSDA, FGDC-STD-007.3-1998, as quoted in a public transcription; appendices beside the checks."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import SettingsError
from geoqa.records.results import JudgementVerdict
from geoqa.standards import StandardRequest
from geoqa.standards.nssda_1998 import STANDARD, radial_accuracy
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean


def judged(residuals, area=None, **request):
    return STANDARD.judge(standard_case(residuals, area), StandardRequest(**request))


def survey_of(count, east_m=0.05, north_m=0.04, up_m=0.03):
    return residual_set(zero_mean(count, east_m, north_m), zero_mean(count, up_m))


def test_equal_axes_take_the_radial_factor():
    """Appendix 3-A, case 1: 1.7308 RMSE_r = 2.4477 RMSE_x, which differ in the fifth digit."""
    assert_allclose(radial_accuracy(0.1, 0.1), 1.7308 * np.hypot(0.1, 0.1), rtol=1e-12, atol=0)
    assert_allclose(radial_accuracy(0.1, 0.1), 2.4477 * 0.1, rtol=3e-5, atol=0)
    assert radial_accuracy(0.0, 0.0) == 0.0


def test_unequal_axes_take_the_factor_of_their_mean():
    """Appendix 3-A, case 2 (formula from memory): 2.4477 · 0.5 · (0.05 + 0.04) = 0.11015."""
    assert_allclose(radial_accuracy(0.05, 0.04), 0.110147, rtol=0, atol=5e-7)
    assert radial_accuracy(0.04, 0.05) == radial_accuracy(0.05, 0.04)


def test_below_a_ratio_of_six_tenths_there_is_no_formula():
    assert radial_accuracy(0.0601, 0.1) is not None
    assert radial_accuracy(0.0599, 0.1) is None


def test_a_refused_figure_says_why_and_gives_the_exact_circle():
    """Exact: 2.0359 of the larger sigma at a ratio of 0.5, tests/published/circular_error.toml."""
    plan, _ = judged(survey_of(20, 0.10, 0.05), horizontal_rmse_m=0.5)
    assert (plan.verdict, plan.value) == (JudgementVerdict.NOT_ASSESSED, None)
    assert "RMSE_x 0.100 m and RMSE_y 0.050 m" in plan.sentence
    assert any("a radius of 0.204 m" in caveat for caveat in plan.caveats)


def test_twenty_checkpoints_carry_the_tested_statement():
    """Section 3.2.3; the height by 1.9600 RMSE_z = 0.0588."""
    plan, height = judged(survey_of(20))
    assert plan.sentence == "Tested 0.110 meters horizontal accuracy at 95% confidence level."
    assert height.sentence == "Tested 0.059 meters vertical accuracy at 95% confidence level."
    assert_allclose([plan.value, height.value], [0.110147, 0.0588], rtol=0, atol=5e-7)
    assert {plan.verdict, height.verdict} == {JudgementVerdict.NOT_ASSESSED}


def test_fewer_than_twenty_checkpoints_are_no_test():
    """Section 3.2.2: a minimum of 20 checkpoints; else "Compiled to meet"."""
    plan, height = judged(survey_of(19), horizontal_rmse_m=1.0, vertical_rmse_m=1.0)
    for judgement in (plan, height):
        assert judgement.verdict is JudgementVerdict.NOT_ASSESSED
        assert judgement.sentence.startswith("Compiled to meet")
        assert judgement.count_required == 20
        assert any("takes 20 checkpoints" in caveat for caveat in judgement.caveats)


def test_one_checkpoint_says_how_little_it_tells():
    height = judged(survey_of(1))[1]
    assert any("15.9 times as large" in caveat for caveat in height.caveats)


@pytest.mark.parametrize(
    ("limit_m", "verdict"), [(0.0301, JudgementVerdict.MET), (0.0299, JudgementVerdict.NOT_MET)]
)
def test_an_rmse_limit_is_held_against_with_the_factor_of_the_standard(limit_m, verdict):
    height = judged(survey_of(20), vertical_rmse_m=limit_m)[1]
    assert height.verdict is verdict
    assert_allclose(height.limit, 1.96 * limit_m, rtol=1e-12, atol=0)
    assert any("1.9600 times the RMSE" in caveat for caveat in height.caveats)


def test_a_limit_at_95_per_cent_stands_before_that_of_the_rmse():
    options = {"horizontal_95_m": 0.11, "vertical_95_m": 0.059}
    plan, height = judged(survey_of(20), horizontal_rmse_m=9.0, vertical_rmse_m=9.0, options=options)
    assert (plan.limit, height.limit) == (0.11, 0.059)
    assert (plan.verdict, height.verdict) == (JudgementVerdict.NOT_MET, JudgementVerdict.MET)
    assert "Tested 0.1101 meters horizontal" in plan.sentence
    assert "beyond the limit of 0.110 meters" in plan.sentence


def test_a_correlated_cloud_shows_in_the_exact_circle():
    """Axes of equal RMSE hide a cloud along one diagonal: 1.96 times its length along it."""
    diagonal = np.resize([0.05, -0.05], 20)
    plan = judged(residual_set(np.column_stack([diagonal, diagonal])))[0]
    assert_allclose(plan.value, 2.4477 * 0.05, rtol=3e-5, atol=0)
    assert any(f"a radius of {1.95996 * 0.05 * np.sqrt(2):.3f} m" in caveat for caveat in plan.caveats)


def test_without_a_point_nothing_is_stated():
    for judgement in judged(residual_set(np.full((2, 2), np.nan), [np.nan] * 2), horizontal_rmse_m=0.1):
        assert (judgement.verdict, judgement.value) == (JudgementVerdict.NOT_ASSESSED, None)
        assert "not stated: no checkpoint could be used" in judgement.sentence


def test_points_in_one_corner_are_named():
    """Appendix 3-C: at least 20 per cent of the points in each quadrant."""
    outline = np.array([[-10.0, -10.0], [300.0, -10.0], [300.0, 300.0], [-10.0, 300.0]])
    for judgement in judged(survey_of(20), area=outline):
        assert any("not spread evenly" in caveat for caveat in judgement.caveats)


def test_an_unknown_option_is_refused():
    with pytest.raises(SettingsError, match="horizontal_95_m or vertical_95_m"):
        judged(survey_of(3), options={"horizontal_p95_m": 1.0})
