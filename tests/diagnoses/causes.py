"""What each cause does to the residuals, written down from the trade's formulas; for the simulator."""

from dataclasses import replace

import numpy as np
import pyproj
from scipy.special import fdtri

from geoqa.records.base import BaseCorrection
from geoqa.records.results import ResidualSet, Use, UseReason
from geoqa.units import LinearUnit
from tests.diagnoses.simulator import MIDDLE_M, Site, Wrong, raster, vegetated

# Single points are tested at a tenth of the usual risk.
_STRICT = 10


def _everywhere(site, vector):
    return np.tile(np.asarray(vector, float), (len(site), 1))


def _unit(rng, size):
    vector = rng.normal(size=size)
    return vector / np.linalg.norm(vector)


def base(shift_m):
    """Return a correction of this many metres east, north, up."""
    return BaseCorrection(
        session=None,
        frame=pyproj.CRS("EPSG:4937"),
        epoch=None,
        assumed_m=np.zeros(3),
        precise_m=np.zeros(3),
        shift_enu_m=np.asarray(shift_m),
        covariance_m2=np.diag([0.005**2, 0.005**2, 0.01**2]),
        operation_accuracy_m=0.0,
        points_use="precise",
        products_use="assumed",
        source="invented",
    )


def base_correction(site):
    direction = _unit(site.rng, 3)
    multiple = site.rng.choice([1, -1, 2, -2], p=[0.4, 0.4, 0.1, 0.1])
    mask = ((1, 1, 1), (1, 1, 0), (0, 0, 1))[site.rng.choice(3, p=[0.8, 0.1, 0.1])]

    def known(case, size):
        return replace(case, base=(*case.base, base(size * direction)))

    effect = _everywhere(site, multiple * direction * mask)
    return Wrong("base-correction", effect, amplitudes=int(np.sum(mask)), change=known, shifts_map=True)


def height_reference(site):
    separation = float(site.rng.uniform(2, 60) * site.rng.choice([1, -1]))
    sign = site.rng.choice([1, -1])
    return Wrong(
        "height-reference",
        _everywhere(site, (0, 0, sign * separation)),
        separations_m=np.full(len(site), separation),
        fixed=True,
    )


def height_offset(cause):
    def made(site):
        return Wrong(cause, _everywhere(site, (0, 0, site.rng.choice([1.0, -1.0]))))

    return made


def tilt(site):
    direction = _unit(site.rng, 2)
    effect = np.zeros((len(site), 3))
    effect[:, 2] = site.centred_m @ direction
    return Wrong("tilt", effect, amplitudes=2, accompanied=(2,))


def dome(site):
    effect = np.zeros((len(site), 3))
    squared = ((site.position_m[:, :2] - MIDDLE_M) ** 2).sum(axis=1)
    effect[:, 2] = site.rng.choice([1.0, -1.0]) * (squared - squared.mean())
    return Wrong("dome", effect, accompanied=(2,))


def rotation(site):
    east, north = site.centred_m.T
    effect = site.rng.choice([1.0, -1.0]) * np.column_stack([-north, east, 0 * east])
    return Wrong("rotation", effect, accompanied=(0, 1))


def grid_ground_scale(site):
    east, north = site.centred_m.T
    effect = site.rng.choice([1.0, -1.0]) * np.column_stack([east, north, 0 * east])
    return Wrong("grid-ground-scale", effect, accompanied=(0, 1))


def height_scale(site):
    effect = np.zeros((len(site), 3))
    effect[:, 2] = site.rng.choice([1.0, -1.0]) * (site.position_m[:, 2] - site.position_m[:, 2].mean())
    return Wrong("height-scale", effect, accompanied=(2,))


def along_track(site):
    azimuth = site.rng.uniform(0, np.pi)
    unit = np.array([np.sin(azimuth), np.cos(azimuth)])
    effect = np.zeros((len(site), 3))
    effect[:, :2] = (site.centred_m @ unit)[:, None] * unit
    return Wrong("along-track", effect, accompanied=(0, 1), choices=12)


def session_offset(site):
    effect = np.zeros((len(site), 3))
    members = np.array([name == "B" for name in site.sessions])
    effect[members] = _unit(site.rng, 3)
    if site.rng.random() < 0.5:
        return Wrong("session-offset", effect, amplitudes=3, choices=2)
    return Wrong("session-offset", effect, amplitudes=3, choices=len(site) - 3, change=timed)


def timed(case, _):
    """Return the case with times in the order of the points, and no sessions."""
    n = len(case.checkpoints)
    (survey,) = case.checkpoints.survey
    times = tuple(f"2026-06-14T{8 + row // 60:02d}:{row % 60:02d}:00Z" for row in range(n))
    survey = replace(survey, sessions=(None,) * n, attributes={"time": times})
    return replace(case, checkpoints=replace(case.checkpoints, survey=(survey,), sessions=(None,) * n))


def linear_unit(site):
    factor = site.rng.choice([0.3048, 1 / 0.3048])
    effect = np.zeros((len(site), 3))
    effect[:, 2] = (factor - 1) * site.position_m[:, 2]
    return Wrong("linear-unit", effect, fixed=True)


def survey_foot(site):
    ratio = site.rng.choice([1, -1]) * 2.000004e-6
    effect = np.zeros((len(site), 3))
    effect[:, :2] = ratio * site.position_m[:, :2]

    def in_feet(case, _):
        (survey,) = case.checkpoints.survey
        return replace(
            case, checkpoints=replace(case.checkpoints, survey=(replace(survey, unit=LinearUnit.FOOT),))
        )

    return Wrong("survey-foot", effect, amplitudes=2, fixed=True, change=in_feet, shifts_map=True)


def half_pixel(site):
    """A map whose half pixel makes the shift: the size sets the pixel."""
    way = site.rng.choice([1.0, -1.0])

    def with_pixel(case, size):
        return replace(case, orthomosaic=raster(site.side_m, 2 * size))

    effect = _everywhere(site, (way, -way, 0))
    return Wrong("half-pixel", effect, amplitudes=2, choices=2, change=with_pixel)


def single_point(site):
    effect = np.zeros((len(site), 3))
    row = int(site.rng.integers(len(site)))
    effect[row, 2] = site.rng.choice([1.0, -1.0])
    return Wrong("single-point", effect, choices=_STRICT * len(site))


def moved_target(site):
    effect = np.zeros((len(site), 3))
    effect[int(site.rng.integers(len(site))), :2] = _unit(site.rng, 2)
    return Wrong("moved-target", effect, amplitudes=2, choices=_STRICT * len(site))


def swapped_names(site):
    first, second = site.rng.choice(len(site), 2, replace=False)
    apart = site.position_m[second] - site.position_m[first]
    effect = np.zeros((len(site), 3))
    effect[first], effect[second] = apart, -apart
    return Wrong("swapped-names", effect, amplitudes=3, fixed=True, choices=len(site) ** 2)


def reference_frame(site):
    # ITRF2020 at 2025.0 against ETRF2000 at the invented place, by PROJ's own operation.
    to_degrees = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:4258", always_xy=True)
    lon, lat = to_degrees.transform(*MIDDLE_M)
    change = pyproj.Transformer.from_crs("EPSG:9989", "EPSG:7931", always_xy=True)
    lon2, lat2, up = change.transform(lon, lat, 250.0, 2025.0)[:3]
    to_grid = pyproj.Transformer.from_crs("EPSG:4258", "EPSG:25832", always_xy=True)
    east, north = np.array(to_grid.transform(lon2, lat2)) - np.array(to_grid.transform(lon, lat))
    sign = site.rng.choice([1, -1])
    return Wrong(
        "reference-frame",
        _everywhere(site, sign * np.array([east, north, up - 250.0])),
        amplitudes=3,
        fixed=True,
        shifts_map=True,
    )


def surface_cover(site):
    rows = site.rng.choice(len(site), max(3, len(site) // 3), replace=False)
    effect = np.zeros((len(site), 3))
    effect[rows, 2] = 1.0
    return Wrong("surface-cover", effect, accompanied=(2,), change=lambda case, _: vegetated(case, rows))


def edge_of_block(site):
    """Scatter, not a pattern: noise near the edge is multiplied. None for too few points there."""
    half = site.side_m / 2
    near = half - np.abs(site.position_m[:, :2] - MIDDLE_M).max(axis=1) < 0.12 * site.side_m
    if near.sum() < 4 or (~near).sum() < 4:
        return None

    def scattered(case, size):
        delta = np.array(case.residuals.delta_m)
        delta[near] *= size
        return replace(case, residuals=_with(case.residuals, delta))

    edge, inner = 3 * int(near.sum()) - 3, 3 * int((~near).sum())
    limit = np.sqrt(fdtri(edge, inner, 0.99) / fdtri(edge, inner, 0.2))
    return Wrong("edge-of-block", np.zeros((len(site), 3)), limit=float(limit), change=scattered)


def control_as_check(site):
    def control(case, _):
        delta = np.array(case.residuals.delta_m) * 0.25
        return replace(case, residuals=_with(case.residuals, delta))

    return Wrong("control-as-check", np.zeros((len(site), 3)), fixed=True, change=control)


def _with(residuals: ResidualSet, delta):
    return replace(residuals, delta_m=delta, product_m=residuals.survey_m + delta)


def _moved(site, moved_m, cause):
    def off(case, _):
        checkpoints = replace(case.checkpoints, position_m=moved_m)
        return without_residuals(replace(case, checkpoints=checkpoints))

    return Wrong(cause, np.zeros((len(site), 3)), fixed=True, change=off)


def without_residuals(case):
    """Return the case with no point measured, as when all lie off the map."""
    n = len(case.checkpoints)
    none = Use(np.zeros(n, bool), (UseReason.OUTSIDE,) * n)
    nothing = np.full((n, 3), np.nan)
    residuals = replace(
        case.residuals,
        survey_m=case.checkpoints.position_m,
        product_m=nothing,
        delta_m=nothing,
        horizontal=none,
        vertical=none,
    )
    return replace(case, residuals=residuals)


def axis_order(site):
    return _moved(site, site.position_m[:, [1, 0, 2]], "axis-order")


def projection_zone(site):
    # The points are those of zone 31 or 33, and were read in 32.
    zone = site.rng.choice([25831, 25833])
    away = pyproj.Transformer.from_crs("EPSG:25832", f"EPSG:{zone}", always_xy=True)
    east, north = away.transform(*site.position_m[:, :2].T)
    return _moved(site, np.column_stack([east, north, site.position_m[:, 2]]), "projection-zone")


def linear_unit_plan(site):
    return _moved(site, site.position_m * np.array([1 / 0.3048, 1 / 0.3048, 1.0]), "linear-unit")


MAKERS = {
    "height-reference": height_reference,
    "base-correction": base_correction,
    "tilt": tilt,
    "dome": dome,
    "rotation": rotation,
    "grid-ground-scale": grid_ground_scale,
    "linear-unit": linear_unit,
    "survey-foot": survey_foot,
    "projection-zone": projection_zone,
    "axis-order": axis_order,
    "swapped-names": swapped_names,
    "single-point": single_point,
    "moved-target": moved_target,
    "session-offset": session_offset,
    "antenna-height": height_offset("antenna-height"),
    "reference-frame": reference_frame,
    "height-scale": height_scale,
    "half-pixel": half_pixel,
    "camera-constant": height_offset("camera-constant"),
    "along-track": along_track,
    "edge-of-block": edge_of_block,
    "surface-cover": surface_cover,
    "control-as-check": control_as_check,
}
# Causes whose effect can be laid over that of another.
PATTERNS = (
    "height-reference",
    "base-correction",
    "tilt",
    "dome",
    "rotation",
    "grid-ground-scale",
    "swapped-names",
    "single-point",
    "moved-target",
    "session-offset",
    "antenna-height",
    "height-scale",
    "along-track",
)


def wrong(cause: str, site: Site) -> Wrong | None:
    """Return what this cause does at this site, or None where it cannot show there."""
    return MAKERS[cause](site)
