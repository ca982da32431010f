"""Products of an invented site: orthomosaic with its targets, elevation raster with its errors."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from geoqa.demo.blocks import paint_blocks
from geoqa.demo.ground import cover_of, draw
from geoqa.demo.noise import Field, enlarge, smooth_noise
from geoqa.demo.render import paste_target
from geoqa.demo.site import Grid, Site
from geoqa.demo.survey import Survey
from geoqa.demo.terrain import Surface, Terrain, surface_of
from geoqa.numerics.arrays import BoolArray, FloatArray

_BRIGHT, _DARK = (224.0, 225.0, 222.0), (44.0, 46.0, 48.0)
_BLUR_PX = 0.7
_NOISE = 2.5
# Half the length and width of the middle part of a photograph that enters the mosaic, and the spacing
# of photographs along a flight line, in spacings of the flight lines.
_PHOTO = (1.1, 0.8)
_ALONG = 0.7
_EDGE_STEP = 4
# Clear border of the raster, and how far photographs stray from their places, likewise.
_BORDER = 0.15
_STRAY = (0.05, 0.035)


@dataclass(frozen=True, eq=False)
class Products:
    """Pixels of both products.

    Attributes
    ----------
    picture : array, shape (3, rows, cols)
        Red, green, blue; black outside the mosaic.
    imaged : array, shape (rows, cols)
        False outside the mosaic.
    surface_m : array, shape (rows, cols) of the coarser elevation raster
        NaN outside.
    """

    picture: NDArray[np.uint8]
    imaged: BoolArray
    surface_m: Field


def products_of(terrain: Terrain, survey: Survey) -> Products:
    """Return the orthomosaic and the elevation raster that a flight over the site would give."""
    site = terrain.site
    surface = surface_of(terrain)
    picture = draw(site, cover_of(site, surface))
    paint_blocks(site, picture, site.rng(6))
    _lay_targets(survey, picture, site.rng(8))
    margin = _imaged_margin(site)
    imaged = enlarge(margin, site.factor) > 0
    picture *= imaged
    return Products(picture, imaged, _modelled(site, surface, margin))


def surface_at(site: Site, surface_m: Field, places_m: FloatArray) -> FloatArray:
    """Return the bilinear height of the elevation raster at eastings and northings, shape (n,)."""
    west, south = site.south_west
    rows = (south + site.size_m[1] - places_m[:, 1]) / site.cell_m - 0.5
    cols = (places_m[:, 0] - west) / site.cell_m - 0.5
    heights: FloatArray = ndimage.map_coordinates(surface_m.astype(float), [rows, cols], order=1)
    return heights


def _lay_targets(survey: Survey, picture: NDArray[np.uint8], rng: np.random.Generator) -> None:
    """Draw the targets where the orthomosaic shows them, in place."""
    site = survey.site
    for spot, (row, col) in zip(site.spots, survey.row_col, strict=True):
        angle, light = rng.uniform(0.0, 90.0), rng.uniform(0.94, 1.03)
        if spot.target == "none" or not spot.laid:
            continue
        window, bands = paste_target(
            picture,
            row,
            col,
            spot.target,
            site.panel_m / site.pixel_m,
            angle,
            dark=[light * value for value in _DARK],
            bright=[light * value for value in _BRIGHT],
            blur_px=_BLUR_PX,
            rng=rng,
        )
        bands += _NOISE * rng.standard_normal(bands.shape)
        picture[:, *window] = np.clip(np.round(bands), 0, 255)


def _modelled(site: Site, surface: Surface, margin: Field) -> Field:
    """Return the surface with the errors of the elevation raster, NaN where the mosaic ends."""
    errors = site.errors
    rng = site.rng(9)
    wavy = smooth_noise(site.grid.shape, 8.0 / site.cell_m, rng)
    grain = rng.standard_normal(site.grid.shape, dtype=np.float32)
    error = errors.height_shift_m + errors.height_random_m * (0.8 * wavy + 0.6 * grain)
    # Heights in steps of about a millimetre (a power of two) take half the room in the file.
    height = np.round((surface.surface_m + error) * 1024.0) / 1024.0
    modelled: Field = np.where(margin > site.cell_m, height, np.nan).astype(np.float32)
    return modelled


def _imaged_margin(site: Site) -> Field:
    """Return metres inside the mosaic, on the cells of the elevation raster; negative outside.

    The mosaic is the union of the middle parts of photographs taken along flight lines, which
    makes its edge ragged.
    """
    coarse = Grid(site.size_m, site.cell_m * _EDGE_STEP)
    east, north = coarse.places()
    rng = site.rng(10)
    margin = np.full(coarse.shape, -np.inf)
    half = (_PHOTO[0] * site.strip_m, _PHOTO[1] * site.strip_m)
    for place, turn in _exposures(site, rng):
        away, up = east - place[0], north - place[1]
        along = np.abs(away * cos(turn) + up * sin(turn))
        across = np.abs(up * cos(turn) - away * sin(turn))
        margin = np.maximum(margin, np.minimum(half[0] - along, half[1] - across))
    return enlarge(np.clip(margin, -5.0, 5.0).astype(np.float32), _EDGE_STEP)


def _exposures(site: Site, rng: np.random.Generator) -> list[tuple[tuple[float, float], float]]:
    """Return where photographs were taken and how far the drone was turned, in radians."""
    border = _BORDER * site.strip_m
    photos = []
    for north in _spread(site.size_m[1], _PHOTO[1] * site.strip_m, site.strip_m, border):
        for east in _spread(site.size_m[0], _PHOTO[0] * site.strip_m, _ALONG * site.strip_m, border):
            stray = np.array(_STRAY) * site.strip_m * rng.standard_normal(2)
            photos.append(((east + stray[0], north + stray[1]), radians(rng.normal(0.0, 2.5))))
    return photos


def _spread(length_m: float, half_m: float, spacing_m: float, border_m: float) -> FloatArray:
    """Return even places from end to end, about `spacing_m` apart, that keep clear of the border."""
    first = half_m + border_m
    count = round((length_m - 2 * first) / spacing_m) + 1
    return np.linspace(first, length_m - first, count)
