"""ASPRS Edition 1 (2014); Annex D is held against in tests/test_published.py, the rest is from memory."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.records.results import JudgementVerdict, UseReason
from geoqa.standards import StandardRequest
from geoqa.standards.asprs_2014 import STANDARD, checkpoints_required
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean

MET, NOT_MET, NOT_ASSESSED = JudgementVerdict.MET, JudgementVerdict.NOT_MET, JudgementVerdict.NOT_ASSESSED


def judged(residuals, **request):
    found = STANDARD.judge(standard_case(residuals), StandardRequest(**request))
    return {judgement.quantity: judgement for judgement in found}


def survey_of(count=20, **more):
    return residual_set(zero_mean(count, 0.03, 0.04), zero_mean(count, 0.05), **more)


def test_the_class_holds_for_either_axis():
    found = judged(survey_of(), options={"horizontal_class_m": 0.035})
    assert (found["RMSE_x"].verdict, found["RMSE_y"].verdict) == (MET, NOT_MET)
    assert "does not meet a 3.5 cm RMSE_x / RMSE_y" in found["RMSE_x"].sentence
    assert "RMSE_x = 3.0 cm and RMSE_y = 4.0 cm" in found["RMSE_x"].sentence


def test_a_radial_limit_becomes_a_class_of_one_axis():
    """7.07 cm of RMSE_r is what a 5 cm class allows."""
    found = judged(survey_of(), horizontal_rmse_m=0.0707107)
    assert_allclose(found["RMSE_x"].limit, 0.05, rtol=0, atol=5e-8)
    assert any("divided by √2" in caveat for caveat in found["RMSE_x"].caveats)
    assert "tested to meet ASPRS" in found["RMSE_x"].sentence


def test_a_limit_for_each_axis_is_the_class():
    found = judged(survey_of(), axis_rmse_m=0.035)
    assert (found["RMSE_x"].limit, found["RMSE_x"].verdict) == (0.035, MET)
    assert found["RMSE_y"].verdict is NOT_MET
    assert not any("divided by √2" in caveat for caveat in found["RMSE_x"].caveats)


def test_figures_at_95_per_cent_take_the_factors():
    """1.7308 · 0.05 = 0.08654; 1.9600 · 0.05 = 0.098."""
    found = judged(survey_of())
    assert_allclose(found["horizontal accuracy at 95 %"].value, 0.08654, rtol=0, atol=5e-7)
    assert_allclose(found["vertical accuracy at 95 % (NVA)"].value, 0.098, rtol=0, atol=5e-7)
    assert {judgement.verdict for judgement in found.values()} == {NOT_ASSESSED}


def test_vegetated_ground_is_held_against_three_classes_by_its_95th_percentile():
    """Sizes 0.01 … 0.21: rank 0.95 · 20 + 1 = 20, hence 0.20."""
    up = np.arange(1, 22) / 100
    residuals = residual_set(np.zeros((21, 2)), up, not_vertical=[UseReason.VEGETATED] * 21)
    groups = {"cover": ("vegetated",) * 21, "session": (None,) * 21, "role": ("check",) * 21}
    object.__setattr__(residuals, "groups", groups)
    for class_m, verdict in ((0.067, MET), (0.066, NOT_MET)):
        found = judged(residuals, vertical_rmse_m=class_m)["95th percentile (VVA)"]
        assert_allclose([found.value, found.limit], [0.20, 3 * class_m], rtol=0, atol=1e-9)
        assert found.verdict is verdict


@pytest.mark.parametrize(("sigma_m", "said"), [(0.0166, False), (0.0167, True)])
def test_checkpoints_less_than_three_times_as_accurate_are_named(sigma_m, said):
    found = judged(
        survey_of(sigma_m=(sigma_m,) * 3), options={"horizontal_class_m": 0.05, "vertical_class_m": 0.05}
    )
    for name in ("RMSE_x", "RMSE_z (NVA)"):
        assert any("3 times as accurate" in caveat for caveat in found[name].caveats) is said
    unknown = judged(survey_of(), vertical_rmse_m=0.05)["RMSE_z (NVA)"]
    assert any("is not known" in caveat for caveat in unknown.caveats)


def test_the_mean_error_is_held_against_a_quarter_of_the_class():
    shifted = residual_set(np.full((20, 2), [0.012, 0.013]))
    found = judged(shifted, options={"horizontal_class_m": 0.05})
    assert found["mean error east"].verdict is MET
    assert found["mean error north"].verdict is NOT_MET


@pytest.mark.parametrize(
    ("area", "expected"),
    [(0.1, (20, 20, 5)), (500.1, (25, 20, 10)), (2500, (60, 55, 45)), (9999, (60, 55, 45))],
)
def test_checkpoints_by_area(area, expected):
    """Table C.1, from memory."""
    assert checkpoints_required(area) == expected


def test_no_point_gives_sentences():
    for judgement in judged(
        residual_set(np.full((2, 2), np.nan), [np.nan] * 2), vertical_rmse_m=0.1
    ).values():
        assert (judgement.verdict, judgement.value) == (NOT_ASSESSED, None)
        assert "no checkpoint could be used" in judgement.sentence
