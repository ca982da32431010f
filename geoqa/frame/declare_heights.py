"""What is declared for the heights of the products: height system and unit."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, parse_crs, parts
from geoqa.frame.datums import SAME_AS_PRODUCTS
from geoqa.frame.heights import (
    ELLIPSOIDAL_HEIGHTS,
    UNSTATED_HEIGHTS,
    HeightSystem,
    feet_of,
    height_system,
    of_vertical,
    same_height_datum,
)
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import SurveyPoints
from geoqa.records.settings import Elevation, Points
from geoqa.units import LinearUnit


@dataclass(frozen=True, eq=False)
class SurfaceHeights:
    """An elevation raster as read, with the CRS that holds, and its table in the settings."""

    as_read: RasterInfo | None
    info: RasterInfo
    table: Elevation | None

    @property
    def name(self) -> str:
        """Return the name of the file."""
        return PurePath(self.info.path).name

    def in_file(self) -> HeightSystem:
        """Return the height system that the file, or the CRS set for it, carries."""
        if self.info.vertical is not None:
            return of_vertical(self.info.vertical, self.name)
        carried = [] if self.as_read is None else [self.as_read.crs]
        if self.table is not None and self.table.crs is not None:
            carried.append(parse_crs(self.table.crs, "elevation.crs"))
        three_dimensional = any(parts(crs, self.name).ellipsoidal for crs in carried)
        return ELLIPSOIDAL_HEIGHTS if three_dimensional else UNSTATED_HEIGHTS


@dataclass(frozen=True, eq=False)
class HeightsOfPoints:
    """What the settings and the files of points say of heights and units."""

    tables: tuple[Points, ...]
    surveys: tuple[SurveyPoints, ...] = ()

    def plan_unit(self) -> LinearUnit | None:
        """Return the unit of easting and northing that is stated first."""
        stated = [table.unit for table in self.tables] + [survey.unit for survey in self.surveys]
        return next((unit for unit in stated if unit is not None), None)

    def height_unit(self) -> LinearUnit | None:
        """Return the unit of heights that all files that state one agree on, else None."""
        stated = {table.height_unit or table.unit for table in self.tables}
        if stated == {None}:
            stated = {survey.height_unit or survey.unit for survey in self.surveys}
        stated -= {None}
        return stated.pop() if len(stated) == 1 else None

    def system(self) -> HeightSystem:
        """Return the height system stated for the points; two that differ are refused."""
        stated = [system for system in map(stated_heights, self.tables) if system.is_stated]
        for system in stated[1:]:
            if not same_height_datum(stated[0], system):
                message = (
                    f"points.height_system is {stated[0].title} for one file and {system.title} for another, "
                    "and nothing says which the surface is in. Set elevation.height_system."
                )
                raise FrameError(message)
        return stated[0] if stated else UNSTATED_HEIGHTS


def stated_heights(table: Points) -> HeightSystem:
    """Return the height system that the table of a file of points states.

    `height_system` stands before a compound or three-dimensional `crs`; a compound one that
    contradicts it is refused with `FrameError`.
    """
    carried = UNSTATED_HEIGHTS
    if table.crs != SAME_AS_PRODUCTS:
        held = parts(parse_crs(table.crs, "points.crs"), "points.crs")
        if held.vertical is not None:
            carried = of_vertical(held.vertical, "points.crs")
        elif held.ellipsoidal:
            carried = ELLIPSOIDAL_HEIGHTS
    if table.height_system == SAME_AS_PRODUCTS:
        return UNSTATED_HEIGHTS if "height_system" in table.model_fields_set else carried
    stated = height_system(table.height_system, "points.height_system")
    if carried.vertical is not None and not same_height_datum(stated, carried):
        message = (
            f"{table.path}: points.height_system is {stated.title}, and points.crs ({table.crs}) carries "
            f"{carried.title}. Leave one of them out."
        )
        raise FrameError(message)
    return stated


def surface_heights(
    surface: SurfaceHeights | None, points: HeightsOfPoints, unit: LinearUnit, said: list[str]
) -> tuple[HeightSystem, LinearUnit]:
    """Return height system and unit of the surface, where there is none those of the points.

    Parameters
    ----------
    unit
        Unit of the products' easting and northing.
    said
        Sentences on what was taken to be so are added to it.
    """
    if surface is None:
        system = points.system()
        return system, points.height_unit() or feet_of(system, "points.height_system") or unit
    own = own_system(surface)
    system = own if own.is_stated else _taken_system(surface, points, said)
    return system, _unit(surface, own, points, said)


def own_system(surface: SurfaceHeights) -> HeightSystem:
    """Return the height system that the settings or the file state for the surface."""
    in_file = surface.in_file()
    if surface.table is None or surface.table.height_system is None:
        return in_file
    setting = height_system(surface.table.height_system, "elevation.height_system")
    if in_file.is_stated and not same_height_datum(setting, in_file):
        message = (
            f"{surface.name} carries heights in {in_file.title}, and elevation.height_system says "
            f"{setting.title}. Mend the one that is wrong."
        )
        raise FrameError(message)
    return setting


def _taken_system(surface: SurfaceHeights, points: HeightsOfPoints, said: list[str]) -> HeightSystem:
    """Return the height system of the points, or none where they state none either."""
    of_points = points.system()
    if of_points.is_stated:
        said.append(
            f"Nothing states the height system of {surface.name}: its heights are taken to be in "
            f"{of_points.title} like those of the points."
        )
        return of_points
    said.append(
        f"Nothing states the height system of {surface.name}: its heights and those of the points are taken "
        "to be in one height system, and no geoid is applied. elevation.height_system states it."
    )
    return UNSTATED_HEIGHTS


def _unit(
    surface: SurfaceHeights, system: HeightSystem, points: HeightsOfPoints, said: list[str]
) -> LinearUnit:
    stated = {
        "elevation.unit": None if surface.table is None else surface.table.unit,
        surface.name: surface.info.value_unit,
        f"the height system {system.title}": feet_of(system, "elevation.height_system"),
    }
    cure = "Mend the one that is wrong, or leave elevation.unit out."
    unit = one_unit(stated.items(), "the heights of the surface", cure)
    if unit is not None:
        return unit
    _refuse_unknown_unit(surface)
    # Beside degrees heights are metres unless something says otherwise (common practice).
    if surface.info.unit in (None, LinearUnit.METRE):
        said.append(f"Nothing states the unit of the heights of {surface.name}: they are taken to be metres.")
        return LinearUnit.METRE
    unit = points.height_unit()
    # Metres of the points say nothing of a surface in a grid of feet; feet agree with it.
    if unit is None or unit is LinearUnit.METRE:
        message = (
            f"{surface.name} is in {crs_name(surface.info.crs)}, which counts in {surface.info.unit}, and "
            "nothing states the unit of its heights. Set elevation.unit to "
            f"{', '.join(f'“{item}”' for item in LinearUnit)}."
        )
        raise FrameError(message)
    said.append(
        f"Nothing states the unit of the heights of {surface.name}: it is taken to be “{unit}” like that of "
        "the points."
    )
    return unit


def _refuse_unknown_unit(surface: SurfaceHeights) -> None:
    if surface.info.unknown_unit is not None:
        message = (
            f"{surface.name} states its heights in “{surface.info.unknown_unit}”, which is none of "
            f"{', '.join(LinearUnit)}. Set elevation.unit if they are in one of these; convert the raster if "
            "they are not."
        )
        raise FrameError(message)


def one_unit(stated: Iterable[tuple[str, LinearUnit | None]], what: str, cure: str) -> LinearUnit | None:
    """Return the unit on which all that state one agree, or None where none does.

    Raises
    ------
    FrameError
        When two contradict each other; both are named.
    """
    known = [(source, unit) for source, unit in stated if unit is not None]
    for source, unit in known[1:]:
        if unit is not known[0][1]:
            message = f"The unit of {what} is {known[0][1]} by {known[0][0]} and {unit} by {source}. {cure}"
            raise FrameError(message)
    return known[0][1] if known else None
