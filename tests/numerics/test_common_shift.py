"""One shift is seen where it is shared, and none where it is not."""

import numpy as np
import pytest

from geoqa.numerics.common_shift import common_shift, largest_support

SHIFT = np.array([1.5, -2.5])


def candidates(rng, count, *, right=1.0, false=3, scatter=0.02):
    """Return candidates of `count` points: a share of them with the right one, all with false ones."""
    return [
        np.vstack([rng.uniform(-15, 15, (false, 2)), *([SHIFT + rng.normal(0, scatter, 2)] if near else [])])
        for near in np.arange(count) < right * count
    ]


@pytest.mark.parametrize("seed", range(20))
def test_the_shift_of_most_points_is_found_among_false_candidates(seed):
    rng = np.random.default_rng(seed)
    shift = common_shift(candidates(rng, 8, right=0.75), 0.25)
    assert shift == pytest.approx(SHIFT, abs=0.05)


@pytest.mark.parametrize("seed", range(20))
def test_false_candidates_alone_share_no_shift(seed):
    rng = np.random.default_rng(seed)
    assert common_shift(candidates(rng, 8, right=0.0), 0.25) is None


def test_two_points_are_too_few():
    rng = np.random.default_rng(3)
    assert common_shift(candidates(rng, 2, false=0), 0.25) is None
    assert common_shift(candidates(rng, 3, false=0), 0.25) is not None


def test_half_of_the_points_are_too_few():
    rng = np.random.default_rng(4)
    assert common_shift(candidates(rng, 8, right=0.5), 0.25) is None


def test_two_shifts_of_equal_support_are_none():
    # Panels laid out in pairs: each point sees its own and its neighbour.
    pairs = [np.array([SHIFT, SHIFT + np.array([3.0, 0.0])])] * 5
    assert common_shift(pairs, 0.25) is None


def test_many_candidates_of_one_point_count_once():
    crowd = [np.tile(SHIFT, (9, 1)), np.array([[7.0, 7.0]]), np.array([[-7.0, 2.0]])]
    assert common_shift(crowd, 0.25) is None


def test_no_candidates_at_all():
    assert common_shift([], 0.25) is None
    assert common_shift([np.empty((0, 2))] * 4, 0.25) is None


def test_a_moved_scene_moves_the_shift():
    rng = np.random.default_rng(5)
    offsets = candidates(rng, 6)
    moved = [places + np.array([0.3, 0.1]) for places in offsets]
    assert common_shift(moved, 0.25) == pytest.approx(np.add(common_shift(offsets, 0.25), [0.3, 0.1]))


def test_support_counts_points_and_not_candidates():
    rng = np.random.default_rng(6)
    assert largest_support(candidates(rng, 6, right=0.5, false=0), 0.25) == 3
    assert largest_support([np.tile(SHIFT, (9, 1))], 0.25) == 1
    assert largest_support([], 0.25) == 0
