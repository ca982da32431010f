"""Measures without limits: ISO 19157 by identifier, and the robust set of Höhle and Höhle."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.records.results import JudgementVerdict
from geoqa.standards import STANDARDS, StandardRequest
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean

PUBLISHED = Path(__file__).parents[1] / "published"


def judged(standard, residuals, **options):
    found = STANDARDS.get(standard).judge(standard_case(residuals), StandardRequest(options=options))
    assert {judgement.verdict for judgement in found} == {JudgementVerdict.NOT_ASSESSED}
    return {judgement.quantity: judgement for judgement in found}


def measures(residuals, **options):
    """Return the values by the number of their measure, in order."""
    by_number = {}
    for judgement in judged("iso-19157", residuals, **options).values():
        by_number.setdefault(int(judgement.clause.split()[1].strip(",")), []).append(judgement.value)
    return by_number


def test_iso_measures_of_a_round_cloud():
    """[ISO19157]: CE50 1.1774, CE90 2.1460, CE95 2.4477 times the sigma of one axis."""
    found = measures(residual_set(zero_mean(20, 0.1, 0.1), zero_mean(20, 0.2)))
    assert_allclose(found[42], [0.1], rtol=1e-9, atol=0)
    assert_allclose(
        [found[43][0], found[44][0], found[45][0]], [0.11774, 0.21460, 0.24477], rtol=1e-9, atol=0
    )
    assert_allclose([found[33][0], found[35][0], found[36][0]], [0.1349, 0.32898, 0.392], rtol=1e-9, atol=0)
    assert_allclose(found[39], [0.1, 0.1, 0.2], rtol=1e-12, atol=0)
    assert_allclose(found[47], [0.1 * np.sqrt(2)], rtol=1e-12, atol=0)


def test_iso_bias_has_a_sign_and_the_mean_uncertainty_has_none():
    """Measures 128 and 28 are told apart."""
    found = measures(residual_set([[-0.03, 0.04], [-0.03, 0.04]], [0.02, -0.02]))
    assert_allclose(found[128], [-0.03, 0.04, 0.0], rtol=0, atol=1e-15)
    assert_allclose(found[28], [0.05, 0.02], rtol=1e-12, atol=0)


def test_iso_counts_above_a_threshold():
    found = measures(residual_set([[0.1, 0.0], [0.3, 0.0], [0.2, 0.0], [0.0, 0.0]]), threshold_m=0.15)
    assert (found[30][0], found[31][0]) == (2.0, 50.0)
    assert 30 not in measures(residual_set([[0.1, 0.0]]))


@pytest.mark.parametrize(
    ("name", "cmas", "lmas"),
    [("asprs2014_annex_d", 0.248908, 0.149497), ("mms_30kmh", 0.090492, 0.033991)],
)
def test_iso_errors_of_biased_data(name, cmas, lmas):
    """Computed outside geoqa from the published sets, without an error of the survey (measures 40, 48)."""
    columns = tomllib.loads((PUBLISHED / f"{name}.toml").read_text("utf-8"))["columns"]
    residuals = residual_set(np.column_stack([columns["de"], columns["dn"]]), columns["dh"])
    found = measures(residuals)
    assert_allclose([found[48][0], found[40][0]], [cmas, lmas], rtol=0, atol=5e-7)


def test_iso_puts_the_survey_error_into_that_of_biased_data():
    """A spread of 4 cm and a survey of 3 cm are 5 cm: LMAS 1.6435 times it without a bias."""
    up = 0.04 * np.sqrt(19 / 20) * np.resize([1.0, -1.0], 20)
    found = measures(residual_set(up_m=up, sigma_m=(0.01, 0.01, 0.03)))
    assert_allclose(found[40][0], 1.6435 * 0.05, rtol=1e-9, atol=0)


def test_iso_gives_the_exact_circle_beside_the_formula():
    """2.0359 of the larger sigma at a ratio of 0.5, tests/published/circular_error.toml."""
    found = judged("iso-19157", residual_set(zero_mean(20, 0.10, 0.05)))
    ce95 = found["CE95, horizontal (measure 45)"]
    assert any("a radius of 0.204 m by exact integration" in caveat for caveat in ce95.caveats)
    assert "from memory" in ce95.clause


def test_iso_ellipse_of_a_cloud_along_the_diagonal():
    diagonal = np.resize([0.05, -0.05], 4)
    found = judged("iso-19157", residual_set(np.column_stack([diagonal, diagonal])))
    ellipse = found["uncertainty ellipse, major semi-axis (measure 50)"]
    # Two of the four spread by n − 1 = 3: 0.05 · √2 · √(4/3).
    assert_allclose(ellipse.value, 0.05 * np.sqrt(2) * np.sqrt(4 / 3), rtol=1e-9, atol=0)
    assert "at 45° from north" in ellipse.sentence


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_few_points_give_sentences(count):
    plan = np.array([[0.01, 0.0], [0.0, 0.02], [0.01, 0.01]])[:count]
    residuals = residual_set(plan, plan[:, 0]) if count else residual_set(np.full((1, 2), np.nan), [np.nan])
    for name in STANDARDS.all():
        options = {"scale": 500} if name in {"nmas-1947", "asprs-1990", "brazil-1984"} else {}
        for judgement in STANDARDS.get(name).judge(
            standard_case(residuals), StandardRequest(options=options)
        ):
            assert judgement.sentence
            assert "nan" not in judgement.sentence + " ".join(judgement.caveats), (name, judgement.quantity)
            assert judgement.value is None or np.isfinite(judgement.value)


def test_robust_measures_of_a_set_with_one_outlier():
    """Figures by hand, tests/published/robust_one_outlier.toml: 3 RMSE = 0.459891 flags the 0.5 m."""
    values = [-0.04, -0.03, -0.02, -0.01, 0.0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.5]
    found = judged("hoehle-2009", residual_set(up_m=values))
    assert_allclose(found["median of the height errors"].value, 0.01, rtol=0, atol=1e-12)
    assert_allclose(found["NMAD of the height errors"].value, 0.044478, rtol=0, atol=5e-7)
    assert_allclose(found["68.3 % quantile of the absolute height errors"].value, 0.0383, rtol=0, atol=5e-7)
    assert_allclose(found["95 % quantile of the absolute height errors"].value, 0.275, rtol=0, atol=5e-7)
    beyond = found["height errors beyond 3 RMSE"]
    assert beyond.value == 1.0
    # The ten others: mean 0.005, standard deviation 0.0303 (1 cm steps: √(82.5e-4 / 9)).
    assert "without them the mean is +0.005 m and the standard deviation 0.030 m" in beyond.sentence


def test_robust_interval_of_the_median_is_that_of_the_sign_test():
    """Ten values: from the second to the ninth, at 97.9 % (table of the sign test, [DavidNagaraja2003])."""
    found = judged("hoehle-2009", residual_set(up_m=np.arange(1, 11) / 100))["median of the height errors"]
    assert "95 % interval from 0.020 m to 0.090 m." in found.caveats
    high = judged("hoehle-2009", residual_set(up_m=np.arange(1, 11) / 100))
    caveats = high["95 % quantile of the absolute height errors"].caveats
    assert any("an end that so few points cannot bound" in caveat for caveat in caveats)
