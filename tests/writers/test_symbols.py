"""Classes and colours of vertical residuals."""

import numpy as np
import pytest

from geoqa.records.results import UseReason
from geoqa.records.settings import Requirement
from geoqa.writers._symbols import (
    REASON_LETTERS,
    Shape,
    height_class_of,
    height_classes,
)
from tests.builders import make_assessment, make_residuals, make_settings


def with_limit(**limits):
    settings = make_settings(requirement=Requirement(**limits))
    return height_classes(make_assessment(8, pictures=False, settings=settings))


def limits_of(classes):
    return [item.upper_m for item in classes[:-1]]


@pytest.mark.parametrize("limit", ["vertical_rmse_m", "vertical_p95_m", "vertical_max_m"])
def test_the_limit_is_the_outer_limit(limit):
    assert limits_of(with_limit(**{limit: 0.06})) == [-0.06, -0.03, 0.03, 0.06]


def test_without_a_limit_the_classes_are_round_numbers_of_the_data():
    delta = np.zeros((10, 3))
    delta[:, 2] = [0.01, -0.02, 0.03, -0.03, 0.02, 0.01, 0.02, -0.01, 0.045, 0.05]
    settings = make_settings(requirement=Requirement())
    assessment = make_assessment(
        10, pictures=False, settings=settings, residuals=make_residuals(delta_m=delta)
    )
    # The 90 % quantile of the absolute values is 0.0455.
    assert limits_of(height_classes(assessment)) == [-0.05, -0.025, 0.025, 0.05]


def test_without_limit_and_residuals_there_are_still_classes():
    settings = make_settings(requirement=Requirement())
    assert len(height_classes(make_assessment(0, pictures=False, settings=settings))) == 5


def test_classes_leave_no_gap():
    classes = with_limit(vertical_rmse_m=0.02)
    assert classes[0].lower_m == -np.inf
    assert classes[-1].upper_m == np.inf
    assert [item.upper_m for item in classes[:-1]] == [item.lower_m for item in classes[1:]]


def test_a_residual_that_just_keeps_the_limit_is_shown_as_keeping_it():
    classes = with_limit(vertical_rmse_m=0.1)
    values = np.array([-0.11, -0.1, -0.0501, -0.05, 0.0, 0.05, 0.0501, 0.1, 0.1001, np.nan])
    assert height_class_of(values, classes).tolist() == [0, 1, 1, 2, 2, 2, 3, 3, 4, -1]


def test_labels_name_the_limits():
    assert [item.label for item in with_limit(vertical_rmse_m=0.1)] == [
        "below −0.1 m",
        "−0.1 to −0.05 m",
        "−0.05 to +0.05 m",
        "+0.05 to +0.1 m",
        "above +0.1 m",
    ]


def luma(colour):
    # ITU-R BT.601: the grey of a colour.
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_a_grey_print_keeps_every_class_apart():
    classes = with_limit(vertical_rmse_m=0.05)
    for first in classes:
        for second in classes:
            if first is not second and first.shape is second.shape:
                assert abs(luma(first.colour) - luma(second.colour)) > 40


def test_too_high_points_up_and_is_red():
    classes = with_limit(vertical_rmse_m=0.05)
    assert [item.shape for item in classes] == [Shape.LOW, Shape.LOW, Shape.WITHIN, Shape.HIGH, Shape.HIGH]
    # ColorBrewer 2.0, RdBu, 5 classes: from #ca0020 (red) to #0571b0 (blue).
    assert classes[-1].colour == "#ca0020"
    assert classes[0].colour == "#0571b0"


def test_every_reason_has_a_letter():
    assert set(REASON_LETTERS) == set(UseReason)
    assert all(len(letter) == 1 for letter in REASON_LETTERS.values())
