"""Heights of an invented site: the ground at any place, and the surface that a drone would model."""

from dataclasses import dataclass
from functools import cached_property
from math import cos, radians, sin

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from geoqa.demo.noise import Field, smooth_noise
from geoqa.demo.site import Block, Hedge, Pile, Pit, Pond, Site
from geoqa.numerics.arrays import BoolArray, FloatArray

_UNDULATION_STEP_M = 1.0
# Grain in metres and height in metres of the unevenness of ground that machines have graded.
_UNDULATIONS = ((40.0, 0.22), (12.0, 0.05), (3.0, 0.008))


@dataclass(frozen=True)
class Terrain:
    """The bare ground of a site, known at any place."""

    site: Site

    def height_m(self, east: ArrayLike, north: ArrayLike) -> FloatArray:
        """Return the height of the ground at places that broadcast against each other."""
        site = self.site
        across, along = np.broadcast_arrays(np.asarray(east, float), np.asarray(north, float))
        height: FloatArray = (
            site.ground_m
            + site.rise[0] * (across - site.size_m[0] / 2)
            + site.rise[1] * (along - site.size_m[1] / 2)
            + self._undulation(across, along)
        )
        if site.pit is not None:
            height = height - pit_depth(site.pit, across, along)
        if site.pond is not None:
            height = height - site.pond.depth_m * np.exp(-(_pond_distance(site.pond, across, along) ** 2))
        for pile in site.piles:
            height = height + pile_height(pile, across, along)
        return height

    @cached_property
    def _coefficients(self) -> FloatArray:
        site = self.site
        shape = tuple(round(length / _UNDULATION_STEP_M) + 5 for length in reversed(site.size_m))
        rng = site.rng(1)
        total = np.zeros(shape)
        for grain_m, height_m in _UNDULATIONS:
            total += height_m * smooth_noise((shape[0], shape[1]), grain_m / _UNDULATION_STEP_M, rng)
        filtered: FloatArray = ndimage.spline_filter(total)
        return filtered

    def _undulation(self, east: FloatArray, north: FloatArray) -> FloatArray:
        places = np.stack([north / _UNDULATION_STEP_M + 2.0, east / _UNDULATION_STEP_M + 2.0])
        height: FloatArray = ndimage.map_coordinates(
            self._coefficients, places.reshape(2, -1), prefilter=False, mode="nearest"
        )
        return height.reshape(places.shape[1:])


def pit_distance(pit: Pit, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return metres inward from the rim of a pit (negative outside), and 0 to 1 for being on the ramp."""
    across, along = east - pit.centre[0], north - pit.centre[1]
    angle = np.arctan2(along, across)
    out = np.hypot(across / pit.half_axes_m[0], along / pit.half_axes_m[1])
    out = out / (1.0 + 0.05 * np.sin(3 * angle + 1.0) + 0.025 * np.sin(7 * angle + 0.4))
    from_centre = np.hypot(across, along)
    inward: FloatArray = from_centre / np.maximum(out, 1e-6) - from_centre
    ramp = radians(pit.ramp_bearing_deg)
    aside = np.abs(across * cos(ramp) - along * sin(ramp))
    ahead = across * sin(ramp) + along * cos(ramp) > 0
    on_ramp: FloatArray = ahead * _step((11.0 - aside) / 6.0)
    return inward, on_ramp


def pit_depth(pit: Pit, east: FloatArray, north: FloatArray) -> FloatArray:
    """Return how far the ground was dug away, in metres."""
    inward, on_ramp = pit_distance(pit, east, north)
    upper, lower = (
        steep + on_ramp * (long - steep)
        for steep, long in zip(pit.bank_widths_m, pit.ramp_lengths_m, strict=True)
    )
    bench = pit.bench_m * (1.0 - 0.8 * on_ramp)
    depth: FloatArray = pit.bank_depths_m[0] * _slope(inward / upper)
    return depth + pit.bank_depths_m[1] * _slope((inward - upper - bench) / lower)


def pile_height(pile: Pile, east: FloatArray, north: FloatArray) -> FloatArray:
    """Return the height of a stockpile above the ground, in metres; 0 beyond its foot."""
    (east_0, north_0), (east_1, north_1) = pile.start, pile.end
    length = max((east_1 - east_0) ** 2 + (north_1 - north_0) ** 2, 1e-9)
    share = ((east - east_0) * (east_1 - east_0) + (north - north_0) * (north_1 - north_0)) / length
    share = np.clip(share, 0.0, 1.0)
    across = east - east_0 - share * (east_1 - east_0)
    along = north - north_0 - share * (north_1 - north_0)
    angle = np.arctan2(along, across)
    lumps = 1.0 + 0.05 * np.sin(3 * angle + pile.radius_m) + 0.03 * np.sin(8 * angle + pile.height_m)
    # Rounded off at the top: loose gravel stands at its angle of repose but has no sharp peak.
    out = np.sqrt((np.hypot(across, along) / lumps) ** 2 + 0.6**2) - 0.6
    cone = pile.height_m * (1.0 - out / (pile.radius_m - 0.6))
    foot = 0.12
    rounded: FloatArray = np.maximum(0.5 * (cone + np.sqrt(cone**2 + foot**2)) - 0.02, 0.0)
    return rounded


@dataclass(frozen=True)
class Surface:
    """Heights on the cells of the elevation raster, free of the product's errors.

    Attributes
    ----------
    ground_m, surface_m : arrays, shape (rows, cols)
        Bare ground; with water, plants and buildings on it.
    crown_m : array
        Metres within the crown of a tree; negative outside.
    water_m : array
        Depth of the water; negative above its level.
    """

    ground_m: Field
    surface_m: Field
    crown_m: Field
    water_m: Field


def surface_of(terrain: Terrain) -> Surface:
    """Return ground and surface of a site on the cells of its elevation raster."""
    site, grid = terrain.site, terrain.site.grid
    ground = terrain.height_m(*grid.places()).astype(np.float32)
    water = np.full(grid.shape, -1.0, np.float32)
    if site.pond is not None:
        near = _pond_distance(site.pond, *grid.places()) < 2.0
        water = np.where(near, np.float32(site.pond.level_m) - ground, water)
    surface = ground + np.maximum(water, 0) + _plants(site, grid.places())
    crown = np.full(grid.shape, -1.0, np.float32)
    rng = site.rng(2)
    for hedge in site.hedges:
        _grow(site, hedge, crown, surface, rng)
    for block in site.blocks:
        _build(site, block, surface, ground)
    return Surface(ground, surface, crown, water)


def block_axes(block: Block, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return metres along and across a block from its centre."""
    turn = radians(block.bearing_deg)
    away, up = east - block.centre[0], north - block.centre[1]
    return away * sin(turn) + up * cos(turn), away * cos(turn) - up * sin(turn)


def within(box: tuple[float, float, float, float], east: FloatArray, north: FloatArray) -> BoolArray:
    """Return where places lie between west, east, south and north."""
    west, east_end, south, north_end = box
    inside: BoolArray = (east >= west) & (east < east_end) & (north >= south) & (north < north_end)
    return inside


def _plants(site: Site, places: tuple[FloatArray, FloatArray]) -> Field:
    height = np.zeros(site.grid.shape, np.float32)
    sway = 1.0 + 0.05 * smooth_noise(site.grid.shape, 1.5 / site.cell_m, site.rng(3))
    for parcel in site.parcels:
        inside = within((parcel.west_m, parcel.east_m, parcel.south_m, parcel.north_m), *places)
        height = np.where(inside, parcel.height_m * sway, height)
    return height.astype(np.float32)


def _grow(site: Site, hedge: Hedge, crown: Field, surface: Field, rng: np.random.Generator) -> None:
    """Add the trees of a hedge to the crowns and the surface, in place."""
    start, end = np.array(hedge.start), np.array(hedge.end)
    for number in range(hedge.count):
        place = start + (end - start) * (number + rng.random()) / hedge.count
        place = place + rng.uniform(-hedge.spread_m, hedge.spread_m, 2)
        radius = rng.uniform(*hedge.radius_m)
        window = site.grid.around(((place[0], place[1]),), radius + 0.6)
        east, north = site.grid.places(window)
        if 0 in (east.size, north.size):
            continue
        shape = (north.size, east.size)
        lumps, ragged = (smooth_noise(shape, grain / site.cell_m, rng) for grain in (0.8, 1.6))
        out = np.hypot(east - place[0], north - place[1]) * (1.0 + 0.09 * ragged + 0.05 * lumps)
        dome = np.sqrt(np.clip(1.0 - (out / radius) ** 2, 0.0, None))
        top = radius * (0.6 + 1.2 * dome * (1.0 + 0.12 * lumps)) * (out < radius)
        crown[window] = np.maximum(crown[window], radius - out)
        base = surface[window].min()
        surface[window] = np.where(top > 0, np.maximum(surface[window], base + top), surface[window])


def _build(site: Site, block: Block, surface: Field, ground: Field) -> None:
    """Put a block on the surface, in place."""
    window = site.grid.around((block.centre,), block.length_m / 2 + block.width_m)
    along, across = block_axes(block, *site.grid.places(window))
    inside = (abs(along) < block.length_m / 2) & (abs(across) < block.width_m / 2)
    ridge = block.gable * 0.25 * (block.width_m / 2 - abs(across))
    foot = float(ground[window].mean())
    surface[window] = np.where(inside, foot + block.height_m + ridge, surface[window])


def _pond_distance(pond: Pond, east: FloatArray, north: FloatArray) -> FloatArray:
    across = (east - pond.centre[0]) / pond.half_axes_m[0]
    along = (north - pond.centre[1]) / pond.half_axes_m[1]
    angle = np.arctan2(along, across)
    wavy: FloatArray = np.hypot(across, along) / (
        1.0 + 0.12 * np.sin(2 * angle + 0.7) + 0.05 * np.sin(3 * angle + 2.0)
    )
    return wavy


def _step(share: FloatArray) -> FloatArray:
    clipped = np.clip(share, 0.0, 1.0)
    smooth: FloatArray = clipped * clipped * (3.0 - 2.0 * clipped)
    return smooth


def _slope(share: FloatArray) -> FloatArray:
    """Return an even slope from 0 to 1 with rounded crest and foot."""
    clipped = np.clip(share, 0.0, 1.0)
    return 0.6 * clipped + 0.4 * _step(clipped)
