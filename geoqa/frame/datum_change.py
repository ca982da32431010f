"""The change from the datum of a file of points to that of the products: whether, and how.

Where PROJ also leads from one height system to the other, datum and heights change by one operation.
"""

from dataclasses import dataclass

import numpy as np

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name
from geoqa.frame.datums import SAME_AS_PRODUCTS, datum_name, geographic, is_indefinite, same_datum
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints
from geoqa.frame.epoch import epoch_of_change
from geoqa.frame.heights import HeightSystem, counting_from, same_height_datum
from geoqa.frame.operations import (
    Operation,
    Route,
    apply_operation,
    change_m,
    choose_operation,
    missing_grids,
)
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import CoordinateStep
from geoqa.records.settings import Limits

# Above this the accuracy of an operation is worth a message; below, it is lost in the survey's own.
_COARSE_M = 0.03
# What a change of datum may do to heights of an unknown system before the system has to be known.
_HEIGHT_M = 0.01


@dataclass(frozen=True, eq=False)
class ChangedDatum:
    """Points on the datum of the products.

    Attributes
    ----------
    lon_lat : array, shape (n, 2)
        Degrees; NaN where the operation gives none.
    height_m : array, shape (n,)
        Ellipsoidal heights are changed along, others are not unless their system is changed too.
    """

    lon_lat: FloatArray
    height_m: FloatArray
    step: CoordinateStep
    messages: tuple[str, ...]


def change_datum(
    stated: StatedPoints,
    products: Products,
    limits: Limits,
    lon_lat: FloatArray,
    height_m: FloatArray,
    *,
    heights: HeightSystem | None = None,
) -> ChangedDatum:
    """Return the points on the datum of the products, by one operation for all of them.

    Parameters
    ----------
    lon_lat : array, shape (n, 2)
        On the datum of the points, degrees; n > 0.
    height_m : array, shape (n,)
        NaN where a point has none.
    heights
        Height system to lead to; that of the points where None.

    Raises
    ------
    FrameError
        When a datum leaves the realisation open, an epoch or a grid is missing, or the operation is
        not accurate enough or not the only one.
    """
    # A height moves the plan position by less than a micrometre a metre: zero does for plan-only points.
    coordinates = np.column_stack([lon_lat, np.where(np.isfinite(height_m), height_m, 0.0)])
    one_datum = same_datum(stated.datum, products.datum)
    if not one_datum:
        _refuse_indefinite(stated, products, coordinates)
    epoch = _stated_epoch(stated, products) if one_datum else epoch_of_change(stated, products)
    operation = choose_operation(_route(stated, products, limits, heights, epoch), coordinates)
    after = apply_operation(operation, coordinates, epoch)
    _refuse_without_result(stated, operation, after)
    change = change_m(coordinates, after)
    if heights is None:
        change = _with_heights(stated, products, change)
    step = CoordinateStep(
        _title(one_datum=one_datum, heights=heights),
        operation.name if epoch is None or one_datum else f"{operation.name} at epoch {epoch:g}",
        operation.accuracy_m,
        change,
        operation.grids,
    )
    return ChangedDatum(after[:, :2], height_m + change[:, 2], step, _remarks(stated, operation))


def _stated_epoch(stated: StatedPoints, products: Products) -> float | None:
    return products.frame.epoch if stated.epoch is None else stated.epoch


def _route(
    stated: StatedPoints,
    products: Products,
    limits: Limits,
    heights: HeightSystem | None,
    epoch: float | None,
) -> Route:
    source = geographic(stated.datum, stated.source)
    target = geographic(products.datum, products.frame.name)
    if heights is not None and not same_height_datum(stated.heights, heights):
        source, target = counting_from(source, stated.heights), counting_from(target, heights)
    return Route(
        source=source,
        target=target,
        via=stated.via,
        epoch=epoch,
        limit_m=limits.max_operation_accuracy_m,
        where=stated.source,
        network=limits.network,
    )


def _title(*, one_datum: bool, heights: HeightSystem | None) -> str:
    changed = [*([] if one_datum else ["datum"]), *([] if heights is None else ["height system"])]
    return " and ".join(changed)


def _refuse_without_result(stated: StatedPoints, operation: Operation, after: FloatArray) -> None:
    failed = np.flatnonzero(~np.isfinite(after).all(axis=1))
    if len(failed):
        row = int(failed[0])
        others = f" (and for {len(failed) - 1} more)" if len(failed) > 1 else ""
        message = (
            f"{stated.survey.origin(row)}: “{operation.name}” gives no result for point "
            f"“{stated.survey.ids[row]}”{others}: it lies outside what the operation or its grid covers. "
            "Mend the line, or take the point out."
        )
        raise FrameError(message)


def _refuse_indefinite(stated: StatedPoints, products: Products, coordinates: FloatArray) -> None:
    open_sides = []
    if not stated.framed and is_indefinite(stated.datum):
        open_sides.append((datum_name(stated.datum), "points.frame"))
    if products.realisation is None and is_indefinite(products.datum):
        open_sides.append((datum_name(products.datum), f"{products.leading_key}.frame"))
    if not open_sides:
        return
    names, keys = (" and ".join(words) for words in zip(*open_sides, strict=True))
    sides = (geographic(stated.datum, stated.source), geographic(products.datum, stated.source))
    message = (
        f"{stated.source} is in {datum_name(stated.datum)} ({crs_name(stated.crs)}) and the products in "
        f"{datum_name(products.datum)} ({crs_name(products.frame.crs)}). The name {names} leaves open by "
        f"more than 0.1 m which realisation is meant: give it with {keys} (such as EPSG:6319 for "
        f"NAD83(2011)), or write points.frame = “{SAME_AS_PRODUCTS}” if both sides are in "
        f"one.{missing_grids(*sides, coordinates)}"
    )
    raise FrameError(message)


def _with_heights(stated: StatedPoints, products: Products, change: FloatArray) -> FloatArray:
    """Return east, north, up of the change; up is 0 unless heights count from the ellipsoid."""
    up = float(np.nanmax(np.abs(change[:, 2]), initial=0.0))
    plan = float(np.nanmax(np.abs(change[:, :2]), initial=0.0))
    if stated.heights.is_ellipsoidal and stated.has_heights:
        if up == 0.0 and plan > _HEIGHT_M:
            message = (
                f"{stated.source}: the operation to {datum_name(products.datum)} is for positions in plan "
                "and says nothing of ellipsoidal heights. Convert the heights beforehand and state their "
                "vertical CRS."
            )
            raise FrameError(message)
        return change
    # Heights of a map without a surface are compared with nothing.
    compared = stated.has_heights and (products.elevation is not None or products.orthomosaic is None)
    if compared and not stated.heights.is_stated and up > _HEIGHT_M:
        message = (
            f"{stated.source}: from {datum_name(stated.datum)} to {datum_name(products.datum)} ellipsoidal "
            f"heights change by {up:.2f} m, gravity-related ones do not. Say with points.height_system or "
            "elevation.height_system which they are."
        )
        raise FrameError(message)
    plan_only: FloatArray = change * (1.0, 1.0, 0.0)
    return plan_only


def _remarks(stated: StatedPoints, operation: Operation) -> tuple[str, ...]:
    remarks = [f"{stated.source}: {sentence}" for sentence in operation.better]
    if operation.accuracy_m > _COARSE_M:
        remarks.append(
            f"{stated.source}: “{operation.name}” is only good to {operation.accuracy_m:g} m, which limits "
            "what any residual can say."
        )
    return tuple(remarks)
