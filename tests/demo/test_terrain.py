"""Heights of invented ground against what the parts of a site say."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.demo.fixture import QUARRY_CORNER
from geoqa.demo.quenzelau import QUENZELAU
from geoqa.demo.site import Block, Pile, Pit
from geoqa.demo.terrain import Terrain, pile_height, pit_depth, surface_of

GREY = (168.0, 166.0, 162.0)


def test_stockpile_is_as_high_as_asked_and_ends_near_its_radius() -> None:
    pile = Pile((0.0, 0.0), (0.0, 0.0), 6.0, 4.0, GREY)
    east = np.linspace(-9, 9, 181)
    height = pile_height(pile, east, np.zeros(181))
    assert_allclose(height.max(), 4.0, rtol=0, atol=0.05)
    assert (height[abs(east) > 7.0] == 0).all()
    assert (height[abs(east) < 4.5] > 0.5).all()


def test_pit_is_as_deep_as_its_banks_together_and_leaves_the_land_around_alone() -> None:
    pit = Pit(centre=(100.0, 80.0), half_axes_m=(60.0, 50.0), bank_depths_m=(3.0, 2.0))
    depth = pit_depth(pit, np.array([100.0, 80.0, 100.0, 175.0]), np.array([82.0, 80.0, 145.0, 80.0]))
    assert_allclose(depth, [5.0, 5.0, 0.0, 0.0], rtol=0, atol=1e-9)


def test_height_at_a_place_is_the_same_alone_and_within_a_grid() -> None:
    terrain = Terrain(QUARRY_CORNER)
    east, north = QUARRY_CORNER.grid.places()
    grid = terrain.height_m(east, north)
    assert grid.shape == (100, 140)
    assert_allclose(terrain.height_m(east[0, 31], north[17, 0]), grid[17, 31], rtol=0, atol=1e-9)
    # Row 0 is the northernmost: 25 m up, half a cell down.
    assert north[0, 0] == pytest.approx(24.875)


def test_building_stands_on_the_surface_and_not_on_the_ground() -> None:
    site = replace(QUARRY_CORNER, blocks=(Block((10.0, 10.0), 6.0, 2.0, 2.5, 90.0, GREY),), hedges=())
    surface = surface_of(Terrain(site))
    above = surface.surface_m - surface.ground_m
    east, north = site.grid.places()
    inside = (abs(east - 10.0) < 2.8) & (abs(north - 10.0) < 0.8)
    # The roof is level, the ground below rises by up to 4 %.
    assert_allclose(above[inside], 2.5, rtol=0, atol=0.15)
    assert_allclose(above[~((abs(east - 10.0) < 3.3) & (abs(north - 10.0) < 1.3))], 0, rtol=0, atol=1e-4)


def test_pond_is_level() -> None:
    surface = surface_of(Terrain(QUENZELAU))
    water = surface.surface_m[(surface.water_m > 0.05) & (surface.crown_m < 0)]
    assert water.size > 5000
    assert_allclose(water, QUENZELAU.pond.level_m, rtol=0, atol=1e-3)
