"""What the intervals, verdicts, thresholds and blind spots say of chance, held against simulated sets."""

import numpy as np
import pytest

from geoqa.accuracy.claims import claims
from geoqa.accuracy.detection import fit, height_effects, plan_effects, smallest_detectable
from geoqa.accuracy.intervals import plan_freedom, rmse_bounds
from geoqa.accuracy.outliers import search_outliers
from geoqa.accuracy.statistics import component_statistics, radial_statistics, summarise
from geoqa.numerics.circular_error import circular_error, principal_rms, share_within
from geoqa.records.evidence import OutlierBasis
from geoqa.records.results import AccuracyStatistics, ClaimVerdict
from geoqa.records.settings import Requirement
from tests.accuracy.residual_sets import residual_set

SETS = 6000
COUNTS = (5, 10, 30)


def covered(errors, true):
    """Return how often the interval holds the true RMSE, and how often the upper bound lies below it."""
    inside = below = 0
    for sample in errors:
        freedom = plan_freedom(sample) if sample.shape[1] == 2 else len(sample)
        bounds = rmse_bounds(float(np.sqrt((sample**2).sum(axis=1).mean())), freedom)
        inside += bounds.interval_m[0] <= true <= bounds.interval_m[1]
        below += bounds.upper95_m < true
    return inside / len(errors), below / len(errors)


@pytest.mark.parametrize("count", COUNTS)
def test_the_interval_of_an_axis_holds_the_truth_in_95_per_cent(count):
    errors = np.random.default_rng(count).normal(size=(SETS, count, 1))
    inside, below = covered(errors, 1.0)
    assert inside == pytest.approx(0.95, abs=0.01)
    assert below == pytest.approx(0.05, abs=0.01)


@pytest.mark.parametrize("ratio", [1.0, 0.8, 0.5, 0.3])
@pytest.mark.parametrize("count", COUNTS)
def test_the_interval_of_the_plan_never_holds_it_less_often_than_93_5_per_cent(count, ratio):
    errors = np.random.default_rng(count).normal(size=(SETS, count, 2)) * [1.0, ratio]
    inside, below = covered(errors, np.hypot(1.0, ratio))
    assert inside > 0.935
    assert below < 0.065


def proved(statistics, requirement):
    return [claim.verdict is ClaimVerdict.PROVED for claim in claims(statistics, requirement)]


@pytest.mark.parametrize("ratio", [1.0, 0.3])
@pytest.mark.parametrize("count", COUNTS)
def test_what_is_not_so_is_seldom_proved(count, ratio):
    """The limit is a hair below the truth: every proof is wrong. Plan and height, RMSE and quantile."""
    generator, sets = np.random.default_rng(count), 1000
    circle = circular_error(0.95, 1.0, ratio)
    rmse = Requirement(horizontal_rmse_m=np.hypot(1.0, ratio) - 1e-9, vertical_rmse_m=1 - 1e-9)
    quantile = Requirement(horizontal_p95_m=circle - 1e-9, vertical_p95_m=1.959963)
    wrong = np.zeros(4)
    for _ in range(sets):
        plan, up = generator.normal(size=(count, 2)) * [1.0, ratio], generator.normal(size=count)
        axes = [component_statistics(name, plan[:, axis]) for axis, name in enumerate(("east", "north"))]
        found = AccuracyStatistics(*axes, component_statistics("up", up), radial_statistics(plan))
        wrong += [*proved(found, rmse), *proved(found, quantile)]
    # 6.5 %, and three standard errors of so many sets.
    assert (wrong / sets < 0.065 + 3 * np.sqrt(0.05 * 0.95 / sets)).all()


@pytest.mark.parametrize("shape", ["plan", "height"])
@pytest.mark.parametrize("count", [5, 6, 8, 10, 15, 23, 30, 120])
@pytest.mark.parametrize("declared", [False, True])
def test_a_clean_set_gives_an_alarm_in_5_per_cent(count, shape, declared):
    generator, sets = np.random.default_rng(count), 2500
    alarms = 0
    sigma = (0.02, 0.02, 0.02) if declared else None
    for _ in range(sets):
        if shape == "plan":
            residuals = residual_set(
                0.02 * generator.normal(size=(count, 2)), sigma_m=sigma, located_m=(0.0, 0.0)
            )
        else:
            residuals = residual_set(up_m=0.02 * generator.normal(size=count), sigma_m=sigma)
        (found,) = search_outliers(residuals)
        alarms += bool(found.ids)
    # Three standard errors; the choice between the two scales adds up to half a per cent.
    assert alarms / sets == pytest.approx(0.05, abs=0.005 + 3 * np.sqrt(0.05 * 0.95 / sets))


def test_declared_sigmas_that_do_not_explain_the_spread_are_not_used():
    up = 0.05 * np.random.default_rng(3).normal(size=20)
    (small,) = search_outliers(residual_set(up_m=up, sigma_m=(0.01, 0.01, 0.01)))
    (right,) = search_outliers(residual_set(up_m=up, sigma_m=(0.01, 0.01, 0.05)))
    assert (small.basis, right.basis) == (OutlierBasis.SPREAD, OutlierBasis.SIGMAS)


PLACES_M = np.random.default_rng(11).uniform(0, 300, (10, 2)) + np.array([512_000.0, 5_403_000.0])


def worst_direction(effect):
    """Return the pattern of the size 1 that is hardest to see beside its company."""
    company = effect.company
    apart = effect.pattern
    if company.shape[1]:
        apart = apart - company @ np.linalg.pinv(company) @ apart
    return effect.pattern @ np.linalg.eigh(apart.T @ apart)[1][:, 0]


@pytest.mark.parametrize(
    "effect", [*plan_effects(PLACES_M), *height_effects(PLACES_M)], ids=lambda effect: effect.name
)
def test_an_effect_of_the_smallest_size_is_found_in_80_per_cent(effect):
    generator, sigma_m, sets = np.random.default_rng(5), 0.02, 2000
    signal = smallest_detectable(effect, sigma_m) * worst_direction(effect)
    noise_m = sigma_m * generator.normal(size=(sets, len(signal)))
    found = np.mean([fit(effect, signal + row).probability < 0.05 for row in noise_m])
    alarms = np.mean([fit(effect, row).probability < 0.05 for row in noise_m])
    assert found == pytest.approx(0.80, abs=0.04)
    assert alarms == pytest.approx(0.05, abs=0.015)


@pytest.mark.parametrize("ratio", [1.0, 0.6, 0.2])
def test_the_exact_circle_holds_its_share_of_a_simulated_cloud(ratio):
    errors = np.random.default_rng(9).normal(size=(400_000, 2)) * [1.0, ratio]
    lengths = np.hypot(*errors.T)
    for share in (0.5, 0.9, 0.95):
        radius = circular_error(share, 1.0, ratio)
        assert np.mean(lengths <= radius) == pytest.approx(share, abs=0.002)
        assert share_within(radius, ratio) == pytest.approx(share, abs=1e-9)


def test_the_circle_of_a_cloud_does_not_depend_on_the_axes():
    errors = np.random.default_rng(9).normal(size=(50, 2)) * [0.05, 0.01]
    turned = errors @ np.array([[0.6, 0.8], [-0.8, 0.6]])
    first, second = (circular_error(0.95, *principal_rms(cloud)) for cloud in (errors, turned))
    assert second == pytest.approx(first, rel=1e-9)
    both = (summarise(residual_set(cloud)).horizontal.error95_m for cloud in (errors, turned))
    assert list(both) == pytest.approx([first, first], rel=1e-9)
