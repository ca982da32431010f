"""Figures of groups against plain loops."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.numerics.groups import (
    group_largest,
    group_means,
    group_medians,
    group_numbers,
    group_ranges,
    group_sums,
    ratio,
)

NAN = np.nan
COUNT = 12


@pytest.fixture(scope="module")
def table():
    """Values with gaps, in groups of which one is empty and one holds no number in the first column."""
    rng = np.random.default_rng(7)
    values, groups = rng.normal(size=(200, 3)), rng.integers(0, COUNT - 1, 200)
    values[rng.random((200, 3)) < 0.2] = NAN
    values[groups == 4, 0] = NAN
    return values, groups


@pytest.mark.parametrize(
    ("function", "plain", "least"),
    [
        (group_means, np.mean, 1),
        (group_medians, np.median, 1),
        (group_largest, np.max, 1),
        (group_ranges, np.ptp, 2),
    ],
)
def test_figure_of_a_group_is_that_of_its_numbers(table, function, plain, least):
    values, groups = table
    found = function(values, groups, COUNT)
    assert found.shape == (COUNT, 3)
    for group in range(COUNT):
        for column in range(3):
            inside = values[groups == group, column]
            numbers = inside[np.isfinite(inside)]
            expected = plain(numbers) if len(numbers) >= least else NAN
            assert_allclose(found[group, column], expected, rtol=1e-12, atol=1e-15)


def test_sums_and_numbers_leave_out_what_is_missing(table):
    values, groups = table
    assert_allclose(group_sums(values, groups, COUNT).sum(axis=0), np.nansum(values, axis=0), rtol=1e-12)
    assert_array_equal(group_numbers(values, groups, COUNT).sum(axis=0), np.isfinite(values).sum(axis=0))
    assert_array_equal(group_sums(values, groups, COUNT)[-1], [0, 0, 0])


def test_no_rows_give_no_figures():
    nothing, groups = np.empty((0, 2)), np.empty(0, dtype=np.int64)
    for function in (group_means, group_medians, group_largest, group_ranges):
        assert np.isnan(function(nothing, groups, 3)).all()


def test_ratio_knows_no_division_by_zero():
    assert_array_equal(ratio(np.array([1.0, 1.0, 0.0]), np.array([2.0, 0.0, -1.0])), [0.5, NAN, NAN])
