"""The base correction: by how much, along which axes, and to which side.

A receiver on the base hands on vectors along the geocentric axes, so that every position that rests on
the base moves by one geocentric vector when the base does:

    d = precise − assumed        both of the mark, in one frame and at one epoch
    X' = X + d                   for every position that rests on the assumed one

The correction is applied by calculation, once, where the two sides differ. What is compared then:

    points_use  products_use   applied to   residual        as delivered, off by the correction
    assumed     assumed        neither      as delivered    points and products
    assumed     precise        points       − d             points
    assumed     independent    points       − d             points
    precise     assumed        products     + d             products
    precise     precise        neither      as delivered    none
    precise     independent    neither      as delivered    none

where "− d" means that the residual is that of the files as delivered, less d. With several sessions a
point rests on the base of its own session, and the products on the one base whose `products_use` is not
"independent".
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.base_position import Placed, placed, remark_on_frame
from geoqa.frame.base_remarks import refuse_or_warn
from geoqa.frame.datums import datum_name, is_dynamic, is_indefinite, named_frame, same_datum
from geoqa.frame.geocentric import to_geocentric, to_horizon
from geoqa.frame.operations import Route, apply_operation, choose_operation
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import AppliedTo, BaseCorrection, GivenBase
from geoqa.records.settings import Limits

# Epochs nearer than this count as one: the fastest plates move by less than 1 mm in it, in years.
ONE_EPOCH = 0.01
# Two corrections that differ by less are one: a tenth of a millimetre.
_ALIKE_M = 1e-4

ASSUMED, INDEPENDENT = "assumed", "independent"


@dataclass(frozen=True, eq=False)
class _Operation:
    """How the precise position came into the frame of the assumed one."""

    name: str | None = None
    accuracy_m: float = 0.0
    grids: tuple[str, ...] = ()


def base_corrections(bases: Sequence[GivenBase], limits: Limits) -> tuple[BaseCorrection, ...]:
    """Return the correction of each base, with the side that it is applied to.

    Raises
    ------
    FrameError
        When the frames or epochs of two positions cannot be brought together, a correction is too large,
        or the products rest on several bases with different corrections.
    """
    found = tuple(_correction(base, limits) for base in bases)
    shift = products_shift_m(found)
    return tuple(replace(item, applied_to=_applied_to(item, found, shift)) for item in found)


def _correction(base: GivenBase, limits: Limits) -> BaseCorrection:
    table = base.table
    assumed, precise = (placed(given, table.antenna_height_m) for given in (base.assumed, base.precise))
    in_frame, operation = _in_frame_of(assumed, precise, base, limits)
    assumed_m = to_geocentric(assumed.place, assumed.frame)[0]
    precise_m = to_geocentric(in_frame, assumed.frame)[0]
    shift_enu = to_horizon(assumed.place)[0] @ (precise_m - assumed_m)
    moves = is_dynamic(assumed.frame)
    correction = BaseCorrection(
        session=table.session,
        frame=assumed.frame,
        epoch=precise.given.epoch if is_dynamic(precise.frame) or not moves else assumed.given.epoch,
        assumed_m=assumed_m,
        precise_m=precise_m,
        shift_enu_m=shift_enu,
        covariance_m2=precise.covariance_m2,
        operation_accuracy_m=operation.accuracy_m,
        points_use=table.points_use,
        products_use=table.products_use,
        source=_source(assumed, precise, operation, table.antenna_height_m),
        assumptions=(
            *assumed.assumptions,
            *precise.assumptions,
            *_on_mark(base),
            *_one_realisation(assumed, precise),
        ),
        grids=operation.grids,
        messages=tuple(
            sentence
            for side in (assumed, precise)
            for sentence in (*side.given.notes, *remark_on_frame(side))
        ),
    )
    told = refuse_or_warn(correction, base.key, assumed.place, limits)
    return replace(correction, messages=(*correction.messages, *told))


def _in_frame_of(
    assumed: Placed, precise: Placed, base: GivenBase, limits: Limits
) -> tuple[FloatArray, _Operation]:
    """Return the precise position on the datum and at the epoch of the assumed one, shape (1, 3)."""
    if is_dynamic(assumed.frame) and is_dynamic(precise.frame):
        _refuse_epochs_apart(assumed, precise)
    if same_datum(assumed.frame, precise.frame):
        return precise.place, _Operation()
    for side in (assumed, precise):
        if is_indefinite(side.frame):
            other = precise if side is assumed else assumed
            message = (
                f"{side.title}, which leaves open by more than 0.1 m which realisation is meant, and "
                f"{other.title}. The difference of two frames must not go into the correction: name the "
                "frame that the numbers of both are to be read in with base.crs, or the true one with "
                f"{side.given.key}.crs."
            )
            raise FrameError(message)
    epoch = precise.given.epoch if is_dynamic(precise.frame) else assumed.given.epoch
    if epoch is None:
        epoch = precise.given.epoch
    route = Route(
        source=precise.frame,
        target=assumed.frame,
        via=None if base.table.via is None else named_frame(base.table.via, f"{base.key}.via"),
        epoch=epoch,
        limit_m=limits.max_operation_accuracy_m,
        where=f"{base.precise.key} to the frame of {base.assumed.key}",
        network=limits.network,
        side="base",
    )
    operation = choose_operation(route, precise.place)
    name = operation.name if epoch is None else f"{operation.name} at epoch {epoch:g}"
    return apply_operation(operation, precise.place, epoch), _Operation(
        name, operation.accuracy_m, operation.grids
    )


def _refuse_epochs_apart(assumed: Placed, precise: Placed) -> None:
    first, second = assumed.given.epoch, precise.given.epoch
    if first is None or second is None or abs(first - second) <= ONE_EPOCH:
        return
    message = (
        f"{assumed.title} at epoch {first:g} and {precise.title} at epoch {second:g}: coordinates move with "
        "time there, by up to 10 cm a year, and no velocity is at hand. Give both positions at one epoch. "
        "(The assumed one is only the numbers that the receivers were told: it takes the epoch of the "
        "precise one if the points are to be at that.)"
    )
    raise FrameError(message)


def _on_mark(base: GivenBase) -> list[str]:
    if base.precise.on_antenna == base.assumed.on_antenna:
        return []
    up, down = (base.precise, base.assumed) if base.precise.on_antenna else (base.assumed, base.precise)
    return [
        f"{up.key} is taken to be that of the antenna reference point, {base.table.antenna_height_m:g} m "
        f"above the mark, and {down.key} that of the mark itself."
    ]


def _one_realisation(assumed: Placed, precise: Placed) -> list[str]:
    if not (same_datum(assumed.frame, precise.frame) and is_indefinite(assumed.frame)):
        return []
    return [
        f"{assumed.given.key} and {precise.given.key} both name {datum_name(assumed.frame)}: they are taken "
        "to be in one realisation and at one epoch of it."
    ]


def _source(assumed: Placed, precise: Placed, operation: _Operation, antenna_height_m: float | None) -> str:
    def told(side: Placed) -> str:
        longitude, latitude, height = side.place[0]
        where = f"{latitude:.9f}°, {longitude:.9f}°, {height:.4f} m in {datum_name(side.frame)}"
        at = "" if side.given.epoch is None else f" at epoch {side.given.epoch:g}"
        lowered = f", {antenna_height_m:g} m below the antenna" if side.given.on_antenna else ""
        return f"{where}{at}{lowered} ({side.given.source})"

    by = "" if operation.name is None else f", brought together by {operation.name}"
    return f"assumed {told(assumed)}; precise {told(precise)}{by}"


def points_shift_m(correction: BaseCorrection) -> FloatArray:
    """Return what points measured from this base lack, along the geocentric axes, shape (3,)."""
    return correction.shift_m if correction.points_use == ASSUMED else np.zeros(3)


def products_shift_m(corrections: Sequence[BaseCorrection]) -> FloatArray:
    """Return what the products lack, along the geocentric axes, shape (3,).

    Raises
    ------
    FrameError
        When they are said to rest on bases whose corrections differ.
    """
    rest_on = [item for item in corrections if item.products_use != INDEPENDENT]
    shifts = [item.shift_m if item.products_use == ASSUMED else np.zeros(3) for item in rest_on]
    for item, shift in zip(rest_on, shifts, strict=True):
        if float(np.linalg.norm(shift - shifts[0])) > _ALIKE_M:
            message = (
                f"The products are said to rest on the {rest_on[0].products_use} position of the base of "
                f"session {rest_on[0].session} and on the {item.products_use} one of session {item.session}, "
                "and these ask for different corrections. Products rest on one base: set base.products_use "
                "to “independent” for the sessions in which they were not made."
            )
            raise FrameError(message)
    return shifts[0] if shifts else np.zeros(3)


def _applied_to(
    correction: BaseCorrection, corrections: Sequence[BaseCorrection], products: FloatArray
) -> AppliedTo:
    lacking = [float(np.linalg.norm(points_shift_m(item) - products)) for item in corrections]
    if max(lacking) <= _ALIKE_M:
        # Both sides lack the same: moving both, or neither, gives the same residuals.
        return AppliedTo.NEITHER
    to_points = correction.points_use == ASSUMED
    to_products = correction.products_use == ASSUMED
    return {
        (True, True): AppliedTo.BOTH,
        (True, False): AppliedTo.POINTS,
        (False, True): AppliedTo.PRODUCTS,
        (False, False): AppliedTo.NEITHER,
    }[to_points, to_products]


def moves_points(correction: BaseCorrection) -> bool:
    """Return whether points measured from this base are moved."""
    return correction.applied_to in (AppliedTo.POINTS, AppliedTo.BOTH)


def moves_products(corrections: Sequence[BaseCorrection]) -> bool:
    """Return whether the products are moved."""
    return any(item.applied_to in (AppliedTo.PRODUCTS, AppliedTo.BOTH) for item in corrections)


def verdict_notes(corrections: Sequence[BaseCorrection]) -> tuple[str, ...]:
    """Return what must not be parted from the verdict: that files as delivered lie off the truth."""
    resting = next((item for item in corrections if item.products_use == ASSUMED), None)
    if resting is None:
        return ()
    both = resting.points_use == ASSUMED
    who = "The products, and the points, as delivered lie" if both else "The products as delivered lie"
    east, north, up = resting.shift_enu_m
    return (
        f"{who} {resting.distance_m:.3f} m from the truth, since they rest on the assumed position of the "
        f"base: move them by {east:+.3f} m east, {north:+.3f} m north and {up:+.3f} m up.".replace("-", "−"),
    )


def frame_remarks(
    corrections: Sequence[BaseCorrection], datum: pyproj.CRS, epoch: float | None, who: str
) -> tuple[str, ...]:
    """Return messages where the base positions and what they correct are not in one frame.

    Parameters
    ----------
    datum, epoch
        Of the points; `who` names them.

    Raises
    ------
    FrameError
        When both are in one frame that moves, at different epochs.
    """
    told = []
    for item in corrections:
        one = same_datum(item.frame, datum)
        if one and is_dynamic(datum) and item.epoch is not None and epoch is not None:
            if abs(item.epoch - epoch) > ONE_EPOCH:
                message = (
                    f"{who} is at epoch {epoch:g} and the base at {item.epoch:g} in {datum_name(datum)}, "
                    "where coordinates move with time. Points corrected by a base are at the epoch of its "
                    "position: give both the same epoch."
                )
                raise FrameError(message)
        elif not one:
            told.append(
                f"{who} is in {datum_name(datum)} and the positions of the base are in {item.frame.name}: "
                "the correction is applied as it is. That is right where the field software brought the "
                "points from the one frame into the other, not where one is only a label of the other."
            )
    return tuple(dict.fromkeys(told))
