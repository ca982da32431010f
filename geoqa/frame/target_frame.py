"""The frame that points are asked to be brought into, where there are no products."""

from dataclasses import dataclass

from geoqa.errors import FrameError
from geoqa.frame.axes import parse_crs, parts, plan_unit
from geoqa.frame.datums import realisation
from geoqa.frame.declare import Products
from geoqa.frame.heights import (
    ELLIPSOIDAL_HEIGHTS,
    UNSTATED_HEIGHTS,
    HeightSystem,
    feet_of,
    height_system,
    of_vertical,
    same_height_datum,
)
from geoqa.records.points import CommonFrame
from geoqa.units import LinearUnit


@dataclass(frozen=True)
class TargetFrame:
    """What a frame is called by: codes or WKT, an epoch, a unit of height.

    Attributes
    ----------
    crs
        Projected or geographic, also compound or three-dimensional.
    frame
        True realisation where `crs` names an ensemble or a generic datum.
    height_system
        A vertical CRS, or “ellipsoidal”; that of `crs` where None, and where that names none, that of the
        points.
    height_unit
        That of the vertical CRS where None, else metres.
    """

    crs: str
    frame: str | None = None
    epoch: float | None = None
    height_system: str | None = None
    height_unit: LinearUnit | None = None


def target_products(target: TargetFrame) -> Products:
    """Return the frame in the form in which the products state theirs.

    Raises
    ------
    FrameError
        When two of its parts contradict each other.
    """
    held = parts(parse_crs(target.crs, "target_crs"), "target_crs")
    unit = plan_unit(held.horizontal, "target_crs")
    carried = UNSTATED_HEIGHTS
    if held.vertical is not None:
        carried = of_vertical(held.vertical, "target_crs")
    elif held.ellipsoidal:
        carried = ELLIPSOIDAL_HEIGHTS
    heights = _heights(target, carried)
    frame = CommonFrame(held.horizontal, unit or LinearUnit.METRE, heights.name, target.epoch)
    return Products(
        frame=frame,
        orthomosaic=None,
        elevation=None,
        heights=heights,
        height_unit=_height_unit(target, heights),
        realisation=None
        if target.frame is None
        else realisation(target.frame, held.horizontal, "target_frame"),
    )


def _heights(target: TargetFrame, carried: HeightSystem) -> HeightSystem:
    if target.height_system is None:
        return carried
    stated = height_system(target.height_system, "target_height_system")
    if carried.is_stated and not same_height_datum(stated, carried):
        message = (
            f"target_height_system is {stated.title}, and target_crs ({target.crs}) carries {carried.title}. "
            "Leave one of them out."
        )
        raise FrameError(message)
    return stated


def _height_unit(target: TargetFrame, heights: HeightSystem) -> LinearUnit:
    of_system = feet_of(heights, "target_height_system")
    if target.height_unit is None:
        return of_system or LinearUnit.METRE
    if of_system is not None and of_system is not target.height_unit:
        message = (
            f"target_height_unit is {target.height_unit}, and {heights.title} counts in {of_system}. Leave "
            "target_height_unit out, or name the vertical CRS in metres."
        )
        raise FrameError(message)
    return target.height_unit
