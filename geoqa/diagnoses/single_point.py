"""A few single points are wrong: a lost fix, a typed digit, a covered target."""

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

_TYPICAL_M = 50.0
# Components in which a blunder shows, and how usual that is. One of plan alone is more often a target that
# was moved.
_WAYS = (((0, 1, 2), -0.5), ((2,), 0.0), ((0, 1), -2.0))


def search(case: DiagnosisCase) -> Search:
    """Return the search for points that stand out from the others."""

    def outstanding_points(evidence: Evidence, left_m: FloatArray) -> Iterator[Hypothesis]:
        for axes, price in _WAYS:
            for rows in outstanding(left_m, axes):
                verb = "stands" if len(rows) == 1 else "stand"
                yield Hypothesis(
                    "single-point",
                    f"{named(evidence, rows)} {verb} out from the others",
                    own_offsets(evidence, rows, axes, _TYPICAL_M),
                    choices=choices(evidence, len(rows)),
                    false_alarm=FALSE_ALARM,
                    log_prior=price,
                    point_rows=tuple(rows.tolist()),
                )

    return outstanding_points


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the error of each point."""
    return tuple(Quantity(f"error of {key}", item.value, "m", item.sigma) for key, item in found.items())


def examine(case: DiagnosisCase) -> Finding:
    """Return whether a few points stand out."""
    return finding(
        case.comparison,
        Sayings(
            "single-point",
            "Measure these points again and look at their pictures; leave one out only for a reason other "
            "than "
            "its residual (role “unused”). Deciding test: a second occupation from a fresh fix; if it "
            "repeats, "
            "the map is wrong there.",
            "Fewer than four points count in one direction, so none can stand out.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="single-point",
    title="Single points in error",
    minimum_points=4,
    examine=examine,
    action=Action.REMEASURE,
    search=search,
)
