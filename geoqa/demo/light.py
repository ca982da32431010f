"""Sunlight on a surface: how bright slopes are, and where shadows fall."""

from math import cos, radians, sin, tan

import numpy as np
from scipy import ndimage

from geoqa.demo.noise import Field

SUN_BEARING_DEG = 148.0
SUN_ELEVATION_DEG = 47.0
_SKYLIGHT = 0.34
_SHADOW_STEP_CELLS = 1.4


def shading(surface_m: Field, cell_m: float) -> Field:
    """Return the brightness of each cell relative to level ground in full sun, shadows left out."""
    smooth = ndimage.gaussian_filter(surface_m, 0.7)
    rise_south, rise_east = np.gradient(smooth, cell_m)
    bearing, elevation = radians(SUN_BEARING_DEG), radians(SUN_ELEVATION_DEG)
    toward_east, toward_north = sin(bearing) * cos(elevation), cos(bearing) * cos(elevation)
    facing = sin(elevation) - toward_east * rise_east + toward_north * rise_south
    facing /= np.sqrt(1.0 + rise_east**2 + rise_south**2) * sin(elevation)
    shade: Field = _SKYLIGHT + (1.0 - _SKYLIGHT) * np.clip(facing, 0.0, 1.5)
    return shade.astype(np.float32)


def shadow_depth(surface_m: Field, cell_m: float, tallest_m: float) -> Field:
    """Return how many metres below the edge of a shadow each cell lies; negative in the sun.

    Objects up to `tallest_m` high throw shadows. The field is smooth enough to be enlarged before the edge
    of the shadow is drawn where it passes 0.
    """
    bearing, climb = radians(SUN_BEARING_DEG), tan(radians(SUN_ELEVATION_DEG)) * cell_m
    reach = int(tallest_m / climb) + 1
    ceiling = np.full(surface_m.shape, -np.inf, np.float32)
    for step in range(1, int(reach / _SHADOW_STEP_CELLS) + 1):
        cells = step * _SHADOW_STEP_CELLS
        down, right = round(-cells * cos(bearing)), round(cells * sin(bearing))
        here, there = _shifted(surface_m.shape, down, right)
        np.maximum(ceiling[here], surface_m[there] - np.float32(cells * climb), out=ceiling[here])
    depth: Field = np.clip(ceiling - surface_m, -1.0, 1.0)
    return ndimage.gaussian_filter(depth, 0.8)


def _shifted(
    shape: tuple[int, ...], down: int, right: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Return windows such that the second lies `down` rows and `right` columns from the first."""
    rows, cols = shape
    here = (
        slice(max(0, -down), rows - max(0, down)),
        slice(max(0, -right), cols - max(0, right)),
    )
    there = (slice(max(0, down), rows + min(0, down)), slice(max(0, right), cols + min(0, right)))
    return here, there
