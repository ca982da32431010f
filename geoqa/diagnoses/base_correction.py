"""The base correction reached one side only, twice, with the wrong sign, or in some components only."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant, on_slopes, slack
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.base import BaseCorrection
from geoqa.records.results import Finding, Quantity

_LEAST_TOLERANCE_M = 0.005
# Autonomous positions of a base are off by a few metres.
_TYPICAL_M = 2.0
_AXES = ("east", "north", "up")
_MULTIPLES = {
    1: "the points lack the base correction, or the products carry it twice",
    -1: "the products lack the base correction, or the points carry it twice",
    2: "the points carry the base correction with the wrong sign",
    -2: "the products carry the base correction with the wrong sign",
}
_COMPONENTS = {
    (True, True, True): ("", 0.0),
    (True, True, False): (" in plan only", -1.5),
    (False, False, True): (" in height only", -1.5),
}


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield multiples of each correction, in all components, in plan and in height; else a free vector."""
    sessions = [case.checkpoints.sessions[row] for row in evidence.rows.tolist()]
    for base in case.base:
        serves = np.array([base.serves(session) for session in sessions], dtype=bool)
        yield from _multiples(base, evidence, serves, case.samples.gradient[evidence.rows])
    words = "all points are off by one vector, as if the two sides rested on different base positions"
    if not case.base:
        words += " (no base is given, so that nothing can be held against it)"
    for axes, price in (((0, 1, 2), 0.0), ((0, 1), -1.0)):
        patterns = tuple(constant(evidence, axis, _TYPICAL_M) for axis in axes)
        yield Hypothesis("base-correction", words, patterns, log_prior=price - (3.0 if case.base else 2.0))


def _multiples(
    base: BaseCorrection, evidence: Evidence, serves: BoolArray, gradient: FloatArray
) -> Iterator[Hypothesis]:
    of = "" if base.session is None else f" of session {base.session}"
    tolerance = np.full(3, _LEAST_TOLERANCE_M)
    if base.sigma_m is not None:
        tolerance = np.maximum(base.sigma_m, tolerance)
    for multiple, words in _MULTIPLES.items():
        for axes, (where, price) in _COMPONENTS.items():
            vector = multiple * np.where(axes, base.shift_enu_m, 0.0)
            if not vector.any():
                continue
            chance = float(np.prod([4 * tolerance[i] / (2 * 2 * _TYPICAL_M) for i in range(3) if axes[i]]))
            told = ", ".join(f"{vector[i]:+.3f} m {_AXES[i]}" for i in range(3) if axes[i]).replace("-", "−")
            yield Hypothesis(
                "base-correction",
                f"{words}{of}{where} ({told})",
                _slack(evidence, tolerance, axes, serves),
                known_m=on_slopes(np.where(serves[:, None], vector, 0.0), gradient),
                coincidence=min(12 * chance, 1.0),
                log_prior=price - (0.0 if abs(multiple) == 1 else 1.0),
                gross=True,
            )


def _slack(
    evidence: Evidence, tolerance_m: FloatArray, axes: tuple[bool, bool, bool], serves: BoolArray
) -> tuple[Pattern, ...]:
    """Return what the correction itself may be off, at the points of its session."""
    patterns = [
        slack(evidence, "base-correction", axis, float(tolerance_m[axis])) for axis in range(3) if axes[axis]
    ]
    return tuple(
        replace(item, values=item.values * (serves[:, None] if item.direction == "plan" else serves))
        for item in patterns
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the vector found, or what is left of it beside the correction."""
    beside = "" if what.known_m is None else " beside the correction"
    return tuple(
        Quantity(f"shift {key.rpartition(' ')[2]}{beside}", item.value, "m", item.sigma)
        for key, item in found.items()
    )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the residuals are a multiple of the base correction."""
    return finding(
        case.comparison,
        Sayings(
            "base-correction",
            "Find out which side rests on which base position, say so with base.points_use and "
            "base.products_use, and run again; the rasters need not be processed anew. Deciding test: the "
            "base coordinates in the raw file of the rover and in the log of the drone, or a second session "
            "with another base position.",
            "Too few points count to see a common shift.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="base-correction",
    title="Base correction on one side only, twice, or with the wrong sign",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
