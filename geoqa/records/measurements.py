"""What is measured in the products: target centres and surface heights, with their statuses."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import pyproj
from affine import Affine

from geoqa.numerics.arrays import BoolArray, FloatArray, frozen
from geoqa.numerics.cell_shape import square_cells
from geoqa.units import LinearUnit


class TargetStatus(StrEnum):
    """What became of the search for a target."""

    FOUND = "found"
    SUSPECT = "suspect"
    AMBIGUOUS = "ambiguous"
    NOT_FOUND = "not found"
    MARKED = "marked"
    OUTSIDE = "outside"
    NOT_SOUGHT = "not sought"


class SurfaceStatus(StrEnum):
    """What became of reading a height."""

    SAMPLED = "sampled"
    NO_DATA = "no data"
    OUTSIDE = "outside"
    NOT_SOUGHT = "not sought"
    GIVEN = "given"


@dataclass(frozen=True, eq=False)
class RasterInfo:
    """What a raster file says about itself.

    Attributes
    ----------
    path
        As opened.
    shape
        Rows, columns.
    transform
        From column, row (corner of the upper-left cell at 0, 0; cell centres at .5, .5) to easting,
        northing in the **unit of the CRS** (or degrees). May be rotated or south-up.
    crs
        Horizontal CRS. Any vertical part stands in `vertical`; a CRS with ellipsoidal heights keeps its third
        axis.
    vertical
        Vertical CRS that the file carries, or None.
    unit
        Unit of the CRS's axes; None where the CRS is geographic.
    value_unit
        Unit of the heights as the file states it (vertical CRS or band unit); None if it does not.
    unknown_unit
        What the first band states as its unit, where that is no unit of length that is known; else None.
    nodata
        Declared nodata value of band 1, or None.
    epoch
        Coordinate epoch, decimal year, or None.
    overview_factors
        Decimation factors of the overviews, finest first; empty where there are none.
    notes
        Sentences that the user should know (strips, AREA_OR_POINT, missing overviews).
    ground_axes_m : array, shape (2, 2), or None
        From (row, col) steps to metres east and north in the middle of the raster, where the CRS does not
        count metres on the ground (degrees, Web Mercator); None where it does.
    """

    path: str
    shape: tuple[int, int]
    bands: int
    dtype: str
    transform: Affine
    crs: pyproj.CRS
    vertical: pyproj.CRS | None
    unit: LinearUnit | None
    value_unit: LinearUnit | None
    nodata: float | None
    block_shape: tuple[int, int]
    overview_factors: tuple[int, ...] = ()
    luma: bool = False
    epoch: float | None = None
    notes: tuple[str, ...] = ()
    unknown_unit: str | None = None
    ground_axes_m: FloatArray | None = None

    def __post_init__(self) -> None:
        """Make the array read-only."""
        if self.ground_axes_m is not None:
            object.__setattr__(self, "ground_axes_m", frozen(self.ground_axes_m))

    @property
    def unit_m(self) -> float:
        """Return the length of the CRS's unit in metres (1 for a geographic CRS)."""
        return 1.0 if self.unit is None else self.unit.metres

    @property
    def cell_axes_m(self) -> FloatArray:
        """Return the 2 × 2 matrix from (row, col) steps to (east, north) metres; NaN where not known."""
        if self.ground_axes_m is not None:
            return self.ground_axes_m
        if self.unit is None:
            return np.full((2, 2), np.nan)
        t = self.transform
        steps: FloatArray = np.array([[t.b, t.a], [t.e, t.d]]) * self.unit_m
        return steps

    @property
    def cell_size_m(self) -> float:
        """Return the side of a square cell of the same area, in metres; NaN where not known."""
        (east_down, east_across), (north_down, north_across) = self.cell_axes_m
        return float(abs(east_across * north_down - east_down * north_across) ** 0.5)


@dataclass(frozen=True, eq=False)
class RasterPatch:
    """A window of a raster around one position.

    Attributes
    ----------
    values : array, shape (bands, rows, cols)
        In the file's own numbers; alpha and mask bands left out.
    valid : array, shape (rows, cols)
        False where nodata, masked, transparent or outside the raster.
    row0, col0
        Row and column in the raster of the upper-left corner of the window; may be negative.
    luma
        True where the bands are red, green, blue of a JPEG in YCbCr, so that grey is their luma.
    """

    values: FloatArray
    valid: BoolArray
    row0: int
    col0: int
    luma: bool = False

    @property
    def grey(self) -> FloatArray:
        """Return one band, shape (rows, cols): luma of a JPEG picture, else the mean of the bands."""
        bands = self.values[:3]
        # [BT601], the luma of YCbCr as JPEG (JFIF) stores it.
        shares = (0.299, 0.587, 0.114) if self.luma and len(bands) == 3 else (1.0 / len(bands),) * len(bands)
        grey: FloatArray = shares[0] * bands[0].astype(float)
        for share, band in zip(shares[1:], bands[1:], strict=True):
            grey += share * band
        return grey


@dataclass(frozen=True, eq=False)
class TargetSearch:
    """Where a target is expected, in the pixels of the orthomosaic.

    Attributes
    ----------
    row, col
        Surveyed place in the raster; pixel centres at .5. It bounds the search and nothing else.
    radius_px
        The centre is sought within this distance.
    size_px
        Side or diameter of the target in pixels, or None where it is not known.
    stretch : array, shape (2, 2)
        `cell_stretch` of the raster: radius and side are counted in square pixels of the same area.
    """

    row: float
    col: float
    radius_px: float
    size_px: float | None
    stretch: FloatArray = field(default_factory=square_cells)


@dataclass(frozen=True, eq=False)
class TargetFix:
    """A target centre in the orthomosaic, or why there is none.

    Attributes
    ----------
    row, col
        Centre in the raster (not the patch), counted from the upper-left corner of the upper-left
        pixel; NaN where there is no candidate. Only `found`, `suspect` and `marked` carry one.
    covariance_px2 : array, shape (2, 2)
        In row, col order; NaN where unknown.
    score
        Between 0 and 1: how sure the locator is that this is a target.
    reason
        For a person: why the status is not `found`; None where it is.
    outline : array, shape (k, 2)
        Row and col of the corners of the fitted target's outline, an open ring; no rows where unknown.
    """

    status: TargetStatus
    kind: str | None = None
    row: float = float("nan")
    col: float = float("nan")
    covariance_px2: FloatArray = field(default_factory=lambda: np.full((2, 2), np.nan))
    score: float = 0.0
    flags: tuple[str, ...] = ()
    reason: str | None = None
    size_px: float | None = None
    outline: FloatArray = field(default_factory=lambda: np.empty((0, 2)))

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("covariance_px2", "outline"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, eq=False)
class TargetFixes:
    """The targets of all checkpoints, one row a point.

    Attributes
    ----------
    fixes
        One `TargetFix` a point.
    position_m : array, shape (n, 2)
        Easting, northing of the centres in the common frame, metres; NaN where there is none.
    covariance_m2 : array, shape (n, 2, 2)
        In east, north order, NaN where unknown.
    given_height_m : array, shape (n,)
        Heights that came with marks, NaN elsewhere.
    """

    fixes: tuple[TargetFix, ...]
    position_m: FloatArray
    covariance_m2: FloatArray
    given_height_m: FloatArray

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("position_m", "covariance_m2", "given_height_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.fixes)


@dataclass(frozen=True, eq=False)
class SurfaceSamples:
    """Heights of the elevation raster at the surveyed places, one row a point.

    Attributes
    ----------
    height_m : array, shape (n,)
        Bilinear over the four cell centres, metres in the common frame; NaN where not sampled.
    gradient : array, shape (n, 2)
        Rise of the fitted plane per metre east and north; NaN where no plane could be fitted.
    roughness_m : array, shape (n,)
        Root mean square deviation of the cells from the plane.
    relief_m : array, shape (n,)
        Largest deviation of a cell from the plane.
    """

    statuses: tuple[SurfaceStatus, ...]
    reasons: tuple[str | None, ...]
    height_m: FloatArray
    gradient: FloatArray
    roughness_m: FloatArray
    relief_m: FloatArray

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("height_m", "gradient", "roughness_m", "relief_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.statuses)

    @property
    def slope_percent(self) -> FloatArray:
        """Return the steepest slope of the fitted plane, per cent; NaN where there is none."""
        steepest: FloatArray = 100.0 * (self.gradient**2).sum(axis=1) ** 0.5
        return steepest


@dataclass(frozen=True, eq=False)
class Backdrop:
    """A decimated grey picture of the orthomosaic to draw the map on.

    Attributes
    ----------
    grey : array, shape (rows, cols)
        0 (black) to 255 (white); NaN where there is no picture.
    transform
        From column, row of this picture to easting, northing in metres of the common frame.
    """

    grey: FloatArray
    transform: Affine

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "grey", frozen(self.grey))
