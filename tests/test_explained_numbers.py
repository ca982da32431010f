"""The numbers and the picture that an explanation shows are those of the code."""

import re

import numpy as np
import pytest

from geoqa.accuracy.claims import share_within
from geoqa.accuracy.detection import height_effects, plan_effects, smallest_detectable
from geoqa.accuracy.outliers import thresholds
from geoqa.accuracy.reach import points_needed
from tests.explanation_pictures import PICTURE, picture

PAGE = PICTURE.with_suffix(".md").read_text("utf-8")


def rows(name):
    """Return the numbers of the table that follows a mark."""
    table = PAGE.split(f"<!-- {name} -->")[1].split("\n\n")[1]
    return [[float(cell) for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]


def test_the_picture_is_in_step_with_the_code():
    assert PICTURE.read_text("utf-8") == picture(), "run `python -m tests.explanation_pictures`"


@pytest.mark.parametrize("row", rows("points needed"), ids=str)
def test_points_needed(row):
    ratio, height, plan = row
    assert (points_needed(ratio), points_needed(ratio, 2.0)) == (height, plan)


def layout(count):
    """Return a regular grid over 300 m, or its corners and middle for five points."""
    if count == 5:
        return np.array([[0, 0], [300, 0], [0, 300], [300, 300], [150, 150]], dtype=float)
    side = np.linspace(0, 300, int(np.sqrt(count)))
    return np.array([[east, north] for east in side for north in side])


@pytest.mark.parametrize("row", rows("blind spots"), ids=str)
def test_blind_spots(row):
    count, *told = row
    places = layout(int(count))
    plan = [smallest_detectable(effect, 0.015) for effect in plan_effects(places)]
    height = [smallest_detectable(effect, 0.025) for effect in height_effects(places)]
    found = [100 * plan[0], *plan[1:], *(100 * size for size in height)]
    tolerance = [0.05, 0.5, 0.5, 0.05, 0.05, 0.06]
    assert (np.abs(np.array(found) - told) <= tolerance).all()


@pytest.mark.parametrize("row", rows("outliers"), ids=str)
def test_thresholds_of_outliers(row):
    count, *told = row
    found = [
        thresholds(int(count), plan=plan, by_sigmas=by_sigmas)
        for by_sigmas in (False, True)
        for plan in (False, True)
    ]
    assert found == pytest.approx(told, abs=0.051)


def test_shares_that_counting_proves():
    told = re.search(
        r"prove that (\d+) % of such points keep it, thirty prove (\d+) %", " ".join(PAGE.split())
    )
    assert [round(100 * share_within(count)) for count in (10, 30)] == [int(part) for part in told.groups()]


def test_chances_to_pass_by_luck():
    """[NIST-EH]: a product 1.25 times worse than the limit, at n points with n degrees of freedom."""
    generator = np.random.default_rng(2)
    told = re.search(
        r"(\d+) % at 5 points, (\d+) % at 10, (\d+) % at 20 and (\d+) % at 30", " ".join(PAGE.split())
    )
    for count, percent in zip((5, 10, 20, 30), told.groups(), strict=True):
        rmse = np.sqrt((generator.normal(size=(20_000, count)) ** 2).mean(axis=1))
        assert 100 * np.mean(1.25 * rmse <= 1) == pytest.approx(int(percent), abs=1.5)
