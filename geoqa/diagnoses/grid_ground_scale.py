"""Distances on the ground on one side, distances in the grid on the other."""

from collections.abc import Iterator, Sequence

import numpy as np
import pyproj

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.causes.prediction import Amplitude
from geoqa.causes.site_place import middle_of
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5
_PPM = 1e-6
# Mean radius of the Earth, metres ([GRS80]).
_RADIUS_M = 6_371_009.0


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a scale of any size, and the factor between grid and ground where the CRS gives one."""
    stretch = evidence.east_north_m * _PPM
    shifts = tuple(constant(evidence, axis, _TYPICAL_M, accompanies=True) for axis in (0, 1))
    yield Hypothesis(
        "grid-ground-scale",
        "the map is larger or smaller than the survey says",
        (Pattern("scale", "plan", stretch, _TYPICAL_M, "ppm"), *shifts),
        log_prior=-1.0,
    )
    factor_ppm = grid_minus_ground_ppm(case, evidence)
    if factor_ppm is None or abs(factor_ppm) < 1.0:
        return
    for sign, words in (
        (1, "the points are in ground distances"),
        (-1, "the products are in ground distances"),
    ):
        effect = np.zeros((len(evidence), 3))
        effect[:, :2] = sign * factor_ppm * stretch
        yield Hypothesis(
            "grid-ground-scale",
            f"{words}, the other side in the grid, {factor_ppm:+.0f} ppm here".replace("-", "−"),
            shifts,
            known_m=effect,
            choices=2,
        )


def grid_minus_ground_ppm(case: DiagnosisCase, evidence: Evidence) -> float | None:
    """Return by how much distances in the grid exceed those on the ground, ppm; None for a local grid.

    References
    ----------
    [IOGP373-7-2]_: point scale factor of a projection; the ellipsoid lies below the ground by the height.
    """
    crs, place = case.frame.crs, middle_of(case.frame, evidence.position_m)
    if place is None or not crs.is_projected:
        return None
    lon, lat, height_m = (float(value) for value in place)
    scale = float(pyproj.Proj(crs).get_factors(lon, lat).meridional_scale)
    return (scale / (1 + height_m / _RADIUS_M) - 1.0) / _PPM


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the scale, positive where the map is larger than the survey."""
    scale = found.get("scale")
    return () if scale is None else (Quantity("scale of the product", scale.value, "ppm", scale.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether map and survey differ in scale."""
    return finding(
        case.comparison,
        Sayings(
            "grid-ground-scale",
            "Look whether one side was scaled to the ground; say so with [site_grid], or export it in the "
            "grid. "
            "Deciding test: the combined factor of the CRS at the site, held against the scale found; if "
            "they "
            "differ, the camera is the next suspect.",
            "A scale needs targets at three points or more.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="grid-ground-scale",
    title="Ground distances against grid distances",
    minimum_points=3,
    examine=examine,
    propose=propose,
)
