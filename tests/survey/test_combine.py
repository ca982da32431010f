"""One row a point: what is kept of its rows, how it came about, and laws that need no reference."""

import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.records.points import CoordinateStep, Cover, Role
from geoqa.survey.combine import combine_occupations
from tests.survey.field import FIXED, NAN, RULES, combined, offsets, rows


def test_points_stand_in_the_order_in_which_they_first_appear():
    points, _ = combined(["B", "A", "B", "C", "A"])
    assert points.ids == ("B", "A", "C")
    assert [points.origin(row) for row in range(3)] == [f"shots_1.csv, line {line}" for line in (2, 3, 5)]


def test_points_with_one_shot_are_what_their_row_says():
    shots = rows(
        ["A", "B"],
        [[0, 0, 0], [1, 1, NAN]],
        sigma_m=[[0.02] * 3, [0.03, 0.03, NAN]],
        roles=[Role.CONTROL, Role.CHECK],
        fixes=[FIXED, None],
        covers=[Cover.HARD, None],
        sessions=["S1", None],
        targets=["x-panel", "none"],
    )
    points, _ = combine_occupations(shots, RULES)
    for name in ("ids", "roles", "fixes", "covers", "sessions", "targets", "file_steps"):
        assert getattr(points, name) == getattr(shots, name)
    for name in ("position_m", "sigma_m", "survey_index"):
        assert_array_equal(getattr(points, name), getattr(shots, name))


@pytest.mark.parametrize(
    ("roles", "role"),
    [
        ([Role.CHECK, Role.CONTROL], Role.CONTROL),
        ([Role.MARK, Role.CHECK], Role.MARK),
        ([Role.CONTROL, Role.MARK], Role.CONTROL),
        ([Role.CHECK, Role.UNUSED], Role.CHECK),
        ([Role.UNUSED, Role.CONTROL], Role.CONTROL),
    ],
)
def test_the_role_that_claims_least_holds(roles, role):
    points, _ = combined(["A", "A"], roles=roles)
    assert points.roles == (role,)
    contradict = Role.UNUSED not in roles
    assert any("name different roles" in message for message in points.messages) is contradict


def test_vegetation_at_one_shot_holds_for_the_point():
    points, _ = combined(["A", "A", "B", "B"], covers=[Cover.HARD, Cover.VEGETATED, None, Cover.BARE])
    assert points.covers == (Cover.VEGETATED, Cover.BARE)
    assert sum("name different covers (hard, vegetated)" in message for message in points.messages) == 1


def test_a_named_target_goes_before_none():
    points, _ = combined(["A", "A", "B"], targets=["none", "x-panel", None])
    assert points.targets == ("x-panel", None)
    assert any("name different targets" in message for message in points.messages)


def test_sessions_of_a_point_are_all_named():
    assert combined(["A", "A", "B"], sessions=["S2", "S1", "S1"])[0].sessions == ("S1, S2", "S1")


def test_a_fix_holds_only_if_every_shot_has_it():
    assert combined(["A", "A"], fixes=[FIXED, FIXED])[0].fixes == (FIXED,)
    assert combined(["A", "A"], fixes=[FIXED, None])[0].fixes == (None,)


def test_occupations_of_a_point_can_be_followed_by_hand():
    points, quality = combined(
        ["A", "A", "B", "A"],
        [[0, 0, 0], [0.004, 0, 0], [9, 9, 9], [0.012, 0, 0]],
        sigma_m=0.02,
        occupation=["1", "1", "1", "2"],
        time=["10:05", "10:04", "11:00", "15:00"],
    )
    assert set(quality.each) == {0}
    first, second = quality.each[0]
    assert first.origins == ("shots_1.csv, line 2", "shots_1.csv, line 3")
    assert (first.label, first.begin, second.label, second.begin) == ("1", "10:04", "2", "15:00")
    # Means 0.002 and 0.012, weights alike: the point lies at 0.007.
    assert_allclose(first.from_mean_m, [-0.005, 0, 0], rtol=0, atol=1e-9)
    assert_allclose(second.from_mean_m, [0.005, 0, 0], rtol=0, atol=1e-9)
    assert_array_equal(first.sigma_m, [0.02] * 3)
    assert_allclose(offsets(points)[0], [0.007, 0, 0], rtol=0, atol=1e-9)


def test_the_mean_is_the_last_step_of_a_point():
    shots = rows(["A", "B", "A"], [[0, 0, 0], [5, 5, 5], [0.01, 0, -0.02]], files=[0, 0, 1], occupation="121")
    before = CoordinateStep("unit", "invented", None, np.full((2, 3), NAN))
    points, _ = combine_occupations(replace(shots, file_steps=((before,), ())), RULES)
    steps = list(points.steps(0))
    assert [step.title for step, _ in steps] == ["unit", "mean of the shots"]
    start = shots.position_m[0]
    assert_allclose(start + steps[-1][1], points.position_m[0], rtol=0, atol=1e-9)
    assert_allclose(steps[-1][1], [0.005, 0, -0.01], rtol=0, atol=1e-9)
    assert_array_equal([change for _, change in points.steps(1)][-1], [0, 0, 0])


def test_nothing_is_measured_where_there_are_no_rows():
    points, quality = combined([])
    assert len(points) == len(quality) == 0


SHOT = st.tuples(
    st.sampled_from("ABC"),
    st.sampled_from("12"),
    st.tuples(*[st.integers(-30, 30).map(lambda value: value / 1000)] * 3),
    st.sampled_from([0.005, 0.02, 0.03]),
)


def of(shots):
    ids, labels, offset, sigma = zip(*shots, strict=True)
    spread = np.repeat(np.array(sigma)[:, None], 3, axis=1)
    points, quality = combined(list(ids), offset, sigma_m=spread, occupation=labels)
    order = np.argsort(points.ids)
    return [points.ids[row] for row in order], offsets(points)[order], points.sigma_m[order], quality, order


@settings(deadline=None, max_examples=80)
@given(st.lists(SHOT, min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_changes_nothing(shots, random):
    ids, place, sigma, quality, order = of(shots)
    shuffled = list(shots)
    random.shuffle(shuffled)
    other_ids, other_place, other_sigma, other, other_order = of(shuffled)
    assert ids == other_ids
    assert_allclose(other_place, place, rtol=0, atol=1e-8)
    # The square root in chi² makes more of the last digits of the coordinates.
    assert_allclose(other_sigma, sigma, rtol=1e-5, atol=0)
    assert_allclose(other.spread_m[other_order], quality.spread_m[order], rtol=0, atol=1e-8)
    assert [other.flags[row] for row in other_order] == [quality.flags[row] for row in order]


@settings(deadline=None, max_examples=60)
@given(st.lists(SHOT, min_size=1, max_size=6), st.integers(2, 5))
def test_repeating_every_shot_changes_nothing(shots, times):
    _, place, sigma, _, _ = of(shots)
    _, again, repeated_sigma, _, _ = of(shots * times)
    assert_allclose(again, place, rtol=0, atol=1e-8)
    assert_allclose(repeated_sigma, sigma, rtol=1e-5, atol=0)


@settings(deadline=None, max_examples=60)
@given(st.lists(SHOT, min_size=1, max_size=12), st.tuples(*[st.integers(-5, 5)] * 3))
def test_a_shift_of_all_shots_shifts_the_points(shots, shift):
    _, place, sigma, _, _ = of(shots)
    moved = [(name, label, tuple(np.add(offset, shift)), spread) for name, label, offset, spread in shots]
    _, other_place, other_sigma, _, _ = of(moved)
    assert_allclose(other_place - place, np.tile(np.array(shift, float), (len(place), 1)), rtol=0, atol=1e-8)
    assert_allclose(other_sigma, sigma, rtol=1e-5, atol=0)


def test_a_hundred_thousand_single_shots_take_no_step_of_their_own():
    """Python functions called do not grow with the rows: everything is done column by column."""
    few, many = (
        rows([f"P{number:06d}" for number in range(count)], sigma_m=0.02) for count in (100, 100_000)
    )
    called = []

    def count_calls(frame, event, argument):
        called[-1] += event == "call"

    for shots in (few, many):
        called.append(0)
        sys.setprofile(count_calls)
        try:
            combine_occupations(shots, RULES)
        finally:
            sys.setprofile(None)
    assert called[1] < called[0] + 100
