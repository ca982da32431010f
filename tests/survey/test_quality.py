"""Flags and reasons; the limits are common practice (3 cm in plan, 5 cm in height, 10 cm for refusal)."""

import numpy as np
import pytest

from geoqa.errors import SettingsError
from geoqa.records.points import Role
from geoqa.records.survey import SurveyFlag
from geoqa.records.survey_settings import Survey
from tests.survey.field import AUTONOMOUS, FIXED, FLOAT, NAN, combined, offsets

TWICE = ["A", "A"]
TWO = ["1", "2"]


def told(points):
    return " ".join(points.messages)


def two(difference, **columns):
    """Return points and quality of one point whose two occupations differ so."""
    return combined(TWICE, [[0, 0, 0], difference], occupation=TWO, **columns)


@pytest.mark.parametrize(
    ("difference", "flag", "axis"),
    [
        ([0.030, 0, 0], None, ""),
        ([0.031, 0, 0], SurveyFlag.DIFFER, "0.031 m east (limit 0.03 m)"),
        ([0, -0.031, 0], SurveyFlag.DIFFER, "0.031 m north (limit 0.03 m)"),
        ([0, 0, 0.050], None, ""),
        ([0, 0, 0.051], SurveyFlag.DIFFER, "0.051 m up (limit 0.05 m)"),
        ([0, 0, -0.100], SurveyFlag.DIFFER, "0.100 m up (limit 0.05 m)"),
        ([0, 0, -0.101], SurveyFlag.DISAGREE, "0.101 m up (limit 0.1 m)"),
        ([0.2, 0.3, 0], SurveyFlag.DISAGREE, "0.200 m east (limit 0.1 m) and 0.300 m north (limit 0.1 m)"),
    ],
)
def test_limits_between_occupations(difference, flag, axis):
    points, quality = two(difference)
    assert quality.flags == ((() if flag is None else (flag,)),)
    assert points.disagreeing == ((0,) if flag is SurveyFlag.DISAGREE else ())
    if flag:
        (reason,) = quality.reasons[0]
        assert reason.startswith("its 2 occupations differ by ")
        assert axis in reason
        assert f"shots_1.csv, line 2: “A”: {reason}." in told(points)


def test_a_disagreeing_point_stays_when_it_is_named():
    points, quality = two([0.5, 0, 0], rules=Survey(keep=("A",)))
    assert quality.flags == ((SurveyFlag.KEPT,),)
    assert points.disagreeing == ()
    assert "it counts because survey.keep names it" in told(points)


def test_a_name_to_keep_that_no_point_has_is_refused():
    with pytest.raises(SettingsError, match=r"survey\.keep names “B”"):
        two([0, 0, 0], rules=Survey(keep=("A", "B")))


def test_shots_of_one_occupation_may_scatter_and_not_lie_apart():
    places = [[0.0, 0, 0], [0.09, 0, 0]]
    assert combined(TWICE, places, occupation=["1", "1"])[1].flags == ((SurveyFlag.SINGLE_OCCUPATION,),)
    points, quality = combined(TWICE, [[0.0, 0, 0], [30.0, 0, 0]], occupation=["1", "1"])
    assert SurveyFlag.DISAGREE in quality.flags[0]
    assert "its 2 shots differ by 30.000 m east" in told(points)
    assert points.disagreeing == (0,)


def test_shots_not_told_apart_are_held_against_the_limits_one_by_one():
    points, quality = combined(TWICE, [[0, 0, 0], [0.04, 0, 0]])
    assert quality.flags[0] == (
        SurveyFlag.DIFFER,
        SurveyFlag.NOT_TOLD_APART,
        SurveyFlag.SINGLE_OCCUPATION,
    )
    assert "its 2 shots differ by 0.040 m east" in told(points)
    np.testing.assert_allclose(quality.spread_m, [[0.04, 0, 0]], rtol=0, atol=1e-9)


def test_shots_that_nothing_tells_apart_say_so():
    points, quality = combined(TWICE, sigma_m=0.02)
    assert quality.occupations.tolist() == [1]
    assert quality.shots.tolist() == [2]
    assert (
        "neither occupation nor time tells its 2 shots apart: they count as one occupation"
        in (quality.reasons[0])
    )
    assert "Give one of these columns" in told(points)
    np.testing.assert_array_equal(points.sigma_m, [[0.02] * 3])


def test_a_time_that_cannot_be_read_is_named():
    _, quality = combined(TWICE, time=["18.4.26 10:12", "18.4.26 15:40"])
    assert "the time “18.4.26 10:12” is neither ISO 8601 nor HH:MM" in quality.reasons[0][0]


def test_occupations_of_two_sessions_count_though_their_shots_are_not_told_apart():
    _, quality = combined(["A"] * 3, sessions=["S1", "S1", "S2"])
    assert quality.occupations.tolist() == [2]
    assert quality.flags == ((SurveyFlag.NOT_TOLD_APART,),)
    assert "they count as 2 occupations, one a session" in quality.reasons[0][0]


def test_a_point_occupied_once_says_so():
    points, quality = combined(["A", "A", "B"], occupation=["1", "2", "1"])
    assert quality.flags == ((), (SurveyFlag.SINGLE_OCCUPATION,))
    assert "1 of 2 points (B): occupied once" in told(points)
    assert "All 2 points: occupied once" in told(combined(["A", "B"])[0])


@pytest.mark.parametrize(
    ("sigma", "optimistic"),
    [
        ([0.005, 0.005, 0.008], False),
        ([0.004, 0.005, 0.008], True),
        ([0.005, 0.004, 0.008], True),
        ([0.005, 0.005, 0.007], True),
        ([NAN, NAN, NAN], False),
        ([NAN, NAN, 0.007], True),
    ],
)
def test_optimistic_standard_deviations_are_flagged(sigma, optimistic):
    points, quality = combined(["A"], sigma_m=[sigma])
    assert (SurveyFlag.OPTIMISTIC in quality.flags[0]) is optimistic
    assert ("are optimistic for a satellite receiver" in told(points)) is optimistic


def test_raised_standard_deviations_are_an_assumption():
    points, _ = combined(["A", "B"], sigma_m=[[0.009, 0.01, 0.018], [0.02] * 3])
    (assumption,) = points.assumptions
    assert "raised to that at 1 of 2 points" in assumption
    assert combined(["A"], sigma_m=0.02)[0].assumptions == ()
    assert (
        combined(["A"], sigma_m=0.009, rules=Survey(floor_horizontal_m=0, floor_vertical_m=0))[0].assumptions
        == ()
    )


@pytest.mark.parametrize(
    ("fix", "flag"), [(FLOAT, SurveyFlag.FLOAT_FIX), (AUTONOMOUS, SurveyFlag.AUTONOMOUS_FIX)]
)
def test_a_weak_fix_is_flagged(fix, flag):
    points, quality = combined(["A", "B"], fixes=[fix, FIXED])
    assert flag in quality.flags[0]
    assert flag not in quality.flags[1]
    assert points.fixes == (fix, FIXED)


def test_weak_shots_of_a_point_with_better_ones_are_left_out():
    points, quality = combined(
        ["A"] * 4,
        [[0, 0, 0], [1.5, 0, 0], [0.01, 0, 0], [9, 9, 9]],
        fixes=[FIXED, FLOAT, None, AUTONOMOUS],
        occupation=["1", "1", "2", "2"],
    )
    np.testing.assert_allclose(offsets(points), [[0.005, 0, 0]], rtol=0, atol=1e-9)
    assert quality.flags == ((SurveyFlag.WEAK_SHOTS,),)
    assert quality.shots.tolist() == [2]
    assert "2 of its 4 shots (shots_1.csv, line 3, shots_1.csv, line 5)" in quality.reasons[0][0]
    assert points.fixes == (None,)


def test_float_shots_alone_are_averaged_and_the_point_is_float():
    points, quality = combined(["A"] * 2, fixes=[FLOAT, FLOAT], occupation=TWO)
    assert points.fixes == (FLOAT,)
    assert quality.flags == ((SurveyFlag.FLOAT_FIX,),)


def test_an_autonomous_shot_is_weaker_than_a_float_one():
    points, quality = combined(["A"] * 2, [[0, 0, 0], [2, 0, 0]], fixes=[FLOAT, AUTONOMOUS])
    assert points.fixes == (FLOAT,)
    np.testing.assert_array_equal(offsets(points), [[0, 0, 0]])
    assert SurveyFlag.WEAK_SHOTS in quality.flags[0]


def test_a_shot_set_unused_is_left_out_without_a_word():
    points, quality = combined(TWICE, [[0, 0, 0], [5, 0, 0]], roles=[Role.CHECK, Role.UNUSED], occupation=TWO)
    assert points.roles == (Role.CHECK,)
    np.testing.assert_array_equal(offsets(points), [[0, 0, 0]])
    assert quality.flags == ((SurveyFlag.SINGLE_OCCUPATION,),)
    both, _ = combined(TWICE, roles=[Role.UNUSED, Role.UNUSED])
    assert both.roles == (Role.UNUSED,)


def test_antenna_heights_that_differ_within_a_point_are_named():
    points, quality = combined(TWICE, occupation=TWO, antenna_height=["1.8", "2,000 m"])
    assert SurveyFlag.ANTENNA_HEIGHTS in quality.flags[0]
    assert "its shots have antenna heights of 1.800 m and 2.000 m" in told(points)
    assert combined(TWICE, occupation=TWO, antenna_height=["1.8", "1.80 m"])[1].flags == ((),)


def test_antenna_heights_that_differ_within_a_session_are_named():
    points, quality = combined(
        ["A", "B", "C", "D"], sessions=["S1", "S1", "S1", "S2"], antenna_height=["1.8", "1.8", "2.0", "2.0"]
    )
    named = [SurveyFlag.ANTENNA_HEIGHTS in flags for flags in quality.flags]
    assert named == [False, False, True, False]
    assert "The antenna height in session S1 is 1.800 m at most points, but 2.000 m at C." in told(points)


def test_without_sessions_antenna_heights_are_compared_within_a_file():
    heights = ["1.8", "1.8", "2.0", "2.0", "2.0"]
    points, quality = combined(list("ABCDE"), files=[0, 0, 0, 1, 1], antenna_height=heights)
    named = [SurveyFlag.ANTENNA_HEIGHTS in flags for flags in quality.flags]
    assert named == [False, False, True, False, False]
    assert "in shots_1.csv" in told(points)


def test_an_empty_antenna_height_is_no_height():
    assert combined(TWICE, occupation=TWO, antenna_height=[None, "1.8"])[1].flags == ((),)
    assert SurveyFlag.ANTENNA_HEIGHTS not in combined(["A", "B"], antenna_height=[None, "1.8"])[1].flags[0]


def test_ids_that_nearly_match_are_named_and_never_merged():
    points, quality = combined(["CP-3", "cp03", "CP4"], [[0, 0, 0], [0.03, 0.04, 0], [9, 9, 0]])
    assert points.ids == ("CP-3", "cp03", "CP4")
    assert [SurveyFlag.ALIKE in flags for flags in quality.flags] == [True, True, False]
    names = "“CP-3” (shots_1.csv, line 2) and “cp03” (shots_1.csv, line 3)"
    assert f"{names} are named nearly alike and lie 0.050 m apart. Nothing was merged" in told(points)


def test_many_points_that_differ_are_told_in_a_few_sentences():
    ids = [f"P{number}" for number in range(20)]
    points, quality = combined(
        ids + ids, [[0, 0, 0]] * 20 + [[0, 0, 0.06]] * 20, occupation=["1"] * 20 + ["2"] * 20
    )
    assert sum("differ by" in message for message in points.messages) == 8
    assert any(message.startswith("12 points more: occupations differ") for message in points.messages)
    assert len(quality.reasons) == 20


def test_every_flag_is_raised_somewhere_here():
    everything = combined(
        ["A", "A", "B", "B", "C", "C", "D", "E", "F", "F", "f", "G", "G"],
        [[0, 0, 0], [1, 0, 0], [0, 0, 0], [2, 0, 0], [0, 0, 0], [0.05, 0, 0], *[[0, 0, 0]] * 7],
        fixes=[*[FIXED] * 6, FLOAT, AUTONOMOUS, FIXED, FLOAT, *[FIXED] * 3],
        occupation=["1", "2", "1", "2", "1", "2", "1", "1", "1", "1", "1", None, None],
        antenna_height=[*["1.8"] * 12, "2.0"],
        sigma_m=0.004,
        rules=Survey(keep=("B",)),
    )[1]
    assert {flag for flags in everything.flags for flag in flags} == set(SurveyFlag)
