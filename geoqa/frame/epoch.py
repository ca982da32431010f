"""Coordinate epochs: the one at which two datums are compared, and two that are years apart."""

from geoqa.errors import FrameError
from geoqa.frame.datums import datum_name, is_dynamic, same_datum
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints

# Plate-fixed coordinates that are further apart in time are worth a message, in years.
_EPOCHS_APART = 5.0


def epoch_of_change(stated: StatedPoints, products: Products) -> float | None:
    """Return the epoch at which two datums are compared: that of the side where points move.

    Raises
    ------
    FrameError
        When a side is dynamic and names no epoch: PROJ would take the reference epoch of the operation.
    """
    for side, epoch, name, key in (
        (stated.datum, stated.epoch, "the points", "points.epoch"),
        (products.datum, products.frame.epoch, "the products", f"{products.leading_key}.epoch"),
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


def epochs_apart(stated: StatedPoints, products: Products) -> tuple[str, ...]:
    """Return a message where both sides name epochs that are years apart.

    Raises
    ------
    FrameError
        When both datums are dynamic: moving coordinates through time takes a velocity model.
    """
    first, second = stated.epoch, products.frame.epoch
    moving = [is_dynamic(stated.datum), is_dynamic(products.datum)]
    if (first is None) != (second is None) and all(moving) and same_datum(stated.datum, products.datum):
        silent = stated.source if first is None else "The products"
        return (
            f"{silent}: no epoch is stated, and coordinates move with time in {datum_name(stated.datum)}; "
            "both sides are compared as they are, as if at one epoch.",
        )
    if first is None or second is None or first == second:
        return ()
    if all(moving):
        message = (
            f"{stated.source} is at epoch {first:g} and the products at {second:g} in "
            f"{datum_name(products.datum)}, where coordinates move with time, and no velocity model is "
            "applied. Bring both to one epoch, or name a plate-fixed frame."
        )
        raise FrameError(message)
    if abs(first - second) <= _EPOCHS_APART:
        return ()
    return (
        f"{stated.source}: points at epoch {first:g} and products at {second:g} are compared without regard "
        "to the motion inside the plate in between, which is not known.",
    )
