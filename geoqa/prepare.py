"""Read the files that the settings name, and bring them into one frame."""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import pyproj

from geoqa.frame.axes import parse_crs
from geoqa.frame.base_marks import base_sigma_m, published_on_base
from geoqa.frame.base_products import corrected_marks, corrected_products
from geoqa.frame.base_shift import base_corrections
from geoqa.frame.bring import Given
from geoqa.frame.datums import SAME_AS_PRODUCTS
from geoqa.frame.declare import Products, common_frame
from geoqa.frame.projection import to_geographic
from geoqa.frame.site_area import area_of_points
from geoqa.frame.site_grid import PRODUCTS, to_grid
from geoqa.frame.transform import marks_to_frame, to_frame
from geoqa.readers.base_position import read_bases
from geoqa.readers.first_points import first_points
from geoqa.readers.geoid_grid import opened_geoid
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.rasters import read_info
from geoqa.readers.used_grids import refuse_holes
from geoqa.records.geoid import GeoidGrid
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import Checkpoints, SurveyPoints
from geoqa.records.settings import Points, Settings, SiteGrid
from geoqa.records.survey import SurveyQuality
from geoqa.standards import check_options
from geoqa.survey.combine import combine_occupations, part_known

LOG = logging.getLogger("geoqa")


def read_into_frame(
    settings: Settings,
) -> tuple[Products, Checkpoints, SurveyQuality, Checkpoints | None]:
    """Return the products, the points in their frame, how well these were surveyed, and marks if any."""
    check_options(settings.requirement)
    orthomosaic, elevation = _opened(settings)
    surveys = tuple(_read(settings, table) for table in settings.points)
    products = common_frame(
        orthomosaic, elevation, settings, _declared_crs(settings, surveys), surveys=surveys
    )
    corrections = base_corrections(read_bases(settings), settings.limits)
    products = corrected_products(products, corrections, site_grid=settings.site_grid)
    with separations(settings, surveys, products) as geoid:
        rows = to_frame(
            surveys, settings.points, products, settings.limits, geoid=geoid, site_grid=settings.site_grid
        )
        _refuse_holes(rows, products, settings.site_grid)
        marks = _marks(settings, products, geoid)
    checkpoints, quality = _combined(rows, settings, products)
    return products, checkpoints, quality, marks


def _read(settings: Settings, table: Points) -> SurveyPoints:
    """Return the points of one file, and say how the first were understood."""
    survey = read_points(settings.file(table.path), PointsRequest(table.layout, table.columns))
    for line in first_points(survey):
        LOG.info("Read: %s", line)
    return survey


@contextmanager
def separations(
    settings: Settings, surveys: Sequence[SurveyPoints], products: Products
) -> Iterator[GeoidGrid | float | None]:
    """Yield the separations that the settings give; a grid is a file that PROJ reads for as long."""
    geoid = settings.geoid
    if geoid is None or geoid.grid is None:
        yield None if geoid is None else geoid.separation_m
        return
    given = Given(settings.limits, site_grid=settings.site_grid)
    area = area_of_points(surveys, settings.points, products, given)
    if area is None:
        yield None
        return
    with opened_geoid(settings.file(geoid.grid), area) as grid:
        yield grid


def _refuse_holes(rows: Checkpoints, products: Products, site: SiteGrid | None) -> None:
    """Look at the geoid grids that PROJ chose; the rows are those of the files."""
    plan_m = rows.position_m[:, :2]
    if site is not None and PRODUCTS in site.applies_to:
        plan_m = to_grid(plan_m, site)
    for file, survey in enumerate(rows.survey):
        if any(step.grids for step in rows.file_steps[file]):
            of_file = plan_m[rows.survey_index[:, 0] == file] / products.frame.unit.metres
            refuse_holes(survey, rows.file_steps[file], to_geographic(of_file, products.frame.crs))


def _marks(settings: Settings, products: Products, geoid: GeoidGrid | float | None) -> Checkpoints | None:
    if settings.targets.marks is None:
        return None
    request = PointsRequest(settings.targets.marks_layout, layout_key="targets.marks_layout")
    read = read_points(settings.file(settings.targets.marks), request)
    marks = marks_to_frame(
        read, products, settings.points, settings.limits, geoid=geoid, site_grid=settings.site_grid
    )
    return corrected_marks(marks, products)


def _opened(settings: Settings) -> tuple[RasterInfo | None, RasterInfo | None]:
    ortho, surface = settings.orthomosaic, settings.elevation
    return (
        None if ortho is None else read_info(settings.file(ortho.path), crs=ortho.crs),
        None if surface is None else read_info(settings.file(surface.path), crs=surface.crs),
    )


def _combined(rows: Checkpoints, settings: Settings, products: Products) -> tuple[Checkpoints, SurveyQuality]:
    """Return one row a point; the files of known marks are what points are compared with."""
    measured, published = part_known(rows, [table.known for table in settings.points])
    return combine_occupations(
        measured,
        settings.survey,
        published=published_on_base(published, products),
        base_sigma_m=base_sigma_m(products),
    )


def _declared_crs(settings: Settings, surveys: tuple[SurveyPoints, ...]) -> pyproj.CRS | None:
    first = settings.points[0].crs
    return surveys[0].crs if first == SAME_AS_PRODUCTS else parse_crs(first, "points.crs")
