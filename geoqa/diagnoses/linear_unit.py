"""Feet taken for metres, or metres for feet, in plan or in height."""

from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, slack
from geoqa.causes.off_the_map import off_the_map
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, FindingVerdict

# [NIST811], appendix B.6.
_FOOT_M = 0.3048
_SLACK_M = 0.10
_RANGE_M = 100.0
# Heights so near zero leave no trace of their unit.
_LEAST_M = 0.5


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield heights of one side as feet taken for metres, and the reverse."""
    heights = np.nan_to_num(evidence.position_m[:, 2])
    for factor, words in (
        (_FOOT_M, "heights of the points are in feet, or those of the products were divided by too much"),
        (1 / _FOOT_M, "heights of the products are in feet and were read as metres"),
    ):
        effect = np.zeros((len(evidence), 3))
        effect[:, 2] = (factor - 1.0) * heights
        if np.abs(effect[:, 2]).max(initial=0.0) < _LEAST_M:
            continue
        yield Hypothesis(
            "linear-unit",
            words,
            (slack(evidence, "linear-unit", 2, _SLACK_M),),
            known_m=effect,
            coincidence=min(2 * 4 * _SLACK_M / _RANGE_M, 1.0),
            choices=2,
            log_prior=-0.5,
            gross=True,
        )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the unit of the plan or of the heights was mistaken."""
    plan = off_the_map(case.checkpoints, case.frame, case.mapped_area_m, "linear-unit", "feet for metres")
    if plan.verdict is FindingVerdict.PRESENT:
        return plan
    return finding(
        case.comparison,
        Sayings(
            "linear-unit",
            "State the unit of the heights (points.height_unit, elevation.unit), and run again. Deciding "
            "test: "
            "the height of one point, read off a topographic map.",
            "Too few heights count, or they lie so near zero that their unit leaves no trace.",
        ),
    )


DIAGNOSIS = Diagnosis(
    id="linear-unit", title="Feet taken for metres", minimum_points=1, examine=examine, propose=propose
)
