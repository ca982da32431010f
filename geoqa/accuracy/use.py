"""Which points count for the plan and which for the height, decided without looking at a residual.

`HORIZONTAL_RULES` and `VERTICAL_RULES` are the order of precedence: the first rule that applies to a
point is its reason; a point to which none applies is used.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.measurements import SurfaceSamples, SurfaceStatus, TargetFixes, TargetStatus
from geoqa.records.points import Checkpoints, Cover, FixType, Role
from geoqa.records.results import Use, UseReason
from geoqa.records.settings import Limits

HEIGHT_ONLY_TARGET = "none"

# A limit this large switches the slope rule off: no surface that a map shows is steeper than 84°.
SLOPE_RULE_OFF_PERCENT = 1000.0


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is known of each point beside its residual, one entry a point.

    Attributes
    ----------
    surfaces
        `SurfaceStatus` of each point; a height that came with a mark counts as given.
    slope_percent, relief_m
        NaN where no plane could be fitted.
    occupations_disagree
        True where the survey of the point contradicts itself.
    """

    roles: NDArray[Any]
    receivers: NDArray[Any]
    covers: NDArray[Any]
    named_targets: NDArray[Any]
    targets: NDArray[Any]
    surfaces: NDArray[Any]
    survey_height_m: FloatArray
    slope_percent: FloatArray
    relief_m: FloatArray
    occupations_disagree: BoolArray
    limits: Limits

    @property
    def not_sought(self) -> BoolArray:
        """Return where no target was looked for."""
        return np.asarray(self.targets == TargetStatus.NOT_SOUGHT)

    @property
    def height_only(self) -> BoolArray:
        """Return where the survey says that there is no target."""
        return np.asarray(self.not_sought & (self.named_targets == HEIGHT_ONLY_TARGET))

    @property
    def without_mark(self) -> BoolArray:
        """Return where marks were given, yet none for this point."""
        return self.not_sought & bool((self.targets == TargetStatus.MARKED).any())

    @property
    def sampled(self) -> BoolArray:
        """Return where the height comes from the elevation raster."""
        return np.asarray(self.surfaces == SurfaceStatus.SAMPLED)


def surface_statuses(samples: SurfaceSamples, fixes: TargetFixes) -> NDArray[Any]:
    """Return the `SurfaceStatus` of each point; a mark's own height counts where no raster was read."""
    statuses = np.array(samples.statuses, dtype=object)
    came_with_mark = (statuses == SurfaceStatus.NOT_SOUGHT) & np.isfinite(fixes.given_height_m)
    statuses[came_with_mark] = SurfaceStatus.GIVEN
    return statuses


def gather(checkpoints: Checkpoints, fixes: TargetFixes, samples: SurfaceSamples, limits: Limits) -> Evidence:
    """Return the evidence about all points."""
    disagree = np.zeros(len(checkpoints), dtype=bool)
    disagree[list(checkpoints.disagreeing)] = True
    return Evidence(
        roles=np.array(checkpoints.roles, dtype=object),
        receivers=np.array(checkpoints.fixes, dtype=object),
        covers=np.array(checkpoints.covers, dtype=object),
        named_targets=np.array(checkpoints.targets, dtype=object),
        targets=np.array([fix.status for fix in fixes.fixes], dtype=object),
        surfaces=surface_statuses(samples, fixes),
        survey_height_m=checkpoints.position_m[:, 2],
        slope_percent=samples.slope_percent,
        relief_m=samples.relief_m,
        occupations_disagree=disagree,
        limits=limits,
    )


Rule: TypeAlias = tuple[UseReason, Callable[[Evidence], BoolArray]]


def _target_is(status: TargetStatus) -> Callable[[Evidence], BoolArray]:
    return lambda evidence: np.asarray(evidence.targets == status)


def _surface_is(status: SurfaceStatus) -> Callable[[Evidence], BoolArray]:
    return lambda evidence: np.asarray(evidence.surfaces == status)


def _role_is(role: Role) -> Callable[[Evidence], BoolArray]:
    return lambda evidence: np.asarray(evidence.roles == role)


def _receiver_is(fix: FixType) -> Callable[[Evidence], BoolArray]:
    return lambda evidence: (evidence.receivers == fix) & (not evidence.limits.use_float)


def _no_plane(evidence: Evidence) -> BoolArray:
    in_force = evidence.limits.slope_percent < SLOPE_RULE_OFF_PERCENT
    return evidence.sampled & np.isnan(evidence.slope_percent) & in_force


EITHER_DIRECTION: tuple[Rule, ...] = (
    (UseReason.ROLE_UNUSED, _role_is(Role.UNUSED)),
    (UseReason.ROLE_CONTROL, _role_is(Role.CONTROL)),
    (UseReason.ROLE_MARK, _role_is(Role.MARK)),
    (UseReason.AUTONOMOUS_FIX, _receiver_is(FixType.AUTONOMOUS)),
    (UseReason.FLOAT_FIX, _receiver_is(FixType.FLOAT)),
    (UseReason.OCCUPATIONS_DISAGREE, lambda evidence: evidence.occupations_disagree),
)

HORIZONTAL_RULES: tuple[Rule, ...] = (
    *EITHER_DIRECTION,
    (UseReason.HEIGHT_ONLY, lambda evidence: evidence.height_only),
    (UseReason.NO_MARK, lambda evidence: evidence.without_mark),
    (UseReason.NO_ORTHOMOSAIC, lambda evidence: evidence.not_sought),
    (UseReason.OUTSIDE, _target_is(TargetStatus.OUTSIDE)),
    (UseReason.NOT_FOUND, _target_is(TargetStatus.NOT_FOUND)),
    (UseReason.AMBIGUOUS, _target_is(TargetStatus.AMBIGUOUS)),
    (UseReason.SUSPECT, _target_is(TargetStatus.SUSPECT)),
)

# Vegetation stands last: a point with this reason could be judged but for its cover, and is what
# the standards report as vegetated accuracy.
VERTICAL_RULES: tuple[Rule, ...] = (
    *EITHER_DIRECTION,
    (UseReason.PLAN_ONLY, lambda evidence: np.isnan(evidence.survey_height_m)),
    (UseReason.NO_ELEVATION, _surface_is(SurfaceStatus.NOT_SOUGHT)),
    (UseReason.OUTSIDE, _surface_is(SurfaceStatus.OUTSIDE)),
    (UseReason.NO_DATA, _surface_is(SurfaceStatus.NO_DATA)),
    (UseReason.NO_SLOPE, _no_plane),
    (UseReason.SLOPE, lambda e: e.sampled & (e.slope_percent > e.limits.slope_percent)),
    (UseReason.RELIEF, lambda e: e.sampled & (e.relief_m > e.limits.relief_m)),
    (UseReason.VEGETATED, lambda evidence: np.asarray(evidence.covers == Cover.VEGETATED)),
)


def decide(evidence: Evidence, rules: Sequence[Rule]) -> Use:
    """Return the use of each point: the first rule that applies is its reason."""
    first = np.full(len(evidence.roles), len(rules))
    for place in reversed(range(len(rules))):
        first[rules[place][1](evidence)] = place
    reasons = (*(reason for reason, _ in rules), None)
    return Use(used=first == len(rules), reasons=tuple(reasons[place] for place in first.tolist()))
