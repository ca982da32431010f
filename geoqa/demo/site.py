"""What an invented site is made of: pit, stockpiles, pond, tracks, trees, buildings and surveyed places.

Places are metres east and north of the south-western corner of the site; bearings are degrees clockwise
from north.
"""

from dataclasses import dataclass

import numpy as np
from affine import Affine

from geoqa.numerics.arrays import FloatArray

Place = tuple[float, float]
Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Pit:
    """A gravel pit: an oval with two banks, a bench between them, and a ramp down to the floor."""

    centre: Place
    half_axes_m: Place
    bank_depths_m: Place = (3.0, 2.2)
    bank_widths_m: Place = (7.0, 5.0)
    bench_m: float = 8.0
    ramp_bearing_deg: float = 115.0
    ramp_lengths_m: Place = (22.0, 14.0)


@dataclass(frozen=True)
class Pond:
    """A hollow that fills with water up to a level (metres, as the site's heights)."""

    centre: Place
    half_axes_m: Place
    depth_m: float
    level_m: float


@dataclass(frozen=True)
class Pile:
    """A stockpile, heaped up along a line (a point where both ends are the same)."""

    start: Place
    end: Place
    radius_m: float
    height_m: float
    colour: Colour


@dataclass(frozen=True)
class Track:
    """A track of two ruts along a smooth line; `wear` 1 is bare, less lets the grass through."""

    places: tuple[Place, ...]
    width_m: float
    wear: float = 1.0
    middle_grass: bool = False


@dataclass(frozen=True)
class Hedge:
    """A row of trees or bushes along a line."""

    start: Place
    end: Place
    count: int
    radius_m: tuple[float, float] = (1.5, 3.5)
    spread_m: float = 1.5


@dataclass(frozen=True)
class Block:
    """A building, container or machine part: a turned rectangle of some height."""

    centre: Place
    length_m: float
    width_m: float
    height_m: float
    bearing_deg: float
    colour: Colour
    gable: bool = False
    seam_m: float = 0.0


@dataclass(frozen=True)
class Parcel:
    """A field or meadow with straight sides, its plants of one height, with mowing stripes or tramlines."""

    west_m: float
    east_m: float
    south_m: float
    north_m: float
    colour: Colour
    height_m: float
    stripes_m: float = 0.0
    tramlines_m: float = 0.0


@dataclass(frozen=True)
class Spot:
    """A surveyed place. `laid` is False where the target is gone when the drone comes."""

    id: str
    place: Place
    target: str
    description: str
    role: str = "check"
    fix: str = "fixed"
    cover: str = "bare"
    laid: bool = True


@dataclass(frozen=True)
class ProductErrors:
    """Errors that the map products of the site are given; random parts are standard deviations."""

    shift_m: Place = (0.011, -0.008)
    rotation_rad: float = 40e-6
    scale: float = 60e-6
    random_m: float = 0.011
    height_shift_m: float = 0.015
    height_random_m: float = 0.007


@dataclass(frozen=True)
class Site:
    """An invented site: extent, resolution, shapes, surveyed places and errors.

    Attributes
    ----------
    south_west : easting and northing of the corner, metres, in `crs`
    size_m : east-west and north-south extent
    cell_m, pixel_m : cells of the elevation raster and the orthomosaic; their ratio is a whole number
    ground_m, rise : height of the ground at the centre, and its rise a metre to the east and north
    strip_m : spacing of the flight lines, which makes the ragged edge
    """

    name: str
    crs: str
    height_system: str
    south_west: Place
    size_m: Place
    cell_m: float
    pixel_m: float
    ground_m: float
    rise: Place
    seed: int
    spots: tuple[Spot, ...]
    panel_m: float = 0.6
    strip_m: float = 15.0
    jpeg_quality: int = 85
    pit: Pit | None = None
    pond: Pond | None = None
    piles: tuple[Pile, ...] = ()
    tracks: tuple[Track, ...] = ()
    hedges: tuple[Hedge, ...] = ()
    blocks: tuple[Block, ...] = ()
    parcels: tuple[Parcel, ...] = ()
    yards: tuple[tuple[Place, float], ...] = ()
    tyre_marks: int = 0
    errors: ProductErrors = ProductErrors()

    @property
    def factor(self) -> int:
        """Return how many pixels of the orthomosaic a cell of the elevation raster spans."""
        return round(self.cell_m / self.pixel_m)

    @property
    def grid(self) -> "Grid":
        """Return the cells of the elevation raster."""
        return Grid(self.size_m, self.cell_m)

    def transform(self, cell_m: float) -> Affine:
        """Return the transform from column, row to easting, northing for cells of this size."""
        west, south = self.south_west
        return Affine(cell_m, 0.0, west, 0.0, -cell_m, south + self.size_m[1])

    def rng(self, purpose: int) -> np.random.Generator:
        """Return the random numbers of one purpose, so that one change does not shuffle everything."""
        return np.random.default_rng([self.seed, purpose])


@dataclass(frozen=True)
class Grid:
    """Square cells over the extent of a site; row 0 is the northernmost."""

    size_m: Place
    cell_m: float

    @property
    def shape(self) -> tuple[int, int]:
        """Return rows, columns."""
        return round(self.size_m[1] / self.cell_m), round(self.size_m[0] / self.cell_m)

    def places(self, window: tuple[slice, slice] | None = None) -> tuple[FloatArray, FloatArray]:
        """Return east (1, cols) and north (rows, 1) of the cell centres of a window, in metres."""
        rows, cols = self.shape
        north = self.size_m[1] - (np.arange(rows, dtype=float) + 0.5) * self.cell_m
        east = (np.arange(cols, dtype=float) + 0.5) * self.cell_m
        down, across = window or (slice(None), slice(None))
        return east[None, across], north[down, None]

    def around(self, places: tuple[Place, ...], reach_m: float) -> tuple[slice, slice]:
        """Return the window that holds everything within `reach_m` of the box around the places."""
        east, north = np.array(places).T
        rows = (self.size_m[1] - north.max() - reach_m, self.size_m[1] - north.min() + reach_m)
        cols = (east.min() - reach_m, east.max() + reach_m)
        return self._span(rows, self.shape[0]), self._span(cols, self.shape[1])

    def _span(self, ends_m: tuple[float, float], length: int) -> slice:
        first, last = (int(np.clip(end / self.cell_m, 0, length)) for end in ends_m)
        return slice(first, max(first, min(last + 1, length)))
