"""Datum or epoch mixed up: one side in a global frame, the other in one that is fixed to a plate."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.frame_vectors import FrameVector, frame_vectors
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant, on_slopes, same_everywhere, slack
from geoqa.causes.prediction import Amplitude
from geoqa.causes.site_place import middle_of
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.frame.projection import from_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import Finding, Quantity

_TOLERANCE_M = 0.02
# Years by which epochs are mixed up, and by which the usual epoch may be wrong.
_YEARS = 8.0
_RANGE_M = 2.0
# A mean below this is explained by no pair of frames, and PROJ is not asked.
_LEAST_M = 0.02


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield the vectors between the frames in use at the site, either way, and a difference of epochs."""
    if not case.base:
        yield Hypothesis(
            "reference-frame",
            "all points are off by one vector, as two frames or epochs that are not stated would make it",
            tuple(constant(evidence, axis, _RANGE_M) for axis in range(3)),
            log_prior=-3.0,
        )
    place = middle_of(case.frame, evidence.position_m)
    if place is None or not _shifted(evidence):
        return
    vectors = frame_vectors(place, case.frame.epoch)
    turn, gradient = _convergence(case, place), case.samples.gradient[evidence.rows]
    for vector in vectors:
        for sign in (1, -1):
            yield _datum(vector, sign, turn, case.frame.epoch is not None, evidence, gradient, len(vectors))
    moving = max(vectors, key=lambda item: float(np.hypot(*item.per_year_m[:2])), default=None)
    if moving is not None and np.hypot(*moving.per_year_m[:2]) > 0.005:
        yield _epochs(moving, turn, evidence)


def _datum(
    vector: FrameVector,
    sign: int,
    turn: FloatArray,
    epoch_known: bool,
    evidence: Evidence,
    gradient: FloatArray,
    among: int,
) -> Hypothesis:
    effect = np.array(vector.vector_m) * sign
    effect[:2] = turn @ effect[:2]
    first, second = (vector.first, vector.second) if sign > 0 else (vector.second, vector.first)
    told = ", ".join(
        f"{value:+.2f} m {axis}" for value, axis in zip(effect, ("east", "north", "up"), strict=True)
    ).replace("-", "−")
    drift_m = 0.0 if epoch_known else _YEARS / 2 * float(np.hypot(*vector.per_year_m[:2]))
    narrow, wide = (2 * size / _RANGE_M for size in (_TOLERANCE_M, _TOLERANCE_M + drift_m))
    chance = wide * narrow * narrow
    drift = () if epoch_known else (_along(vector, turn, evidence, drift_m, is_slack=True),)
    return Hypothesis(
        "reference-frame",
        f"the products are in {second} and the points in {first} ({told})",
        (*drift, *(slack(evidence, "reference-frame", axis, _TOLERANCE_M) for axis in range(3))),
        known_m=on_slopes(same_everywhere(evidence, effect), gradient),
        coincidence=min(2 * among * chance, 1.0),
        choices=2 * among,
        gross=True,
    )


def _epochs(vector: FrameVector, turn: FloatArray, evidence: Evidence) -> Hypothesis:
    prior_m = _YEARS * float(np.hypot(*vector.per_year_m[:2]))
    return Hypothesis(
        "reference-frame",
        "the coordinate epochs of both sides differ, along the motion of the plate",
        (_along(vector, turn, evidence, prior_m, is_slack=False),),
        log_prior=-1.5,
    )


def _along(
    vector: FrameVector, turn: FloatArray, evidence: Evidence, prior_m: float, *, is_slack: bool
) -> Pattern:
    """Return the plan motion of the plate in one year as a pattern, so that its size is in years."""
    per_year = turn @ np.array(vector.per_year_m[:2])
    # The prior is the root mean square over both axes, of which motion along one line fills a half.
    return Pattern(
        "years of motion",
        "plan",
        np.tile(per_year, (len(evidence), 1)),
        prior_m / np.sqrt(2),
        "a",
        accompanies=is_slack,
        slack=is_slack,
    )


def _convergence(case: DiagnosisCase, place: FloatArray) -> FloatArray:
    """Return the matrix that turns east, north on the ground to easting, northing of the grid."""
    step = 1e-4
    around = np.array([[place[0], place[1]], [place[0], place[1] + step]])
    first, second = from_geographic(around, case.frame.crs)
    angle = float(np.arctan2(second[0] - first[0], second[1] - first[1]))
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[cosine, sine], [-sine, cosine]])


def _shifted(evidence: Evidence) -> bool:
    """Return whether the plan is off by enough for frames to be asked about."""
    if evidence.plan.sum() < 2:
        return False
    middle = np.median(evidence.delta_m[evidence.plan, :2], axis=0)
    return float(np.hypot(*middle)) > _LEAST_M


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return by how many years the epochs differ, where that was fitted."""
    years = found.get("years of motion")
    if years is None:
        return tuple(
            Quantity(key, item.value, "m", item.sigma)
            for key, item in found.items()
            if key.startswith("shift ")
        )
    name = "difference of the epochs" if what.known_m is None else "epoch, from the one assumed"
    return (Quantity(name, years.value, "a", years.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the common shift is one between reference frames."""
    return finding(
        case.comparison,
        Sayings(
            "reference-frame",
            "State frame and epoch of the base position, the points and the products (crs, frame, epoch), "
            "and "
            "run again. Deciding test: a mark published in a named frame, measured from the same base.",
            "The targets show no common shift that frames could make, or the CRS is local.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="reference-frame",
    title="Datum or epoch mixed up",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
