"""What survey and products share is added to the fit, and never shrinks with the number of points."""

from dataclasses import replace

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.common_error import NO_BASE, common_error, sigma_of_mean
from geoqa.accuracy.statistics import summarise
from geoqa.accuracy.three_numbers import in_words, three_numbers
from geoqa.frame.geocentric import translated
from geoqa.records.points import CoordinateStep
from tests.accuracy.residual_sets import residual_set
from tests.builders import make_checkpoints
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import corrections_of, geographic, table

BASE_M, VECTOR_M = np.array([0.008, 0.008, 0.020]), np.array([0.010, 0.010, 0.018])


def base(sigma=(0.008, 0.008, 0.02), **more):
    precise = geographic(hand.PRECISE) if sigma is None else geographic(hand.PRECISE, sigma_m=list(sigma))
    (found,) = corrections_of(table(precise=precise, **more))
    return found


def test_simulated_mean_of_corrected_points_scatters_as_the_common_covariance_says():
    # 20 000 surveys of 15 points from one base: errors of the vectors apart, that of the base in all of them.
    runs, count = 20_000, 15
    rng = np.random.default_rng(20)
    frame = pyproj.CRS("EPSG:9989")
    place = np.array(hand.BEFORE["P1"])
    turn = hand.horizon(place)
    of_base = np.repeat(rng.normal(0.0, BASE_M, (runs, 1, 3)), count, axis=1)
    of_vector = rng.normal(0.0, VECTOR_M, (runs, count, 3))
    shifts = hand.SHIFT_M + (of_base + of_vector).reshape(-1, 3) @ turn
    moved = translated(np.broadcast_to(place, shifts.shape), shifts, frame)
    # One radian east is the radius of the parallel, one north that of the meridian, at this place.
    per_degree = [
        hand.apart_m(place, place + step)[axis] * 1e4 for axis, step in enumerate(np.eye(3)[:2] * 1e-4)
    ]
    metres = (moved - place) * [*per_degree, 1.0]
    scatter = metres.reshape(runs, count, 3).mean(axis=1).std(axis=0, ddof=1)
    # Found before by another simulation: 8.4, 8.4 and 20.5 mm; independence would give 3.3, 3.3 and 6.9.
    expected = sigma_of_mean(base(), np.broadcast_to(VECTOR_M, (count, 3)))
    assert_allclose(1000 * expected, [8.4, 8.4, 20.5], rtol=0, atol=0.05)
    # A standard deviation from 20 000 runs is good to half a per cent; four times that.
    assert_allclose(scatter, expected, rtol=0.02, atol=0)


@pytest.mark.parametrize("count", [1, 10, 1000, 100_000])
def test_part_of_the_base_does_not_shrink_with_the_number_of_points(count):
    found = sigma_of_mean(base(), np.broadcast_to(VECTOR_M, (count, 3)))
    assert (found > BASE_M).all()
    assert_allclose(found, np.sqrt(BASE_M**2 + VECTOR_M**2 / count), rtol=1e-12, atol=0)


def test_no_figure_without_standard_deviations():
    assert sigma_of_mean(base(sigma=None), np.full((3, 3), 0.01)) is None
    assert sigma_of_mean(base(), np.empty((0, 3))) is None
    unknown_up = np.array([[0.01, 0.01, np.nan]] * 3)
    found = sigma_of_mean(base(), unknown_up)
    assert np.isfinite(found[:2]).all()
    assert np.isnan(found[2])


def checkpoints_with(*steps):
    points = make_checkpoints(6)
    return replace(points, file_steps=(steps, ()))


def step(title, accuracy_m, change=(0.0, 0.0, 0.0), n=5):
    return CoordinateStep(title, "invented", accuracy_m, np.tile(np.asarray(change, float), (n, 1)))


PLAIN = checkpoints_with()


def test_base_that_is_shared_is_added():
    found = common_error([base()], PLAIN)
    assert found.known
    assert_allclose(found.variances_m2, [2 * 0.008**2, 0.02**2], rtol=1e-12)
    assert "as the precise position of the base realises it" in found.relative_to
    assert "which survey and products share" in found.relative_to


def test_base_that_the_products_were_made_without_is_in_the_residuals_already():
    found = common_error([base(products_use="independent")], PLAIN)
    assert found.known
    assert_allclose(found.variances_m2, [0.0, 0.0], rtol=0, atol=0)
    assert "rest on different bases" in found.relative_to
    # Then nothing has to be known of the base either.
    assert common_error([base(sigma=None, products_use="independent")], PLAIN).known


def test_products_that_lack_the_correction_are_called_so():
    found = common_error([base(products_use="assumed")], PLAIN)
    assert "products that have been moved by the base correction" in found.relative_to
    assert "moved by the base" not in common_error([base()], PLAIN).relative_to


def test_operations_add_to_what_they_change():
    datum = step("datum", 0.03, (1.5, -0.5, 0.4))
    geoid = step("geoid", 0.02, (0.0, 0.0, 17.0))
    projection = step("projection change", None, (np.nan, np.nan, np.nan))
    found = common_error([base()], checkpoints_with(datum, projection, geoid))
    assert_allclose(found.variances_m2, [2 * 0.008**2 + 0.03**2, 0.02**2 + 0.03**2 + 0.02**2], rtol=1e-12)
    assert "operations between frames" in found.relative_to
    # The base's own uncertainty stands in its step too, and is not added twice.
    own = step("base correction", 0.02, (1.8, -1.2, 3.4))
    assert_allclose(
        common_error([base()], checkpoints_with(own)).variances_m2, [2 * 0.008**2, 0.02**2], rtol=1e-12
    )


def test_operation_between_the_two_positions_of_the_base_adds():
    # ITRF2020 to ETRS89 by way of ETRF2000 is good to 0.1 m, by the ensemble of the EPSG dataset.
    europe = (9.0, 48.0, 500.0)
    (moved,) = corrections_of(
        table(
            geographic(europe, crs="EPSG:4937"),
            geographic(europe, sigma_m=[0.008, 0.008, 0.02]),
            via="EPSG:7931",
        )
    )
    assert moved.operation_accuracy_m == pytest.approx(0.1)
    found = common_error([moved], PLAIN)
    added = moved.operation_accuracy_m**2
    assert_allclose(found.variances_m2, [2 * 0.008**2 + added, 0.02**2 + added], rtol=1e-12)


def test_without_a_base_or_its_uncertainty_nothing_absolute_is_said():
    assert common_error([], PLAIN) is NO_BASE
    unknown = common_error([base(sigma=None)], PLAIN)
    assert not unknown.known
    assert "nothing says how well the precise position of the base is known" in unknown.relative_to


SIGNS = np.resize([1.0, -1.0], 10)
RESIDUALS = residual_set(np.column_stack([0.03 * SIGNS, 0.04 * SIGNS]), 0.05 * SIGNS)


def test_absolute_figure_is_fit_and_common_error_in_quadrature():
    statistics = summarise(RESIDUALS)
    found = three_numbers(RESIDUALS, statistics, common_error([base()], PLAIN))
    for part, figure, added in zip(
        (statistics.horizontal, statistics.up), found.absolute, (2 * 0.008**2, 0.02**2), strict=True
    ):
        assert figure.rmse_m == pytest.approx(np.sqrt(0.05**2 + added), rel=1e-12)
        expected = np.sqrt(np.square(part.rmse_interval_m) + added)
        assert_allclose(figure.interval_m, expected, rtol=1e-12)
        assert figure.relative_to.startswith("the reference frame")
    # What is added is in no residual: fit and the product alone stay.
    assert found.fit[0].rmse_m == pytest.approx(0.05)


def test_three_figures_in_words_say_what_each_is_relative_to():
    statistics = summarise(RESIDUALS)
    words = in_words(three_numbers(RESIDUALS, statistics, common_error([base()], PLAIN)))
    assert "relative to the survey 0.050 m and 0.050 m" in words
    assert "of the product alone not stated and not stated" in words
    # √(50² + 8² + 8²) and √(50² + 20²) mm.
    assert "absolute, with base and frame, 0.051 m and 0.054 m." in words


def test_absolute_figure_is_missing_with_its_reason():
    statistics = summarise(RESIDUALS)
    for common in (NO_BASE, common_error([base(sigma=None)], PLAIN)):
        for figure in three_numbers(RESIDUALS, statistics, common).absolute:
            assert figure.rmse_m is None
            assert figure.interval_m is None
            assert "not stated, because" in figure.relative_to
