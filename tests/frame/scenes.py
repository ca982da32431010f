"""Invented points and rasters in any CRS, unit and frame, and the line from them to the common frame."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyproj
from affine import Affine
from numpy.typing import ArrayLike

from geoqa.frame.axes import parts
from geoqa.frame.declare import Products, common_frame
from geoqa.frame.transform import to_frame
from geoqa.numerics.arrays import FloatArray
from geoqa.records.geoid import GeoidGrid
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import Checkpoints, Role, SurveyPoints
from geoqa.records.settings import Elevation, Limits, Orthomosaic, Points, Settings, SiteGrid
from geoqa.units import LinearUnit, unit_of_length


def survey_of(coordinates: ArrayLike, **fields: Any) -> SurveyPoints:
    """Return a file of points with these columns; heights that are not given are missing."""
    numbers = np.atleast_2d(np.asarray(coordinates, dtype=float))
    if numbers.shape[1] == 2:
        numbers = np.column_stack([numbers, np.full(len(numbers), np.nan)])
    n = len(numbers)
    filled: dict[str, Any] = {
        "ids": tuple(f"P{row + 1:02d}" for row in range(n)),
        "coordinates": numbers,
        "geographic": False,
        "roles": (Role.CHECK,) * n,
        "fixes": (None,) * n,
        "covers": (None,) * n,
        "sessions": (None,) * n,
        "targets": (None,) * n,
        "sigma_m": np.full((n, 3), np.nan),
        "target_height_m": np.zeros(n),
        "source": "points.csv",
        "lines": np.arange(2, n + 2),
    }
    return SurveyPoints(**(filled | fields))


def raster_of(
    crs: str,
    *,
    origin: tuple[float, float] = (0.0, 0.0),
    cell: float = 1.0,
    shape: tuple[int, int] = (1000, 1000),
    **fields: Any,
) -> RasterInfo:
    """Return what a file in a CRS says; the vertical part of a compound CRS goes where a reader puts it."""
    parsed = pyproj.CRS.from_user_input(crs)
    held = parts(parsed, "scene")
    unit = unit_of_length(held.horizontal.axis_info[0].unit_conversion_factor)
    vertical = held.vertical
    filled: dict[str, Any] = {
        "path": "/somewhere/surface.tif",
        "shape": shape,
        "bands": 1,
        "dtype": "float32",
        "transform": Affine(cell, 0.0, origin[0], 0.0, -cell, origin[1]),
        "crs": parsed if held.ellipsoidal else held.horizontal,
        "vertical": vertical,
        "unit": None if held.horizontal.is_geographic else unit,
        "value_unit": None
        if vertical is None
        else unit_of_length(vertical.axis_info[0].unit_conversion_factor),
        "nodata": None,
        "block_shape": (256, 256),
    }
    return RasterInfo(**(filled | fields))


def settings_of(
    points: Sequence[dict[str, Any]] = ({},),
    orthomosaic: dict[str, Any] | None = None,
    elevation: dict[str, Any] | None = None,
    **fields: Any,
) -> Settings:
    """Return settings with these tables; paths are filled in."""
    return Settings(
        points=tuple(Points(path="points.csv", **table) for table in points),
        orthomosaic=None if orthomosaic is None else Orthomosaic(path="ortho.tif", **orthomosaic),
        elevation=Elevation(path="surface.tif", **(elevation or {})),
        **fields,
    )


def products_of(
    raster_crs: str | None = None,
    /,
    *,
    points: Sequence[dict[str, Any]] = ({},),
    surveys: Sequence[SurveyPoints] = (),
    raster: RasterInfo | None = None,
    points_crs: pyproj.CRS | None = None,
    **elevation: Any,
) -> Products:
    """Return the common frame of one elevation raster in this CRS, or of none."""
    info = raster if raster is not None or raster_crs is None else raster_of(raster_crs)
    settings = settings_of(points, elevation=elevation)
    return common_frame(None, info, settings, points_crs, surveys=surveys)


def brought(
    survey: SurveyPoints,
    crs: str | None,
    points: dict[str, Any] | None = None,
    *,
    limits: Limits | None = None,
    geoid: GeoidGrid | float | None = None,
    site_grid: SiteGrid | None = None,
    place: tuple[float, float] | None = None,
    **elevation: Any,
) -> Checkpoints:
    """Return a file of points in the frame of an elevation raster: what a run of `check` does.

    `place` is where the raster lies in its CRS; a raster in degrees needs one.
    """
    table = points or {}
    info = None if crs is None else raster_of(crs)
    if crs is not None and place is not None:
        info = raster_of(crs, origin=place, cell=1e-6 if info.unit is None else 1.0)
    settings = settings_of([table], elevation=elevation, site_grid=site_grid)
    products = common_frame(None, info, settings, None, surveys=[survey])
    declared = [Points(path="points.csv", **table)]
    return to_frame([survey], declared, products, limits or Limits(), geoid=geoid, site_grid=site_grid)


def in_unit(position_m: FloatArray, unit: LinearUnit) -> FloatArray:
    """Return metres in another unit."""
    return position_m / unit.metres
