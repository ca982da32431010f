"""The change from the datum of a file of points to that of the products: whether, and how."""

from dataclasses import dataclass

import numpy as np

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name
from geoqa.frame.datums import SAME_AS_PRODUCTS, datum_name, geographic, is_dynamic, is_indefinite
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints
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
# Plate-fixed coordinates that are further apart in time are worth a message, in years.
_EPOCHS_APART = 5.0


@dataclass(frozen=True, eq=False)
class ChangedDatum:
    """Points on the datum of the products.

    Attributes
    ----------
    lon_lat : array, shape (n, 2)
        Degrees; NaN where the operation gives none.
    height_m : array, shape (n,)
        Ellipsoidal heights are changed along, others are not.
    """

    lon_lat: FloatArray
    height_m: FloatArray
    step: CoordinateStep
    messages: tuple[str, ...]


def change_datum(
    stated: StatedPoints, products: Products, limits: Limits, lon_lat: FloatArray, height_m: FloatArray
) -> ChangedDatum:
    """Return the points on the datum of the products, by one operation for all of them.

    Parameters
    ----------
    lon_lat : array, shape (n, 2)
        On the datum of the points, degrees; n > 0.
    height_m : array, shape (n,)
        NaN where a point has none.

    Raises
    ------
    FrameError
        When a datum leaves the realisation open, an epoch or a grid is missing, or the operation is
        not accurate enough or not the only one.
    """
    # A height moves the plan position by less than a micrometre a metre: zero does for plan-only points.
    coordinates = np.column_stack([lon_lat, np.where(np.isfinite(height_m), height_m, 0.0)])
    _refuse_indefinite(stated, products, coordinates)
    epoch = _epoch(stated, products)
    route = Route(
        source=geographic(stated.datum, stated.source),
        target=geographic(products.datum, products.frame.name),
        via=stated.via,
        epoch=epoch,
        limit_m=limits.max_operation_accuracy_m,
        where=stated.source,
    )
    operation = choose_operation(route, coordinates)
    after = apply_operation(operation, coordinates, epoch)
    change = _with_heights(stated, products, change_m(coordinates, after))
    name = operation.name if epoch is None else f"{operation.name} at epoch {epoch:g}"
    step = CoordinateStep("datum", name, operation.accuracy_m, change)
    return ChangedDatum(after[:, :2], height_m + change[:, 2], step, _remarks(stated, operation))


def epochs_apart(stated: StatedPoints, products: Products) -> tuple[str, ...]:
    """Return a message where both sides name epochs that are years apart.

    Raises
    ------
    FrameError
        When both datums are dynamic: moving coordinates through time takes a velocity model.
    """
    first, second = stated.epoch, products.frame.epoch
    moving = [is_dynamic(stated.datum), is_dynamic(products.datum)]
    if first is None or second is None or first == second:
        return ()
    if all(moving):
        message = (
            f"{stated.source} is at epoch {first:g} and the products at {second:g} in "
            f"{datum_name(products.datum)}, where coordinates move with time, and no velocity model is "
            "applied. Bring both to one epoch, or name a plate-fixed frame."
        )
        raise FrameError(message)
    if any(moving) or abs(first - second) <= _EPOCHS_APART:
        return ()
    return (
        f"{stated.source}: points at epoch {first:g} and products at {second:g} are compared as they are; "
        "motion inside the plate in between is not known.",
    )


def _refuse_indefinite(stated: StatedPoints, products: Products, coordinates: FloatArray) -> None:
    open_sides = []
    if not stated.framed and is_indefinite(stated.datum):
        open_sides.append((datum_name(stated.datum), "points.frame"))
    if products.realisation is None and is_indefinite(products.datum):
        open_sides.append((datum_name(products.datum), f"{_leading(products)}.frame"))
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


def _leading(products: Products) -> str:
    return "elevation" if products.orthomosaic is None and products.elevation is not None else "orthomosaic"


def _epoch(stated: StatedPoints, products: Products) -> float | None:
    """Return the epoch at which the datums are compared: that of the side where points move."""
    for side, epoch, name, key in (
        (stated.datum, stated.epoch, "the points", "points.epoch"),
        (products.datum, products.frame.epoch, "the products", f"{_leading(products)}.epoch"),
    ):
        if is_dynamic(side) and epoch is None:
            message = (
                f"{stated.source}: {datum_name(side)}, the datum of {name}, is dynamic: coordinates move "
                f"with time, and no epoch is given. Set {key} to the decimal year they refer to, such as "
                "2026.45."
            )
            raise FrameError(message)
    if is_dynamic(products.datum) and not is_dynamic(stated.datum):
        return products.frame.epoch
    return products.frame.epoch if stated.epoch is None else stated.epoch


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
    compared = products.elevation is not None and stated.has_heights
    if compared and not stated.heights.is_stated and up > _HEIGHT_M:
        message = (
            f"{stated.source}: from {datum_name(stated.datum)} to {datum_name(products.datum)} ellipsoidal "
            f"heights change by {up:.2f} m, gravity-related ones do not. Say with elevation.height_system "
            "which they are."
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
