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
    survey_grid_unit,
)
from geoqa.frame.datums import datum_name, is_dynamic, realisation, same_datum
from geoqa.frame.declare_heights import HeightsOfPoints, SurfaceHeights, surface_heights
from geoqa.frame.heights import HeightSystem
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import CommonFrame, SurveyPoints
from geoqa.records.settings import Elevation, Orthomosaic, Settings
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
    """

    frame: CommonFrame
    orthomosaic: RasterInfo | None
    elevation: RasterInfo | None
    heights: HeightSystem
    height_unit: LinearUnit
    realisation: pyproj.CRS | None = None

    @property
    def datum(self) -> pyproj.CRS:
        """Return a CRS with the true datum of the products."""
        return self.frame.crs if self.realisation is None else self.realisation


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
    else a local grid in metres.

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
        When the two products do not fit together, or one is in no survey grid.
    """
    said: list[str] = []
    ortho = _product(orthomosaic, settings.orthomosaic, "orthomosaic", said)
    surface = _product(elevation, settings.elevation, "elevation", said)
    ortho, surface = _agreed(ortho, surface, said)
    leading = ortho or surface
    points = HeightsOfPoints(settings.points, tuple(surveys))
    crs = leading.info.crs if leading else _without_raster(points_crs, points, said)
    unit = survey_grid_unit(crs, leading.name if leading else "points.crs")
    given = SurfaceHeights(elevation, surface.info, settings.elevation) if surface else None
    heights, height_unit = surface_heights(given, points, unit, said)
    return Products(
        frame=CommonFrame(crs, unit, heights.name, leading.epoch if leading else None, tuple(said)),
        orthomosaic=ortho.info if ortho else None,
        elevation=surface.info if surface else None,
        heights=heights,
        height_unit=height_unit,
        realisation=leading.realisation if leading else None,
    )


def refuse_what_is_not_built(settings: Settings) -> None:
    """Raise `FrameError` where the settings ask for a correction that this version does not do."""
    asked = {
        "[base] asks for a base correction": (settings.base, "Correct the points beforehand"),
        "[geoid] asks for a change of height system": (settings.geoid, "Convert the heights beforehand"),
        "[site_grid] asks for a change from ground to grid": (
            settings.site_grid,
            "Bring the coordinates into the grid beforehand",
        ),
        "limits.network asks for grids to be fetched": (
            settings.limits.network,
            "Install the grids beforehand",
        ),
    }
    for what, (value, cure) in asked.items():
        if value:
            key = what.split()[0]
            message = f"{what}, which this version of geoqa does not do. {cure}, and take {key} out."
            raise FrameError(message)


def _product(
    info: RasterInfo | None, table: Orthomosaic | Elevation | None, key: str, said: list[str]
) -> _Product | None:
    """Return a product with the CRS that holds, which must be a survey grid."""
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
    unit = survey_grid_unit(crs, name)
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
