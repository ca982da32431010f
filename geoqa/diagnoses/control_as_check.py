"""Points that made the map were used to test it."""

import numpy as np
from scipy.special import chdtr

from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import FloatArray
from geoqa.records.decision import Action
from geoqa.records.points import Role
from geoqa.records.results import Finding, FindingVerdict, Quantity

_ID = "control-as-check"
# Two points nearer than this are one: no two targets lie so close.
_ONE_PLACE_M = 0.05
# Probability that independent points fit as closely, below which they are not taken for independent.
_RISK = 0.002
_LEAST_POINTS = 5


def examine(case: DiagnosisCase) -> Finding:
    """Return whether checkpoints are control points, by their place, or fit closer than the survey allows."""
    if not (case.residuals.horizontal.used | case.residuals.vertical.used).any():
        return _cannot_tell("No point counts, so there are no residuals to look at.")
    doubled = _at_control(case)
    if doubled:
        evidence = (
            f"{len(doubled)} checkpoints lie at the place of a control point: {', '.join(doubled[:8])}."
        )
        return _present(
            evidence, (Quantity("checkpoints at the place of a control point", len(doubled), "1"),), doubled
        )
    ratio, chance, count = _closeness(case)
    if count < _LEAST_POINTS:
        return _cannot_tell(
            "No list of control points is given, and too few points state their standard deviation to tell "
            "whether they fit closer than they can: independence is not shown."
        )
    quantities = (
        Quantity("root mean square residual over its stated standard deviation", ratio, "1"),
        Quantity("coincidence probability", chance, "1"),
    )
    if chance < _RISK:
        evidence = (
            f"The residuals are {ratio:.2f} times as large as the stated standard deviations of the survey "
            "let "
            f"expect; independent points fit so closely {'in' if chance >= 1e-4 else 'less than in'} "
            f"{100 * max(chance, 1e-4):.2g} % of cases."
        )
        return _present(evidence, quantities, ())
    evidence = (
        f"The residuals are {ratio:.1f} times the stated standard deviations of the survey: nothing odd."
    )
    return Finding(_ID, FindingVerdict.ABSENT, evidence, "", quantities=quantities)


def _at_control(case: DiagnosisCase) -> tuple[str, ...]:
    """Return the checkpoints that lie at the place of a control point."""
    roles = np.array(case.checkpoints.roles, dtype=object)
    plan = case.checkpoints.position_m[:, :2]
    control, check = np.flatnonzero(roles == Role.CONTROL), np.flatnonzero(roles == Role.CHECK)
    if not len(control) or len(control) * len(check) > 4_000_000:
        return ()
    apart = np.linalg.norm(plan[check][:, None] - plan[control][None], axis=2)
    return tuple(case.checkpoints.ids[row] for row in check[(apart < _ONE_PLACE_M).any(axis=1)].tolist())


def _closeness(case: DiagnosisCase) -> tuple[float, float, int]:
    """Return residuals over stated standard deviations, how often chance makes them as small, and how "
    "many."""
    scaled = np.concatenate([_scaled(case, direction) for direction in ("plan", "height")])
    if not len(scaled):
        return float("nan"), 1.0, 0
    squares = float(scaled @ scaled)
    return float(np.sqrt(squares / len(scaled))), float(chdtr(len(scaled), squares)), len(scaled)


def _scaled(case: DiagnosisCase, direction: str) -> FloatArray:
    columns = slice(0, 2) if direction == "plan" else slice(2, 3)
    use = case.residuals.horizontal if direction == "plan" else case.residuals.vertical
    delta = case.residuals.delta_m[use.used, columns].ravel()
    sigma = case.residuals.sigma_survey_m[use.used, columns].ravel()
    known = np.isfinite(sigma) & (sigma > 0)
    return np.asarray(delta[known] / sigma[known])


def _present(evidence: str, quantities: tuple[Quantity, ...], ids: tuple[str, ...]) -> Finding:
    return Finding(
        _ID,
        FindingVerdict.PRESENT,
        evidence,
        "Name the points that made the map (role “control”); they cannot test it. Deciding test: the list of "
        "control points in the report of the processing, or two new points.",
        rank=3,
        quantities=quantities,
        point_ids=ids,
    )


def _cannot_tell(evidence: str) -> Finding:
    return Finding(_ID, FindingVerdict.CANNOT_TELL, evidence, "")


DIAGNOSIS = Diagnosis(
    id=_ID,
    title="Control points used as checkpoints",
    minimum_points=1,
    examine=examine,
    action=Action.MORE_POINTS,
)
