"""A target was moved between survey and flight: its plan is off, its height is not."""

from collections.abc import Iterator, Sequence

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Search
from geoqa.causes.prediction import Amplitude
from geoqa.causes.singles import FALSE_ALARM, choices, named, outstanding, own_offsets
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 3.0


def search(case: DiagnosisCase) -> Search:
    """Return the search for targets that lie off in plan alone."""

    def moved(evidence: Evidence, left_m: FloatArray) -> Iterator[Hypothesis]:
        for rows in outstanding(left_m, (0, 1)):
            yield Hypothesis(
                "moved-target",
                f"the target of {named(evidence, rows)} lies elsewhere in the picture than it was "
                "measured, and "
                "its height agrees",
                own_offsets(evidence, rows, (0, 1), _TYPICAL_M),
                choices=choices(evidence, len(rows)),
                false_alarm=FALSE_ALARM,
                point_rows=tuple(rows.tolist()),
            )

    return moved


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return by how much each target moved."""
    return tuple(Quantity(f"shift of {key}", item.value, "m", item.sigma) for key, item in found.items())


def examine(case: DiagnosisCase) -> Finding:
    """Return whether a target was moved."""
    return finding(
        case.comparison,
        Sayings(
            "moved-target",
            "Look at the picture of the target; if it is sharp and whole it was moved by wind, animal or "
            "wheel "
            "between survey and flight: set its role to “unused” with that reason. Deciding test: measure "
            "the "
            "place where it lies now.",
            "Fewer than four targets count in plan, so none can stand out.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="moved-target",
    title="A target was moved",
    minimum_points=4,
    examine=examine,
    action=Action.REMEASURE,
    search=search,
)
