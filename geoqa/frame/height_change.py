"""From datum and heights of a file of points to those of the products, in the right order.

Heights that count from different surfaces are led over by the first of these that is there: the grid
that the user names, an operation that PROJ knows, the separations that come with the points, one
separation for the site. A grid and a number count from the ellipsoid of the side with gravity-related
heights, a column from that of the points.
"""

from dataclasses import dataclass, replace

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.datum_change import ChangedDatum, change_datum
from geoqa.frame.datums import datum_name, geographic, same_datum
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints
from geoqa.frame.geoid import another_datum, fitting_grid, names_datum_of
from geoqa.frame.height_agreement import heights_differ
from geoqa.frame.heights import HeightSystem, counting_from
from geoqa.frame.operations import missing_grids
from geoqa.frame.separations import COLUMN, Separations, by_column, by_grid, by_number, median_of_column
from geoqa.numerics.arrays import FloatArray
from geoqa.records.geoid import GeoidGrid
from geoqa.records.points import CoordinateStep
from geoqa.records.settings import Limits

_WAYS = (
    "Name a geoid grid with geoid.grid, install the one that PROJ wants, or give the separation: one number "
    f"with geoid.separation_m, or one for each point in a column “{COLUMN}”. Where an operation is good "
    "enough for the client, raise limits.max_operation_accuracy_m."
)
_BETWEEN_GEOIDS = (
    "Convert one side beforehand, or, where an operation is good enough for the client, raise "
    "limits.max_operation_accuracy_m."
)


@dataclass(frozen=True, eq=False)
class Moved:
    """Points on the datum and in the heights of the products.

    Attributes
    ----------
    lon_lat : array, shape (n, 2), or None
        Degrees; None where the points are in a local grid.
    height_m : array, shape (n,)
        NaN where a point has none.
    """

    lon_lat: FloatArray | None
    height_m: FloatArray
    steps: tuple[CoordinateStep, ...] = ()
    assumptions: tuple[str, ...] = ()
    messages: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Way:
    """One file of points on its way, and what is at hand for it."""

    stated: StatedPoints
    products: Products
    limits: Limits
    geoid: GeoidGrid | float | None
    span_m: float

    @property
    def one_datum(self) -> bool:
        return same_datum(self.stated.datum, self.products.datum)

    @property
    def gravity_related(self) -> HeightSystem | None:
        """Return the one gravity-related system of the two sides, or None where both are."""
        sides = [side for side in (self.stated.heights, self.products.heights) if side.vertical is not None]
        return sides[0] if len(sides) == 1 else None

    @property
    def towards_gravity(self) -> bool:
        return self.stated.heights.is_ellipsoidal


def change_frame(
    stated: StatedPoints,
    products: Products,
    limits: Limits,
    lon_lat: FloatArray | None,
    height_m: FloatArray,
    *,
    geoid: GeoidGrid | float | None,
    span_m: float,
) -> Moved:
    """Return the points on the datum and in the heights of the products.

    Parameters
    ----------
    lon_lat : array, shape (n, 2), or None
        On the datum of the points, degrees; None where they are in the local grid of the products.
    height_m : array, shape (n,)
        NaN where a point has none.
    geoid
        A grid of separations, one separation in metres, or None.
    span_m
        Diagonal of the box around the points.

    Raises
    ------
    FrameError
        When a step cannot be done exactly; the sentence says what is missing.
    """
    way = _Way(stated, products, limits, geoid, span_m)
    start = Moved(lon_lat, height_m)
    if not heights_differ(stated, products):
        return _datum_alone(way, start)
    if isinstance(geoid, GeoidGrid):
        return _by_own_grid(way, geoid, start)
    if lon_lat is None:
        return _by_separation(way, start, "Neither names a place on the Earth.")
    try:
        changed = change_datum(stated, products, limits, lon_lat, height_m, heights=products.heights)
    except FrameError as reason:
        return _by_separation(way, start, str(reason).removeprefix(f"{stated.source}: "))
    return _after(start, changed, _unused(way, changed))


def _datum_alone(way: _Way, start: Moved) -> Moved:
    if start.lon_lat is None or way.one_datum:
        return start
    return _after(start, change_datum(way.stated, way.products, way.limits, start.lon_lat, start.height_m))


def _after(start: Moved, changed: ChangedDatum, more: tuple[str, ...] = ()) -> Moved:
    return replace(
        start,
        lon_lat=changed.lon_lat,
        height_m=changed.height_m,
        steps=(*start.steps, changed.step),
        messages=(*start.messages, *changed.messages, *more),
    )


def _by_own_grid(way: _Way, grid: GeoidGrid, start: Moved) -> Moved:
    gravity_related = way.gravity_related
    if gravity_related is None:
        message = (
            f"{way.stated.source}: heights in {way.stated.heights.title} and in {way.products.heights.title} "
            f"differ by two geoids, and geoid.grid ({grid.name}) holds one. Convert one side to ellipsoidal "
            "heights beforehand, or leave [geoid] out to let PROJ look for an operation."
        )
        raise FrameError(message)
    fitting_grid(grid, gravity_related)
    at_points = _at_points(way, grid)
    datum = way.stated.datum if at_points else way.products.datum
    told = another_datum(grid, datum)
    start = replace(start, messages=() if told is None else (told,), assumptions=_taken(way, grid, datum))
    return _in_order(way, start, grid, at_points=at_points)


def _at_points(way: _Way, grid: GeoidGrid) -> bool:
    """Return whether the separations count from the ellipsoid of the points' datum."""
    if names_datum_of(grid, way.products.datum):
        return False
    return names_datum_of(grid, way.stated.datum) or not way.towards_gravity


def _taken(way: _Way, grid: GeoidGrid, datum: pyproj.CRS) -> tuple[str, ...]:
    if grid.vertical is not None and names_datum_of(grid, datum):
        return ()
    gravity_related = way.gravity_related
    title = "" if gravity_related is None else gravity_related.title
    return (
        f"The separations of {grid.name} are taken to lead from the ellipsoid of {datum_name(datum)} to "
        f"{title}.",
    )


def _by_separation(way: _Way, start: Moved, reason: str) -> Moved:
    """Return the points by the separations of the column or by the one number; raise where there is none."""
    wanted = np.isfinite(start.height_m)
    gravity_related = way.gravity_related
    column = COLUMN in way.stated.survey.attributes
    if gravity_related is None or not (column or isinstance(way.geoid, float)):
        ways = _BETWEEN_GEOIDS if gravity_related is None else _WAYS
        message = (
            f"{way.stated.source}: the height system of the points is {way.stated.heights.title}, that of "
            f"the products {way.products.heights.title}. {reason[0].upper()}{reason[1:]} {ways}"
        )
        raise FrameError(message)
    if column:
        found, at_points = by_column(way.stated, wanted, way.span_m), True
    else:
        found = by_number(float(way.geoid), way.stated, wanted, way.span_m)  # type: ignore[arg-type]
        at_points = not way.towards_gravity
    taken = (
        f"{way.stated.source}: the separations ({found.origin}) are taken to be those of "
        f"{gravity_related.title}, since no operation of PROJ was at hand."
    )
    start = replace(start, assumptions=(taken,), messages=_wanted_grids(way, start))
    return _in_order(way, start, found, at_points=at_points)


def _wanted_grids(way: _Way, start: Moved) -> tuple[str, ...]:
    if start.lon_lat is None:
        return ()
    source = counting_from(geographic(way.stated.datum, way.stated.source), way.stated.heights)
    target = counting_from(geographic(way.products.datum, way.stated.source), way.products.heights)
    places = np.column_stack([start.lon_lat, np.zeros(len(start.lon_lat))])
    wanted = missing_grids(source, target, places).strip()
    return (
        (f"{way.stated.source}: a geoid grid would be better than a separation. {wanted}",) if wanted else ()
    )


def _in_order(way: _Way, start: Moved, source: GeoidGrid | Separations, *, at_points: bool) -> Moved:
    """Return the points with the geoid applied before or after the change of datum."""
    if at_points:
        applied = _geoid_step(way, start, source)
        return _datum_alone(_with_heights_of_products(way), applied)
    return _geoid_step(way, _datum_alone(way, start), source)


def _with_heights_of_products(way: _Way) -> _Way:
    return replace(way, stated=replace(way.stated, heights=way.products.heights))


def _geoid_step(way: _Way, start: Moved, source: GeoidGrid | Separations) -> Moved:
    wanted = np.isfinite(start.height_m)
    if isinstance(source, GeoidGrid):
        source = by_grid(source, way.stated, _places(way, start), wanted)
    sign, word = (-1.0, "minus") if way.towards_gravity else (1.0, "plus")
    change = np.zeros((len(wanted), 3))
    change[:, 2] = sign * source.values_m
    operation = f"height {word} separation of the geoid: {source.origin}"
    step = CoordinateStep("geoid", operation, source.accuracy_m, change, source.grids, exact=False)
    return replace(
        start,
        height_m=start.height_m + change[:, 2],
        steps=(*start.steps, step),
        messages=(*start.messages, *source.messages),
    )


def _places(way: _Way, start: Moved) -> FloatArray:
    if start.lon_lat is None:
        geographic(
            way.stated.crs, way.stated.source
        )  # refuses a local grid, which says of no place where it is
        return np.empty((0, 2))
    return start.lon_lat


def _unused(way: _Way, changed: ChangedDatum) -> tuple[str, ...]:
    """Return a message where separations were given and an operation of PROJ went before them."""
    up = changed.step.change_m[:, 2]
    official = -float(np.nanmedian(up)) if way.towards_gravity else float(np.nanmedian(up))
    given = {
        "geoid.separation_m": way.geoid if isinstance(way.geoid, float) else None,
        f"the column {COLUMN}": median_of_column(way.stated),
    }
    return tuple(
        f"{way.stated.source}: {name} ({value:.3f} m) is not used: “{changed.step.operation}” goes "
        f"before it and amounts to {official:.3f} m here."
        for name, value in given.items()
        if value is not None and way.gravity_related is not None
    )
