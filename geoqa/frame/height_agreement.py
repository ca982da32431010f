"""Whether the heights of points and products count from one surface, and what is said of it."""

from geoqa.errors import FrameError
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints
from geoqa.frame.heights import same_height_datum
from geoqa.records.geoid import GeoidGrid


def heights_differ(stated: StatedPoints, products: Products) -> bool:
    """Return whether the heights of the points have to be led over to those of the products."""
    pair = (stated.heights, products.heights)
    known = stated.has_heights and all(system.is_stated for system in pair)
    return known and not same_height_datum(*pair)


def heights_that_agree(
    stated: StatedPoints, products: Products, geoid: GeoidGrid | float | None
) -> tuple[str, ...]:
    """Return a message where both sides count heights from one surface, so that no geoid is applied.

    Raises
    ------
    FrameError
        When a geoid is given and the height system of a side is only taken to be that of the other.
    """
    if heights_differ(stated, products) or not stated.has_heights or products.elevation is None:
        return ()
    taken = {"points.height_system": stated.heights_taken, "elevation.height_system": products.heights_taken}
    silent = [key for key, is_taken in taken.items() if is_taken]
    if geoid is not None and silent:
        message = (
            f"{stated.source}: [geoid] is given, but without {' and '.join(silent)} points and products are "
            "taken to be in one height system, and no geoid would be applied. State the height system of "
            "both sides."
        )
        raise FrameError(message)
    if silent:
        return ()
    unused = "" if geoid is None else ", and [geoid] is not used"
    return (
        f"The heights of {stated.source} and of the products are both in {stated.heights.title}: no geoid is "
        f"applied{unused}.",
    )
