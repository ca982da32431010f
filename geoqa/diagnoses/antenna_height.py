"""A wrong height of antenna or pole: all heights off by one amount, plan clean."""

from collections.abc import Iterator, Sequence

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, Quantity

# Poles are set to 1.5 to 2.5 m and antennas stand as high: a forgotten or a mistyped height makes up to that.
_TYPICAL_M = 0.8


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a height offset of all points."""
    yield Hypothesis(
        "antenna-height",
        "the height of an antenna or a pole is wrong by one amount",
        (constant(evidence, 2, _TYPICAL_M),),
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the height offset."""
    offset = found["shift up"]
    return (Quantity("height offset", offset.value, "m", offset.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether all heights are off by one amount."""
    return finding(
        case.comparison,
        Sayings(
            "antenna-height",
            "Look up pole and antenna heights in the raw logs of rover, base and drone, and whether they "
            "count "
            "to the mark or to the antenna. Deciding test: a known mark measured with the same rover; it "
            "shows an error of the survey, and none of the camera.",
            "Too few heights count to see an offset.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="antenna-height",
    title="Wrong height of antenna or pole",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
