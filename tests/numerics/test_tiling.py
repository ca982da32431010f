"""Tiles and the windows that reach into them, against counting cell by cell."""

import numpy as np
import pytest

from geoqa.numerics.tiling import Window, visit_counts, visits

TILE = (8, 5)


def some_windows(n=60, seed=2):
    rng = np.random.default_rng(seed)
    first = rng.integers(0, 40, (n, 2))
    return np.hstack([first, first + rng.integers(0, 14, (n, 2))])


def cell_by_cell(windows):
    """Return tile → windows with a cell in it."""
    found = {}
    for number, (row0, col0, row1, col1) in enumerate(windows.tolist()):
        for row in range(row0, row1):
            for col in range(col0, col1):
                found.setdefault((row // TILE[0], col // TILE[1]), set()).add(number)
    return found


def tile_of(window):
    return window.row0 // TILE[0], window.col0 // TILE[1]


def test_each_tile_is_visited_once_row_by_row():
    windows = some_windows()
    tiles = [tile_of(visit.window) for visit in visits(windows, TILE)]
    assert tiles == sorted(cell_by_cell(windows))


def test_members_are_the_windows_with_a_cell_in_the_tile():
    windows = some_windows()
    expected = cell_by_cell(windows)
    for visit in visits(windows, TILE):
        assert visit.members.tolist() == sorted(expected[tile_of(visit.window)])


def test_part_of_the_tile_is_the_smallest_that_holds_what_is_wanted():
    windows = some_windows()
    for visit in visits(windows, TILE):
        row, col = tile_of(visit.window)
        wanted = np.zeros((60, 60), dtype=bool)
        for row0, col0, row1, col1 in windows.tolist():
            wanted[row0:row1, col0:col1] = True
        in_tile = np.argwhere(wanted[row * 8 : row * 8 + 8, col * 5 : col * 5 + 5])
        inside = in_tile + np.array([row * 8, col * 5])
        low, high = inside.min(axis=0), inside.max(axis=0) + 1
        assert visit.window == Window(low[0], high[0], low[1], high[1])


def test_counts_are_the_number_of_tiles_of_each_window():
    windows = some_windows()
    expected = [sum(number in members for members in cell_by_cell(windows).values()) for number in range(60)]
    assert visit_counts(windows, TILE).tolist() == expected


@pytest.mark.parametrize("windows", [np.zeros((0, 4), dtype=int), np.array([[3, 3, 3, 9], [5, 2, 7, 2]])])
def test_windows_without_cells_are_in_no_tile(windows):
    assert list(visits(windows, TILE)) == []
    assert visit_counts(windows, TILE).sum() == 0
