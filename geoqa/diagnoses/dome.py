"""The heights form a dome or a bowl: the lens was not calibrated well enough by the block."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.polygons import inside
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a paraboloid about the middle of the mapped area, or of the points."""
    middle = evidence.position_m[:, :2].mean(axis=0)
    area = case.mapped_area_m
    if len(area) >= 3:
        of_map = (area.min(axis=0) + area.max(axis=0)) / 2
        if bool(inside(middle[None], area)[0]):
            middle = of_map
    squared = ((evidence.position_m[:, :2] - middle) ** 2).sum(axis=1) / evidence.size_m**2
    yield Hypothesis(
        "dome",
        "the heights form a dome or a bowl",
        (
            Pattern("dome", "height", np.asarray(squared - squared.mean()), _TYPICAL_M),
            constant(evidence, 2, _TYPICAL_M, accompanies=True),
        ),
        log_prior=-0.5,
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return by how much the edge lies higher than the middle, product minus survey."""
    dome = found["dome"]
    return (Quantity("edge minus middle, at the outermost point", dome.value, "m", dome.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the height residuals form a dome or a bowl."""
    return finding(
        case.comparison,
        Sayings(
            "dome",
            "Process again with a better camera calibration: oblique images, a second flying height, control "
            "in the middle as well as at the edge. A shift will not cure it. Deciding test: heights in the "
            "very middle and at the corners of the block.",
            "A dome needs heights at six points or more, some in the middle and some at the edge.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="dome",
    title="Heights form a dome or a bowl",
    minimum_points=6,
    examine=examine,
    action=Action.REPROCESS,
    propose=propose,
)
