"""Rules of use: [ASPRS2023] section 7.12 for slope, else common practice (design of the check)."""

import inspect
from dataclasses import replace

import numpy as np
import pytest

from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.use import HORIZONTAL_RULES, VERTICAL_RULES, Evidence
from geoqa.records.measurements import SurfaceStatus, TargetStatus
from geoqa.records.points import Cover, FixType, Role
from geoqa.records.results import UseReason
from geoqa.records.settings import Limits
from tests.accuracy.residual_sets import NAN, checkpoints, surface_samples, target_fixes

PLACE = [1000.0, 2000.0, 50.0]


def reasons(*, target=TargetStatus.FOUND, surface=SurfaceStatus.SAMPLED, limits=None, place=None, **more):
    """Return the reason for the plan and for the height of one point that would count otherwise."""
    columns = {name: (more[name],) for name in ("roles", "fixes", "covers", "targets") if name in more}
    with_place = target in (TargetStatus.FOUND, TargetStatus.SUSPECT, TargetStatus.MARKED)
    centre = [1000.01, 2000.01] if with_place else [NAN, NAN]
    with_height = surface is SurfaceStatus.SAMPLED
    formed = form_residuals(
        checkpoints(np.array([place or PLACE]), **columns),
        target_fixes([target], np.array([centre]), given_height_m=[more.get("given_m", NAN)]),
        surface_samples(
            [surface], [50.02 if with_height else NAN], more.get("slope", 1.0), more.get("relief", 0.01)
        ),
        limits or Limits(),
    )
    assert formed.horizontal.used[0] == (formed.horizontal.reasons[0] is None)
    assert formed.vertical.used[0] == (formed.vertical.reasons[0] is None)
    return formed.horizontal.reasons[0], formed.vertical.reasons[0]


def test_a_found_and_sampled_checkpoint_counts_for_both():
    assert reasons() == (None, None)


@pytest.mark.parametrize(
    ("role", "reason"),
    [
        (Role.CONTROL, UseReason.ROLE_CONTROL),
        (Role.MARK, UseReason.ROLE_MARK),
        (Role.UNUSED, UseReason.ROLE_UNUSED),
    ],
)
def test_a_role_other_than_check_counts_for_neither(role, reason):
    assert reasons(roles=role) == (reason, reason)


@pytest.mark.parametrize(
    ("fix", "reason"),
    [(FixType.FLOAT, UseReason.FLOAT_FIX), (FixType.AUTONOMOUS, UseReason.AUTONOMOUS_FIX)],
)
def test_a_weak_fix_counts_for_neither_unless_asked(fix, reason):
    assert reasons(fixes=fix) == (reason, reason)
    assert reasons(fixes=fix, limits=Limits(use_float=True)) == (None, None)
    assert reasons(fixes=FixType.FIXED) == (None, None)


@pytest.mark.parametrize(
    ("status", "reason"),
    [
        (TargetStatus.FOUND, None),
        (TargetStatus.MARKED, None),
        (TargetStatus.SUSPECT, UseReason.SUSPECT),
        (TargetStatus.AMBIGUOUS, UseReason.AMBIGUOUS),
        (TargetStatus.NOT_FOUND, UseReason.NOT_FOUND),
        (TargetStatus.OUTSIDE, UseReason.OUTSIDE),
        (TargetStatus.NOT_SOUGHT, UseReason.NO_ORTHOMOSAIC),
    ],
)
def test_the_status_of_the_target_decides_about_the_plan_only(status, reason):
    assert reasons(target=status) == (reason, None)


def test_a_height_only_point_says_so_rather_than_that_a_picture_is_missing():
    assert reasons(target=TargetStatus.NOT_SOUGHT, targets="none") == (UseReason.HEIGHT_ONLY, None)


def test_a_point_without_a_mark_among_marked_ones_says_so():
    formed = form_residuals(
        checkpoints(np.array([PLACE, PLACE])),
        target_fixes([TargetStatus.MARKED, TargetStatus.NOT_SOUGHT], np.array([[1.0, 2.0], [NAN, NAN]])),
        surface_samples([SurfaceStatus.NOT_SOUGHT] * 2, [NAN, NAN]),
        Limits(),
    )
    assert formed.horizontal.reasons == (None, UseReason.NO_MARK)
    assert formed.vertical.reasons == (UseReason.NO_ELEVATION, UseReason.NO_ELEVATION)


@pytest.mark.parametrize(
    ("status", "reason"),
    [
        (SurfaceStatus.NO_DATA, UseReason.NO_DATA),
        (SurfaceStatus.OUTSIDE, UseReason.OUTSIDE),
        (SurfaceStatus.NOT_SOUGHT, UseReason.NO_ELEVATION),
    ],
)
def test_the_status_of_the_surface_decides_about_the_height_only(status, reason):
    assert reasons(surface=status) == (None, reason)


def test_a_point_without_surveyed_height_is_plan_only():
    assert reasons(place=[1000.0, 2000.0, NAN]) == (None, UseReason.PLAN_ONLY)


def test_slope_and_relief_count_from_above_their_limits():
    assert reasons(slope=10.0) == (None, None)
    assert reasons(slope=10.01) == (None, UseReason.SLOPE)
    assert reasons(relief=0.30) == (None, None)
    assert reasons(relief=0.301) == (None, UseReason.RELIEF)


def test_a_place_without_a_plane_is_unused_unless_the_slope_rule_is_off():
    assert reasons(slope=NAN, relief=NAN) == (None, UseReason.NO_SLOPE)
    assert reasons(slope=NAN, relief=NAN, limits=Limits(slope_percent=1000)) == (None, None)


def test_a_height_given_with_a_mark_knows_no_slope():
    assert reasons(surface=SurfaceStatus.NOT_SOUGHT, given_m=50.0, slope=NAN) == (None, None)


def test_a_point_whose_occupations_disagree_counts_for_neither():
    formed = form_residuals(
        replace(checkpoints(np.array([PLACE, PLACE])), disagreeing=(1,)),
        target_fixes([TargetStatus.FOUND] * 2, np.array([PLACE[:2]] * 2)),
        surface_samples([SurfaceStatus.SAMPLED] * 2, [50.0, 50.0]),
        Limits(),
    )
    assert formed.horizontal.reasons == (None, UseReason.OCCUPATIONS_DISAGREE)
    assert formed.vertical.reasons == (None, UseReason.OCCUPATIONS_DISAGREE)


@pytest.mark.parametrize(
    ("earlier", "reason"),
    [
        ({"roles": (Role.CONTROL,)}, UseReason.ROLE_CONTROL),
        ({"fixes": (FixType.FLOAT,)}, UseReason.FLOAT_FIX),
        ({}, UseReason.OCCUPATIONS_DISAGREE),
    ],
)
def test_disagreement_stands_behind_role_and_fix_and_before_the_products(earlier, reason):
    formed = form_residuals(
        replace(checkpoints(np.array([PLACE]), **earlier), disagreeing=(0,)),
        target_fixes([TargetStatus.NOT_FOUND], np.array([[NAN, NAN]])),
        surface_samples([SurfaceStatus.NO_DATA], [NAN]),
        Limits(),
    )
    assert formed.horizontal.reasons == formed.vertical.reasons == (reason,)


def test_a_vegetated_point_does_not_count_in_height():
    assert reasons(covers=Cover.VEGETATED) == (None, UseReason.VEGETATED)
    assert reasons(covers=Cover.HARD) == (None, None)


def test_the_first_reason_in_the_order_of_precedence_is_given():
    assert reasons(roles=Role.CONTROL, fixes=FixType.FLOAT)[0] is UseReason.ROLE_CONTROL
    assert reasons(fixes=FixType.FLOAT, target=TargetStatus.NOT_FOUND)[0] is UseReason.FLOAT_FIX
    assert reasons(slope=30.0, relief=2.0, covers=Cover.VEGETATED)[1] is UseReason.SLOPE
    assert reasons(relief=2.0, covers=Cover.VEGETATED)[1] is UseReason.RELIEF


def test_every_reason_stands_in_the_order_of_precedence():
    assert {reason for reason, _ in (*HORIZONTAL_RULES, *VERTICAL_RULES)} == set(UseReason)


def test_use_cannot_look_at_a_residual():
    known = set(inspect.signature(Evidence).parameters)
    assert not known & {"product_m", "delta_m", "position_m", "height_m"}
