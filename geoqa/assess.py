"""The line: read, common frame, measure, residuals, statistics, judgement and findings."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from geoqa.accuracy.claims import claims, verdict
from geoqa.accuracy.common_error import common_error
from geoqa.accuracy.fitness import FitnessCase, point_evidence, warnings
from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.statistics import summarise, summarise_by
from geoqa.accuracy.three_numbers import three_numbers
from geoqa.causes.cures import tried
from geoqa.causes.decision import decide
from geoqa.causes.separations import separations_of
from geoqa.diagnoses import DiagnosisCase, remedies
from geoqa.examine import examined
from geoqa.frame.declare import Products
from geoqa.frame.rasters import outline_m
from geoqa.measure import measure_heights, measure_targets
from geoqa.numerics.arrays import FloatArray
from geoqa.prepare import read_into_frame
from geoqa.readers.backdrop import read_backdrop
from geoqa.readers.provenance import input_files, provenance
from geoqa.readers.seals import compared_seals
from geoqa.records.assessment import Assessment
from geoqa.records.cautions import CAUTIONS
from geoqa.records.measurements import (
    Backdrop,
    SurfaceSamples,
    TargetFixes,
)
from geoqa.records.points import Checkpoints
from geoqa.records.results import Judgement, ResidualSet
from geoqa.records.settings import Settings
from geoqa.records.survey import SurveyQuality
from geoqa.remarks import beside_the_answer, notes, taken_to_be_so, told
from geoqa.standards import STANDARDS, StandardCase, StandardRequest


def assess(settings: Settings, *, created: str | None = None, cures: Sequence[str] = ()) -> Assessment:
    """Return everything that one check finds out.

    Parameters
    ----------
    settings
        What the user asks for.
    created
        ISO 8601 time stamp of the results; None: `SOURCE_DATE_EPOCH`, else the clock.
    cures
        To be tried dry, each in the words of `geoqa.causes.cures.WORDS`.

    Raises
    ------
    GeoqaError
        A sentence that names file, line or key, what was found and what to do.
    """
    products, checkpoints, quality, marks = read_into_frame(settings)
    assumptions = told(taken_to_be_so(products, checkpoints, marks), "Assumed: ")

    fixes, patches = measure_targets(checkpoints, products, settings.targets, marks=marks)
    samples, profiles = measure_heights(checkpoints, products, fixes, profiled=settings.deliver.pictures)
    residuals = form_residuals(checkpoints, fixes, samples, settings.limits)
    statistics, statistics_by = summarise(residuals), summarise_by(residuals)
    found = claims(statistics, settings.requirement)

    area, vegetated = _mapped_area(products), statistics_by["cover"].get("vegetated")
    standard_case = StandardCase(residuals, statistics, vegetated, checkpoints.covers, area)
    suspects = _cause_case(settings, products, checkpoints, quality, fixes, samples, residuals, area)
    findings, case = examined(suspects)
    ortho, asked = products.orthomosaic, settings.requirement
    gsd_m = None if ortho is None else ortho.cell_size_m
    evidence = point_evidence(
        FitnessCase(residuals, statistics, statistics_by, asked, area, gsd_m, quality.sigma_stated_m)
    )
    numbers = three_numbers(
        replace(residuals, sigma_survey_m=quality.sigma_stated_m),
        statistics,
        common_error(products.base, checkpoints),
    )
    seals = compared_seals(settings)
    answer = verdict(found, beside_the_answer(products, numbers, seals))
    backdrop = _backdrop(settings, products, residuals)
    remarks = notes(settings, products, checkpoints, fixes, samples, backdrop, seals)
    return Assessment(
        settings=settings,
        title=settings.title or "Accuracy of the map products",
        orthomosaic=products.orthomosaic,
        elevation=products.elevation,
        frame=products.frame,
        checkpoints=checkpoints,
        survey_quality=quality,
        fixes=fixes,
        samples=samples,
        residuals=residuals,
        statistics=statistics,
        statistics_by=statistics_by,
        claims=found,
        verdict=answer,
        accuracy=numbers,
        base=products.base,
        judgements=_judgements(settings, standard_case),
        findings=findings,
        assumptions=assumptions,
        messages=told((*remarks, *warnings(evidence)), "Note: "),
        provenance=provenance(input_files(settings), created=created, grids=_grids(checkpoints, marks)),
        mapped_area_m=area,
        patches=patches if settings.deliver.pictures else (),
        profiles=profiles,
        backdrop=backdrop,
        cautions=CAUTIONS,
        seals=seals,
        decision=decide(answer, findings, residuals, remedies()),
        trials=tried(cures, residuals, case.comparison, gradient=samples.gradient),
        evidence=evidence,
    )


def _mapped_area(products: Products) -> FloatArray:
    """Return the outline of the orthomosaic, or of the elevation raster where there is none."""
    info = products.orthomosaic or products.elevation
    return np.empty((0, 2)) if info is None else outline_m(info, products.frame)


def _judgements(settings: Settings, case: StandardCase) -> tuple[Judgement, ...]:
    asked = settings.requirement
    # A limit for each axis is not one on the radial figure, nor the other way round.
    radial_m = None if asked.per_axis else asked.horizontal_rmse_m
    axis_m = asked.horizontal_rmse_m if asked.per_axis else None
    return tuple(
        judgement
        for choice in asked.standards
        for judgement in STANDARDS.get(choice.id).judge(
            case,
            StandardRequest(radial_m, asked.vertical_rmse_m, choice.options, axis_m),
        )
    )


def _cause_case(
    settings: Settings,
    products: Products,
    checkpoints: Checkpoints,
    quality: SurveyQuality,
    fixes: TargetFixes,
    samples: SurfaceSamples,
    residuals: ResidualSet,
    area_m: FloatArray,
) -> DiagnosisCase:
    return DiagnosisCase(
        frame=products.frame,
        checkpoints=checkpoints,
        residuals=residuals,
        fixes=fixes,
        samples=samples,
        orthomosaic=products.orthomosaic,
        elevation=products.elevation,
        mapped_area_m=area_m,
        base=products.base,
        separations_m=separations_of(checkpoints, settings),
        ties=quality.ties,
    )


def _backdrop(settings: Settings, products: Products, residuals: ResidualSet) -> Backdrop | None:
    info = products.orthomosaic
    if not settings.deliver.pictures or info is None:
        return None
    extent = _extent(residuals.survey_m[:, :2], outline_m(info, products.frame))
    return read_backdrop(info, extent, products.frame)


def _extent(positions_m: FloatArray, area_m: FloatArray) -> tuple[float, float, float, float]:
    """Return west, south, east, north around the points with a margin, or of the area if they lie off it."""
    low, high = positions_m.min(axis=0), positions_m.max(axis=0)
    margin = max(0.25 * float((high - low).max()), 10.0)
    west, south = np.maximum(low - margin, area_m.min(axis=0))
    east, north = np.minimum(high + margin, area_m.max(axis=0))
    if west >= east or south >= north:
        (west, south), (east, north) = area_m.min(axis=0), area_m.max(axis=0)
    return float(west), float(south), float(east), float(north)


def _grids(*read: Checkpoints | None) -> Iterator[str]:
    yield from dict.fromkeys(grid for points in read if points is not None for grid in points.grids)
