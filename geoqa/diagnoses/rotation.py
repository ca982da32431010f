"""The map is turned against the points: a local calibration, or true north taken for grid north."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a turn about the middle of the points."""
    east, north = evidence.east_north_m.T
    yield Hypothesis(
        "rotation",
        "the map is turned against the points",
        (
            Pattern("rotation", "plan", np.column_stack([-north, east]), _TYPICAL_M, "rad"),
            constant(evidence, 0, _TYPICAL_M, accompanies=True),
            constant(evidence, 1, _TYPICAL_M, accompanies=True),
        ),
        log_prior=-0.5,
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the turn, counter-clockwise."""
    turn = found["rotation"]
    return (
        Quantity(
            "rotation of the product, counter-clockwise",
            math.degrees(turn.value) * 3600.0,
            "arcsec",
            math.degrees(turn.sigma) * 3600.0,
        ),
    )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the plan residuals turn about the middle of the points."""
    return finding(
        case.comparison,
        Sayings(
            "rotation",
            "Look whether the rover worked with a local calibration or with true north, and export the "
            "points "
            "again in the grid. Deciding test: the convergence of the grid at the site, held against the "
            "angle found, and the calibration report of the rover.",
            "A rotation needs targets at three points or more.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="rotation", title="Map turned against the points", minimum_points=3, examine=examine, propose=propose
)
