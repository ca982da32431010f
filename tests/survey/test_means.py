"""The mean of repeated shots and its standard deviation, against simulation and open data."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.records.survey import SurveyFlag
from geoqa.records.survey_settings import Survey
from geoqa.survey.means import weighted_means
from tests.survey.field import NAN, combined, offsets, rows

PUBLISHED = Path(__file__).parents[1] / "published" / "gcp_two_occupations.toml"
OPEN_RULES = Survey(floor_horizontal_m=0, floor_vertical_m=0, reject_m=100)
OCCUPATION_M, EPOCH_M, SHOTS = 0.012, 0.006, 5


def simulated(occupations, points=4000):
    """Return shots of many points: an error a occupation, and one a shot."""
    rng = np.random.default_rng(20260418)
    shape = (points, occupations, SHOTS, 3)
    errors = rng.normal(0, OCCUPATION_M, (points, occupations, 1, 3)) + rng.normal(0, EPOCH_M, shape)
    ids = np.repeat([f"P{point}" for point in range(points)], occupations * SHOTS).tolist()
    labels = [str(number) for number in range(occupations) for _ in range(SHOTS)] * points
    return ids, errors, labels


# Simulated outside geoqa with 12 mm an occupation, 6 mm an epoch and 5 shots: true standard deviation
# 12.3 mm of one occupation and 8.6 mm of two, where the spread of the shots alone promises 2.5 and
# 3.1 mm; the formula gives 12.29 and 8.69 mm.
@pytest.mark.parametrize(("occupations", "true_mm", "naive_mm"), [(1, 12.3, 2.5), (2, 8.6, 3.1)])
def test_error_of_the_mean_follows_the_occupations_not_the_shots(occupations, true_mm, naive_mm):
    ids, errors, labels = simulated(occupations)
    sigma = np.hypot(OCCUPATION_M, EPOCH_M / np.sqrt(SHOTS))
    points, quality = combined(ids, errors.reshape(-1, 3), sigma_m=sigma, occupation=labels, rules=OPEN_RULES)
    found_mm = 1000 * offsets(points).std()
    formula_mm = 1000 * np.sqrt(OCCUPATION_M**2 / occupations + EPOCH_M**2 / (occupations * SHOTS))
    # 12 000 values: one standard deviation of the figure is 0.7 %.
    assert_allclose(found_mm, formula_mm, rtol=0.02, atol=0)
    assert_allclose(found_mm, true_mm, rtol=0, atol=0.2)
    flat = errors.reshape(len(errors), -1, 3)
    naive = 1000 * flat.std(axis=1, ddof=1) / np.sqrt(flat.shape[1])
    assert_allclose(naive.mean(), naive_mm, rtol=0, atol=0.1)
    # What is stated: the sigma of one occupation by the root of their number, never less.
    assert points.sigma_m.min() > formula_mm / 1000 - 1e-9
    assert set(quality.occupations.tolist()) == {occupations}
    assert set(quality.shots.tolist()) == {occupations * SHOTS}


def test_difference_of_two_occupations_keeps_its_limit_in_95_of_100():
    # 1.96 × √2 × 12.3 mm = 34 mm.
    ids, errors, labels = simulated(2)
    _, quality = combined(ids, errors.reshape(-1, 3), occupation=labels, rules=OPEN_RULES)
    limit = 1.96 * np.sqrt(2) * np.hypot(OCCUPATION_M, EPOCH_M / np.sqrt(SHOTS))
    assert_allclose(limit, 0.034, rtol=0, atol=0.0005)
    # 12 000 differences: one standard deviation of the share is 0.2 %.
    assert_allclose((quality.spread_m <= limit).mean(), 0.95, rtol=0, atol=0.008)


def test_open_data_of_two_measurements_give_the_published_spread():
    """[Santitamnont2024]: sd of one RTK measurement E 5.1, N 4.4, H 10.6 mm, recomputed from GCPs.csv.

    The sd of one of two equally good measurements is rms(difference)/√2, that of their mean half of
    the rms.
    """
    columns = tomllib.loads(PUBLISHED.read_text("utf-8"))["columns"]
    first, second = (np.column_stack([columns[f"{axis}_{which}"] for axis in "enh"]) for which in "12")
    ids = [f"GCP{number:02d}" for number in range(1, 17)]
    points, quality = combined(
        ids + ids, np.vstack([first, second]), occupation=["1"] * 16 + ["2"] * 16, sigma_m=0.005
    )
    rms_m = np.sqrt((quality.spread_m**2).mean(axis=0))
    assert_allclose(rms_m / np.sqrt(2), [0.005111, 0.004416, 0.010632], rtol=0, atol=5e-7)
    assert_allclose(rms_m / 2, [0.003614, 0.003122, 0.007518], rtol=0, atol=5e-7)
    assert_allclose(offsets(points), (first + second) / 2, rtol=0, atol=1e-9)
    # The largest difference is 29 mm in height and 14 mm in plan: no warning.
    assert not any(SurveyFlag.DIFFER in flags or SurveyFlag.DISAGREE in flags for flags in quality.flags)


def test_a_single_shot_keeps_its_place_to_the_last_bit_and_has_the_floor():
    shots = rows(["A", "B", "C"], [[0.1234567, 7.7, -3.3]] * 3, sigma_m=[[0.003] * 3, [0.02] * 3, [NAN] * 3])
    points, quality = combined(
        shots.ids, shots.position_m - [634_200.0, 5_342_700.0, 411.0], sigma_m=shots.sigma_m
    )
    assert_array_equal(points.position_m, shots.position_m)
    assert_array_equal(points.sigma_m, [[0.010, 0.010, 0.018], [0.02] * 3, [NAN] * 3])
    assert_array_equal(quality.sigma_reported_m, shots.sigma_m)


def test_one_occupation_repeated_does_not_shrink_sigma():
    for times in (1, 5, 180):
        points, _ = combined(["A"] * times, sigma_m=0.02, occupation=["1"] * times)
        assert_array_equal(points.sigma_m, [[0.02] * 3])


def test_sigma_of_an_occupation_is_the_median_of_its_shots():
    sigma = np.array([[0.02] * 3, [0.03] * 3, [0.09] * 3, [NAN] * 3])
    points, quality = combined(["A"] * 4, sigma_m=sigma, occupation=["1"] * 4)
    assert_allclose(points.sigma_m, [[0.03] * 3], rtol=1e-12)
    assert_allclose(quality.sigma_reported_m, [[0.03] * 3], rtol=1e-12)


def test_weighted_mean_by_hand():
    # Weights 1/0.01² and 1/0.02² stand as 4 to 1; without contradiction sigma² = 1/(10000 + 2500).
    sigma = [[0.01, 0.01, 0.02], [0.02, 0.02, 0.02]]
    points, _ = combined(["A", "A"], [[0, 0, 0], [0.010, 0, 0]], sigma_m=sigma, occupation=["1", "2"])
    assert_allclose(offsets(points), [[0.002, 0, 0]], rtol=0, atol=1e-9)
    assert_allclose(points.sigma_m, [[0.0089443, 0.0089443, 0.0141421]], rtol=0, atol=1e-7)


def test_occupations_that_contradict_their_sigma_raise_it():
    # Two of 10 mm that lie 40 mm apart: chi² = 2 × (20/10)² = 8, sigma² = 0.5e-4 × 8.
    points, _ = combined(
        ["A", "A"],
        [[0, 0, 0], [0.04, 0, 0]],
        sigma_m=0.018,
        occupation=["1", "2"],
        rules=Survey(floor_horizontal_m=0.0, floor_vertical_m=0.0),
    )
    chi_square = 2 * (0.02 / 0.018) ** 2
    assert_allclose(points.sigma_m[0, 0], 0.018 / np.sqrt(2) * np.sqrt(chi_square), rtol=1e-6)
    assert_allclose(points.sigma_m[0, 1], 0.018 / np.sqrt(2), rtol=1e-12)


def test_what_is_stated_knows_no_floor_and_is_never_above_what_is_taken():
    # 6 and 8 mm stated, floors 10 and 18 mm, two occupations each; the second point repeats to 40 mm east.
    sigma = [[0.006, 0.006, 0.008]] * 5
    places = [[0, 0, 0], [0, 0, 0], [0, 0, 0], [0.04, 0, 0], [0, 0, 0]]
    points, quality = combined(list("AABBC"), places, sigma_m=sigma, occupation=list("12121"))
    half = np.sqrt(2)
    stated = [[0.006, 0.006, 0.008], [0.02 * half, 0.006, 0.008], [0.006 * half, 0.006 * half, 0.008 * half]]
    assert_allclose(quality.sigma_stated_m, np.array(stated) / half, rtol=1e-6)
    taken = [[0.010, 0.010, 0.018], [0.02 * half, 0.010, 0.018], [0.010 * half, 0.010 * half, 0.018 * half]]
    assert_allclose(points.sigma_m, np.array(taken) / half, rtol=1e-6)


def test_agreement_does_not_lower_sigma_below_the_weights():
    points, _ = combined(["A"] * 3, sigma_m=0.03, occupation=["1", "2", "3"])
    assert_allclose(points.sigma_m, [[0.03 / np.sqrt(3)] * 3], rtol=1e-12)


def test_unknown_sigma_stays_unknown_and_the_weights_are_equal():
    sigma = [[0.01] * 3, [NAN] * 3]
    points, _ = combined(["A", "A"], [[0, 0, 0], [0.01, 0.02, 0.03]], sigma_m=sigma, occupation=["1", "2"])
    assert_allclose(offsets(points), [[0.005, 0.01, 0.015]], rtol=0, atol=1e-9)
    assert np.isnan(points.sigma_m).all()


def test_a_shot_without_a_height_adds_to_the_plan_only():
    points, quality = combined(
        ["A", "A", "B"],
        [[0, 0, NAN], [0.01, 0, 0.02], [0, 0, NAN]],
        sigma_m=0.02,
        occupation=["1", "2", "1"],
    )
    assert_allclose(offsets(points)[0], [0.005, 0, 0.02], rtol=0, atol=1e-9)
    assert_allclose(points.sigma_m[0], [0.02 / np.sqrt(2)] * 2 + [0.02], rtol=1e-12)
    assert_allclose(quality.spread_m[0], [0.01, 0, NAN], rtol=0, atol=1e-9)
    assert np.isnan(points.position_m[1, 2])
    assert np.isnan(points.sigma_m[1, 2])


def test_weighted_means_of_the_docstring():
    mean_m, sigma_m = weighted_means(
        np.array([[1.0], [1.0], [2.0], [2.04]]), np.full((4, 1), 0.01), np.array([0, 0, 1, 1]), 2
    )
    assert_allclose(mean_m, [[1.0], [2.02]], rtol=0, atol=1e-12)
    assert_allclose(sigma_m, [[0.01 / np.sqrt(2)], [0.02]], rtol=0, atol=1e-12)
