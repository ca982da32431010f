"""The map is shifted by half a pixel: the reference of its cells, corner or centre, was misread."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, same_everywhere, slack
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, Quantity

# Down and right, or up and left: what reading a corner for a centre, or the reverse, makes.
_WAYS = (0.5, -0.5)
_SLACK_PX = 0.05
# A shift of this kind lies within a pixel, either way.
_RANGE_PX = 2.0


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield half a pixel down and right, and up and left."""
    info = case.orthomosaic
    if info is None or not np.isfinite(info.cell_axes_m).all():
        return
    slack_m = _SLACK_PX * info.cell_size_m
    for way in _WAYS:
        east, north = info.cell_axes_m @ np.array([way, way])
        where = "down and right" if way > 0 else "up and left"
        yield Hypothesis(
            "half-pixel",
            f"the map lies half a pixel {where} ({east:+.3f} m east, {north:+.3f} m north)".replace("-", "−"),
            (
                slack(evidence, "half-pixel", 0, slack_m),
                slack(evidence, "half-pixel", 1, slack_m),
            ),
            known_m=same_everywhere(evidence, (float(east), float(north), 0.0)),
            coincidence=min(len(_WAYS) * (4 * _SLACK_PX / _RANGE_PX) ** 2, 1.0),
            choices=len(_WAYS),
            log_prior=-1.0,
        )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return what is left beside half a pixel."""
    return tuple(
        Quantity(f"shift {key.rpartition(' ')[2]} beside half a pixel", item.value, "m", item.sigma)
        for key, item in found.items()
    )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the plan is off by half a pixel."""
    return finding(
        case.comparison,
        Sayings(
            "half-pixel",
            "Export the map again with its cell reference (area or point) stated, or move its georeference "
            "by "
            "half a pixel. Deciding test: the tag of the file and the export options; residuals alone are "
            "weak "
            "evidence for so small a shift.",
            "There is no orthomosaic, or too few targets count.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="half-pixel",
    title="Map off by half a pixel",
    minimum_points=3,
    examine=examine,
    propose=propose,
)
