"""Effects fitted to residuals made to measure, and their test held against the t of published sets."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from geoqa.accuracy.blind_spots import blind_spots
from geoqa.accuracy.detection import fit, height_effects, noise, plan_effects, smallest_detectable
from tests.accuracy.residual_sets import residual_set

PUBLISHED = Path(__file__).parents[1] / "published"
PLACES_M = np.random.default_rng(8).uniform(0, 200, (12, 2)) + np.array([512_000.0, 5_403_000.0])
CENTRED = PLACES_M - PLACES_M.mean(axis=0)


def effect(name):
    return next(item for item in (*plan_effects(PLACES_M), *height_effects(PLACES_M)) if item.name == name)


def plan(east, north):
    return np.concatenate([east, north])


MADE = {
    "shift": (plan(np.full(12, 0.03), np.full(12, -0.04)), [0.03, -0.04]),
    "scale": (plan(*(120e-6 * CENTRED.T)), [120.0]),
    # Counter-clockwise: what lies in the east moves north. One arc second is 4.848e-6 radians.
    "rotation": (plan(-30 * 4.8481368e-6 * CENTRED[:, 1], 30 * 4.8481368e-6 * CENTRED[:, 0]), [30.0]),
    "bias": (np.full(12, -0.05), [-0.05]),
    "tilt": (CENTRED @ [0.0002, -0.0003], [0.02, -0.03]),
    # 5 cm above the edge in the middle, falling with the square of the distance.
    "dome": (-0.05 * (CENTRED**2).sum(axis=1) / (CENTRED**2).sum(axis=1).max(), [0.05]),
}


@pytest.mark.parametrize("name", MADE)
def test_an_effect_is_found_in_its_own_size_and_sign(name):
    residuals, expected = MADE[name]
    assert fit(effect(name), residuals).estimates == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("name", MADE)
def test_an_effect_is_told_from_its_company(name):
    """What keeps it company is added in size; the estimate does not move."""
    residuals, expected = MADE[name]
    company = effect(name).company
    more = residuals + company @ np.linspace(0.5, 1.0, company.shape[1])
    assert fit(effect(name), more).estimates == pytest.approx(expected, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", ["asprs2014_annex_d", "mms_30kmh", "targets24_static_network"])
def test_the_test_of_a_bias_is_student_s(name):
    """F with one parameter is the square of the t that the published sets give."""
    publication = tomllib.loads((PUBLISHED / f"{name}.toml").read_text("utf-8"))
    t = next(case["value"] for case in publication["cases"] if case["quantity"] == "up t")
    values = np.array(publication["columns"]["dh"])
    bias = height_effects(np.random.default_rng(1).uniform(0, 100, (len(values), 2)))[0]
    assert fit(bias, values).f == pytest.approx(t**2, rel=1e-5)


@pytest.mark.parametrize(("count", "sizes"), [(5, 1.680), (10, 0.997), (30, 0.529)])
def test_the_smallest_bias_is_that_of_the_power_of_student_s_test(count, sizes):
    """Bias over sigma for 80 % power at 5 %, two-sided one-sample t test (common tables of its power)."""
    bias = height_effects(np.random.default_rng(1).uniform(0, 100, (count, 2)))[0]
    assert smallest_detectable(bias, 1.0) == pytest.approx(sizes, abs=0.003)


def test_points_on_one_line_cannot_tell_a_tilt_across_it():
    line = np.column_stack([np.linspace(0, 100, 8), np.zeros(8)])
    bias, tilt, dome = height_effects(line)
    assert smallest_detectable(bias, 0.02) is not None
    assert smallest_detectable(tilt, 0.02) is None
    assert fit(tilt, np.ones(8)) is None
    # Curvature along the line shows all the same.
    assert smallest_detectable(dome, 0.02) is not None


def test_points_on_a_circle_cannot_tell_a_dome():
    angle = 2 * np.pi * np.arange(10) / 10
    dome = height_effects(100 * np.column_stack([np.cos(angle), np.sin(angle)]))[2]
    assert smallest_detectable(dome, 0.02) is None


def test_noise_is_what_is_left_beside_the_effects():
    generator = np.random.default_rng(6)
    places = generator.uniform(0, 200, (400, 2))
    tilted = 0.001 * (places[:, 0] - 100) + 0.02 * generator.normal(size=400)
    assert noise(height_effects(places), tilted) == pytest.approx(0.02, rel=0.1)
    assert np.isnan(noise(height_effects(places[:1]), tilted[:1]))


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_few_points_are_blind_to_most(count):
    residuals = residual_set(
        0.02 * np.random.default_rng(2).normal(size=(count, 2)),
        0.02 * np.random.default_rng(3).normal(size=count),
        survey_m=np.column_stack([PLACES_M[:count], np.full(count, 100.0)]),
    )
    seen = {spot.effect for spot in blind_spots(residuals) if spot.size is not None}
    expected = {
        1: set(),
        2: {"shift", "bias"},
        3: {"shift", "scale", "rotation", "bias"},
        4: {"shift", "scale", "rotation", "bias", "tilt"},
    }
    assert seen == expected[count]
