"""The line: read, common frame, measure, residuals, statistics, judgement and findings."""

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from geoqa.accuracy.claims import claims, verdict
from geoqa.accuracy.common_error import common_error
from geoqa.accuracy.fitness import FitnessCase, point_evidence, warnings
from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.statistics import summarise, summarise_by
from geoqa.accuracy.three_numbers import in_words, three_numbers
from geoqa.causes.cures import tried
from geoqa.causes.decision import decide
from geoqa.causes.separations import separations_of
from geoqa.diagnoses import DiagnosisCase
from geoqa.examine import examined
from geoqa.frame.base_products import product_remarks
from geoqa.frame.base_shift import verdict_notes
from geoqa.frame.declare import Products
from geoqa.frame.rasters import outline_m
from geoqa.measure import coarse_products, measure_surface, measure_targets, shift_note
from geoqa.numerics.arrays import FloatArray
from geoqa.prepare import read_into_frame
from geoqa.readers.backdrop import read_backdrop
from geoqa.readers.base_position import sinex_files
from geoqa.readers.provenance import provenance
from geoqa.readers.seals import compared_seals
from geoqa.records.assessment import Assessment, Seal
from geoqa.records.cautions import CAUTIONS
from geoqa.records.evidence import PointEvidence
from geoqa.records.measurements import (
    Backdrop,
    SurfaceSamples,
    SurfaceStatus,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import Checkpoints
from geoqa.records.results import AccuracyStatistics, Judgement, ResidualSet, ThreeNumbers
from geoqa.records.settings import Settings
from geoqa.records.survey import SurveyQuality
from geoqa.standards import STANDARDS, StandardCase, StandardRequest

LOG = logging.getLogger("geoqa")


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
    frame = products.frame
    of_bases = [sentence for item in products.base for sentence in item.assumptions]
    of_marks = () if marks is None else marks.assumptions
    said = (*frame.assumptions, *of_bases, *checkpoints.assumptions, *of_marks)
    assumptions = _told(said, "Assumed: ")

    fixes, patches = measure_targets(checkpoints, products, settings.targets, marks=marks)
    with_height = np.isfinite(checkpoints.position_m[:, 2])
    samples = measure_surface(checkpoints, products, sought=with_height, given_height_m=fixes.given_height_m)
    residuals = form_residuals(checkpoints, fixes, samples, settings.limits)
    statistics, statistics_by = summarise(residuals), summarise_by(residuals)
    found = claims(statistics, settings.requirement)

    area, vegetated = _mapped_area(products), statistics_by["cover"].get("vegetated")
    standard_case = StandardCase(residuals, statistics, vegetated, checkpoints.covers, area)
    suspects = _cause_case(settings, products, checkpoints, quality, fixes, samples, residuals)
    findings, case = examined(suspects)
    evidence = _evidence(settings, products, residuals, quality, statistics, statistics_by)
    numbers = three_numbers(
        replace(residuals, sigma_survey_m=quality.sigma_stated_m),
        statistics,
        common_error(products.base, checkpoints),
    )
    seals = compared_seals(settings)
    answer = verdict(found, _beside_the_answer(products, numbers, seals))
    backdrop = _backdrop(settings, products, residuals)
    notes = _notes(settings, products, checkpoints, fixes, samples, backdrop, seals)
    return Assessment(
        settings=settings,
        title=settings.title or "Accuracy of the map products",
        orthomosaic=products.orthomosaic,
        elevation=products.elevation,
        frame=frame,
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
        messages=_told((*notes, *warnings(evidence)), "Note: "),
        provenance=provenance(_files(settings), created=created, grids=_grids(checkpoints, marks)),
        mapped_area_m=area,
        patches=patches if settings.deliver.pictures else (),
        backdrop=backdrop,
        cautions=CAUTIONS,
        seals=seals,
        decision=decide(answer, findings, residuals),
        trials=tried(cures, residuals, case.comparison, gradient=samples.gradient),
        evidence=evidence,
    )


def _beside_the_answer(products: Products, numbers: ThreeNumbers, seals: tuple[Seal, ...]) -> tuple[str, ...]:
    """Return the sentences that must not be parted from the verdict."""
    broken = tuple(seal.sentence for seal in seals if not seal.matches)
    # Without a base nothing absolute is known, and the sentence stays with the fit.
    of_base = (*verdict_notes(products.base), in_words(numbers)) if products.base else ()
    return (*of_base, *broken)


def _mapped_area(products: Products) -> FloatArray:
    """Return the outline of the orthomosaic, or of the elevation raster where there is none."""
    info = products.orthomosaic or products.elevation
    return np.empty((0, 2)) if info is None else outline_m(info, products.frame)


def _evidence(
    settings: Settings,
    products: Products,
    residuals: ResidualSet,
    quality: SurveyQuality,
    statistics: AccuracyStatistics,
    statistics_by: Mapping[str, Mapping[str, AccuracyStatistics]],
) -> PointEvidence:
    ortho, asked, area = products.orthomosaic, settings.requirement, _mapped_area(products)
    gsd_m = None if ortho is None else ortho.cell_size_m
    return point_evidence(
        FitnessCase(residuals, statistics, statistics_by, asked, area, gsd_m, quality.sigma_stated_m)
    )


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
) -> DiagnosisCase:
    return DiagnosisCase(
        frame=products.frame,
        checkpoints=checkpoints,
        residuals=residuals,
        fixes=fixes,
        samples=samples,
        orthomosaic=products.orthomosaic,
        elevation=products.elevation,
        mapped_area_m=_mapped_area(products),
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


def _notes(
    settings: Settings,
    products: Products,
    checkpoints: Checkpoints,
    fixes: TargetFixes,
    samples: SurfaceSamples,
    backdrop: Backdrop | None,
    seals: tuple[Seal, ...],
) -> Iterator[str]:
    """Yield what the user should know, in the order of the line."""
    yield from (seal.sentence for seal in seals)
    for info in (products.orthomosaic, products.elevation):
        yield from () if info is None else info.notes
    yield from coarse_products(products, settings.requirement)
    for survey in checkpoints.survey:
        yield from survey.notes
    for correction in products.base:
        yield from correction.messages
    yield from product_remarks(products)
    yield from checkpoints.messages
    if settings.limits.network:
        yield (
            "PROJ's network was on for this run (limits.network): a grid that was not installed was read "
            "from its server, and has no hash."
        )
    yield from shift_note(checkpoints, fixes, settings.targets)
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


def _grids(*read: Checkpoints | None) -> Iterator[str]:
    yield from dict.fromkeys(grid for points in read if points is not None for grid in points.grids)


def _files(settings: Settings) -> Iterator[tuple[str, str]]:
    for use, table in (("orthomosaic", settings.orthomosaic), ("elevation", settings.elevation)):
        if table is not None:
            yield settings.file(table.path), use
    for points in settings.points:
        yield settings.file(points.path), "points"
    if settings.targets.marks is not None:
        yield settings.file(settings.targets.marks), "marks"
    for path in sinex_files(settings):
        yield path, "base position"


def _told(sentences: Iterable[str], before: str) -> tuple[str, ...]:
    """Say each sentence once, and return them."""
    unique = tuple(dict.fromkeys(sentences))
    for sentence in unique:
        LOG.info("%s%s", before, sentence)
    return unique
