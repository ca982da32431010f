"""ASPRS Edition 2 as quoted in public texts; sections stand beside the checks."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import SettingsError
from geoqa.records.results import JudgementVerdict, UseReason
from geoqa.standards import StandardRequest
from geoqa.standards.asprs_2023 import STANDARD, checkpoints_required
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean

EDITION = "ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2, Version 2 (2024)"
SIGMA = (0.01, 0.01, 0.02)


def judged(residuals, horizontal=None, vertical=None, area=None):
    request = StandardRequest(horizontal_rmse_m=horizontal, vertical_rmse_m=vertical)
    judgements = STANDARD.judge(standard_case(residuals, area), request)
    return {judgement.quantity: judgement for judgement in judgements}


def survey_of(count, sigma_m=None):
    return residual_set(zero_mean(count, 0.03, 0.04), zero_mean(count, 0.03), sigma_m=sigma_m)


def test_enough_checkpoints_carry_the_full_statement():
    """Section 7.15, statement for at least 30 checkpoints."""
    found = judged(survey_of(30), 0.06, 0.05)
    assert found["RMSE_H"].sentence == (
        f"This data set was tested to meet {EDITION} for a 6.0 cm RMSE_H Horizontal Positional Accuracy "
        "Class. The tested horizontal positional accuracy was found to be RMSE_H = 5.0 cm."
    )
    assert found["RMSE_V (NVA)"].sentence == (
        f"This data set was tested to meet {EDITION} for a 5.0 cm RMSE_V Vertical Accuracy Class. The "
        "Non-Vegetated Vertical Accuracy (NVA) was found to be RMSE_V = 3.0 cm."
    )
    assert {found[name].verdict for name in ("RMSE_H", "RMSE_V (NVA)")} == {JudgementVerdict.MET}


def test_fewer_than_thirty_checkpoints_carry_the_reduced_statement():
    """Sections 7.13 and 7.15."""
    found = judged(survey_of(29), 0.06)["RMSE_H"]
    assert found.sentence == (
        f"This data set was tested as required by {EDITION}. Although the Standards call for a minimum of "
        "thirty (30) checkpoints, this test was performed using ONLY 29 checkpoints. This data set was "
        "produced to meet a 6.0 cm RMSE_H Horizontal Positional Accuracy Class. The tested horizontal "
        "positional accuracy was found to be RMSE_H = 5.0 cm using the reduced number of checkpoints."
    )
    assert (found.count, found.count_required) == (29, 30)


@pytest.mark.parametrize("count", [1, 12, 30])
def test_a_class_that_is_missed_is_never_worded_as_met(count):
    found = judged(survey_of(count), 0.049)["RMSE_H"]
    assert found.verdict is JudgementVerdict.NOT_MET
    assert "does not meet a 4.9 cm RMSE_H" in found.sentence
    assert "to meet a" not in found.sentence.replace("does not meet a", "")
    assert "tested to meet" not in found.sentence


def test_the_class_is_compared_unrounded_and_printed_so_that_it_shows():
    """Section 7.3: RMSE_H of at most the class; 5.0049 cm is more than 5.0 cm."""
    plan = zero_mean(32, 0.050049, 0.0)
    found = judged(residual_set(plan), 0.05)["RMSE_H"]
    assert found.verdict is JudgementVerdict.NOT_MET
    assert "RMSE_H = 5.005 cm" in found.sentence


def test_survey_error_can_turn_the_verdict():
    """Section 7.11, the survey in quadrature: sqrt(5² + 2·1²) = 5.196 cm; sqrt(3² + 2²) = 3.606 cm."""
    without, included = judged(survey_of(30), 0.051, 0.035), judged(survey_of(30, SIGMA), 0.051, 0.035)
    for name, value_m in (("RMSE_H", 0.05196152), ("RMSE_V (NVA)", 0.03605551)):
        assert without[name].verdict is JudgementVerdict.MET
        assert included[name].verdict is JudgementVerdict.NOT_MET
        assert_allclose(included[name].value, value_m, rtol=0, atol=5e-9)


def test_it_is_said_whether_the_survey_error_is_in_the_figure():
    without, included = judged(survey_of(30), 0.06)["RMSE_H"], judged(survey_of(30, SIGMA), 0.06)["RMSE_H"]
    assert any("is not in this figure" in caveat for caveat in without.caveats)
    assert any("0.014 m by the standard deviations" in caveat for caveat in included.caveats)
    assert any("the fit alone is 0.050 m" in caveat for caveat in included.caveats)


def test_a_survey_that_is_not_twice_as_accurate_is_named():
    """Section 7.12: checkpoints at least twice as accurate as the product is to be."""
    weak = "not 2 times as accurate"
    assert any(weak in item for item in judged(survey_of(30, SIGMA), vertical=0.039)["RMSE_V (NVA)"].caveats)
    strong = judged(survey_of(30, SIGMA), vertical=0.041)["RMSE_V (NVA)"].caveats
    assert not any(weak in item for item in strong)


def test_three_dimensional_accuracy_joins_both_in_quadrature():
    """Section 7.5: sqrt(5² + 3²) = 5.831 cm."""
    found = judged(survey_of(30))["RMSE_3D (NVA)"]
    assert_allclose(found.value, math.sqrt(0.0034), rtol=1e-9, atol=0)
    assert found.verdict is JudgementVerdict.NOT_ASSESSED
    assert "RMSE_3D = 5.8 cm within the NVA tested area" in found.sentence


def test_vegetated_accuracy_is_stated_and_never_judged():
    """Section 7.4; with the survey in quadrature sqrt(3² + 4²) = 5 cm and sqrt(40² + 30²) = 50 cm."""
    reasons = [None] * 4 + [UseReason.VEGETATED] * 4
    up = np.concatenate([zero_mean(4, 0.03), zero_mean(4, 0.40)])
    residuals = residual_set(
        zero_mean(8, 0.03, 0.04),
        up,
        sigma_m=(0.01, 0.01, 0.30),
        not_vertical=reasons,
        groups={"cover": ("bare",) * 4 + ("vegetated",) * 4},
    )
    sigma_m = residuals.sigma_survey_m.copy()
    sigma_m[:4, 2] = 0.04
    object.__setattr__(residuals, "sigma_survey_m", sigma_m)
    found = judged(residuals, 0.06, 0.05)
    assert found["RMSE_V (NVA)"].verdict is JudgementVerdict.MET
    assert_allclose(found["RMSE_V (NVA)"].value, 0.05, rtol=1e-9, atol=0)
    vegetated = found["RMSE_V (VVA)"]
    assert (vegetated.verdict, vegetated.limit, vegetated.count) == (JudgementVerdict.NOT_ASSESSED, None, 4)
    assert_allclose(vegetated.value, 0.50, rtol=1e-9, atol=0)
    assert "(VVA) was found to be RMSE_V = 50.0 cm" in vegetated.sentence
    assert "within the VVA tested area" in found["RMSE_3D (VVA)"].sentence


@pytest.mark.parametrize(
    ("mean_m", "verdict"),
    [
        (0.0124, JudgementVerdict.MET),
        (-0.0124, JudgementVerdict.MET),
        (0.0126, JudgementVerdict.NOT_MET),
        (-0.0126, JudgementVerdict.NOT_MET),
    ],
)
def test_the_mean_error_is_held_against_a_quarter_of_the_target_rmse(mean_m, verdict):
    """Section 7.2: less than 25 % of the target RMSE, here 0.05 m, whatever the RMSE that was found."""
    plan = np.add(zero_mean(12, 0.01, 0.01), [mean_m, 0.0])
    residuals = residual_set(plan, zero_mean(12, 0.001) + mean_m)
    found = judged(residuals, 0.05, 0.05)
    assert found["mean error up"].verdict is verdict
    assert found["mean error east"].verdict is verdict
    assert found["mean error north"].verdict is JudgementVerdict.MET
    assert_allclose(found["mean error up"].limit, 0.0125, rtol=1e-12, atol=0)
    assert f"{mean_m:+.3f} m" in found["mean error up"].sentence


def test_a_mean_error_above_the_rule_asks_for_its_cause_and_says_what_chance_allows():
    residuals = residual_set(up_m=[0.02, 0.021, 0.019, 0.02])
    found = judged(residuals, vertical=0.05)["mean error up"]
    assert "is to be investigated" in found.sentence
    assert any("is more than chance allows" in caveat for caveat in found.caveats)


def test_without_a_class_the_figure_is_stated_and_not_assessed():
    found = judged(survey_of(12))
    for name in ("RMSE_H", "RMSE_V (NVA)", "mean error up"):
        assert found[name].verdict is JudgementVerdict.NOT_ASSESSED
        assert found[name].value is not None
    assert "No RMSE_H Horizontal Positional Accuracy Class was asked for" in found["RMSE_H"].sentence
    assert "RMSE_H = 5.0 cm using the reduced number" in found["RMSE_H"].sentence
    assert "meet" not in found["RMSE_H"].sentence


def test_without_a_point_nothing_is_claimed():
    found = judged(residual_set(np.full((2, 2), np.nan), [np.nan] * 2), 0.05, 0.05)
    assert set(found) == {"RMSE_H", "RMSE_V (NVA)"}
    for judgement in found.values():
        assert (judgement.verdict, judgement.value) == (JudgementVerdict.NOT_ASSESSED, None)
        assert "was not tested" in judgement.sentence
        assert "“This data set was produced to meet a 5.0 cm RMSE_" in judgement.sentence


@pytest.mark.parametrize(
    ("side_km", "count"), [(1.0, 30), (31.62, 30), (31.63, 40), (94.8, 110), (95.0, 120), (500.0, 120)]
)
def test_large_areas_take_more_checkpoints(side_km, count):
    """Section 7.13: 30 to 1000 km², then 10 more a started 1000 km² (from memory), at most 120."""
    side = 1000 * side_km
    outline = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]])
    assert checkpoints_required(outline) == count


def test_a_large_area_changes_the_statement():
    side = 40_000.0
    outline = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]])
    found = judged(survey_of(30), 0.06, area=outline)["RMSE_H"]
    assert "a minimum of 40 checkpoints" in found.sentence
    assert any("from memory (section 7.13)" in caveat for caveat in found.caveats)


def test_points_in_one_corner_are_named():
    """[USGS-LBS2025]: 20 % of the checkpoints in each quadrant."""
    outline = np.array([[-10.0, -10.0], [300.0, -10.0], [300.0, 300.0], [-10.0, 300.0]])
    found = judged(survey_of(30), 0.06, area=outline)["RMSE_H"]
    assert any("not spread evenly" in caveat for caveat in found.caveats)


def test_ninety_five_per_cent_is_no_word_of_this_edition():
    sentences = [judgement.sentence for judgement in judged(survey_of(30, SIGMA), 0.06, 0.05).values()]
    assert not any("95" in sentence for sentence in sentences)


def test_an_option_is_refused():
    request = StandardRequest(options={"scale": 1200})
    with pytest.raises(SettingsError, match="scale"):
        STANDARD.judge(standard_case(survey_of(3)), request)


def test_every_clause_says_that_it_is_quoted():
    assert all("as quoted in" in judgement.clause for judgement in judged(survey_of(30)).values())
