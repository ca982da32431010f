"""Invented checks with one known cause in them, of a size that is a multiple of its detection limit.

The effect of each cause is written down here anew, from the trade's formulas and not from the package; only
the noncentrality of the test, which scales it, is that of `geoqa.causes.power`.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pyproj
from affine import Affine

from geoqa.causes.power import noncentrality
from geoqa.diagnoses import DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import (
    RasterInfo,
    SurfaceSamples,
    SurfaceStatus,
    TargetFix,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import Checkpoints, CommonFrame, Cover, FixType, Role, SurveyPoints
from geoqa.records.results import ResidualSet, Use, UseReason
from geoqa.units import LinearUnit

NAN = float("nan")
# UTM zone 32N on ETRS89, an invented place.
MIDDLE_M = np.array([512_300.0, 5_403_200.0])
CRS = pyproj.CRS("EPSG:25832")
PIXEL_M = 0.02


@dataclass(frozen=True)
class Site:
    """A site with points on it, before anything is wrong.

    `side_m` is that of the square map; noise is one standard deviation, plan (each axis) and height.
    """

    rng: np.random.Generator
    position_m: FloatArray
    side_m: float
    noise_m: tuple[float, float]
    sessions: tuple[str, ...]

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.position_m)

    @property
    def centred_m(self) -> FloatArray:
        """Return places from the middle of the points."""
        centred: FloatArray = self.position_m[:, :2] - self.position_m[:, :2].mean(axis=0)
        return centred


@dataclass(frozen=True)
class Wrong:
    """What is wrong: its effect at size 1, what accompanies its test, and what the case knows beside.

    Attributes
    ----------
    effect_m : array, shape (n, 3)
    amplitudes
        Degrees of freedom of the test.
    accompanied
        Directions (0, 1, 2) in which a constant is fitted beside.
    fixed
        True where the size is what it is and cannot be scaled.
    choices
        From how many alike ones the test picks.
    shifts_map
        True where the map lies off together, so that its surface is read beside the place.
    limit
        Size at the detection limit, where it does not follow from the effect.
    change
        What the cause does to the case beside the residuals, from the case and the size.
    """

    cause: str
    effect_m: FloatArray
    amplitudes: int = 1
    accompanied: tuple[int, ...] = ()
    fixed: bool = False
    choices: int = 1
    limit: float | None = None
    shifts_map: bool = False
    separations_m: FloatArray | None = None
    change: Callable[[DiagnosisCase, float], DiagnosisCase] = lambda case, size: case


def make_site(rng: np.random.Generator, n: int) -> Site:
    """Return n points spread over a map of 150 to 900 m with 5 to 60 m of relief."""
    side = float(rng.choice([150.0, 300.0, 600.0, 900.0]))
    plan = rng.uniform(0.08, 0.92, (n, 2))
    relief = float(rng.uniform(5.0, 60.0))
    height = 250.0 + relief * (0.6 * plan[:, 0] + 0.4 * np.sin(3 * plan[:, 1]) + 0.2 * rng.random(n))
    position = np.column_stack([MIDDLE_M + (plan - 0.5) * side, height])
    noise = (float(rng.uniform(0.008, 0.025)), float(rng.uniform(0.012, 0.04)))
    cut = int(rng.integers(n // 3, n - n // 3 + 1))
    sessions = tuple("A" if row < cut else "B" for row in range(n))
    return Site(rng, position, side, noise, sessions)


def noncentral(site: Site, wrong: Wrong) -> float:
    """Return λ of the effect at size 1: its squares over the variances, beside what accompanies it."""
    total = 0.0
    for axis in range(3):
        effect = wrong.effect_m[:, axis]
        if axis in wrong.accompanied:
            effect = effect - effect.mean()
        total += float(effect @ effect) / site.noise_m[0 if axis < 2 else 1] ** 2
    return total


def detection_size(site: Site, wrong: Wrong) -> float:
    """Return the size at which the test has 80 % power, as a multiple of the effect given."""
    if wrong.limit is not None:
        return wrong.limit
    plan, height = np.any(wrong.effect_m[:, :2]), np.any(wrong.effect_m[:, 2])
    observations = len(site) * (2 * int(plan) + int(height))
    freedom = observations - wrong.amplitudes - len(wrong.accompanied)
    needed = noncentrality(wrong.amplitudes, max(freedom, 1), 0.01 / wrong.choices)
    return float(np.sqrt(needed / noncentral(site, wrong)))


def make_case(site: Site, wrongs: tuple[Wrong, ...], sizes: tuple[float, ...]) -> DiagnosisCase:
    """Return the check of a site in which these things are wrong, each at its size."""
    n = len(site)
    noise = site.rng.normal(size=(n, 3)) * np.array([site.noise_m[0], site.noise_m[0], site.noise_m[1]])
    delta = noise + sum(size * wrong.effect_m for wrong, size in zip(wrongs, sizes, strict=True))
    gradient = site.rng.normal(0.0, 0.02, (n, 2))
    for wrong, size in zip(wrongs, sizes, strict=True):
        if wrong.shifts_map:
            delta[:, 2] -= (gradient * size * wrong.effect_m[:, :2]).sum(axis=1)
    case = clean_case(site, np.asarray(delta), gradient)
    for wrong, size in zip(wrongs, sizes, strict=True):
        case = wrong.change(case, size)
        if wrong.separations_m is not None:
            case = replace(case, separations_m=wrong.separations_m)
    return case


def clean_case(site: Site, delta_m: FloatArray, gradient: FloatArray) -> DiagnosisCase:
    """Return a check with these residuals, every point of which counts for both directions."""
    n = len(site)
    ids = tuple(f"P{row + 1}" for row in range(n))
    sigma = np.tile([site.noise_m[0], site.noise_m[0], site.noise_m[1]], (n, 1))
    survey = SurveyPoints(
        ids=ids,
        coordinates=site.position_m,
        geographic=False,
        roles=(Role.CHECK,) * n,
        fixes=(FixType.FIXED,) * n,
        covers=(None,) * n,
        sessions=site.sessions,
        targets=(None,) * n,
        sigma_m=sigma,
        target_height_m=np.zeros(n),
        source="invented.csv",
        lines=np.arange(2, n + 2),
    )
    checkpoints = Checkpoints(
        ids=ids,
        roles=(Role.CHECK,) * n,
        fixes=(FixType.FIXED,) * n,
        covers=(Cover.HARD,) * n,
        sessions=site.sessions,
        targets=(None,) * n,
        position_m=site.position_m,
        sigma_m=sigma,
        survey=(survey,),
        survey_index=np.column_stack([np.zeros(n, int), np.arange(n)]),
        file_steps=((),),
    )
    use = Use(np.ones(n, bool), (None,) * n)
    residuals = ResidualSet(
        ids=ids,
        survey_m=site.position_m,
        product_m=site.position_m + delta_m,
        delta_m=delta_m,
        sigma_survey_m=sigma,
        sigma_product_m=np.full((n, 3), NAN),
        horizontal=use,
        vertical=use,
        groups={"session": site.sessions, "cover": ("hard",) * n, "role": ("check",) * n},
    )
    half = site.side_m / 2
    corners = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    return DiagnosisCase(
        frame=CommonFrame(CRS, LinearUnit.METRE, "EPSG:7837"),
        checkpoints=checkpoints,
        residuals=residuals,
        fixes=TargetFixes(
            (TargetFix(TargetStatus.FOUND, "quadrant-panel"),) * n,
            site.position_m[:, :2] + delta_m[:, :2],
            np.full((n, 2, 2), NAN),
            np.full(n, NAN),
        ),
        samples=SurfaceSamples(
            (SurfaceStatus.SAMPLED,) * n,
            (None,) * n,
            site.position_m[:, 2] + delta_m[:, 2],
            gradient,
            np.full(n, 0.01),
            np.full(n, 0.02),
        ),
        orthomosaic=raster(site.side_m),
        elevation=raster(site.side_m),
        mapped_area_m=MIDDLE_M + corners,
    )


def raster(side_m: float, pixel_m: float = PIXEL_M) -> RasterInfo:
    """Return the description of a map of this side."""
    cells = max(round(side_m / pixel_m), 1)
    corner = MIDDLE_M + np.array([-side_m / 2, side_m / 2])
    return RasterInfo(
        path="invented.tif",
        shape=(cells, cells),
        bands=3,
        dtype="uint8",
        transform=Affine(pixel_m, 0, corner[0], 0, -pixel_m, corner[1]),
        crs=CRS,
        vertical=None,
        unit=LinearUnit.METRE,
        value_unit=None,
        nodata=None,
        block_shape=(512, 512),
    )


def vegetated(case: DiagnosisCase, rows: FloatArray) -> DiagnosisCase:
    """Return the case with these points under vegetation, which keeps them from counting in height."""
    n = len(case.checkpoints)
    used = np.ones(n, bool)
    used[rows] = False
    reasons = tuple(None if one else UseReason.VEGETATED for one in used)
    return replace(case, residuals=replace(case.residuals, vertical=Use(used, reasons)))
