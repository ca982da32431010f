"""The base correction applied, by calculation, to what the products say of positions.

Nothing is resampled: in plan the correction goes into the transform of a raster, from rows and columns
to easting and northing; in height it is added to what was read.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np
import pyproj
from affine import Affine

from geoqa.frame.base_points import ProductHeights, cost_of_heights
from geoqa.frame.base_remarks import words
from geoqa.frame.base_shift import frame_remarks, moves_products, products_shift_m
from geoqa.frame.datums import geographic
from geoqa.frame.declare import Products
from geoqa.frame.geocentric import from_geocentric, translated
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.frame.site_grid import PRODUCTS, to_grid, to_site
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import BaseCorrection
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import Checkpoints
from geoqa.records.settings import SiteGrid

# Nodes along each side of a raster at which the correction is computed; between them it is linear to 1e-7 m.
_NODES = 3


def corrected_products(
    products: Products, corrections: Sequence[BaseCorrection], *, site_grid: SiteGrid | None = None
) -> Products:
    """Return the products with the corrections, and moved where these ask for it.

    A raster is moved in plan as if it lay at the height of the base: 100 m above or below make 0.02 mm for
    each metre of shift.

    Raises
    ------
    FrameError
        When the products are in a local grid, or their heights do not allow it exactly.
    """
    products = replace(products, base=tuple(corrections), site_grid=site_grid)
    if not moves_products(corrections):
        return products
    geographic(products.crs, products.frame.name)  # refuses a local grid
    return replace(
        products,
        orthomosaic=_moved_raster(products.orthomosaic, products),
        elevation=_moved_raster(products.elevation, products),
    )


def corrected_marks(marks: Checkpoints, products: Products) -> Checkpoints:
    """Return marks, which are positions in the products, moved like these."""
    if not moves_products(products.base):
        return marks
    return replace(marks, position_m=_moved(marks.position_m, products))


def height_change_m(position_m: FloatArray, products: Products) -> FloatArray:
    """Return what has to be added to heights of the products, shape (n,), metres.

    Parameters
    ----------
    position_m : array, shape (n, 3)
        In the common frame.
    """
    if not moves_products(products.base):
        return np.zeros(len(position_m))
    places = np.array(position_m)
    places[:, 2] = np.where(np.isfinite(places[:, 2]), places[:, 2], _base_height_m(products))
    change: FloatArray = _moved(places, products)[:, 2] - places[:, 2]
    return change


def product_remarks(products: Products) -> tuple[str, ...]:
    """Return messages on how exactly the products could be moved.

    Raises
    ------
    FrameError
        Where their heights do not count from the ellipsoid and the correction is large, or where they are
        at another epoch than the base in a frame that moves.
    """
    if not moves_products(products.base):
        return ()
    frames = frame_remarks(_resting(products), products.datum, products.frame.epoch, "The map")
    if products.elevation is None:
        return frames
    side = ProductHeights(PurePath(products.elevation.path).name, products.heights, has_heights=True)
    return (*frames, *cost_of_heights(_resting(products), side))


def _resting(products: Products) -> list[BaseCorrection]:
    return [item for item in products.base if item.products_use == "assumed"]


def _base_height_m(products: Products) -> float:
    frame = geographic(products.datum, products.frame.name)
    return float(from_geocentric(_resting(products)[0].assumed_m[None], frame)[0, 2])


def _moved(position_m: FloatArray, products: Products) -> FloatArray:
    """Return positions in the common frame, shape (n, 3), moved; a missing height stays missing."""
    unit_m = products.frame.unit.metres
    height = np.where(np.isfinite(position_m[:, 2]), position_m[:, 2], _base_height_m(products))
    plan, moved_height = _moved_plan(position_m[:, :2] / unit_m, height, products.frame.crs, unit_m, products)
    return np.column_stack([plan * unit_m, position_m[:, 2] + (moved_height - height)])


def _moved_plan(
    plan: FloatArray, height_m: FloatArray, crs: pyproj.CRS, unit_m: float, products: Products
) -> tuple[FloatArray, FloatArray]:
    """Return plan positions in a CRS and its unit, shape (n, 2), and heights, moved."""
    site = products.site_grid
    local = site is not None and PRODUCTS in site.applies_to
    grid = to_grid(plan * unit_m, site) / unit_m if site is not None and local else plan
    places = np.column_stack([to_geographic(grid, crs), height_m])
    moved = translated(places, products_shift_m(products.base), geographic(crs, products.frame.name))
    after = from_geographic(moved[:, :2], crs)
    if site is not None and local:
        after = to_site(after * unit_m, site) / unit_m
    return after, moved[:, 2]


def _moved_raster(info: RasterInfo | None, products: Products) -> RasterInfo | None:
    if info is None:
        return None
    t, (rows, cols) = info.transform, info.shape
    along = (np.linspace(0, side, _NODES) for side in (rows, cols))
    row, col = (grid.ravel() for grid in np.meshgrid(*along))
    plan = np.column_stack([t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f])
    height = np.full(len(plan), _base_height_m(products))
    unit_m = 1.0 if info.unit is None else info.unit.metres
    change = _moved_plan(plan, height, info.crs, unit_m, products)[0] - plan
    design = np.column_stack([col, row, np.ones_like(col)])
    (a, d), (b, e), (c, f) = np.linalg.lstsq(design, change, rcond=None)[0].tolist()
    note = (
        f"{PurePath(info.path).name} rests on the assumed position of the base: its positions are corrected "
        f"by calculation ({words(_resting(products)[0])}); the file stays as it is."
    )
    moved = Affine(t.a + a, t.b + b, t.c + c, t.d + d, t.e + e, t.f + f)
    return replace(info, transform=moved, notes=(*info.notes, note))
