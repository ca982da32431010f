"""Bilinear interpolation against scipy's, and a worked example."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import ndimage

from geoqa.numerics.bilinear import between_centres, bilinear, lower_cells


def at(grid, places):
    cells, shares = lower_cells(places, grid.shape)
    rows, cols = cells.T
    corners = [grid[rows + down, cols + across] for down in (0, 1) for across in (0, 1)]
    return bilinear(np.column_stack(corners), shares)


def test_worked_example_of_a_grey_value():
    # “Bilinear interpolation”, application in image processing, Wikipedia (from memory): the grey values
    # 91 and 210 in row 20, 162 and 95 in row 21 give 146.1 at row 20.2, half way between the columns.
    value = bilinear(np.array([[91.0, 210.0, 162.0, 95.0]]), np.array([[0.2, 0.5]]))
    assert_allclose(value, [146.1], rtol=0, atol=1e-9)


def test_values_equal_those_of_scipy():
    rng = np.random.default_rng(4)
    grid = rng.normal(300.0, 5.0, (23, 31))
    places = rng.uniform([0.5, 0.5], [22.5, 30.5], (500, 2))
    expected = ndimage.map_coordinates(grid, (places - 0.5).T, order=1)
    assert_allclose(at(grid, places), expected, rtol=0, atol=1e-9)


def test_cell_centres_give_their_own_value_even_the_last():
    grid = np.arange(12.0).reshape(3, 4)
    places = np.array([[0.5, 0.5], [2.5, 3.5], [1.5, 3.5]])
    assert_allclose(at(grid, places), [0.0, 11.0, 7.0], rtol=0, atol=0)


def test_missing_corner_without_weight_still_gives_nothing():
    assert np.isnan(bilinear(np.array([[1.0, 2.0, np.nan, 4.0]]), np.array([[0.0, 0.5]]))).all()


@pytest.mark.parametrize("shape", [(1, 5), (5, 1)])
def test_no_place_in_a_single_row_or_column_lies_between_four_centres(shape):
    places = np.array([[0.5, 0.5], [0.5, 2.5], [2.5, 0.5]])
    assert not between_centres(places, shape).any()
