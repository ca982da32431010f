"""The map is stretched along one direction: rolling shutter or time tags, along the flight lines."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, Search, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5
_PPM = 1e-6
# Directions that can be told apart with a few points: 15° apart.
_DIRECTIONS = 12
_LEAST_TARGETS = 4


def search(case: DiagnosisCase) -> Search:
    """Return the search for the direction in which the map is stretched."""

    def stretched(evidence: Evidence, left_m: FloatArray) -> Iterator[Hypothesis]:
        known = np.isfinite(left_m[:, :2]).all(axis=1)
        if known.sum() < _LEAST_TARGETS:
            return
        for direction in _principal_directions(evidence.east_north_m[known], left_m[known, :2]):
            unit = np.array([math.sin(direction), math.cos(direction)])
            along = (evidence.east_north_m @ unit)[:, None] * unit * _PPM
            azimuth = math.degrees(direction) % 180.0
            yield Hypothesis(
                "along-track",
                f"the map is stretched or squeezed along the azimuth {azimuth:.0f}°",
                (
                    Pattern("stretch along track", "plan", along, _TYPICAL_M, "ppm"),
                    constant(evidence, 0, _TYPICAL_M, accompanies=True),
                    constant(evidence, 1, _TYPICAL_M, accompanies=True),
                ),
                choices=_DIRECTIONS,
                log_prior=-0.5,
            )

    return stretched


def _principal_directions(places_m: FloatArray, left_m: FloatArray) -> Iterator[float]:
    """Yield the azimuths of the two principal strains of the residuals, radians."""
    centred = places_m - places_m.mean(axis=0)
    gradient = np.linalg.lstsq(centred, left_m - left_m.mean(axis=0), rcond=None)[0]
    strain = (gradient + gradient.T) / 2
    if not np.isfinite(strain).all():
        return
    _, axes = np.linalg.eigh(strain)
    for east, north in axes.T:
        yield math.atan2(float(east), float(north))


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the stretch, positive where the map is too long."""
    stretch = found["stretch along track"]
    return (Quantity("stretch of the product along that direction", stretch.value, "ppm", stretch.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the map is stretched along one direction."""
    return finding(
        case.comparison,
        Sayings(
            "along-track",
            "If this is the direction of the flight lines, process again with the shutter modelled and the "
            "time "
            "tags of the camera checked. Deciding test: a few cross lines; the stretch turns with them if "
            "it is "
            "the camera.",
            "A stretch along one direction needs four targets or more.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="along-track",
    title="Map stretched along the flight",
    minimum_points=5,
    examine=examine,
    action=Action.REPROCESS,
    search=search,
)
