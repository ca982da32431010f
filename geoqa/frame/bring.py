"""Bring the points of one file from its own words to the frame of the products, step by step."""

from dataclasses import dataclass, replace

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, equal_crs, is_local, plan_unit
from geoqa.frame.base_points import correct_points
from geoqa.frame.datums import geographic, same_datum
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints, stated_points
from geoqa.frame.epoch import epochs_apart
from geoqa.frame.height_agreement import heights_differ, heights_that_agree
from geoqa.frame.height_change import change_frame
from geoqa.frame.heights import HeightSystem
from geoqa.frame.operations import change_m
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.frame.site_grid import POINTS, PRODUCTS, refuse_degrees, remarks, site_step, to_grid, to_site
from geoqa.frame.steps import projection_step, ratio, unit_step
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.geoid import GeoidGrid
from geoqa.records.points import CoordinateStep, SurveyPoints
from geoqa.records.settings import Limits, Points, SiteGrid


@dataclass(frozen=True, eq=False)
class Given:
    """What the settings bring beside the files.

    Attributes
    ----------
    geoid
        A grid of separations, or one for the site in metres, or None.
    site_grid
        From the map grid to coordinates of the site, or None.
    """

    limits: Limits
    geoid: GeoidGrid | float | None = None
    site_grid: SiteGrid | None = None


@dataclass(frozen=True, eq=False)
class Brought:
    """The points of one file in the frame of the products, with what was done to them.

    Attributes
    ----------
    plan : array, shape (n, 2)
        In the CRS of the frame and its unit; longitude and latitude of a geographic one.
    height_m : array, shape (n,)
        Of the ground at the point, NaN where none.
    heights
        What they count from.
    """

    plan: FloatArray
    height_m: FloatArray
    heights: HeightSystem
    steps: tuple[CoordinateStep, ...]
    assumptions: tuple[str, ...]
    messages: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Way:
    """A file on its way: coordinates so far, and the steps that led there."""

    stated: StatedPoints
    products: Products
    given: Given
    plan: FloatArray
    height_m: FloatArray
    steps: tuple[CoordinateStep, ...] = ()
    assumptions: tuple[str, ...] = ()
    messages: tuple[str, ...] = ()

    @property
    def one_crs(self) -> bool:
        """Return whether the points are in the CRS of the products, and truly so."""
        same = equal_crs(self.stated.crs, self.products.frame.crs)
        return same and same_datum(self.stated.datum, self.products.datum)

    def in_site_grid(self, side: str) -> bool:
        """Return whether the coordinates of a side are those of the site."""
        site = self.given.site_grid
        if site is None or side not in site.applies_to:
            return False
        both = POINTS in site.applies_to and PRODUCTS in site.applies_to
        return not (both and self.one_crs)


def bring(survey: SurveyPoints, table: Points, products: Products, given: Given) -> Brought:
    """Return the points of one file in the frame of the products.

    Raises
    ------
    FrameError
        When something cannot be done exactly: the sentence says what, and what to do.
    """
    way = _start(survey, table, products, given)
    for stage in (_out_of_site_grid, _with_base, _to_products, _into_site_grid, _to_ground):
        way = stage(way)
    heights = products.heights if products.heights.is_stated else way.stated.heights
    return Brought(way.plan, way.height_m, heights, way.steps, way.assumptions, way.messages)


def places_of(survey: SurveyPoints, table: Points, products: Products, given: Given) -> FloatArray:
    """Return longitude and latitude of points on their own datum, degrees, shape (n, 2)."""
    way = _start(survey, table, products, given)
    site = given.site_grid
    geographic(way.stated.crs, survey.source)  # refuses a local grid
    plan = way.plan
    if site is not None and POINTS in site.applies_to:
        unit_m = _metres(way.stated.crs, survey.source)
        plan = to_grid(plan * unit_m, site) / unit_m
    lon_lat = to_geographic(plan, way.stated.crs)
    _refuse_rows(survey, np.isfinite(lon_lat), f"lies outside what {crs_name(way.stated.crs)} can hold")
    return lon_lat


def _start(survey: SurveyPoints, table: Points, products: Products, given: Given) -> _Way:
    _refuse_rows(survey, np.isfinite(survey.coordinates[:, :2]), "has no position")
    stated = stated_points(survey, table, products)
    if stated.unit is None:
        on_earth = np.abs(survey.coordinates[:, :2]) <= (360.0, 90.0)
        _refuse_rows(survey, on_earth, "has no longitude and latitude in degrees")
    return _Way(
        stated,
        # Published positions of marks rest on no base.
        replace(products, base=()) if table.known else products,
        given,
        plan=survey.coordinates[:, :2] * ratio(stated.unit, plan_unit(stated.crs, stated.source)),
        height_m=survey.coordinates[:, 2] * stated.height_unit.metres,
        steps=tuple(unit_step(stated)),
        assumptions=stated.assumptions,
        messages=(
            *epochs_apart(stated, products),
            *heights_that_agree(stated, products, given.geoid),
        ),
    )


def _out_of_site_grid(way: _Way) -> _Way:
    """Return the points in the map grid of their CRS, where they are in coordinates of the site."""
    site = way.given.site_grid
    if site is None or not way.in_site_grid(POINTS):
        return way
    crs, source = way.stated.crs, way.stated.source
    refuse_degrees(crs, source)
    unit_m = _metres(crs, source)
    before = way.plan * unit_m
    after = to_grid(before, site)
    told = remarks(site, crs, after / unit_m, way.height_m) if len(after) else ()
    step = site_step(before, after, site, inverse=True)
    return replace(way, plan=after / unit_m, steps=(*way.steps, step), messages=(*way.messages, *told))


def _with_base(way: _Way) -> _Way:
    """Return the points moved with the base that they rest on, still in their own CRS."""
    corrections, stated, survey = way.products.base, way.stated, way.stated.survey
    if not corrections:
        return way
    geographic(stated.crs, survey.source)  # refuses a local grid
    # Where both sides are in coordinates of the site, the points have not left these.
    site = None if way.in_site_grid(POINTS) else way.given.site_grid
    site = site if site is not None and POINTS in site.applies_to else None
    unit_m = _metres(stated.crs, survey.source)
    plan = way.plan if site is None else to_grid(way.plan * unit_m, site) / unit_m
    lon_lat = to_geographic(plan, stated.crs)
    _refuse_rows(survey, np.isfinite(lon_lat), f"lies outside what {crs_name(stated.crs)} can hold")
    moved = correct_points(stated, lon_lat, way.height_m, corrections, geoid=way.given.geoid)
    if moved.steps:
        plan = from_geographic(moved.lon_lat, stated.crs)
        way = replace(way, plan=plan if site is None else to_site(plan * unit_m, site) / unit_m)
    return replace(
        way,
        height_m=moved.height_m,
        steps=(*way.steps, *moved.steps),
        messages=(*way.messages, *moved.messages),
    )


def _to_products(way: _Way) -> _Way:
    """Return the points in the CRS, on the datum and in the heights of the products."""
    stated, products, survey = way.stated, way.products, way.stated.survey
    differ = heights_differ(stated, products)
    if not len(survey) or (way.one_crs and not differ):
        return way
    lon_lat = None
    if not (way.one_crs and is_local(stated.crs)):
        for crs in (stated.crs, products.frame.crs):
            geographic(crs, survey.source)  # refuses a local grid
        lon_lat = to_geographic(way.plan, stated.crs)
        _refuse_rows(survey, np.isfinite(lon_lat), f"lies outside what {crs_name(stated.crs)} can hold")
    moved = change_frame(
        stated,
        products,
        way.given.limits,
        lon_lat,
        way.height_m,
        geoid=way.given.geoid,
        span_m=_span_m(way, lon_lat),
    )
    plan, steps = way.plan, moved.steps
    if moved.lon_lat is not None and not way.one_crs:
        plan = from_geographic(moved.lon_lat, products.frame.crs)
        _refuse_rows(survey, np.isfinite(plan), f"lies outside what {products.frame.name} can hold")
        steps = (*steps, *projection_step(stated, products))
    return replace(
        way,
        plan=plan,
        height_m=moved.height_m,
        steps=(*way.steps, *steps),
        assumptions=(*way.assumptions, *moved.assumptions),
        messages=(*way.messages, *moved.messages),
    )


def _into_site_grid(way: _Way) -> _Way:
    """Return the points in coordinates of the site, where the products are in these."""
    site = way.given.site_grid
    if site is None or not way.in_site_grid(PRODUCTS):
        return way
    crs = way.products.frame.crs
    unit_m = _metres(crs, way.products.frame.name)
    before = way.plan * unit_m
    after = to_site(before, site)
    told = remarks(site, crs, way.plan, way.height_m) if len(after) else ()
    step = site_step(before, after, site, inverse=False)
    return replace(way, plan=after / unit_m, steps=(*way.steps, step), messages=(*way.messages, *told))


def _to_ground(way: _Way) -> _Way:
    """Return the heights of the ground, where the target stands above it."""
    survey = way.stated.survey
    if not survey.target_height_m.any():
        return way
    change = np.zeros((len(survey), 3))
    change[:, 2] = -survey.target_height_m
    step = CoordinateStep("height of the target", "height of the target above the ground", None, change)
    return replace(way, height_m=way.height_m - survey.target_height_m, steps=(*way.steps, step))


def _metres(crs: pyproj.CRS, where: str) -> float:
    unit = plan_unit(crs, where)
    return 1.0 if unit is None else unit.metres


def _span_m(way: _Way, lon_lat: FloatArray | None) -> float:
    """Return the diagonal of the box around the points."""
    if lon_lat is None:
        plan_m = way.plan * _metres(way.stated.crs, way.stated.source)
    else:
        places = np.column_stack([lon_lat, np.zeros(len(lon_lat))])
        plan_m = change_m(np.broadcast_to(places[0], places.shape), places)[:, :2]
    return float(np.hypot(*np.ptp(plan_m, axis=0)))


def _refuse_rows(survey: SurveyPoints, right: BoolArray, found: str) -> None:
    """Raise `FrameError` that names the first row of which a number is not right, shape (n, 2)."""
    wrong = np.flatnonzero(~right.all(axis=1))
    if len(wrong):
        row = int(wrong[0])
        first, second = survey.coordinates[row, :2]
        others = f" ({len(wrong) - 1} more are like it)" if len(wrong) > 1 else ""
        message = (
            f"{survey.origin(row)}: point “{survey.ids[row]}” at {first:g}, {second:g} {found}{others}. "
            "Mend the line, or the CRS, unit and columns under [points]."
        )
        raise FrameError(message)
