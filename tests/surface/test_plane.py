"""Planes around points against exact planes and numpy's least squares."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.surface.plane import fit_planes, plane_window

AXES = {
    "north up": [[0.0, 0.25], [-0.25, 0.0]],
    "south up": [[0.0, 0.25], [0.25, 0.0]],
    "oblong cells": [[0.0, 0.1], [-0.4, 0.0]],
    "turned and sheared": [[0.103, 0.257], [-0.171, 0.155]],
    "feet": [[0.0, 0.9144], [-0.9144, 0.0]],
}


def steps(window):
    rows, cols = np.meshgrid(window.row_offsets, window.col_offsets, indexing="ij")
    return np.stack([rows.ravel(), cols.ravel()])


def least_squares(cells, window):
    """Return rise for each metre east and north, rms and largest deviation, by numpy."""
    there = np.isfinite(cells)
    east, north = window.cell_axes_m @ steps(window)
    design = np.column_stack([np.ones_like(east), east, north])[there]
    solution = np.linalg.lstsq(design, cells[there], rcond=None)[0]
    deviation = cells[there] - design @ solution
    return [*solution[1:], np.sqrt(np.mean(deviation**2)), np.abs(deviation).max()]


@pytest.mark.parametrize("axes", AXES.values(), ids=AXES)
def test_tilted_plane_gives_its_own_gradient(axes):
    window = plane_window(np.array(axes))
    east, north = window.cell_axes_m @ steps(window)
    planes = fit_planes((312.0 + 0.07 * east - 0.12 * north)[None], window)
    assert_allclose(planes.gradient, [[0.07, -0.12]], rtol=0, atol=1e-10)
    assert_allclose([planes.roughness, planes.relief], 0.0, rtol=0, atol=1e-10)


@pytest.mark.parametrize("axes", AXES.values(), ids=AXES)
def test_plane_through_rough_cells_is_that_of_least_squares(axes):
    window = plane_window(np.array(axes))
    rng = np.random.default_rng(6)
    cells = rng.normal(250.0, 0.3, (20, window.size))
    cells[10:][rng.random((10, window.size)) < 0.6] = np.nan
    planes = fit_planes(cells, window)
    found = np.column_stack([planes.gradient, planes.roughness, planes.relief])
    assert_allclose(found, [least_squares(row, window) for row in cells], rtol=1e-9, atol=1e-9)


def test_fewer_than_six_cells_carry_no_plane():
    window = plane_window(np.array(AXES["north up"]))
    cells = np.full((2, window.size), np.nan)
    cells[:, [0, 4, 7, 18, 24]] = 100.0
    cells[1, 12] = 100.0
    planes = fit_planes(cells, window)
    assert np.isnan(planes.roughness).tolist() == [True, False]
    assert np.isnan(planes.gradient).tolist() == [[True, True], [False, False]]


@pytest.mark.parametrize("line", ["row", "column", "diagonal"])
def test_cells_in_one_line_carry_no_plane(line):
    window = plane_window(np.array([[0.0, 0.1], [-0.1, 0.0]]))
    rows, cols = steps(window)
    chosen = {"row": rows == 3, "column": cols == -2, "diagonal": rows == cols}[line]
    cells = np.where(chosen, 100.0 + 0.01 * rows, np.nan)[None]
    assert chosen.sum() >= 6
    planes = fit_planes(cells, window)
    assert np.isnan([*planes.gradient[0], planes.roughness[0], planes.relief[0]]).all()


def test_no_windows_give_no_planes():
    window = plane_window(np.array(AXES["north up"]))
    assert fit_planes(np.empty((0, window.size)), window).gradient.shape == (0, 2)


def test_roughness_is_the_noise_and_relief_its_largest_value():
    window = plane_window(np.array([[0.0, 0.1], [-0.1, 0.0]]))
    noise = np.random.default_rng(8).normal(0.0, 0.02, (400, window.size))
    planes = fit_planes(300.0 + noise, window)
    # Three parameters are fitted to 121 cells: the mean square falls by 3 of 121.
    assert_allclose(np.sqrt(np.mean(planes.roughness**2)), 0.02 * np.sqrt(118 / 121), rtol=0.01, atol=0)
    assert (planes.relief > planes.roughness).all()


@pytest.mark.parametrize("cell_m", [0.004, 0.01, 0.02, 0.03, 0.05, 0.1, 0.15, 0.2])
def test_window_on_a_fine_raster_is_a_metre_with_at_most_15_cells_a_side(cell_m):
    window = plane_window(np.array([[0.0, cell_m], [-cell_m, 0.0]]))
    offsets = window.row_offsets
    assert len(offsets) <= 15
    assert (offsets == -offsets[::-1]).all()
    # Half a metre on either side, the cell itself and a step of the thinning.
    step = (offsets[1] - offsets[0]) * cell_m
    assert abs((offsets[-1] + 0.5) * cell_m - 0.5) <= step
    assert (np.diff(offsets) == offsets[1] - offsets[0]).all()


@pytest.mark.parametrize("cell_m", [0.2, 0.25, 1.0, 90.0])
def test_window_on_a_coarse_raster_is_five_cells(cell_m):
    assert plane_window(np.array([[0.0, cell_m], [-cell_m, 0.0]])).row_offsets.tolist() == [-2, -1, 0, 1, 2]


def test_window_follows_the_length_of_each_side_of_a_cell():
    window = plane_window(np.array(AXES["oblong cells"]))
    assert window.row_offsets.tolist() == [-2, -1, 0, 1, 2]
    assert window.col_offsets.tolist() == list(range(-5, 6))
