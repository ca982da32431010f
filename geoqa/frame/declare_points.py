"""What is declared for a file of points: by its table in the settings, by itself, by the products."""

from dataclasses import dataclass

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import CrsParts, crs_name, crs_title, equal_crs, is_local, parse_crs, parts, plan_unit
from geoqa.frame.datums import (
    SAME_AS_PRODUCTS,
    datum_name,
    geographic,
    named_frame,
    realisation,
    refuse_other_figure,
    same_datum,
)
from geoqa.frame.declare import Products
from geoqa.frame.declare_heights import one_unit, stated_heights
from geoqa.frame.heights import (
    ELLIPSOIDAL_HEIGHTS,
    UNSTATED_HEIGHTS,
    HeightSystem,
    feet_of,
    of_vertical,
)
from geoqa.records.points import SurveyPoints
from geoqa.records.settings import Points
from geoqa.units import LinearUnit

_WHICH_FOOT = "Mend the one that is wrong; {} says which foot the “ft” of a header is."
_FEET = {LinearUnit.FOOT, LinearUnit.US_SURVEY_FOOT}


@dataclass(frozen=True, eq=False)
class StatedPoints:
    """How the numbers of a file of points are to be understood.

    Attributes
    ----------
    survey
        As read.
    crs
        Horizontal CRS (2D).
    datum
        A CRS with the true datum: that of `crs`, unless `frame` names another.
    framed
        True where the settings name the true realisation with `frame`.
    via
        Geographic CRS to go through between the datums, or None.
    unit
        Unit of easting and northing; None where they are longitude and latitude.
    assumptions
        What was taken to be so.
    heights_taken
        True where nothing states the height system, so that that of the products holds.
    """

    survey: SurveyPoints
    crs: pyproj.CRS
    datum: pyproj.CRS
    framed: bool
    via: pyproj.CRS | None
    unit: LinearUnit | None
    heights: HeightSystem
    height_unit: LinearUnit
    epoch: float | None
    assumptions: tuple[str, ...]
    heights_taken: bool = False

    @property
    def source(self) -> str:
        """Return the name of the file."""
        return self.survey.source

    @property
    def has_heights(self) -> bool:
        """Return whether any point has a height."""
        return _has_heights(self.survey)


def stated_points(survey: SurveyPoints, table: Points, products: Products) -> StatedPoints:
    """Return what holds for a file of points.

    Parameters
    ----------
    survey
        As read; a CRS and units that the file carries count as stated.
    table
        Its table in the settings.
    products
        Where nothing else is stated, theirs holds, which is said in the assumptions.

    Raises
    ------
    FrameError
        When two statements contradict each other; both are named.
    """
    said: list[str] = []
    crs, own = _crs(survey, table, products, said)
    unit = _plan_unit(survey, table, crs if own else None, products)
    datum, framed = _datum(survey, table, crs, products, said)
    if own and not framed and same_datum(datum, products.datum):
        said.append(
            f"{survey.source} ({crs_name(crs)}) and the products ({crs_title(products.crs)}) both name "
            f"{datum_name(crs)}: they are taken to be in one realisation and epoch of it."
        )
    heights, heights_taken = _heights(survey, table, products, said)
    height_unit = _height_unit(survey, table, heights, unit if own else None, products)
    return StatedPoints(
        survey=survey,
        crs=crs,
        datum=datum,
        framed=framed,
        via=None if table.via is None else named_frame(table.via, "points.via"),
        unit=unit,
        heights=heights,
        height_unit=height_unit,
        epoch=table.epoch,
        assumptions=tuple(said),
        heights_taken=heights_taken,
    )


def _has_heights(survey: SurveyPoints) -> bool:
    return bool(np.isfinite(survey.coordinates[:, 2]).any())


def _crs(survey: SurveyPoints, table: Points, products: Products, said: list[str]) -> tuple[pyproj.CRS, bool]:
    """Return the horizontal CRS, and whether it is stated for the points themselves."""
    carried = None if survey.crs is None else parts(survey.crs, survey.source).horizontal
    # A file that only says “some plane” says nothing.
    in_file = None if carried is None or is_local(carried) else carried
    stated = None
    if table.crs != SAME_AS_PRODUCTS:
        stated = parts(parse_crs(table.crs, "points.crs"), "points.crs").horizontal
    elif "crs" in table.model_fields_set and in_file is not None:
        stated = products.crs
    if stated is not None and in_file is not None and not equal_crs(stated, in_file):
        message = (
            f"{survey.source} carries {crs_title(in_file)}, and points.crs says "
            f"{crs_title(stated)}. Mend or leave out points.crs; points.frame states a true "
            "realisation that the file cannot name."
        )
        raise FrameError(message)
    crs = in_file if stated is None else stated
    if crs is None:
        said.append(
            f"{survey.source}: nothing states the CRS of the points; they are taken to be in that of the "
            f"products, {crs_title(products.crs)}, and in its frame and epoch."
        )
    held = products.crs if crs is None else crs
    return _fitting_columns(held, survey, said), crs is not None


def _fitting_columns(crs: pyproj.CRS, survey: SurveyPoints, said: list[str]) -> pyproj.CRS:
    """Return the CRS of columns with longitude and latitude, or of those with easting and northing."""
    if survey.geographic and not crs.is_geographic:
        base = geographic(crs, survey.source).to_2d()
        said.append(
            f"{survey.source} holds longitude and latitude: they are taken to be on {base.name}, the datum "
            f"of {crs_name(crs)}."
        )
        return base
    if crs.is_geographic and not survey.geographic:
        message = (
            f"{survey.source} holds easting and northing, and its CRS {crs_title(crs)} counts in "
            "degrees. Name the columns latitude and longitude (or map them under [points.columns]), or name "
            "the grid with points.crs."
        )
        raise FrameError(message)
    return crs


def _plan_unit(
    survey: SurveyPoints, table: Points, own_crs: pyproj.CRS | None, products: Products
) -> LinearUnit | None:
    if survey.geographic:
        return plan_unit(own_crs, survey.source) if own_crs is not None else None
    of_crs = None if own_crs is None else plan_unit(own_crs, survey.source)
    header = _heard(survey.unit, table.unit)
    stated = [("points.unit", table.unit), (survey.source, header)]
    if own_crs is not None:
        stated.append((crs_name(own_crs), of_crs))
    unit = one_unit(stated, f"easting and northing in {survey.source}", _WHICH_FOOT.format("points.unit"))
    if unit is None:
        return products.frame.unit
    if table.unit is None and {unit, products.frame.unit} == _FEET and own_crs is None:
        message = (
            f"{survey.source} counts in {unit} and the products in {products.frame.unit}: 2 millionths "
            "apart, 1.2 m in 2 million feet. Say with points.unit which foot the points are in."
        )
        raise FrameError(message)
    return unit


def _heard(header: LinearUnit | None, setting: LinearUnit | None) -> LinearUnit | None:
    # A header's “ft” is often written for the US survey foot too; the settings say which it is.
    loose = header is LinearUnit.FOOT and setting is LinearUnit.US_SURVEY_FOOT
    return None if loose else header


def _datum(
    survey: SurveyPoints, table: Points, crs: pyproj.CRS, products: Products, said: list[str]
) -> tuple[pyproj.CRS, bool]:
    if table.frame is None:
        same = table.crs == SAME_AS_PRODUCTS and survey.crs is None
        return (products.datum if same else crs), False
    if table.frame != SAME_AS_PRODUCTS:
        return realisation(table.frame, crs, "points.frame"), True
    if is_local(products.frame.crs):
        return products.frame.crs, True
    refuse_other_figure(products.datum, crs, "points.frame")
    said.append(
        f"{survey.source} is taken to be in the frame of the products, {datum_name(products.datum)}, as "
        "points.frame says."
    )
    return products.datum, True


def _heights(
    survey: SurveyPoints, table: Points, products: Products, said: list[str]
) -> tuple[HeightSystem, bool]:
    """Return the height system, and whether it is only taken to be that of the products."""
    stated = stated_heights(table)
    if survey.ellipsoidal:
        stated = _ellipsoidal(stated, survey)
    elif not stated.is_stated and survey.crs is not None and "height_system" not in table.model_fields_set:
        stated = _carried(parts(survey.crs, survey.source), survey.source)
    held = products.heights
    if not _has_heights(survey) or not stated.is_stated:
        if _has_heights(survey) and held.is_stated:
            said.append(f"The heights of {survey.source} are taken to be in {held.title}.")
        return held, not stated.is_stated
    if not held.is_stated:
        said.append(f"The heights of the products are taken to be in {stated.title} like {survey.source}.")
    return stated, False


def _ellipsoidal(stated: HeightSystem, survey: SurveyPoints) -> HeightSystem:
    """Return ellipsoidal heights, or raise `FrameError` where the settings say something else."""
    if stated.is_stated and not stated.is_ellipsoidal:
        message = (
            f"{survey.source} gives ellipsoidal heights by its format, and points.height_system or "
            f"points.crs says {stated.title}. Leave that out; elevation.height_system says what the surface "
            "counts from."
        )
        raise FrameError(message)
    return ELLIPSOIDAL_HEIGHTS


def _carried(held: CrsParts, where: str) -> HeightSystem:
    if held.vertical is not None:
        return of_vertical(held.vertical, where)
    return ELLIPSOIDAL_HEIGHTS if held.ellipsoidal else UNSTATED_HEIGHTS


def _height_unit(
    survey: SurveyPoints,
    table: Points,
    heights: HeightSystem,
    own_unit: LinearUnit | None,
    products: Products,
) -> LinearUnit:
    """Return the unit of the heights: stated, else that of the plan and of the products where they agree."""
    of_system = feet_of(heights, "points.height_system") if heights is not products.heights else None
    stated = [
        ("points.height_unit", table.height_unit),
        (survey.source, _heard(survey.height_unit, table.height_unit)),
        (f"the height system {heights.title}", of_system),
    ]
    unit = (
        one_unit(stated, f"the heights in {survey.source}", _WHICH_FOOT.format("points.height_unit"))
        or table.unit
    )
    if unit is not None:
        return unit
    of_plan = LinearUnit.METRE if survey.geographic else survey.unit or own_unit
    if of_plan is None or of_plan is products.height_unit or not _has_heights(survey):
        return products.height_unit
    if products.elevation is None:
        return of_plan
    message = (
        f"{survey.source} counts in {of_plan}, the heights of the products in {products.height_unit}, and "
        "nothing states the unit of the points' heights. Set points.height_unit."
    )
    raise FrameError(message)
