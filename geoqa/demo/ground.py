"""Colours of the ground of an invented site, and the picture that a drone would take of it.

Everything wider than a few decimetres is painted on the cells of the elevation raster and enlarged;
grain, tufts, and the edges of plants, water and shadows are drawn at full resolution, in strips of rows.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from geoqa.demo.light import shading, shadow_depth
from geoqa.demo.noise import Field, enlarge_rows, smooth_noise
from geoqa.demo.site import Colour, Parcel, Site
from geoqa.demo.terrain import Surface, pile_height, pit_distance, within
from geoqa.demo.wheels import tyre_marks, wear_of
from geoqa.numerics.arrays import FloatArray

_GRAVEL: Colour = (197.0, 184.0, 160.0)
_MEADOW: Colour = (118.0, 131.0, 78.0)
_DRY_GRASS: Colour = (162.0, 156.0, 104.0)
_SCRUB: Colour = (98.0, 113.0, 66.0)
_CROWN: Colour = (84.0, 104.0, 60.0)
_SHALLOWS: Colour = (150.0, 160.0, 128.0)
_DEEP_WATER: Colour = (58.0, 104.0, 100.0)
_SHADOW: Colour = (0.40, 0.44, 0.52)
_TALLEST_M = 9.0
# A multiple of the steps of the lumps, which therefore run on from strip to strip.
_STRIP_CELLS = 24
# Width in pixels and weight of the lumps.
_LUMPS = ((3, 0.75), (6, 0.9))
_SUN_STEP_M = 0.10


@dataclass(frozen=True)
class Cover:
    """What covers each cell, as fields that are smooth enough to be enlarged.

    Attributes
    ----------
    bare, green : arrays, shape (3, rows, cols)
        Colours of the bare ground and of what grows.
    growth : array
        Above 0 where plants cover the ground.
    crown, water : arrays
        As in `Surface`.
    shade, shadow : arrays
        Of the functions in `light`.
    grain : array
        Standard deviation of the fine texture, as a share of the brightness.
    """

    bare: Field
    green: Field
    growth: Field
    crown: Field
    water: Field
    shade: Field
    shadow: Field
    grain: Field


def cover_of(site: Site, surface: Surface) -> Cover:
    """Return colours, plants, water and light on the cells of the elevation raster."""
    rng = site.rng(4)
    tones = [_noise(site, grain_m, rng) for grain_m in (30.0, 9.0, 2.5, 0.7)]
    wear = wear_of(site)
    growth = _growth(site, tones, wear)
    grain = 0.065 + 0.04 * np.clip(growth + 0.3, 0.0, 1.0)
    rough = 0.011 * _noise(site, 0.45, rng) + 0.016 * _noise(site, 1.3, rng)
    steep = np.clip(np.hypot(*np.gradient(surface.ground_m, site.cell_m)) / 0.3, 0.0, 1.5)
    calm = np.where((surface.water_m > 0) & (surface.crown_m < 0), 0.2, 1.0)
    shaded = surface.surface_m + calm * (1.0 + 2.0 * steep) * rough
    return Cover(
        bare=_bare_colours(site, surface, tones, wear),
        green=_green_colours(site, tones, rng),
        growth=growth,
        crown=surface.crown_m,
        water=surface.water_m,
        shade=shading(shaded.astype(np.float32), site.cell_m),
        shadow=shadow_depth(surface.surface_m, site.cell_m, _TALLEST_M),
        grain=np.where(surface.crown_m > 0, np.float32(0.17), grain).astype(np.float32),
    )


def draw(site: Site, cover: Cover) -> NDArray[np.uint8]:
    """Return the picture of the ground at full resolution, shape (3, rows, cols)."""
    factor = site.factor
    rows, cols = (length * factor for length in site.grid.shape)
    picture = np.empty((3, rows, cols), np.uint8)
    rng = site.rng(11)
    lumps = _lumps((rows, cols), rng)
    for first, strip in _strips(cover):
        part = slice(first * factor, min((first + _STRIP_CELLS) * factor, rows))
        fine, tufts = _texture(lumps, part, cols, rng)
        picture[:, part] = _strip_colours(strip, factor, fine, tufts)
    return picture


def _strips(cover: Cover) -> Iterator[tuple[int, Cover]]:
    """Yield the first row and the cover of strips of rows, with one further row and column all round."""
    padded = {
        item.name: np.pad(
            getattr(cover, item.name),
            ((0, 0),) * (getattr(cover, item.name).ndim - 2) + ((1, 1), (1, 1)),
            mode="edge",
        )
        for item in fields(cover)
    }
    for first in range(0, cover.growth.shape[0], _STRIP_CELLS):
        rows = slice(first, first + _STRIP_CELLS + 2)
        yield first, Cover(**{name: values[..., rows, :] for name, values in padded.items()})


def _strip_colours(strip: Cover, factor: int, fine: Field, tufts: Field) -> NDArray[np.uint8]:
    growth, crown, water, shade, shadow, grain = (
        enlarge_rows(values, factor)
        for values in (strip.growth, strip.crown, strip.water, strip.shade, strip.shadow, strip.grain)
    )
    green_share = _edge(growth + 0.22 * tufts + 0.10 * fine, 0.18)
    crown_share = _edge(crown + 0.12 * tufts, 0.15)
    water_share = _edge(water + 0.01 * tufts, 0.04)
    dark_share = _edge(shadow, _SUN_STEP_M)
    rough = grain * (0.7 * fine + 0.5 * tufts + 0.6 * _relief(fine, tufts))
    light = 1.0 + rough * np.maximum(1.0 - water_share, crown_share)
    sunlit = shade * (1.0 - dark_share)
    depth = np.clip(water / 1.2, 0.0, 1.0)
    colours = np.empty((3, *growth.shape), np.uint8)
    for band in range(3):
        colour = enlarge_rows(strip.bare[band], factor)
        colour += green_share * (enlarge_rows(strip.green[band], factor) - colour)
        pool = _SHALLOWS[band] + depth * (_DEEP_WATER[band] - _SHALLOWS[band])
        colour += water_share * (pool - colour)
        colour += crown_share * (_CROWN[band] - colour)
        colour *= light * (sunlit + dark_share * _SHADOW[band])
        colours[band] = np.clip(colour + 0.5, 0, 255)
    return colours


def _lumps(shape: tuple[int, int], rng: np.random.Generator) -> list[Field]:
    """Return noise on coarser grids for the lumps of a picture, with one further cell all round."""
    return [
        np.float32(weight) * rng.standard_normal([length // step + 3 for length in shape], dtype=np.float32)
        for step, weight in _LUMPS
    ]


def _texture(lumps: list[Field], rows: slice, cols: int, rng: np.random.Generator) -> tuple[Field, Field]:
    """Return grain of about a pixel and lumps of a few pixels, each of standard deviation about 1."""
    count = rows.stop - rows.start
    sharp = rng.standard_normal((count + 2, cols + 2), dtype=np.float32)
    sharp = sharp[:-2] + 2.0 * sharp[1:-1] + sharp[2:]
    fine = (sharp[:, :-2] + 2.0 * sharp[:, 1:-1] + sharp[:, 2:]) / np.float32(6.0)
    tufts = np.zeros((count, cols), np.float32)
    for (step, _), coarse in zip(_LUMPS, lumps, strict=True):
        first, last = rows.start // step, -(-rows.stop // step)
        tufts += enlarge_rows(coarse[first : last + 2], step)[:count, :cols]
    return fine, tufts


def _relief(fine: Field, tufts: Field) -> Field:
    """Return light and shade on stones and tufts, as the sun from the south-south-east gives them."""
    stones = np.pad(np.maximum(tufts + 0.5 * fine - 0.6, 0.0), 1, mode="edge")
    lit: Field = stones[2:, 2:] - stones[:-2, :-2]
    return lit


def _edge(field: Field, width: float) -> Field:
    """Return 0 below, 1 above the zero line of a field, rising evenly over `width`."""
    share: Field = np.clip(field * np.float32(1.0 / width) + np.float32(0.5), 0.0, 1.0)
    return share


def _noise(site: Site, grain_m: float, rng: np.random.Generator) -> Field:
    return smooth_noise(site.grid.shape, max(grain_m / site.cell_m, 1.0), rng)


def _growth(site: Site, tones: list[Field], wear: Field) -> Field:
    """Return where plants grow: on undisturbed ground, in tufts on banks, not on tracks and yards."""
    east, north = site.grid.places()
    growth = np.full(site.grid.shape, 1.0, np.float32)
    if site.pit is not None:
        inward, on_ramp = pit_distance(site.pit, east, north)
        wild = 0.9 * tones[1] + 0.5 * tones[2] - 0.5 - 0.045 * np.clip(inward - 6.0, 0.0, 25.0) - on_ramp
        growth = np.maximum(np.clip(-0.5 * (inward + 1.5 * tones[1]), -1.0, 1.0), np.minimum(wild, 0.7))
    for place, radius_m in site.yards:
        out = np.hypot(east - place[0], north - place[1]) + 1.6 * tones[1] + 0.5 * tones[2]
        growth = np.minimum(growth, (out - radius_m) / 2.0)
    for pile in site.piles:
        window = site.grid.around((pile.start, pile.end), pile.radius_m + 1.5)
        heap = pile_height(pile, *site.grid.places(window))
        growth[window] = np.where(heap > 0.05, -1.0, growth[window])
    lowered: Field = (growth + 0.12 * tones[3] - 1.6 * wear).astype(np.float32)
    return lowered


def _bare_colours(site: Site, surface: Surface, tones: list[Field], wear: Field) -> Field:
    tone = 6.0 * tones[0] + 5.0 * tones[1] + 2.5 * tones[2] + 3.5 * tones[3]
    warmth = 2.0 * tones[0] + 1.5 * tones[1] - 1.0 * tones[2]
    colours = np.stack([_GRAVEL[band] + tone + (1 - band) * warmth for band in range(3)])
    colours *= 1.0 + 0.07 * wear - 0.13 * tyre_marks(site, site.rng(5))
    for pile in site.piles:
        window = site.grid.around((pile.start, pile.end), pile.radius_m + 1.5)
        share = np.clip(pile_height(pile, *site.grid.places(window)) / 0.3, 0.0, 1.0)
        for band in range(3):
            heap = pile.colour[band] + 3.0 * tones[2][window] + 3.0 * tones[3][window]
            colours[band][window] += share * (heap - colours[band][window])
    damp = np.where(surface.water_m > -0.99, np.exp(np.minimum(surface.water_m, 0.0) / 0.18), 0.0)
    colours *= 1.0 - 0.30 * damp
    return colours.astype(np.float32)


def _green_colours(site: Site, tones: list[Field], rng: np.random.Generator) -> Field:
    dryness = np.clip(0.35 + 0.22 * tones[0] + 0.16 * tones[1] + 0.10 * tones[2], 0.0, 1.0)
    lumps = 4.0 * tones[3] + 3.0 * _noise(site, 1.1, rng)
    colours = np.stack(
        [_MEADOW[band] + dryness * (_DRY_GRASS[band] - _MEADOW[band]) + lumps for band in range(3)]
    )
    if site.pit is not None:
        inside = np.clip(pit_distance(site.pit, *site.grid.places())[0] / 4.0 + 0.8, 0.0, 1.0)
        for band in range(3):
            colours[band] += inside * (_SCRUB[band] + 8.0 * tones[2] - colours[band])
    for parcel in site.parcels:
        _sow(site, parcel, colours, tones)
    return colours.astype(np.float32)


def _sow(site: Site, parcel: Parcel, colours: FloatArray, tones: list[Field]) -> None:
    """Paint a field's own colour, mowing stripes and tramlines, in place."""
    east, north = site.grid.places()
    wavy = 0.25 * tones[1] + 0.12 * tones[2]
    inside = within((parcel.west_m, parcel.east_m, parcel.south_m, parcel.north_m), east + wavy, north + wavy)
    stripe = np.sin(2 * np.pi * (east + wavy) / parcel.stripes_m) if parcel.stripes_m else 0.0
    tone = 5.0 * np.tanh(2.5 * stripe) + 5.0 * tones[0] + 5.0 * tones[1] + 3.0 * tones[2] + 4.0 * tones[3]
    if parcel.tramlines_m:
        aside = np.abs((north + wavy) % parcel.tramlines_m - parcel.tramlines_m / 2)
        tone = tone - 26.0 * np.exp(-(((aside - 0.9) / 0.28) ** 2))
    for band in range(3):
        colours[band] = np.where(inside, parcel.colour[band] + tone, colours[band])
