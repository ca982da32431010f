"""A table of points moved with its base, in the CRS that it came in."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.errors import InputError
from geoqa.frame.axes import CrsParts, parse_crs, parts, plan_unit
from geoqa.frame.base_shift import base_corrections
from geoqa.frame.datums import SAME_AS_PRODUCTS, geographic
from geoqa.frame.target_frame import TargetFrame
from geoqa.processes._transformed import transformed
from geoqa.readers.base_position import read_bases
from geoqa.readers.points import PointsRequest, read_points
from geoqa.records.points import SurveyPoints
from geoqa.records.settings import Points, Settings
from geoqa.units import LinearUnit


def corrected(settings: Settings, file: Path) -> Mapping[str, Any]:
    """Write the points of the settings moved with their base, and return the correction."""
    (table,) = settings.points
    survey = read_points(settings.file(table.path), PointsRequest(table.layout, table.columns))
    (correction,) = base_corrections(read_bases(settings), settings.limits)
    moved = transformed(settings, _own_frame(survey, table), file, base=(correction,))
    sigma = correction.sigma_m
    return {
        "file": moved["file"],
        "crs": moved["crs"],
        "count": moved["count"],
        "shift_m": correction.shift_enu_m.tolist(),
        "shift_geocentric_m": correction.shift_m.tolist(),
        "distance_m": correction.distance_m,
        "sigma_m": None if sigma is None else sigma.tolist(),
        "source": correction.source,
        # The others speak of products, which are the points themselves here.
        "assumptions": list(correction.assumptions),
        "messages": [*correction.messages, *moved["messages"]],
    }


def _own_frame(survey: SurveyPoints, table: Points) -> TargetFrame:
    """Return the CRS, epoch and units that the points are in, as what they are to be written in."""
    held = _held(survey, table)
    plan = held.horizontal
    if survey.geographic and not plan.is_geographic:
        plan = geographic(plan, survey.source).to_2d()
    unit = table.height_unit or table.unit or survey.height_unit or survey.unit
    if unit is None:
        unit = None if plan.is_geographic else plan_unit(plan, survey.source)
    return TargetFrame(plan.to_wkt(), epoch=table.epoch, height_unit=unit or LinearUnit.METRE)


def _held(survey: SurveyPoints, table: Points) -> CrsParts:
    if table.crs != SAME_AS_PRODUCTS:
        return parts(parse_crs(table.crs, "points_crs"), "points_crs")
    if survey.crs is None:
        message = (
            f"{survey.source}: nothing states the CRS of the points. Name it with --points-crs, such as "
            "EPSG:9990."
        )
        raise InputError(message)
    return parts(survey.crs, survey.source)
