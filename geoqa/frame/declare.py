"""What is declared for the products: the common frame, and what was taken to be so."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import (
    crs_name,
    equal_crs,
    is_local,
    local_grid,
    parse_crs,
    parts,
    plan_unit,
)
from geoqa.frame.datums import datum_name, is_dynamic, realisation, same_datum
from geoqa.frame.declare_heights import HeightsOfPoints, SurfaceHeights, own_system, surface_heights
from geoqa.frame.declare_plan import measuring_crs, measuring_crs_of_points, on_ground, site_of_products
from geoqa.frame.heights import HeightSystem
from geoqa.records.base import BaseCorrection
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import CommonFrame, SurveyPoints
from geoqa.records.settings import Elevation, Orthomosaic, Settings, SiteGrid
from geoqa.units import LinearUnit


@dataclass(frozen=True, eq=False)
class Products:
    """The products as declared, and the frame in which everything is compared.

    Attributes
    ----------
    frame
        The common frame.
    orthomosaic, elevation
        As read, with the CRS that holds (the settings may complete or override the file).
    heights, height_unit
        Height system and unit of the elevation raster; where there is none, of the points.
    realisation
        Geographic CRS of the true realisation where the settings name one with `frame`, else None:
        then the datum is that of the CRS.
    declared_crs
        CRS that the products are declared in where it is not that of the frame, else None.
    heights_taken
        True where nothing states the height system of the surface, so that that of the points holds.
    base, site_grid
        Corrections of the bases that points or products rest on, and the site grid, where there are any.
    """

    frame: CommonFrame
    orthomosaic: RasterInfo | None
    elevation: RasterInfo | None
    heights: HeightSystem
    height_unit: LinearUnit
    realisation: pyproj.CRS | None = None
    declared_crs: pyproj.CRS | None = None
    heights_taken: bool = False
    base: tuple[BaseCorrection, ...] = ()
    site_grid: SiteGrid | None = None

    @property
    def crs(self) -> pyproj.CRS:
        """Return the horizontal CRS that the products are declared in."""
        return self.frame.crs if self.declared_crs is None else self.declared_crs

    @property
    def datum(self) -> pyproj.CRS:
        """Return a CRS with the true datum of the products."""
        return self.frame.crs if self.realisation is None else self.realisation

    @property
    def leading_key(self) -> str:
        """Return the table of the settings that speaks for the frame, for messages."""
        return "elevation" if self.orthomosaic is None and self.elevation is not None else "orthomosaic"


@dataclass(frozen=True, eq=False)
class _Product:
    info: RasterInfo
    key: str
    realisation: pyproj.CRS | None
    epoch: float | None

    @property
    def name(self) -> str:
        return PurePath(self.info.path).name

    @property
    def datum(self) -> pyproj.CRS:
        return self.info.crs if self.realisation is None else self.realisation


def common_frame(
    orthomosaic: RasterInfo | None,
    elevation: RasterInfo | None,
    settings: Settings,
    points_crs: pyproj.CRS | None,
    *,
    surveys: Sequence[SurveyPoints] = (),
) -> Products:
    """Return the frame of the products, and the products with what the settings say of them.

    The horizontal CRS is that of the orthomosaic, else of the elevation raster, else of the points,
    else a local grid in metres. Where it does not count metres on the ground (degrees, Web Mercator), a
    transverse Mercator grid around the site stands in, on the same datum.

    Parameters
    ----------
    points_crs
        Declared CRS of the points, or None; used where there is no raster.
    surveys
        The points as read, in the order of `settings.points`; their units serve where nothing else
        states the unit of the heights.

    Raises
    ------
    FrameError
        When the two products do not fit together.
    """
    said: list[str] = []
    ortho = _product(orthomosaic, settings.orthomosaic, "orthomosaic", said)
    surface = _product(elevation, settings.elevation, "elevation", said)
    ortho, surface = _agreed(ortho, surface, said)
    leading = ortho or surface
    points = HeightsOfPoints(settings.points, tuple(surveys))
    if leading:
        declared = leading.info.crs
        crs = measuring_crs([product.info for product in (ortho, surface) if product], said)
    else:
        declared = _without_raster(points_crs, points, said)
        crs = measuring_crs_of_points(declared, points, said)
    unit = plan_unit(crs, leading.name if leading else "points.crs") or LinearUnit.METRE
    given = SurfaceHeights(elevation, surface.info, settings.elevation) if surface else None
    heights, height_unit = surface_heights(given, points, unit, said)
    site = site_of_products(settings.site_grid, declared, crs, said)
    frame = CommonFrame(crs, unit, heights.name, leading.epoch if leading else None, tuple(said), site)
    return Products(
        frame=frame,
        orthomosaic=on_ground(ortho.info, frame) if ortho else None,
        elevation=on_ground(surface.info, frame) if surface else None,
        heights=heights,
        height_unit=height_unit,
        realisation=leading.realisation if leading else None,
        declared_crs=declared,
        heights_taken=given is not None and not own_system(given).is_stated,
    )


def _product(
    info: RasterInfo | None, table: Orthomosaic | Elevation | None, key: str, said: list[str]
) -> _Product | None:
    """Return a product with the CRS that holds."""
    if info is None:
        return None
    name = PurePath(info.path).name
    held = parts(info.crs, name)
    crs, vertical = held.horizontal, info.vertical or held.vertical
    if table is not None and table.crs is not None:
        setting = parts(parse_crs(table.crs, f"{key}.crs"), f"{key}.crs")
        if not is_local(crs) and not equal_crs(crs, setting.horizontal):
            said.append(
                f"{name} is taken to be in {crs_name(setting.horizontal)} as {key}.crs says, not in "
                f"{crs_name(crs)} as the file says."
            )
        crs, vertical = setting.horizontal, vertical or setting.vertical
    unit = plan_unit(crs, name)
    frame = None if table is None or table.frame is None else realisation(table.frame, crs, f"{key}.frame")
    epoch = info.epoch if table is None or table.epoch is None else table.epoch
    return _Product(replace(info, crs=crs, vertical=vertical, unit=unit), key, frame, epoch)


def _agreed(
    ortho: _Product | None, surface: _Product | None, said: list[str]
) -> tuple[_Product | None, _Product | None]:
    """Return the products with one realisation and epoch, or raise `FrameError`."""
    if ortho is None or surface is None:
        return ortho, surface
    if is_local(ortho.info.crs) and is_local(surface.info.crs):
        return ortho, _in_one_local_grid(ortho, surface, said)
    if is_local(ortho.info.crs) or is_local(surface.info.crs):
        local, tied = (ortho, surface) if is_local(ortho.info.crs) else (surface, ortho)
        message = (
            f"{local.name} is in a local grid and {tied.name} in {crs_name(tied.info.crs)}. "
            f"Name the CRS with {local.key}.crs."
        )
        raise FrameError(message)
    frame, epoch = _one_realisation(ortho, surface, said), _one_epoch(ortho, surface)
    return replace(ortho, realisation=frame, epoch=epoch), replace(surface, realisation=frame, epoch=epoch)


def _in_one_local_grid(ortho: _Product, surface: _Product, said: list[str]) -> _Product:
    if ortho.info.unit is not surface.info.unit:
        message = (
            f"{ortho.name} is in a local grid in {ortho.info.unit} and {surface.name} in one in "
            f"{surface.info.unit}. Bring both into one grid."
        )
        raise FrameError(message)
    said.append(f"{ortho.name} and {surface.name} are taken to be in one local grid.")
    return replace(surface, info=replace(surface.info, crs=ortho.info.crs))


def _one_realisation(ortho: _Product, surface: _Product, said: list[str]) -> pyproj.CRS | None:
    frame = ortho.realisation or surface.realisation
    if same_datum(ortho.datum, surface.datum):
        return frame
    both = ortho.realisation is not None and surface.realisation is not None
    if frame is not None and not both and same_datum(ortho.info.crs, surface.info.crs):
        said.append(f"{ortho.name} and {surface.name} are both taken to be in {frame.name}.")
        return frame
    message = (
        f"{ortho.name} is in {datum_name(ortho.datum)} ({crs_name(ortho.info.crs)}) and {surface.name} in "
        f"{datum_name(surface.datum)} ({crs_name(surface.info.crs)}). Both products must be in one datum: "
        "warp one of them, or, if one name is only a label, give the true one with orthomosaic.frame and "
        "elevation.frame."
    )
    raise FrameError(message)


def _one_epoch(ortho: _Product, surface: _Product) -> float | None:
    first, second = ortho.epoch, surface.epoch
    if first is None or second is None or first == second or not is_dynamic(ortho.datum):
        return second if first is None else first
    message = (
        f"{ortho.name} is at epoch {first:g} and {surface.name} at {second:g} in {datum_name(ortho.datum)}, "
        "where coordinates move with time. Bring both products to one epoch."
    )
    raise FrameError(message)


def _without_raster(points_crs: pyproj.CRS | None, points: HeightsOfPoints, said: list[str]) -> pyproj.CRS:
    if points_crs is not None:
        return parts(points_crs, "points.crs").horizontal
    unit = points.plan_unit() or LinearUnit.METRE
    said.append("Nothing names the CRS of the points and the marks: both are taken to be in one local grid.")
    return local_grid(unit)
