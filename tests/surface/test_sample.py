"""What becomes of a point, and why."""

import numpy as np
import pytest

from geoqa.records.measurements import SurfaceStatus
from geoqa.surface.sample import (
    Outcome,
    missing_heights,
    outcomes_by_corners,
    outcomes_by_place,
    statuses_and_reasons,
)

NAN = float("nan")


@pytest.mark.parametrize(
    ("place", "outcome"),
    [
        ((5.0, 5.0), Outcome.SAMPLED),
        ((0.5, 0.5), Outcome.SAMPLED),
        ((9.5, 19.5), Outcome.SAMPLED),
        ((0.49, 5.0), Outcome.RIM),
        ((5.0, 19.51), Outcome.RIM),
        ((0.0, 0.0), Outcome.RIM),
        ((-0.01, 5.0), Outcome.OUTSIDE),
        ((10.0, 5.0), Outcome.OUTSIDE),
        ((5.0, 1e300), Outcome.OUTSIDE),
        ((NAN, 5.0), Outcome.NO_POSITION),
        ((float("inf"), 5.0), Outcome.NO_POSITION),
    ],
)
def test_place_in_a_raster_of_10_rows_and_20_columns(place, outcome):
    assert outcomes_by_place(np.array([place]), (10, 20), np.array([True])).tolist() == [outcome]


def test_point_that_wants_no_height_is_not_sought_wherever_it_lies():
    places = np.array([[5.0, 5.0], [-9.0, 5.0], [NAN, NAN]])
    assert outcomes_by_place(places, (10, 20), np.zeros(3, dtype=bool)).tolist() == [Outcome.NOT_SOUGHT] * 3


@pytest.mark.parametrize(
    ("corners", "outcome"),
    [
        ([100.0, 101.0, 102.0, 103.0], Outcome.SAMPLED),
        ([0.0, 0.0, 0.0, 0.0], Outcome.SAMPLED),
        ([100.0, 101.0, 102.0, NAN], Outcome.BESIDE_HOLE),
        ([-1.0, 101.0, 102.0, 103.0], Outcome.BESIDE_HOLE),
        ([100.0, float("inf"), 102.0, 103.0], Outcome.BESIDE_HOLE),
        ([-1.0, -1.0, NAN, -1.0], Outcome.HOLE),
        ([-9999.0, 101.0, 102.0, 103.0], Outcome.UNDECLARED),
        ([-32767.0, -32767.0, -32767.0, -32767.0], Outcome.UNDECLARED),
        ([3.4e38, 101.0, 102.0, 103.0], Outcome.UNDECLARED),
    ],
)
def test_numbers_around_a_point_where_nodata_is_minus_1(corners, outcome):
    assert outcomes_by_corners(np.array([corners]), -1.0).tolist() == [outcome]


def test_declared_nodata_is_a_hole_though_it_is_a_customary_number():
    corners = np.full((1, 4), -9999.0)
    assert outcomes_by_corners(corners, -9999.0).tolist() == [Outcome.HOLE]


@pytest.mark.parametrize("nodata", [None, -9999.0, 0.0])
def test_missing_heights_are_told_alike_with_and_without_low_numbers_among_them(nodata):
    heights = np.array([12.5, NAN, 80.0, 0.0])
    expected = [False, True, False, nodata == 0.0]
    assert missing_heights(heights, nodata).tolist() == expected
    assert missing_heights(np.append(heights, -9999.0), nodata).tolist() == [*expected, True]


def test_every_outcome_but_a_height_has_a_reason():
    codes = np.array([int(outcome) for outcome in Outcome])
    statuses, reasons = statuses_and_reasons(codes)
    for outcome, status, reason in zip(Outcome, statuses, reasons, strict=True):
        wordless = outcome in (Outcome.SAMPLED, Outcome.NOT_SOUGHT)
        assert (reason is None) == wordless
        assert (status is SurfaceStatus.SAMPLED) == (outcome is Outcome.SAMPLED)
