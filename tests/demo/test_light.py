"""Light and shadow against Lambert's law and the height of the sun."""

from math import cos, radians, sin, tan

import numpy as np
from numpy.testing import assert_allclose

from geoqa.demo.light import SUN_BEARING_DEG, SUN_ELEVATION_DEG, shading, shadow_depth

CELL_M = 0.2


def test_level_ground_has_brightness_one() -> None:
    assert_allclose(shading(np.full((20, 20), 5.0, np.float32), CELL_M), 1.0, rtol=0, atol=1e-6)


def test_slope_toward_the_sun_is_brighter_by_lamberts_law_and_away_from_it_darker() -> None:
    # Direct light on a slope s facing the sun: sin(elevation + s)/sin(elevation) of that on level ground.
    rows, cols = np.mgrid[:60, :60] * CELL_M
    bearing, slope = radians(SUN_BEARING_DEG), radians(15.0)
    toward_sun = cols * sin(bearing) - rows * cos(bearing)
    away, facing = (
        shading((sign * tan(slope) * toward_sun).astype(np.float32), CELL_M)[20:-20, 20:-20].mean()
        for sign in (1.0, -1.0)
    )
    elevation = radians(SUN_ELEVATION_DEG)
    direct = [sin(elevation + sign * slope) / sin(elevation) for sign in (1, -1)]
    # Skylight, the same on both, makes up the rest of the brightness 1 of level ground.
    assert facing > 1.0 > away
    assert_allclose((facing - 1.0) / (1.0 - away), (direct[0] - 1) / (1 - direct[1]), rtol=0.01, atol=0)


def test_shadow_of_a_pole_is_as_long_as_its_height_over_the_tangent_of_the_sun() -> None:
    surface = np.zeros((160, 160), np.float32)
    surface[100:104, 78:82] = 4.0
    dark = shadow_depth(surface, CELL_M, 4.0) > 0
    rows, cols = np.nonzero(dark)
    bearing = radians(SUN_BEARING_DEG + 180.0)
    along = ((cols - 79.5) * sin(bearing) - (rows - 101.5) * cos(bearing)) * CELL_M
    assert_allclose(along.max(), 4.0 / tan(radians(SUN_ELEVATION_DEG)), rtol=0, atol=0.6)
    assert along.min() > -0.6
