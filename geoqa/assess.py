"""The line: read, common frame, measure, residuals, statistics, judgement and findings."""

import logging
from collections.abc import Iterable, Iterator

import numpy as np
import pyproj

from geoqa.accuracy.claims import claims, verdict
from geoqa.accuracy.fitness import FitnessCase, point_evidence, warnings
from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.statistics import summarise, summarise_by
from geoqa.accuracy.three_numbers import three_numbers
from geoqa.diagnoses import DIAGNOSES, DiagnosisCase
from geoqa.errors import InputError
from geoqa.frame.axes import parse_crs
from geoqa.frame.declare import Products, common_frame, refuse_what_is_not_built
from geoqa.frame.rasters import outline_m
from geoqa.frame.transform import marks_to_frame, to_frame
from geoqa.measure import coarse_products, measure_surface, measure_targets
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.backdrop import read_backdrop
from geoqa.readers.first_points import first_points
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.provenance import provenance
from geoqa.readers.rasters import read_info
from geoqa.records.assessment import Assessment
from geoqa.records.cautions import CAUTIONS
from geoqa.records.measurements import (
    Backdrop,
    RasterInfo,
    SurfaceSamples,
    SurfaceStatus,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import Checkpoints, SurveyPoints
from geoqa.records.results import Finding, Judgement, ResidualSet
from geoqa.records.settings import Points, Settings
from geoqa.standards import STANDARDS, StandardCase, StandardRequest, check_options

LOG = logging.getLogger("geoqa")
SAME_AS_PRODUCTS = "same as products"


def assess(settings: Settings, *, created: str | None = None) -> Assessment:
    """Return everything that one check finds out.

    Parameters
    ----------
    settings
        What the user asks for.
    created
        ISO 8601 time stamp of the results; None: `SOURCE_DATE_EPOCH`, else the clock.

    Raises
    ------
    GeoqaError
        A sentence that names file, line or key, what was found and what to do.
    """
    products, checkpoints, marks = read_into_frame(settings)
    frame = products.frame
    of_marks = () if marks is None else marks.assumptions
    assumptions = _told((*frame.assumptions, *checkpoints.assumptions, *of_marks), "Assumed: ")

    fixes, patches = measure_targets(checkpoints, products, settings.targets, marks=marks)
    with_height = np.isfinite(checkpoints.position_m[:, 2])
    samples = measure_surface(checkpoints, products, sought=with_height, given_height_m=fixes.given_height_m)
    residuals = form_residuals(checkpoints, fixes, samples, settings.limits)
    statistics, statistics_by = summarise(residuals), summarise_by(residuals)
    found = claims(statistics, settings.requirement)

    area = _mapped_area(products)
    vegetated = statistics_by["cover"].get("vegetated")
    standard_case = StandardCase(residuals, statistics, vegetated, checkpoints.covers, area)
    cause_case = DiagnosisCase(
        frame, checkpoints, residuals, fixes, samples, products.orthomosaic, products.elevation, area
    )
    gsd_m = None if products.orthomosaic is None else products.orthomosaic.cell_size_m
    evidence = point_evidence(
        FitnessCase(residuals, statistics, statistics_by, settings.requirement, area, gsd_m)
    )
    backdrop = _backdrop(settings, products, residuals)
    return Assessment(
        settings=settings,
        title=settings.title or "Accuracy of the map products",
        orthomosaic=products.orthomosaic,
        elevation=products.elevation,
        frame=frame,
        checkpoints=checkpoints,
        fixes=fixes,
        samples=samples,
        residuals=residuals,
        statistics=statistics,
        statistics_by=statistics_by,
        claims=found,
        verdict=verdict(found),
        accuracy=three_numbers(residuals, statistics),
        judgements=_judgements(settings, standard_case),
        findings=_findings(cause_case),
        assumptions=assumptions,
        messages=_told(
            (*_notes(settings, products, checkpoints, fixes, samples, backdrop), *warnings(evidence)),
            "Note: ",
        ),
        provenance=provenance(_files(settings), created=created),
        mapped_area_m=area,
        patches=patches if settings.deliver.pictures else (),
        backdrop=backdrop,
        cautions=CAUTIONS,
        evidence=evidence,
    )


def read_into_frame(settings: Settings) -> tuple[Products, Checkpoints, Checkpoints | None]:
    """Return the products, the points in their frame, and the marks if there are any."""
    refuse_what_is_not_built(settings)
    check_options(settings.requirement)
    orthomosaic, elevation = _opened(settings)
    surveys = tuple(_read(settings, table) for table in settings.points)
    products = common_frame(
        orthomosaic, elevation, settings, _declared_crs(settings, surveys), surveys=surveys
    )
    checkpoints = to_frame(surveys, settings.points, products, settings.limits)
    _refuse_repeated(checkpoints)
    if settings.targets.marks is None:
        return products, checkpoints, None
    marks = read_points(settings.file(settings.targets.marks), PointsRequest())
    return products, checkpoints, marks_to_frame(marks, products, settings.points, settings.limits)


def _opened(settings: Settings) -> tuple[RasterInfo | None, RasterInfo | None]:
    ortho, surface = settings.orthomosaic, settings.elevation
    return (
        None if ortho is None else read_info(settings.file(ortho.path), crs=ortho.crs),
        None if surface is None else read_info(settings.file(surface.path), crs=surface.crs),
    )


def _read(settings: Settings, table: Points) -> SurveyPoints:
    """Return the points of one file, and say how the first were understood."""
    survey = read_points(settings.file(table.path), PointsRequest(table.layout, table.columns))
    for line in first_points(survey):
        LOG.info("Read: %s", line)
    return survey


def _declared_crs(settings: Settings, surveys: tuple[SurveyPoints, ...]) -> pyproj.CRS | None:
    first = settings.points[0].crs
    return surveys[0].crs if first == SAME_AS_PRODUCTS else parse_crs(first, "points.crs")


def _refuse_repeated(checkpoints: Checkpoints) -> None:
    first_row: dict[str, int] = {}
    for row, name in enumerate(checkpoints.ids):
        if name in first_row:
            message = (
                f"{checkpoints.origin(row)}: the point “{name}” stands in "
                f"{checkpoints.origin(first_row[name])} already. "
                "Repeated occupations are not averaged: give each point once."
            )
            raise InputError(message)
        first_row[name] = row


def _mapped_area(products: Products) -> FloatArray:
    """Return the outline of the orthomosaic, or of the elevation raster where there is none."""
    info = products.orthomosaic or products.elevation
    return np.empty((0, 2)) if info is None else outline_m(info, products.frame)


def _judgements(settings: Settings, case: StandardCase) -> tuple[Judgement, ...]:
    asked = settings.requirement
    # The standards' horizontal figures are radial; a limit for each axis is not theirs to judge.
    radial_m = None if asked.per_axis else asked.horizontal_rmse_m
    return tuple(
        judgement
        for choice in asked.standards
        for judgement in STANDARDS.get(choice.id).judge(
            case,
            StandardRequest(radial_m, asked.vertical_rmse_m, choice.options),
        )
    )


def _findings(case: DiagnosisCase) -> tuple[Finding, ...]:
    enough = [item for item in DIAGNOSES.all().values() if len(case.checkpoints) >= item.minimum_points]
    return tuple(diagnosis.examine(case) for diagnosis in enough)


def _backdrop(settings: Settings, products: Products, residuals: ResidualSet) -> Backdrop | None:
    info = products.orthomosaic
    if not settings.deliver.pictures or info is None:
        return None
    return read_backdrop(info, _extent(residuals.survey_m[:, :2], outline_m(info, products.frame)))


def _extent(positions_m: FloatArray, area_m: FloatArray) -> tuple[float, float, float, float]:
    """Return west, south, east, north around the points with a margin, or of the area if they lie off it."""
    low, high = positions_m.min(axis=0), positions_m.max(axis=0)
    margin = max(0.25 * float((high - low).max()), 10.0)
    west, south = np.maximum(low - margin, area_m.min(axis=0))
    east, north = np.minimum(high + margin, area_m.max(axis=0))
    if west >= east or south >= north:
        (west, south), (east, north) = area_m.min(axis=0), area_m.max(axis=0)
    return float(west), float(south), float(east), float(north)


def _notes(
    settings: Settings,
    products: Products,
    checkpoints: Checkpoints,
    fixes: TargetFixes,
    samples: SurfaceSamples,
    backdrop: Backdrop | None,
) -> Iterator[str]:
    """Yield what the user should know, in the order of the line."""
    for info in (products.orthomosaic, products.elevation):
        yield from () if info is None else info.notes
    yield from coarse_products(products, settings.requirement)
    for survey in checkpoints.survey:
        yield from survey.notes
    yield from checkpoints.messages
    yield from _off_the_map(checkpoints.ids, [fix.status for fix in fixes.fixes], "orthomosaic")
    yield from _off_the_map(checkpoints.ids, samples.statuses, "elevation raster")
    if settings.deliver.pictures and products.orthomosaic is not None and backdrop is None:
        yield (
            "The orthomosaic has no overviews, so the map is drawn without it. "
            "Build overviews and run again to see it."
        )


def _off_the_map(
    ids: tuple[str, ...], statuses: Iterable[TargetStatus | SurfaceStatus], product: str
) -> Iterator[str]:
    outside = [name for name, status in zip(ids, statuses, strict=True) if status == "outside"]
    if outside:
        shown = ", ".join(outside[:8]) + (" …" if len(outside) > 8 else "")
        yield f"{len(outside)} of {len(ids)} points lie outside the {product}: {shown}."


def _files(settings: Settings) -> Iterator[tuple[str, str]]:
    for use, table in (("orthomosaic", settings.orthomosaic), ("elevation", settings.elevation)):
        if table is not None:
            yield settings.file(table.path), use
    for points in settings.points:
        yield settings.file(points.path), "points"
    if settings.targets.marks is not None:
        yield settings.file(settings.targets.marks), "marks"


def _told(sentences: Iterable[str], before: str) -> tuple[str, ...]:
    """Say each sentence once, and return them."""
    unique = tuple(dict.fromkeys(sentences))
    for sentence in unique:
        LOG.info("%s%s", before, sentence)
    return unique
