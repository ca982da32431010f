"""The surface lies on vegetation, or slopes turn an error in plan into one in height."""

from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis
from geoqa.causes.power import noncentrality, significance
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import Finding, FindingVerdict, Quantity, UseReason

_ID = "surface-cover"
_LEAST_GROUP = 3


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield the height error that the error in plan makes on the slope of the surface."""
    gradient = case.samples.gradient[evidence.rows]
    effect = np.zeros((len(evidence), 3))
    both = evidence.plan & evidence.height & np.isfinite(gradient).all(axis=1)
    effect[both, 2] = -(gradient[both] * evidence.delta_m[both, :2]).sum(axis=1)
    if effect.any():
        yield Hypothesis(
            _ID,
            "the height error is the error in plan times the slope",
            known_m=effect,
            coincidence=0.05,
            log_prior=-1.0,
        )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether heights are too large under vegetation, or follow the slope."""
    covered = _vegetated(case)
    if covered is not None and covered.verdict is FindingVerdict.PRESENT:
        return covered
    of_slope = finding(
        case.comparison,
        Sayings(
            _ID,
            "Cure the shift in plan first; judge heights where the ground is flat (limits.slope_percent). "
            "Deciding "
            "test: heights on flat ground beside the slopes.",
            "No slope under the points that count, and no vegetated points beside others.",
        ),
    )
    return of_slope if covered is None or of_slope.verdict is FindingVerdict.PRESENT else covered


def _vegetated(case: DiagnosisCase) -> Finding | None:
    """Return whether vegetated points lie higher than the others; None where they cannot be compared."""
    up = case.residuals.delta_m[:, 2]
    only_cover = np.array(
        [reason is UseReason.VEGETATED for reason in case.residuals.vertical.reasons], dtype=bool
    )
    over, ground = up[only_cover & np.isfinite(up)], up[case.residuals.vertical.used]
    if len(over) < _LEAST_GROUP or len(ground) < _LEAST_GROUP:
        return None
    return _judged(case, over, ground)


def _judged(case: DiagnosisCase, over: FloatArray, ground: FloatArray) -> Finding:
    freedom = len(over) + len(ground) - 2
    apart = float(over.mean() - ground.mean())
    within = ((over - over.mean()) ** 2).sum() + ((ground - ground.mean()) ** 2).sum()
    sigma = float(np.sqrt(within / freedom * (1 / len(over) + 1 / len(ground))))
    limit = float(np.sqrt(noncentrality(1, freedom))) * sigma
    quantities = (
        Quantity("vegetated minus other points, height", apart, "m", sigma),
        Quantity("detection limit of that", limit, "m"),
        Quantity("coincidence probability", significance((apart / max(sigma, 1e-12)) ** 2, 1, freedom), "1"),
    )
    told = (
        f"{len(over)} vegetated points lie {apart:+.3f} m against {len(ground)} others; from {limit:.3f} m "
        "on it "
        "would be seen."
    ).replace("-", "−")
    if apart < limit:
        return Finding(_ID, FindingVerdict.ABSENT, told, "", quantities=quantities)
    ids = tuple(
        name
        for name, reason in zip(case.residuals.ids, case.residuals.vertical.reasons, strict=True)
        if reason is UseReason.VEGETATED
    )
    return Finding(
        _ID,
        FindingVerdict.PRESENT,
        told,
        "The surface lies on the vegetation: state both classes apart, and take heights of the ground there "
        "from another source. Deciding test: a point beside each, on bare ground.",
        rank=3,
        quantities=quantities,
        predicted_rmse_m={"vertical": float(np.sqrt((ground**2).mean()))},
        point_ids=ids,
    )


DIAGNOSIS = Diagnosis(
    id=_ID,
    title="Vegetation, slope or step under the points",
    minimum_points=6,
    examine=examine,
    propose=propose,
)
