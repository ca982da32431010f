"""United States National Map Accuracy Standards, text as the USGS reprints it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.records.results import JudgementVerdict
from geoqa.standards import StandardRequest
from geoqa.standards.nmas_1947 import STANDARD, tolerance_m
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case

MET, NOT_MET = JudgementVerdict.MET, JudgementVerdict.NOT_MET


def judged(residuals, **options):
    return STANDARD.judge(standard_case(residuals), StandardRequest(options=options))


def east(*sizes_m):
    return residual_set(np.column_stack([sizes_m, np.zeros(len(sizes_m))]), np.array(sizes_m))


@pytest.mark.parametrize(
    ("scale", "feet"),
    [(24_000, 40.0), (20_000, 20_000 / 50 / 12), (19_999, 19_999 / 30 / 12), (1_200, 1_200 / 30 / 12)],
)
def test_the_tolerance_is_a_thirtieth_or_a_fiftieth_of_an_inch(scale, feet):
    """Paragraph 1; 40 feet at 1:24 000 is the figure that the USGS prints."""
    assert_allclose(tolerance_m(scale), feet * 0.3048, rtol=1e-12, atol=0)


def test_one_of_ten_may_lie_beyond():
    """1/30 inch at 1:1200 is 1.016 m."""
    nine = [1.016] * 9
    (one,) = judged(east(*nine, 1.5), scale=1200)
    assert (one.verdict, one.value, one.limit, one.unit) == (MET, 10.0, 10.0, "%")
    assert one.sentence.startswith("This map complies with National Map Accuracy Standards: 1 of 10 check")
    (two,) = judged(east(*nine[1:], 1.5, -1.5), scale=1200)
    assert (two.verdict, two.value) == (NOT_MET, 20.0)
    assert "complies" not in two.sentence


def test_heights_are_held_against_half_the_contour_interval():
    """Paragraph 2."""
    _, met = judged(east(0.5, -0.5), scale=1200, contour_interval_m=1.0)
    _, missed = judged(east(0.5, -0.51), scale=1200, contour_interval_m=1.0)
    assert (met.verdict, missed.verdict, missed.value) == (MET, NOT_MET, 50.0)
    assert any("used up first" in caveat for caveat in met.caveats)


def test_without_a_point_nothing_is_judged():
    for judgement in judged(
        residual_set(np.full((2, 2), np.nan), [np.nan] * 2), scale=500, contour_interval_m=1
    ):
        assert (judgement.verdict, judgement.value) == (JudgementVerdict.NOT_ASSESSED, None)
        assert "no checkpoint could be used" in judgement.sentence
