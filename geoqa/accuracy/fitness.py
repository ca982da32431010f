"""Whether a set of points is fit to prove something: spread, cover, survey, independence."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from geoqa.accuracy.blind_spots import blind_spots
from geoqa.accuracy.claims import asked
from geoqa.accuracy.distribution import quadrant_shares
from geoqa.accuracy.independence import independence
from geoqa.accuracy.influence import most_influential
from geoqa.accuracy.limits import metres
from geoqa.accuracy.outliers import search_outliers
from geoqa.accuracy.spread import MOST_POINTS, diagonal_m, gaps, hull_share, spacings
from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.evidence import Direction, FitnessItem, Grade, PointEvidence
from geoqa.records.results import AccuracyStatistics, ResidualSet
from geoqa.records.settings import Requirement

# [NSSDA1998], appendix 3-C: least share in each quarter, least spacing in diagonals of the area.
QUADRANT_SHARE, SPACING_SHARE = 0.20, 0.10
# [ASPRS2023], section 7.12: the survey is at least this many times better than the product.
SURVEY_TIMES_BETTER = 2
# Common practice: RMSE of a good product in ground sample distances, plan and height.
EXPECTED = {"horizontal": (1.0, 2.0), "vertical": (1.5, 3.0)}
# Below this share of the mapped area within the hull most of it lies beyond the points: a judgement.
MOST_OF_THE_AREA = 0.5


@dataclass(frozen=True, eq=False)
class FitnessCase:
    """What the fitness of a set is told from.

    Attributes
    ----------
    mapped_area_m : array, shape (k, 2)
        Outline of the product; k = 0 where unknown.
    gsd_m
        Cell size of the orthomosaic, or None.
    stated_sigma_m : array, shape (n, 3)
        Standard deviations of the survey as stated, without what was assumed beside them; None: those
        of the residuals. A result is better than the survey by these alone.
    """

    residuals: ResidualSet
    statistics: AccuracyStatistics
    statistics_by: Mapping[str, Mapping[str, AccuracyStatistics]]
    requirement: Requirement
    mapped_area_m: FloatArray
    gsd_m: float | None
    stated_sigma_m: FloatArray | None = None


def point_evidence(case: FitnessCase) -> PointEvidence:
    """Return what the points that count can show, and what not."""
    used = case.residuals.horizontal.used
    if not used.any():
        used = case.residuals.vertical.used
    found = gaps(case.residuals.survey_m[used, :2], case.mapped_area_m)
    return PointEvidence(
        blind_spots=blind_spots(case.residuals),
        outliers=search_outliers(case.residuals),
        influence=most_influential(case.residuals),
        fitness=tuple(fitness(case)),
        next_places=() if found is None else found.places,
    )


def fitness(case: FitnessCase) -> Iterator[FitnessItem]:
    """Yield the items, the horizontal ones first, then those that concern both directions."""
    residuals = case.residuals
    uses: tuple[tuple[Direction, BoolArray], ...] = (
        ("horizontal", residuals.horizontal.used),
        ("vertical", residuals.vertical.used),
    )
    for direction, rows in uses:
        if rows.any():
            yield from _spread(direction, residuals.survey_m[rows, :2], case.mapped_area_m)
            yield from _survey(direction, rows, case)
            yield from _expected(direction, case)
    if residuals.vertical.used.any():
        yield from _ground(case)
    if case.stated_sigma_m is not None:
        residuals = replace(residuals, sigma_survey_m=case.stated_sigma_m)
    yield from independence(residuals, case.statistics, case.statistics_by.get("role", {}))


def warnings(evidence: PointEvidence) -> Iterator[str]:
    """Yield what the user should not overlook: outliers, and checkpoints that may be none."""
    yield from (found.sentence for found in evidence.outliers if found.ids)
    doubtful = {"better than the survey", "checkpoints on control points"}
    for item in evidence.fitness:
        if item.topic in doubtful and item.grade is Grade.WEAK:
            yield item.sentence


def _spread(direction: Direction, plan_m: FloatArray, outline_m: FloatArray) -> Iterator[FitnessItem]:
    yield _quadrants(direction, plan_m, outline_m)
    yield _spacing(direction, plan_m, outline_m)
    share = hull_share(plan_m, outline_m)
    found = gaps(plan_m, outline_m)
    if found is None or math.isnan(share):
        return
    small = share < MOST_OF_THE_AREA
    sentence = (
        f"The points enclose {100 * share:.0f} % of the mapped area{', less than half' if small else ''}; "
        f"beyond them the {direction} statement is carried on, not tested."
    )
    grade = Grade.WEAK if small else Grade.GOOD
    yield FitnessItem("hull", direction, share, MOST_OF_THE_AREA, "1", grade, sentence)
    place = found.places[0]
    sentence = (
        f"The place farthest from every point that counts lies {place.distance_m:.0f} m off, at "
        f"{place.easting_m:.0f} east, {place.northing_m:.0f} north; the mean distance is {found.mean_m:.0f} "
        "m."
    )
    yield FitnessItem("largest gap", direction, place.distance_m, None, "m", Grade.STATED, sentence)


def _quadrants(direction: Direction, plan_m: FloatArray, outline_m: FloatArray) -> FitnessItem:
    shares, topic = quadrant_shares(plan_m, outline_m), "quarters"
    if not shares:
        sentence = "How the points are spread is not known: there is no mapped area to hold them against."
        return FitnessItem(topic, direction, None, QUADRANT_SHARE, "1", Grade.UNKNOWN, sentence)
    least = min(shares.values())
    told = ", ".join(f"{name} {100 * share:.0f} %" for name, share in shares.items())
    sentence = f"Share of the points in each quarter of the mapped area: {told}; NSSDA asks for 20 % each."
    grade = Grade.GOOD if least >= QUADRANT_SHARE else Grade.WEAK
    return FitnessItem(topic, direction, least, QUADRANT_SHARE, "1", grade, sentence)


def _spacing(direction: Direction, plan_m: FloatArray, outline_m: FloatArray) -> FitnessItem:
    topic, least_m = "spacing", SPACING_SHARE * diagonal_m(outline_m)
    if len(plan_m) > MOST_POINTS:
        sentence = f"{len(plan_m)} points lie along profiles or close together: their spacing says nothing."
        return FitnessItem(topic, direction, None, None, "m", Grade.UNKNOWN, sentence)
    found = spacings(plan_m)
    if math.isnan(least_m) or np.isnan(found).any():
        sentence = "The spacing of the points cannot be judged: there is no mapped area, or no second place."
        return FitnessItem(topic, direction, None, None, "m", Grade.UNKNOWN, sentence)
    close = int((found < least_m).sum())
    sentence = (
        f"{close} of {len(found)} points have a neighbour nearer than {least_m:.1f} m, a tenth of the "
        f"diagonal of the mapped area, which NSSDA asks for; the nearest two are {found.min():.1f} m apart."
    )
    grade = Grade.WEAK if close else Grade.GOOD
    return FitnessItem(topic, direction, float(found.min()), least_m, "m", grade, sentence)


def _survey(direction: Direction, rows: BoolArray, case: FitnessCase) -> Iterator[FitnessItem]:
    """Yield how many times more accurate the survey is than the limit asks."""
    kind, limit_m = asked(case.requirement, direction)
    if limit_m is None or kind != "rmse":
        return
    columns = PLAN if direction == "horizontal" else HEIGHT
    sigma_m, topic = survey_rmse(case.residuals, rows, columns), "survey accuracy"
    if direction == "horizontal" and case.requirement.per_axis:
        sigma_m /= math.sqrt(2)
    if math.isnan(sigma_m):
        sentence = (
            f"The accuracy of the survey is not known at all {direction} points: give sd_east, sd_north "
            "and sd_up."
        )
        yield FitnessItem(topic, direction, None, SURVEY_TIMES_BETTER, "1", Grade.UNKNOWN, sentence)
        return
    times = limit_m / sigma_m
    sentence = (
        f"The limit of {metres(limit_m)} is {times:.1f} times the {direction} standard deviation of the "
        f"survey, {metres(sigma_m)}; ASPRS Edition 2 asks for {SURVEY_TIMES_BETTER} times, Edition 1 for 3."
    )
    grade = Grade.GOOD if times >= SURVEY_TIMES_BETTER else Grade.WEAK
    yield FitnessItem(topic, direction, times, SURVEY_TIMES_BETTER, "1", grade, sentence)


def _expected(direction: Direction, case: FitnessCase) -> Iterator[FitnessItem]:
    """Yield the RMSE in ground sample distances beside what common practice expects; never a limit."""
    if case.gsd_m is None:
        return
    part = case.statistics.horizontal if direction == "horizontal" else case.statistics.up
    low, high = EXPECTED[direction]
    times = part.rmse_m / case.gsd_m
    place = "within" if low <= times <= high else "above" if times > high else "below"
    sentence = (
        f"The {direction} RMSE is {times:.1f} ground sample distances of {metres(case.gsd_m)}, {place} the "
        f"{low:g} to {high:g} that common practice expects of a good product; this is no limit."
    )
    yield FitnessItem("expectation", direction, times, None, "1", Grade.STATED, sentence)


def _ground(case: FitnessCase) -> Iterator[FitnessItem]:
    """Yield the range of heights tested, and on what cover."""
    rows = case.residuals.vertical.used
    heights_m = case.residuals.survey_m[rows, 2]
    range_m = float(np.ptp(heights_m))
    sentence = (
        f"The heights tested run over {range_m:.1f} m, from {heights_m.min():.1f} m to {heights_m.max():.1f} "
        "m; above and below nothing was tested."
    )
    yield FitnessItem("height range", "vertical", range_m, None, "m", Grade.STATED, sentence)
    names = case.residuals.groups.get("cover", (None,) * len(rows))
    counted = Counter(str(names[row]) if names[row] else "not given" for row in np.flatnonzero(rows))
    told = ", ".join(f"{name} {count}" for name, count in sorted(counted.items()))
    known = counted["not given"] == 0
    note = "" if known else "; without it vegetated ground cannot be told apart"
    grade = Grade.STATED if known else Grade.UNKNOWN
    sentence = f"Cover of the points that count for the height: {told}{note}."
    yield FitnessItem("cover", "vertical", None, None, "1", grade, sentence)
