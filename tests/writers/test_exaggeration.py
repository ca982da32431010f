"""Exaggeration: 1, 2 or 5 × 10^k, the 90 % vector about an eighth of the extent."""

from dataclasses import replace

import numpy as np
import pytest

from geoqa.records.results import Use, UseReason
from geoqa.writers._exaggeration import exaggeration, extent_m, nearest_round
from tests.builders import EXTENT_M, ORIGIN_M, make_assessment, make_residuals


def assessed(vectors, **overrides):
    delta = np.column_stack([np.asarray(vectors, dtype=float), np.zeros(len(vectors))])
    n = len(delta)
    return make_assessment(n, pictures=False, residuals=make_residuals(delta_m=delta), **overrides)


# The site is 260 m long, an eighth of it 32.5 m: divided by the length of the vectors by hand.
@pytest.mark.parametrize(
    ("length_m", "expected"),
    [
        (0.03, 1000.0),  # 1083
        (0.065, 500.0),  # 500
        (0.02, 2000.0),  # 1625: nearer to 2000 than to 1000 by ratio
        (0.1, 500.0),  # 325: 500 is 1.54 times as much, 200 is 1.63 times less
        (15.0, 2.0),  # 2.2
        (400.0, 0.1),  # 0.081
    ],
)
def test_vectors_of_one_length_are_drawn_an_eighth_of_the_site_long(length_m, expected):
    assert exaggeration(assessed([[length_m, 0.0]] * 5)) == expected


def test_one_long_vector_in_twenty_does_not_decide():
    calm = [[0.03, 0.0]] * 19
    assert exaggeration(assessed([*calm, [3.0, 0.0]])) == exaggeration(assessed(calm))


def test_unused_vectors_decide_only_where_none_is_used():
    delta = np.array([[0.03, 0.0, 0.0], [3.0, 0.0, 0.0]])
    residuals = make_residuals(delta_m=delta)
    one = replace(residuals, horizontal=Use(np.array([True, False]), (None, UseReason.SUSPECT)))
    none = replace(residuals, horizontal=Use(np.array([False, False]), (UseReason.SUSPECT,) * 2))
    assert exaggeration(make_assessment(2, pictures=False, residuals=one)) == 1000.0
    # Nine tenths of the way from 0.03 m to 3 m: 2.70 m, 32.5 m divided by it 12.
    assert exaggeration(make_assessment(2, pictures=False, residuals=none)) == 10.0


@pytest.mark.parametrize("n", [0, 1, 2])
def test_few_points_have_an_exaggeration(n):
    for area in ({}, {"mapped_area_m": np.zeros((0, 2))}):
        assert exaggeration(make_assessment(n, pictures=False, **area)) >= 1.0


def test_nothing_measured_is_drawn_in_nature():
    assert exaggeration(assessed([[np.nan, np.nan]] * 3)) == 1.0


def test_vectors_of_rounding_noise_are_not_blown_up():
    assert exaggeration(assessed([[1e-12, 0.0]] * 4)) == exaggeration(assessed([[1e-4, 0.0]] * 4))


def test_extent_is_the_outline_of_the_product():
    west, south, east, north = extent_m(make_assessment(8, pictures=False))
    assert (west, south) == ORIGIN_M
    assert (east - west, north - south) == EXTENT_M


def test_extent_without_an_outline_is_that_of_the_points():
    assessment = make_assessment(8, pictures=False, mapped_area_m=np.zeros((0, 2)))
    plan = assessment.residuals.survey_m[:, :2]
    np.testing.assert_allclose(extent_m(assessment), [*plan.min(axis=0), *plan.max(axis=0)], rtol=0, atol=0)


def test_extent_of_one_point_is_a_square_around_it():
    assessment = make_assessment(1, pictures=False, mapped_area_m=np.zeros((0, 2)))
    west, south, east, north = extent_m(assessment)
    assert east - west == north - south == 100.0
    np.testing.assert_allclose([(west + east) / 2, (south + north) / 2], assessment.residuals.survey_m[0, :2])


def test_round_numbers_are_one_two_or_five_and_never_far():
    for value in np.geomspace(1e-6, 1e6, 400):
        chosen = nearest_round(float(value))
        assert f"{chosen:e}"[0] in "125"
        assert f"{chosen:.6e}"[1:8] == ".000000"
        # The widest gap is from 2 to 5.
        assert max(chosen / value, value / chosen) <= np.sqrt(2.5) + 1e-9
