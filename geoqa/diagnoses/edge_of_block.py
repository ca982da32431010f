"""The errors grow towards the edge of the block, where few images look."""

import numpy as np
import shapely

from geoqa.causes.comparison import Comparison
from geoqa.causes.prediction import effect_m
from geoqa.causes.spread import compare_spread
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.decision import Action
from geoqa.records.results import Finding, FindingVerdict, Quantity

_ID = "edge-of-block"
# A point is near the edge within this share of the smaller side of the map.
_ZONE = 0.12
_LEAST_POINTS = 3
_SINGLES = ("single-point", "moved-target")


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the points near the edge scatter more than the others."""
    comparison = case.comparison
    if comparison is None or not len(comparison.evidence) or len(case.mapped_area_m) < 3:
        return _cannot_tell("There is no outline of the map, or no point counts.")
    near, width_m = _near_edge(comparison.evidence.position_m[:, :2], case.mapped_area_m)
    if near.sum() < _LEAST_POINTS or (~near).sum() < _LEAST_POINTS:
        return _cannot_tell(
            f"Fewer than {_LEAST_POINTS} points lie within {width_m:.0f} m of the edge of the map, or "
            "further in."
        )
    scaled = _scaled(comparison)
    test = compare_spread(_without_largest(scaled, near), _of(scaled, ~near))
    if test is None:
        return _cannot_tell("Too few residuals are left to compare the edge with the middle.")
    quantities = (
        Quantity("scatter near the edge over that further in", test.ratio, "1"),
        Quantity("detection limit of that ratio", test.limit, "1"),
        Quantity("coincidence probability", test.chance, "1"),
    )
    told = (
        f"{int(near.sum())} points within {width_m:.0f} m of the edge scatter {test.ratio:.1f} times as "
        "much as "
        f"{int((~near).sum())} further in; from {test.limit:.1f} times on it would be seen."
    )
    if test.ratio < test.limit:
        return Finding(_ID, FindingVerdict.ABSENT, told, "", quantities=quantities)
    ids = tuple(np.array(comparison.evidence.ids)[near].tolist())
    return Finding(
        _ID,
        FindingVerdict.PRESENT,
        told,
        "Leave the outer strip out of what is delivered, or fly a line more on each side. Deciding test: two "
        "further points in the strip.",
        rank=len(comparison.present) + 1,
        quantities=quantities,
        predicted_rmse_m=_without(case, comparison, near),
        point_ids=ids,
    )


def _near_edge(plan_m: FloatArray, area_m: FloatArray) -> tuple[BoolArray, float]:
    ring = shapely.LinearRing(area_m)
    width_m = _ZONE * float(np.ptp(area_m, axis=0).min())
    distance = shapely.distance(shapely.points(plan_m), ring)
    return np.asarray(distance < width_m), width_m


def _scaled(comparison: Comparison) -> FloatArray:
    """Return what the patterns leave, over the scatter of the direction, shape (n, 3).

    Offsets of single points are put back: a few points that stand out near the edge may be its scatter.
    """
    left = comparison.fit.left_m(comparison.evidence)
    for item in comparison.present:
        if item.hypothesis.cause in _SINGLES:
            left = left + effect_m(comparison, item)
    spreads = [np.sqrt(comparison.fit.parts[name].variance_m2) for name in ("plan", "height")]
    scaled: FloatArray = left / np.array([spreads[0], spreads[0], spreads[1]])
    return scaled


def _of(scaled: FloatArray, members: BoolArray) -> FloatArray:
    values = scaled[members].ravel()
    return np.asarray(values[np.isfinite(values)])


def _without_largest(scaled: FloatArray, members: BoolArray) -> FloatArray:
    """Return the values of the members but for the point that stands out most: one point is no strip."""
    rows = np.flatnonzero(members)
    sizes = np.nan_to_num(scaled[rows] ** 2).sum(axis=1)
    rest = np.zeros_like(members)
    rest[np.delete(rows, int(np.argmax(sizes)))] = True
    return _of(scaled, rest)


def _without(case: DiagnosisCase, comparison: Comparison, near: BoolArray) -> dict[str, float]:
    """Return the RMSE of the points further in."""
    delta = comparison.evidence.delta_m[~near]
    plan, height = delta[np.isfinite(delta[:, 0]), :2], delta[np.isfinite(delta[:, 2]), 2]
    rmse = {}
    if len(plan):
        rmse["horizontal"] = float(np.sqrt((plan**2).sum(axis=1).mean()))
    if len(height):
        rmse["vertical"] = float(np.sqrt((height**2).mean()))
    return rmse


def _cannot_tell(evidence: str) -> Finding:
    return Finding(_ID, FindingVerdict.CANNOT_TELL, evidence, "")


DIAGNOSIS = Diagnosis(
    id=_ID,
    title="Errors grow towards the edge of the block",
    minimum_points=6,
    examine=examine,
    action=Action.REFLY,
)
