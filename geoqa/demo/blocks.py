"""Roofs, containers and machines of an invented site, painted at full resolution."""

from math import cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from geoqa.demo.light import SUN_BEARING_DEG
from geoqa.demo.site import Block, Grid, Site
from geoqa.demo.terrain import block_axes
from geoqa.numerics.arrays import FloatArray

_GRAIN = 0.02


def paint_blocks(site: Site, picture: NDArray[np.uint8], rng: np.random.Generator) -> None:
    """Paint all blocks of a site into its picture, in place."""
    grid = Grid(site.size_m, site.pixel_m)
    for block in site.blocks:
        window = grid.around((block.centre,), hypot(block.length_m, block.width_m) / 2 + 0.2)
        along, across = block_axes(block, *grid.places(window))
        margin = np.minimum(block.length_m / 2 - abs(along), block.width_m / 2 - abs(across))
        share = np.clip(margin / site.pixel_m + 0.5, 0.0, 1.0)
        light = _light(block, along, across) * (1.0 + _GRAIN * rng.standard_normal(share.shape))
        light *= 1.0 - 0.25 * (margin < 0.10)
        for band in range(3):
            beneath = picture[band][window].astype(float)
            painted = beneath + share * (block.colour[band] * light - beneath)
            picture[band][window] = np.clip(painted + 0.5, 0, 255)


def _light(block: Block, along: FloatArray, across: FloatArray) -> FloatArray:
    """Return the brightness of a roof: its two sides, its sheets and the weather on it."""
    light: FloatArray = np.ones(np.broadcast_shapes(along.shape, across.shape))
    if block.gable:
        turn = radians(SUN_BEARING_DEG - block.bearing_deg)
        light = light + 0.18 * np.sign(across * sin(turn))
        light = np.where(abs(across) < 0.15, 1.15, light)
    if block.seam_m:
        light = light * (1.0 + 0.07 * np.cos(2 * np.pi * along / block.seam_m))
    return light * (1.0 + 0.03 * np.sin(1.1 * along) * cos(block.length_m) + 0.03 * np.sin(2.3 * across))
