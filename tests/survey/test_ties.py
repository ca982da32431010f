"""Known marks: measured minus known position against 1.96 sigma, or the limits of a warning."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import InputError
from geoqa.records.points import Role
from geoqa.records.survey import NO_KNOWN_MARK, SurveyFlag, TieVerdict
from tests.survey.field import FLOAT, NAN, combined

KNOWN = (False, True)


def tied(measured, *, known=(0.0, 0.0, 0.0), sigma=NAN, known_sigma=NAN, **columns):
    """Return points and quality of one mark, published in the second file."""
    sigmas = [np.broadcast_to(value, 3) for value in (sigma, known_sigma)]
    return combined(
        ["K1", "K1"], [measured, known], sigma_m=sigmas, files=[0, 1], known_files=KNOWN, **columns
    )


def test_published_positions_are_no_points():
    points, quality = combined(["A", "K1", "K1"], files=[0, 0, 1], known_files=KNOWN)
    assert points.ids == ("A", "K1")
    assert quality.shots.tolist() == [1, 1]
    assert len(quality.ties) == 1


def test_difference_is_measured_minus_known():
    _, quality = tied([0.012, -0.007, 0.030])
    (tie,) = quality.ties
    assert_allclose(tie.difference_m, [0.012, -0.007, 0.030], rtol=0, atol=1e-9)
    assert tie.known_origin == "shots_2.csv, line 2"
    assert tie.measured_origin == "shots_1.csv, line 2"
    assert "east +0.012 m (± 0.030 m), north −0.007 m" in tie.sentence


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [
        ([0.030, -0.030, 0.050], TieVerdict.WITHIN),
        ([0.031, 0, 0], TieVerdict.BEYOND),
        ([0, 0, -0.051], TieVerdict.BEYOND),
    ],
)
def test_without_standard_deviations_the_limits_of_a_warning_hold(measured, verdict):
    (tie,) = tied(measured)[1].ties
    assert_allclose(tie.tolerance_m, [0.03, 0.03, 0.05])
    assert tie.verdict is verdict


def test_tolerance_is_that_of_95_percent_of_both_together():
    # 1.96 × √(12² + 5²) mm = 25.5 mm; in height 1.96 × √(20² + 15²) mm = 49 mm.
    at_limit = tied([0.0254, 0, 0.0489], sigma=[0.012, 0.012, 0.020], known_sigma=[0.005, 0.005, 0.015])
    (tie,) = at_limit[1].ties
    assert_allclose(tie.tolerance_m, [0.02548, 0.02548, 0.049], rtol=0, atol=5e-7)
    assert tie.verdict is TieVerdict.WITHIN
    beyond = tied([0.0256, 0, 0], sigma=[0.012, 0.012, 0.020], known_sigma=[0.005, 0.005, 0.015])
    assert beyond[1].ties[0].verdict is TieVerdict.BEYOND


def test_the_uncertainty_of_the_base_widens_the_tolerance():
    # 1.96 × √(12² + 5² + 8²) mm and 1.96 × √(20² + 15² + 20²) mm.
    sigmas = {"sigma": [0.012, 0.012, 0.020], "known_sigma": [0.005, 0.005, 0.015]}
    points, quality = tied([0, 0, 0], base_sigma_m=(0.008, 0.008, 0.020), **sigmas)
    assert_allclose(quality.ties[0].tolerance_m, [0.02992, 0.02992, 0.06275], rtol=0, atol=1e-5)
    # Every point shares it, so that it is no part of the sigma of one.
    assert_allclose(points.sigma_m, [sigmas["sigma"]])


def test_known_standard_deviations_know_no_floor():
    (tie,) = tied([0, 0, 0], sigma=0.02, known_sigma=0.001)[1].ties
    assert_allclose(tie.tolerance_m, [1.96 * np.hypot(0.02, 0.001)] * 3)


def test_a_mark_without_a_height_is_compared_in_plan():
    points, quality = tied([0.01, 0, 0.4], known=(0, 0, NAN))
    assert quality.ties[0].verdict is TieVerdict.WITHIN
    assert np.isnan(quality.ties[0].difference_m[2])
    assert quality.statement.startswith("The absolute position was checked in plan only at K1")
    assert quality.statement in points.messages


def test_marks_within_tolerance_check_the_absolute_position():
    _, quality = tied([0.01, 0, 0.01])
    assert quality.statement.startswith("The absolute position was checked in plan and height at K1")


def test_a_mark_beyond_tolerance_is_named_in_the_statement():
    points, quality = tied([0.01, 0, 0.2])
    assert "does not fit the known position of K1" in quality.statement
    assert "absolute accuracy is not proved" in quality.statement
    assert quality.statement == points.messages[-1]


@pytest.mark.parametrize("columns", [{"fixes": [FLOAT, None]}, {"roles": [Role.UNUSED, Role.CHECK]}])
def test_a_weak_measurement_decides_nothing(columns):
    _, quality = tied([0.01, 0, 0], **columns)
    assert quality.ties[0].verdict is TieVerdict.UNDECIDED
    assert "decides nothing: absolute accuracy is not proved" in quality.statement


def test_disagreeing_occupations_of_a_mark_decide_nothing():
    points, quality = combined(
        ["K1", "K1", "K1"],
        [[0, 0, 0], [0.5, 0, 0], [0, 0, 0]],
        files=[0, 0, 1],
        occupation=["1", "2", None],
        known_files=KNOWN,
    )
    assert SurveyFlag.DISAGREE in quality.flags[0]
    assert quality.ties[0].verdict is TieVerdict.UNDECIDED
    assert points.disagreeing == (0,)


def test_without_known_marks_absolute_accuracy_is_not_proved():
    points, quality = combined(["A"])
    assert quality.ties == ()
    assert quality.statement == NO_KNOWN_MARK == points.messages[-1]


def test_a_known_mark_that_was_not_measured_is_named():
    points, quality = combined(["A", "K1"], files=[0, 1], known_files=KNOWN)
    assert "Known, and not measured: K1." in points.messages
    assert quality.statement == NO_KNOWN_MARK


def test_a_mark_without_published_position_is_named():
    points, _ = combined(["A", "K2"], roles=[Role.CHECK, Role.MARK])
    assert any(message.startswith("K2: the role is mark, but no table") for message in points.messages)


def test_a_known_name_that_is_nearly_that_of_a_point_is_named():
    points, quality = combined(["TP 12", "TP12"], files=[0, 1], known_files=KNOWN)
    assert quality.ties == ()
    assert any("“TP 12” (shots_1.csv, line 2) and “TP12” (shots_2.csv, line 2)" in m for m in points.messages)
    assert SurveyFlag.ALIKE in quality.flags[0]


def test_two_published_positions_of_a_mark_are_refused():
    with pytest.raises(InputError, match=r"shots_2.csv, line 3: the known mark “K1”.*0\.020 m apart"):
        combined(["K1"] * 3, [[0, 0, 0], [0, 0, 0], [0.02, 0, 0]], files=[0, 1, 1], known_files=KNOWN)
    _, quality = combined(["K1"] * 3, files=[0, 1, 1], known_files=KNOWN)
    assert len(quality.ties) == 1
