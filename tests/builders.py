"""Invented, complete and seeded records for tests; every site, person and number is made up.

Nothing here leans on `geoqa.accuracy`: statistics are plain numpy, so that a writer's test does not
pass or fail with the computation.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pyproj
from affine import Affine

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.measurements import (
    Backdrop,
    RasterInfo,
    RasterPatch,
    SurfaceSamples,
    SurfaceStatus,
    TargetFix,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import (
    Checkpoints,
    CommonFrame,
    CoordinateStep,
    Cover,
    FixType,
    Role,
    SurveyPoints,
)
from geoqa.records.profiles import SurfaceProfiles
from geoqa.records.results import ResidualSet, Use, UseReason, Verdict
from geoqa.records.settings import Deliver, Elevation, Orthomosaic, Points, Requirement, Settings
from geoqa.records.survey import Occupation, SurveyFlag, SurveyQuality, Tie, TieVerdict
from geoqa.units import LinearUnit
from tests.builders_results import (
    CREATED,
    NAN,
    make_claim,
    make_evidence,
    make_figures,
    make_finding,
    make_grouped_statistics,
    make_judgements,
    make_provenance,
    make_statistics,
)

__all__ = ["CREATED", "NAN", "make_assessment", "make_statistics"]

ORIGIN_M = (512_000.0, 5_403_000.0)
EXTENT_M = (260.0, 180.0)
ORTHO_CELL_M = 0.02
SURFACE_CELL_M = 0.05
# A local grid of a building site, which has no relation to the Earth.
SITE_GRID = (
    'ENGCRS["Lindenkamp site grid",EDATUM["Lindenkamp"],CS[Cartesian,2],'
    'AXIS["easting (E)",east,ORDER[1]],AXIS["northing (N)",north,ORDER[2]],LENGTHUNIT["metre",1]]'
)

_STATUS_CYCLE = (
    TargetStatus.FOUND,
    TargetStatus.FOUND,
    TargetStatus.FOUND,
    TargetStatus.SUSPECT,
    TargetStatus.FOUND,
    TargetStatus.NOT_FOUND,
    TargetStatus.MARKED,
    TargetStatus.OUTSIDE,
    TargetStatus.FOUND,
    TargetStatus.FOUND,
    TargetStatus.FOUND,
    TargetStatus.NOT_SOUGHT,
    TargetStatus.FOUND,
    TargetStatus.AMBIGUOUS,
    TargetStatus.FOUND,
    TargetStatus.FOUND,
)
_WITH_POSITION = {TargetStatus.FOUND, TargetStatus.SUSPECT, TargetStatus.MARKED}
_NO_PLAN = {
    TargetStatus.SUSPECT: (UseReason.SUSPECT, "a second place in the search circle looks alike"),
    TargetStatus.AMBIGUOUS: (UseReason.AMBIGUOUS, "two places look equally like the target"),
    TargetStatus.NOT_FOUND: (UseReason.NOT_FOUND, "nothing like a target within 0.50 m"),
    TargetStatus.OUTSIDE: (UseReason.OUTSIDE, "the point lies outside the orthomosaic"),
    TargetStatus.NOT_SOUGHT: (UseReason.HEIGHT_ONLY, "height-only point"),
}


def make_frame(crs: str = "EPSG:25832", unit: LinearUnit = LinearUnit.METRE) -> CommonFrame:
    """Return a common frame with gravity-related heights."""
    return CommonFrame(
        crs=pyproj.CRS.from_user_input(crs),
        unit=unit,
        height_system="EPSG:7837",
        epoch=None,
        assumptions=("The surveyed points are taken to be in the frame of the products.",),
    )


def make_positions(n: int, *, seed: int = 1) -> FloatArray:
    """Return n surveyed positions spread over the site, shape (n, 3), metres."""
    rng = np.random.default_rng(seed)
    plan = 0.08 + 0.84 * rng.random((n, 2))
    east = ORIGIN_M[0] + EXTENT_M[0] * plan[:, 0]
    north = ORIGIN_M[1] + EXTENT_M[1] * plan[:, 1]
    height = 236.0 + 9.0 * plan[:, 0] - 4.0 * plan[:, 1]
    # Surveyors write millimetres.
    return np.asarray(np.round(np.column_stack([east, north, height]), 3), dtype=float)


def make_checkpoints(n: int = 8, *, seed: int = 1, position_m: FloatArray | None = None) -> Checkpoints:
    """Return n checkpoints read from two files, the first with three coordinate steps."""
    position = make_positions(n, seed=seed) if position_m is None else np.asarray(position_m, float)
    ids = tuple(f"LK{index + 1:02d}" for index in range(n))
    first = -(-3 * n // 4)
    files = (
        _survey("lindenkamp.csv", ids[:first], position[:first]),
        _survey("lindenkamp_levels.csv", ids[first:], position[first:]),
    )
    index = [(0, row) for row in range(first)] + [(1, row) for row in range(n - first)]
    sigma = np.tile([0.008, 0.009, 0.015], (n, 1))
    if n > 2:
        sigma[2] = NAN
    return Checkpoints(
        ids=ids,
        roles=tuple(Role.CONTROL if row % 10 == 9 else Role.CHECK for row in range(n)),
        fixes=tuple(FixType.FLOAT if row % 16 == 12 else FixType.FIXED for row in range(n)),
        covers=tuple((Cover.HARD, Cover.BARE, None, Cover.HARD)[row % 4] for row in range(n)),
        sessions=tuple("AB"[row % 2] for row in range(n)),
        targets=tuple("none" if row % 16 == 11 else "quadrant-panel" for row in range(n)),
        position_m=position,
        sigma_m=sigma,
        survey=files,
        survey_index=np.array(index, dtype=int).reshape(n, 2),
        file_steps=(_steps(first), ()),
    )


def _survey(source: str, ids: tuple[str, ...], position: FloatArray) -> SurveyPoints:
    n = len(ids)
    return SurveyPoints(
        ids=ids,
        coordinates=position,
        geographic=False,
        roles=(Role.CHECK,) * n,
        fixes=(FixType.FIXED,) * n,
        covers=(None,) * n,
        sessions=(None,) * n,
        targets=(None,) * n,
        sigma_m=np.full((n, 3), NAN),
        target_height_m=np.zeros(n),
        source=source,
        lines=np.arange(2, n + 2),
        attributes={
            "description": tuple(f"panel {name}, invented" for name in ids),
            "time": ("2026-01-01T10:00:00Z",) * n,
        },
    )


def _steps(n: int) -> tuple[CoordinateStep, ...]:
    return (
        CoordinateStep(
            title="base correction",
            operation="precise minus assumed position of the base LINDE",
            accuracy_m=0.008,
            change_m=np.tile([0.412, -0.655, 1.208], (n, 1)),
        ),
        CoordinateStep(
            title="projection change",
            operation="UTM zone 32N (EPSG:16032)",
            accuracy_m=None,
            change_m=np.full((n, 3), NAN),
        ),
        CoordinateStep(
            title="height system",
            operation="geoid separation 47.310 m, invented",
            accuracy_m=0.02,
            change_m=np.tile([0.0, 0.0, -47.31], (n, 1)),
        ),
    )


def make_raster_info(kind: Literal["ortho", "surface"] = "ortho", crs: str = "EPSG:25832") -> RasterInfo:
    """Return the description of one of the two products over the whole site."""
    cell = ORTHO_CELL_M if kind == "ortho" else SURFACE_CELL_M
    horizontal = pyproj.CRS.from_user_input(crs)
    return RasterInfo(
        path=f"lindenkamp_{kind}.tif",
        shape=(round(EXTENT_M[1] / cell), round(EXTENT_M[0] / cell)),
        bands=3 if kind == "ortho" else 1,
        dtype="uint8" if kind == "ortho" else "float32",
        transform=Affine(cell, 0.0, ORIGIN_M[0], 0.0, -cell, ORIGIN_M[1] + EXTENT_M[1]),
        crs=horizontal,
        vertical=None,
        unit=LinearUnit.METRE,
        value_unit=None if kind == "ortho" else LinearUnit.METRE,
        nodata=None if kind == "ortho" else -9999.0,
        block_shape=(512, 512),
        overview_factors=(2, 4, 8, 16),
        notes=(),
    )


def pixel_of(position_m: FloatArray) -> tuple[float, float]:
    """Return row and column in the invented orthomosaic of an easting and northing."""
    row = (ORIGIN_M[1] + EXTENT_M[1] - position_m[1]) / ORTHO_CELL_M
    col = (position_m[0] - ORIGIN_M[0]) / ORTHO_CELL_M
    return float(row), float(col)


def make_survey_quality(checkpoints: Checkpoints) -> SurveyQuality:
    """Return the quality of a survey in which every fourth point was occupied twice, the first one badly."""
    n = len(checkpoints)
    twice = np.arange(n) % 4 == 0
    spread = np.where(twice[:, None], [0.012, 0.008, 0.021], NAN)
    flags: list[tuple[SurveyFlag, ...]] = [() if pair else (SurveyFlag.SINGLE_OCCUPATION,) for pair in twice]
    if n:
        spread[0] = [0.012, 0.008, 0.064]
        flags[0] = (SurveyFlag.DIFFER,)
    return SurveyQuality(
        occupations=np.where(twice, 2, 1),
        shots=np.where(twice, 4, 1),
        spread_m=spread,
        sigma_stated_m=np.where(np.isnan(checkpoints.sigma_m), NAN, [0.006, 0.007, 0.012]),
        sigma_reported_m=np.where(np.isnan(checkpoints.sigma_m), NAN, [0.006, 0.007, 0.012]),
        flags=tuple(flags),
        reasons={0: ("its 2 occupations differ by 0.064 m up (limit 0.05 m)",)} if n else {},
        each={row: _two_occupations(checkpoints, row) for row in np.flatnonzero(twice).tolist()},
        ties=(make_tie(),) if n else (),
        statement="The absolute position was checked in plan only at TP 9 (invented).",
    )


def _two_occupations(checkpoints: Checkpoints, row: int) -> tuple[Occupation, ...]:
    origin, sigma = checkpoints.origin(row), [0.010, 0.010, NAN]
    return (
        Occupation("A", "1", "2026-01-01T10:00:00Z", (origin, origin), [0.006, -0.004, NAN], sigma),
        Occupation("A", "2", None, (origin,), [-0.006, 0.004, NAN], sigma),
    )


def make_tie(verdict: TieVerdict = TieVerdict.WITHIN) -> Tie:
    """Return a known mark without a height."""
    return Tie(
        id="TP 9",
        known_origin="lindenkamp_marks.csv, line 2",
        measured_origin="lindenkamp.csv, line 7",
        difference_m=[0.011, -0.004, NAN],
        tolerance_m=[0.03, 0.03, 0.05],
        verdict=verdict,
        sentence="“TP 9”, measured minus known: east +0.011 m (± 0.030 m), north −0.004 m (± 0.030 m).",
    )


def make_fixes(checkpoints: Checkpoints, *, seed: int = 1) -> TargetFixes:
    """Return a fix for each point; statuses follow a cycle that holds every one of them."""
    n = len(checkpoints)
    rng = np.random.default_rng(seed + 100)
    error = rng.normal((0.006, -0.004), 0.012, (n, 2))
    statuses = [_STATUS_CYCLE[row % len(_STATUS_CYCLE)] for row in range(n)]
    position = np.array(checkpoints.position_m[:, :2] + error)
    position[[status not in _WITH_POSITION for status in statuses]] = NAN
    covariance_px2 = np.array([[0.010, 0.002], [0.002, 0.016]])
    fixes, covariance_m2 = [], np.full((n, 2, 2), NAN)
    for row, status in enumerate(statuses):
        if status in _WITH_POSITION:
            covariance_m2[row] = covariance_px2[::-1, ::-1] * ORTHO_CELL_M**2 * np.array([[1, -1], [-1, 1]])
        row_px, col_px = pixel_of(position[row])
        fixes.append(
            TargetFix(
                status=status,
                kind=None if status in (TargetStatus.NOT_SOUGHT, TargetStatus.OUTSIDE) else "quadrant-panel",
                row=row_px,
                col=col_px,
                covariance_px2=covariance_px2 if status in _WITH_POSITION else np.full((2, 2), NAN),
                score=0.93 if status in _WITH_POSITION else 0.0,
                flags=("shadow", "near the edge") if row % 16 == 3 else ("shadow",) if row % 4 == 1 else (),
                reason=_NO_PLAN[status][1] if status in _NO_PLAN else None,
                size_px=30.0,
            )
        )
    given = np.full(n, NAN)
    given[14::16] = checkpoints.position_m[14::16, 2] + 0.02
    return TargetFixes(tuple(fixes), position, covariance_m2, given)


def make_samples(checkpoints: Checkpoints, *, seed: int = 1) -> SurfaceSamples:
    """Return a height for most points: holes, points outside and steep places among them."""
    n = len(checkpoints)
    rng = np.random.default_rng(seed + 200)
    statuses = [SurfaceStatus.SAMPLED] * n
    for status, start, step in (
        (SurfaceStatus.NO_DATA, 4, 8),
        (SurfaceStatus.OUTSIDE, 7, 16),
        (SurfaceStatus.GIVEN, 14, 16),
    ):
        for row in range(start, n, step):
            statuses[row] = status
    height = np.array(checkpoints.position_m[:, 2] + rng.normal(0.018, 0.022, n))
    reasons: list[str | None] = [None] * n
    gradient = rng.normal(0.0, 0.015, (n, 2))
    gradient[2::16] = [0.12, -0.09]
    roughness = np.abs(rng.normal(0.010, 0.003, n))
    for row, status in enumerate(statuses):
        if status in (SurfaceStatus.NO_DATA, SurfaceStatus.OUTSIDE):
            height[row] = roughness[row] = NAN
            gradient[row] = NAN
            reasons[row] = "one of the four cells around the point holds no data"
            if status is SurfaceStatus.OUTSIDE:
                reasons[row] = "the point lies outside the elevation raster"
    return SurfaceSamples(tuple(statuses), tuple(reasons), height, gradient, roughness, 3.0 * roughness)


def make_profiles(samples: SurfaceSamples) -> SurfaceProfiles | None:
    """Return profiles of the plane at each point that has a height; every fourth has a hole in the east."""
    rows = np.flatnonzero(np.isfinite(samples.height_m))
    if not len(rows) or len(rows) > 200:
        return None
    steps = 0.25 * np.arange(-12, 13)
    rise = samples.gradient[rows][:, :, None] * steps
    height = samples.height_m[rows][:, None, None] + rise
    height[::4, 0, 18:21] = NAN
    return SurfaceProfiles(tuple(rows.tolist()), 0.25, height)


def make_residuals(
    checkpoints: Checkpoints | None = None,
    fixes: TargetFixes | None = None,
    samples: SurfaceSamples | None = None,
    *,
    delta_m: FloatArray | None = None,
) -> ResidualSet:
    """Return residuals of these measurements, or those given as `delta_m` (n, 3), all used."""
    if delta_m is not None:
        return _given_residuals(np.asarray(delta_m, float))
    checkpoints = make_checkpoints() if checkpoints is None else checkpoints
    fixes = make_fixes(checkpoints) if fixes is None else fixes
    samples = make_samples(checkpoints) if samples is None else samples
    height = np.where(np.isfinite(fixes.given_height_m), fixes.given_height_m, samples.height_m)
    product = np.column_stack([fixes.position_m, height])
    variance = fixes.covariance_m2[:, [0, 1], [0, 1]]
    sigma_product = np.column_stack([np.sqrt(variance), samples.roughness_m])
    return ResidualSet(
        ids=checkpoints.ids,
        survey_m=checkpoints.position_m,
        product_m=product,
        delta_m=product - checkpoints.position_m,
        sigma_survey_m=checkpoints.sigma_m,
        sigma_product_m=sigma_product,
        horizontal=_use([_plan_reason(row, checkpoints, fixes) for row in range(len(checkpoints))]),
        vertical=_use(_height_reasons(checkpoints, samples)),
        groups={
            "cover": tuple(None if cover is None else str(cover) for cover in checkpoints.covers),
            "session": checkpoints.sessions,
            "role": tuple(str(role) for role in checkpoints.roles),
        },
    )


def _given_residuals(delta: FloatArray) -> ResidualSet:
    n = len(delta)
    survey = make_positions(n)
    return ResidualSet(
        ids=tuple(f"LK{index + 1:02d}" for index in range(n)),
        survey_m=survey,
        product_m=survey + delta,
        delta_m=delta,
        sigma_survey_m=np.full((n, 3), NAN),
        sigma_product_m=np.full((n, 3), NAN),
        horizontal=_use([None if np.isfinite(row[:2]).all() else UseReason.NOT_FOUND for row in delta]),
        vertical=_use([None if np.isfinite(row[2]) else UseReason.NO_DATA for row in delta]),
    )


def _use(reasons: Sequence[UseReason | None]) -> Use:
    return Use(np.array([reason is None for reason in reasons], dtype=bool), tuple(reasons))


def _common_reason(row: int, checkpoints: Checkpoints) -> UseReason | None:
    if checkpoints.roles[row] is Role.CONTROL:
        return UseReason.ROLE_CONTROL
    if checkpoints.fixes[row] is FixType.FLOAT:
        return UseReason.FLOAT_FIX
    return None


def _plan_reason(row: int, checkpoints: Checkpoints, fixes: TargetFixes) -> UseReason | None:
    status = fixes.fixes[row].status
    return _common_reason(row, checkpoints) or (_NO_PLAN[status][0] if status in _NO_PLAN else None)


def _height_reasons(checkpoints: Checkpoints, samples: SurfaceSamples) -> list[UseReason | None]:
    missing = {SurfaceStatus.NO_DATA: UseReason.NO_DATA, SurfaceStatus.OUTSIDE: UseReason.OUTSIDE}
    steep = [UseReason.SLOPE if slope > 10.0 else None for slope in samples.slope_percent.tolist()]
    return [
        missing.get(status) or steep[row] or _common_reason(row, checkpoints)
        for row, status in enumerate(samples.statuses)
    ]


def make_settings(*, pictures: bool = True, requirement: Requirement | None = None) -> Settings:
    """Return the settings of the invented site, with limits of 5 cm."""
    asked = requirement or Requirement(
        horizontal_rmse_m=0.05, vertical_rmse_m=0.05, standards=({"id": "asprs-2023"},)
    )
    return Settings(
        title="Lindenkamp quarry (invented)",
        orthomosaic=Orthomosaic(path="lindenkamp_ortho.tif"),
        elevation=Elevation(path="lindenkamp_surface.tif", height_system="EPSG:7837"),
        points=(Points(path="lindenkamp.csv"), Points(path="lindenkamp_levels.csv")),
        requirement=asked,
        deliver=Deliver(pictures=pictures),
    )


def make_patch(search_row: float, search_col: float, *, seed: int = 1) -> RasterPatch:
    """Return a grey window of 96 × 96 pixels with a quadrant panel at this place of the raster."""
    row0, col0 = int(search_row) - 48, int(search_col) - 48
    rows = np.arange(96)[:, None] + row0 + 0.5 - search_row
    cols = np.arange(96)[None, :] + col0 + 0.5 - search_col
    ground = 120.0 + np.random.default_rng(seed).normal(0.0, 6.0, (96, 96))
    panel = np.where(rows * cols > 0, 235.0, 25.0)
    grey = np.where((np.abs(rows) < 15) & (np.abs(cols) < 15), panel, ground)
    return RasterPatch(np.repeat(grey[None], 3, axis=0), np.ones((96, 96), dtype=bool), row0, col0)


def _patches(checkpoints: Checkpoints, fixes: TargetFixes) -> tuple[RasterPatch | None, ...]:
    patches: list[RasterPatch | None] = []
    for row, fix in enumerate(fixes.fixes):
        sought = fix.status not in (TargetStatus.OUTSIDE, TargetStatus.NOT_SOUGHT)
        at = (fix.row, fix.col) if np.isfinite(fix.row) else pixel_of(checkpoints.position_m[row])
        patches.append(make_patch(*at, seed=row) if sought else None)
    return tuple(patches)


def make_backdrop() -> Backdrop:
    """Return a grey picture of the site with a bright lane across it and one corner missing."""
    cell = 1.0
    rows, cols = round(EXTENT_M[1] / cell), round(EXTENT_M[0] / cell)
    row, col = np.mgrid[0:rows, 0:cols]
    grey = 130.0 + 40.0 * np.sin(row / 17.0) * np.cos(col / 23.0)
    grey[np.abs(row - 0.5 * col - 20.0) < 4.0] = 220.0
    grey[:20, :30] = NAN
    return Backdrop(grey, Affine(cell, 0.0, ORIGIN_M[0], 0.0, -cell, ORIGIN_M[1] + EXTENT_M[1]))


def _mapped_area() -> FloatArray:
    east, north = ORIGIN_M
    width, length = EXTENT_M
    outline: FloatArray = np.array(
        [[east, north], [east + width, north], [east + width, north + length], [east, north + length]]
    )
    return outline


def make_assessment(n: int = 8, *, seed: int = 1, pictures: bool = True, **overrides: Any) -> Assessment:
    """Return a complete, plausible and invented assessment of n points in EPSG:25832.

    Every status, use and reason turns up among the first sixteen points. `overrides` replace fields
    of the `Assessment`; without `pictures` there are neither patches nor a backdrop.
    """
    checkpoints = make_checkpoints(n, seed=seed)
    fixes = make_fixes(checkpoints, seed=seed)
    samples = make_samples(checkpoints, seed=seed)
    residuals = make_residuals(checkpoints, fixes, samples)
    statistics = make_statistics(residuals)
    claims = (make_claim("horizontal", statistics.horizontal), make_claim("vertical", statistics.up))
    assessment = Assessment(
        settings=make_settings(pictures=pictures),
        title="Lindenkamp quarry (invented)",
        orthomosaic=make_raster_info("ortho"),
        elevation=make_raster_info("surface"),
        frame=make_frame(),
        checkpoints=checkpoints,
        survey_quality=make_survey_quality(checkpoints),
        fixes=fixes,
        samples=samples,
        residuals=residuals,
        statistics=statistics,
        statistics_by=make_grouped_statistics(residuals),
        claims=claims,
        verdict=Verdict(claims[0].verdict, claims[1].verdict, " ".join(c.sentence for c in claims)),
        accuracy=make_figures(statistics),
        judgements=make_judgements(statistics),
        findings=(make_finding(checkpoints.ids),),
        assumptions=("The surveyed points are taken to be in the frame of the products.",),
        messages=("1 target was not found.",) if n > 5 else (),
        provenance=make_provenance(),
        mapped_area_m=_mapped_area(),
        patches=_patches(checkpoints, fixes) if pictures else (),
        profiles=make_profiles(samples) if pictures else None,
        backdrop=make_backdrop() if pictures else None,
        cautions=("Not a boundary or legal survey.",),
        evidence=make_evidence(residuals, ORIGIN_M),
    )
    return replace(assessment, **overrides)
