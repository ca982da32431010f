"""ASPRS 1990; all of it from memory, which every judgement has to say."""

import pytest
from numpy.testing import assert_allclose

from geoqa.records.results import JudgementVerdict
from geoqa.standards import StandardRequest
from geoqa.standards.asprs_1990 import STANDARD
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean


def judged(residuals, **options):
    found = STANDARD.judge(standard_case(residuals), StandardRequest(options=options))
    return {judgement.quantity: judgement for judgement in found}


def survey_of(count=20):
    return residual_set(zero_mean(count, 0.12, 0.13), zero_mean(count, 0.15))


@pytest.mark.parametrize(("map_class", "limit_m"), [(1, 0.125), (2, 0.25), (3, 0.375)])
def test_the_limiting_rmse_is_a_quarter_millimetre_at_scale(map_class, limit_m):
    """0.25 mm at 1:500 is 0.125 m; class 2 twice, class 3 three times (from memory)."""
    found = judged(survey_of(), scale=500, **{"class": map_class})
    assert_allclose([found["RMSE_x"].limit, found["RMSE_y"].limit], limit_m, rtol=1e-12, atol=0)
    assert found["RMSE_x"].verdict is JudgementVerdict.MET
    assert (found["RMSE_y"].verdict is JudgementVerdict.MET) == (map_class > 1)
    assert f"standard for Class {map_class} map accuracy" in found["RMSE_x"].sentence


def test_heights_take_a_third_of_the_contour_interval_or_a_sixth_for_spot_heights():
    contour = judged(survey_of(), scale=500, contour_interval_m=0.6)["RMSE_z"]
    spot = judged(survey_of(), scale=500, contour_interval_m=0.6, heights="spot")["RMSE_z"]
    assert_allclose([contour.limit, spot.limit], [0.2, 0.1], rtol=1e-12, atol=0)
    assert (contour.verdict, spot.verdict) == (JudgementVerdict.MET, JudgementVerdict.NOT_MET)
    assert "RMSE_z" not in judged(survey_of(), scale=500)


def test_every_judgement_says_that_it_rests_on_memory():
    for judgement in judged(survey_of(19), scale=500, contour_interval_m=1).values():
        assert "from memory" in judgement.clause
        assert any("from memory" in caveat for caveat in judgement.caveats)
        assert any("asks for 20 checkpoints" in caveat for caveat in judgement.caveats)


def test_a_blunder_is_named_and_stays_in_the_figure():
    """Above three limiting RMSEs: 0.375 m at 1:500."""
    plan = zero_mean(20, 0.05, 0.05)
    plan[0, 0] = 0.376
    found = judged(residual_set(plan), scale=500)["RMSE_x"]
    assert any("1 of them exceed 0.375 m" in caveat for caveat in found.caveats)
    assert found.value > 0.09
    assert not any("exceed" in caveat for caveat in judged(residual_set(plan), scale=500)["RMSE_y"].caveats)
