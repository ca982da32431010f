"""Fitness of sets: spread, survey, independence, expectation; and what few points give."""

import numpy as np
import pytest

from geoqa.accuracy.fitness import FitnessCase, fitness, point_evidence, warnings
from geoqa.accuracy.statistics import summarise, summarise_by
from geoqa.records.evidence import Grade
from geoqa.records.results import Use, UseReason
from geoqa.records.settings import Requirement
from tests.accuracy.residual_sets import residual_set

NAN = float("nan")
ORIGIN = np.array([512_000.0, 5_403_000.0, 240.0])
SQUARE = ORIGIN[:2] + np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
GRID = ORIGIN + np.array([[e, n, n / 10] for e in (20.0, 50.0, 80.0) for n in (20.0, 50.0, 80.0)])


def case_of(residuals, *, area=SQUARE, gsd_m=None, **requirement):
    return FitnessCase(
        residuals, summarise(residuals), summarise_by(residuals), Requirement(**requirement), area, gsd_m
    )


def grid_set(size_m=0.02, places_m=GRID, **more):
    """Return points with residuals of alternating sign, plan and height alike."""
    sizes = size_m * np.resize([1.0, -1.0], len(places_m))
    return residual_set(np.column_stack([sizes, sizes]), sizes, survey_m=places_m, **more)


def items(residuals, **more):
    return {(item.topic, item.direction): item for item in fitness(case_of(residuals, **more))}


def test_an_even_grid_is_in_order():
    found = items(grid_set())
    assert found["quarters", "horizontal"].grade is Grade.WEAK  # nine points: 1, 2, 2 and 4 of them
    assert found["spacing", "horizontal"].grade is Grade.GOOD
    # A tenth of the diagonal is 14.1 m; neighbours are 30 m apart.
    assert found["spacing", "horizontal"].value == pytest.approx(30.0)
    assert found["spacing", "horizontal"].demand == pytest.approx(10 * np.sqrt(2))
    assert found["hull", "vertical"].value == pytest.approx(0.36)
    assert found["hull", "vertical"].grade is Grade.WEAK
    assert "36 % of the mapped area, less than half;" in found["hull", "vertical"].sentence
    assert found["height range", "vertical"].value == pytest.approx(6.0)


def test_points_close_together_are_counted():
    places = np.vstack([GRID, GRID[:1] + np.array([5.0, 0.0, 0.0])])
    found = items(grid_set(places_m=places))["spacing", "vertical"]
    assert (found.grade, found.value) == (Grade.WEAK, pytest.approx(5.0))
    assert "2 of 10 points have a neighbour nearer than 14.1 m" in found.sentence


def test_without_a_mapped_area_spread_is_not_known():
    found = items(grid_set(), area=np.empty((0, 2)))
    for topic in ("quarters", "spacing"):
        assert found[topic, "horizontal"].grade is Grade.UNKNOWN
    assert ("hull", "horizontal") not in found


@pytest.mark.parametrize(
    ("sigma_m", "grade"), [(0.0249, Grade.GOOD), (0.0251, Grade.WEAK), (NAN, Grade.UNKNOWN)]
)
def test_the_survey_is_held_against_the_limit(sigma_m, grade):
    """[ASPRS2023], section 7.12: at least two times as accurate."""
    residuals = grid_set(sigma_m=(sigma_m / np.sqrt(2), sigma_m / np.sqrt(2), sigma_m))
    found = items(residuals, horizontal_rmse_m=0.05, vertical_rmse_m=0.05)
    assert found["survey accuracy", "horizontal"].grade is grade
    assert found["survey accuracy", "vertical"].grade is grade


def test_a_result_better_than_the_survey_is_a_warning():
    """Nine heights of 0.02: χ² at 5 % with 9 degrees of freedom is 3.325, [NIST-EH]: bound 0.0329."""
    bound_m = 0.02 * np.sqrt(9 / 3.325)
    for sigma_m, doubtful in ((bound_m * 1.001, True), (bound_m * 0.999, False)):
        evidence = point_evidence(case_of(grid_set(sigma_m=(0.001, 0.001, sigma_m))))
        said = [sentence for sentence in warnings(evidence) if "vertical RMSE" in sentence]
        assert bool(said) is doubtful
        if doubtful:
            assert "probably used as control" in said[0]


@pytest.mark.parametrize(("gsd_m", "place"), [(0.011, "within"), (0.005, "above"), (0.05, "below")])
def test_the_expectation_by_gsd_is_no_limit(gsd_m, place):
    """Common practice: 1 to 2 ground sample distances in plan, 1.5 to 3 in height."""
    found = items(grid_set(), gsd_m=gsd_m)
    for direction in ("horizontal", "vertical"):
        item = found["expectation", direction]
        assert (item.grade, item.demand) == (Grade.STATED, None)
        assert "this is no limit" in item.sentence
    assert f", {place} the 1.5 to 3" in found["expectation", "vertical"].sentence


def with_control(control_m, check_m=0.02, *, places_m=None):
    """Return nine checkpoints and nine control points that do not count."""
    places = np.vstack([GRID, GRID + np.array([10.0, 0.0, 0.0])]) if places_m is None else places_m
    sizes = np.resize([1.0, -1.0], 18) * np.repeat([check_m, control_m], 9)
    reasons = (*(None,) * 9, *(UseReason.ROLE_CONTROL,) * 9)
    roles = ("check",) * 9 + ("control",) * 9
    residuals = residual_set(
        np.column_stack([sizes, 0 * sizes]),
        sizes,
        survey_m=places,
        not_vertical=reasons,
        groups={"role": roles, "cover": (None,) * 18, "session": (None,) * 18},
    )
    object.__setattr__(residuals, "horizontal", Use([reason is None for reason in reasons], reasons))
    return residuals


@pytest.mark.parametrize(
    ("control_m", "grade", "words"),
    [
        # F(9, 9) at 5 % is 3.179, [NIST-EH]: the square of the ratio 1.783.
        (0.02 / 1.78, Grade.GOOD, "which chance allows"),
        (0.02 / 1.79, Grade.GOOD, "more than chance allows"),
        (0.02 * 1.78, Grade.GOOD, "which chance allows"),
        (0.02 * 1.79, Grade.WEAK, "less than chance allows"),
    ],
)
def test_checkpoints_are_held_against_control(control_m, grade, words):
    found = items(with_control(control_m))["checkpoints against control", "vertical"]
    assert found.grade is grade
    assert words in found.sentence


def test_a_checkpoint_on_a_control_point_is_a_warning():
    places = np.vstack([GRID, GRID + np.array([10.0, 0.0, 0.0])])
    places[9] = GRID[4] + [0.05, 0.05, 0.0]
    residuals = with_control(0.01, places_m=places)
    found = items(residuals)["checkpoints on control points", None]
    assert (found.grade, found.value) == (Grade.WEAK, pytest.approx(np.hypot(0.05, 0.05), abs=1e-6))
    assert "1 checkpoint stands on a control point: P5." in found.sentence
    assert found.sentence in list(warnings(point_evidence(case_of(residuals))))
    apart = items(with_control(0.01))["checkpoints on control points", None]
    assert (apart.grade, apart.value) == (Grade.GOOD, pytest.approx(10.0))


def test_without_control_points_independence_is_not_shown():
    found = items(grid_set())["control points", None]
    assert found.grade is Grade.UNKNOWN
    assert "Independence is not shown" in found.sentence


def test_cover_is_counted_and_missed():
    groups = {"cover": ("hard",) * 4 + ("bare",) * 4 + (None,), "role": (None,) * 9, "session": (None,) * 9}
    found = items(grid_set(groups=groups))["cover", "vertical"]
    assert "bare 4, hard 4, not given 1" in found.sentence
    assert found.grade is Grade.UNKNOWN


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_few_points_give_sentences_and_no_claims(count):
    places = GRID[:count] if count else GRID[:1]
    residuals = grid_set(places_m=places) if count else residual_set([[NAN, NAN]], [NAN], survey_m=places)
    evidence = point_evidence(case_of(residuals, vertical_rmse_m=0.5, gsd_m=0.02))
    lists = (evidence.blind_spots, evidence.outliers, evidence.influence, evidence.fitness)
    for item in (item for listed in lists for item in listed):
        assert item.sentence.endswith(".")
        assert "nan" not in item.sentence
    sizes = [spot.size for spot in evidence.blind_spots if spot.effect in {"tilt", "dome"}]
    assert not any(sizes)
    assert not any(found.ids for found in evidence.outliers)


def test_outliers_are_pointed_out_with_both_figures():
    residuals = grid_set(0.001)
    delta = residuals.delta_m.copy()
    delta[:, 2] = [-0.004, 0.003, -0.002, 0.5, 0.001, 0.0, 0.002, -0.003, 0.004]
    object.__setattr__(residuals, "delta_m", delta)
    evidence = point_evidence(case_of(residuals))
    _, height = evidence.outliers
    assert height.ids == ("P4",)
    # Squares of the others: 2 · (16 + 9 + 4) + 1 = 59, in square millimetres.
    assert height.rmse_m == pytest.approx(np.sqrt((0.25 + 59e-6) / 9))
    assert height.rmse_without_m == pytest.approx(np.sqrt(59e-6 / 8))
    assert height.sentence in list(warnings(evidence))
    influence = evidence.influence[1]
    assert influence.id == "P4"
    assert "look at it first" in influence.sentence


def test_leaving_a_point_out_gives_the_rmse_of_the_others():
    residuals = grid_set()
    (plan, height) = point_evidence(case_of(residuals)).influence
    others = np.delete(residuals.used_vertical_m, residuals.ids.index(height.id))
    assert height.rmse_without_m == pytest.approx(np.sqrt(np.mean(others**2)))
    assert plan.share == pytest.approx(1 / 9)
