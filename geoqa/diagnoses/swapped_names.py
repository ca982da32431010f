"""The names of two points were exchanged: two large residuals, equal and opposite."""

from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Search
from geoqa.causes.singles import choices, largest_pairs
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import Finding

# Pairs are sought among so many points with the largest residuals.
_MOST_POINTS = 60
_MISFIT_SHARE = 0.25
_SLACK_M = 0.10


def search(case: DiagnosisCase) -> Search:
    """Return the search for pairs whose exchange removes both residuals."""

    def exchanged(evidence: Evidence, left_m: FloatArray) -> Iterator[Hypothesis]:
        for first, second, misfit_m in largest_pairs(evidence.position_m, left_m, _MOST_POINTS):
            apart = evidence.position_m[second] - evidence.position_m[first]
            distance_m = float(np.linalg.norm(apart[:2]))
            if misfit_m > _MISFIT_SHARE * distance_m:
                continue
            effect = np.zeros((len(evidence), 3))
            effect[first], effect[second] = np.nan_to_num(apart), -np.nan_to_num(apart)
            yield Hypothesis(
                "swapped-names",
                f"{evidence.ids[first]} and {evidence.ids[second]} carry each other's name",
                known_m=effect,
                coincidence=min(choices(evidence, 2) * (_SLACK_M / max(evidence.size_m, 1.0)) ** 2, 1.0),
                choices=choices(evidence, 2),
                point_rows=(first, second),
                gross=True,
            )

    return exchanged


def examine(case: DiagnosisCase) -> Finding:
    """Return whether two points carry each other's name."""
    return finding(
        case.comparison,
        Sayings(
            "swapped-names",
            "Exchange the two names in the file of the points or in that of the marks, whichever is wrong, "
            "and "
            "run again. Deciding test: the photograph or the field sheet of either target.",
            "Fewer than two points count in plan, so no pair can be exchanged.",
        ),
    )


DIAGNOSIS = Diagnosis(
    id="swapped-names",
    title="Names of two points exchanged",
    minimum_points=2,
    examine=examine,
    search=search,
)
