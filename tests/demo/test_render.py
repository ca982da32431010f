"""The renderer against exact polygon areas (shapely) and closed forms."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import special

from geoqa.demo.render import PATTERNS, paste_target, render_target
from geoqa.errors import MeasurementError
from geoqa.numerics.arrays import FloatArray
from tests.demo.exact_panels import BRIGHT, DARK, GROUND, centre_error_px, exact_shares

SHAPE = (30, 32)
COLOURS = {"dark": DARK, "bright": BRIGHT, "ground": GROUND}


def _rng(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def _shares(shape, row, col, kind, size_px, angle_deg, seed=0):
    """Return the bright and dark share of each pixel."""
    return [
        render_target(
            shape, row, col, kind, size_px, angle_deg,
            dark=1.0 - bright, bright=bright, ground=0.0, blur_px=0.0, rng=_rng(seed),
        )
        for bright in (1.0, 0.0)
    ]  # fmt: skip


def test_share_of_a_pixel_cut_by_an_upright_edge_is_the_distance_to_the_edge() -> None:
    # Closed form: the left edge stands at column 15.3 - 6 = 9.3, so pixel column 9 is covered by 0.7.
    bright, dark = _shares((30, 30), 15.0, 15.3, "quadrant-panel", 12.0, 0.0)
    covered = bright + dark
    assert_allclose(covered[10:20, 9], 0.7, rtol=0, atol=0.03)
    assert_allclose(covered[10:20, 9].mean(), 0.7, rtol=0, atol=0.007)
    assert_allclose(covered[10:20, 8], 0.0, rtol=0, atol=0)
    assert_allclose(covered[10:20, 10:20], 1.0, rtol=0, atol=0)


@pytest.mark.parametrize("kind", sorted(PATTERNS))
@pytest.mark.parametrize("angle_deg", [0.0, 0.06, 17.0, 45.0, 118.0])
def test_shares_agree_with_the_areas_of_polygons(kind: str, angle_deg: float) -> None:
    place = (14.37, 16.81)
    shares = _shares(SHAPE, *place, kind, 15.0, angle_deg, seed=1)
    exact = exact_shares(SHAPE, *place, kind, 15.0, angle_deg)
    # 256 stratified samples: at most 16 strata are undecided along an edge, each 1/256 wide.
    assert_allclose(shares, exact, rtol=0, atol=0.03)
    assert_allclose(np.sum(shares, axis=(1, 2)), np.sum(exact, axis=(1, 2)), rtol=0.002, atol=0)


@pytest.mark.parametrize("kind", sorted(PATTERNS))
@pytest.mark.parametrize("angle_deg", [0.0, 0.06, 17.0, 45.0])
def test_centre_is_held_to_two_thousandths_of_a_pixel(kind: str, angle_deg: float) -> None:
    errors = []
    for trial in range(6):
        rng = _rng(trial)
        row, col = 15 + rng.uniform(-0.5, 0.5, 2)
        picture = render_target(SHAPE, row, col, kind, 15.0, angle_deg, **COLOURS, blur_px=0.0, rng=rng)
        errors.append(centre_error_px(picture, row, col, kind, 15.0, angle_deg))
    assert np.sqrt(np.mean(np.square(errors))) < 0.002
    assert abs(np.mean(errors)) < 0.001


def test_upper_left_quadrant_is_bright_and_a_positive_turn_is_clockwise() -> None:
    def picture(angle_deg: float) -> np.ndarray:
        return render_target(
            SHAPE, 15.0, 15.0, "quadrant-panel", 16.0, angle_deg, **COLOURS, blur_px=0.0, rng=_rng()
        )

    upright = picture(0.0)
    assert upright[10, 10] == upright[20, 20] == BRIGHT
    assert upright[10, 20] == upright[20, 10] == DARK
    turned = picture(45.0)
    assert turned[8, 15] == turned[22, 15] == BRIGHT
    assert turned[15, 8] == turned[15, 22] == DARK


def test_arms_of_the_x_run_along_the_diagonals_and_are_a_fifth_of_the_side_wide() -> None:
    size = 80.0
    bright, dark = _shares((100, 100), 50.0, 50.0, "x-panel", size, 0.0)
    assert bright[20, 20] == bright[80, 20] == bright[50, 50] == 1.0
    assert dark[50, 20] == dark[20, 50] == 1.0
    # An arm 0.2 S wide across a diagonal crosses a row over 0.2 √2 S; half way out nothing overlaps.
    assert_allclose(bright[30, :50].sum(), 0.2 * 2**0.5 * size, rtol=0, atol=0.2)


def _pixel_mean_of_a_blurred_edge(away: FloatArray, blur_px: float) -> FloatArray:
    """Return the mean over each pixel of an edge from -1 to 1 under Gaussian blur: ∫Φ(z) = zΦ(z) + φ(z)."""

    def integral(z: FloatArray) -> FloatArray:
        return blur_px * (z * special.ndtr(z) + np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi))

    return 2 * (integral((away + 0.5) / blur_px) - integral((away - 0.5) / blur_px)) - 1


def _crossing(count: int, row: float, col: float, blur_px: float) -> FloatArray:
    """Return the closed form of an endless upright quadrant panel, upper left and lower right bright."""
    centres = np.arange(count) + 0.5
    down, across = (_pixel_mean_of_a_blurred_edge(centres - place, blur_px) for place in (row, col))
    return (BRIGHT + DARK) / 2 + (BRIGHT - DARK) / 2 * np.outer(down, across)


@pytest.mark.parametrize("blur_px", [0.5, 0.7, 1.2])
@pytest.mark.parametrize("phase", [0.0, 0.21, 0.5, 0.79])
def test_blurred_centre_stays_at_every_place_within_a_pixel(blur_px: float, phase: float) -> None:
    place, inner, step = 20 + phase, (slice(8, 33), slice(8, 33)), 0.02
    at = [
        _crossing(40, place + d_row, place + d_col, blur_px + d_blur)[inner].ravel()
        for d_row, d_col, d_blur in (
            (0, 0, 0), (step, 0, 0), (-step, 0, 0), (0, step, 0), (0, -step, 0), (0, 0, step), (0, 0, -step),
        )
    ]  # fmt: skip
    slopes = np.column_stack([at[1] - at[2], at[3] - at[4], at[5] - at[6]]) / (2 * step)
    found = []
    for seed in range(4):
        picture = render_target(
            (40, 40), place, place, "quadrant-panel", 34.0, 0.0, **COLOURS, blur_px=blur_px, rng=_rng(seed)
        )
        found.append(np.linalg.lstsq(slopes, picture[inner].ravel() - at[0], rcond=None)[0])
    error_row, error_col, error_blur = np.mean(found, axis=0)
    # targets whose blur is worked out from whole pixels err by 0.01 to 0.02 pixels here.
    assert_allclose([error_row, error_col], 0, rtol=0, atol=0.003)
    assert_allclose(error_blur, 0, rtol=0, atol=0.02)


def test_ground_is_kept_where_the_target_is_not() -> None:
    ground = _rng(3).uniform(0, 255, SHAPE)
    picture = render_target(
        SHAPE,
        15.0,
        15.0,
        "x-panel",
        8.0,
        30.0,
        dark=0.0,
        bright=255.0,
        ground=ground,
        blur_px=0.0,
        rng=_rng(),
    )
    assert_allclose(picture[:8], ground[:8], rtol=0, atol=1e-9)
    assert np.abs(picture - ground)[13:17, 13:17].min() > 0


def test_pasting_into_a_scene_equals_rendering_on_even_ground() -> None:
    alone = render_target(
        SHAPE, 14.2, 17.6, "quadrant-panel", 12.0, 33.0, **COLOURS, blur_px=0.8, rng=_rng(5)
    )
    scene = np.full((3, *SHAPE), GROUND).astype(np.uint8)
    window, bands = paste_target(
        scene,
        14.2,
        17.6,
        "quadrant-panel",
        12.0,
        33.0,
        dark=[DARK] * 3,
        bright=[BRIGHT] * 3,
        blur_px=0.8,
        rng=_rng(6),
    )
    whole = scene.astype(float)
    whole[:, *window] = bands
    # Two draws of sub-samples differ by a few parts in a thousand of the contrast of 170.
    assert_allclose(whole, np.broadcast_to(alone, whole.shape), rtol=0, atol=2.5)
    assert (scene == GROUND).all()


def test_target_across_the_border_and_beyond_it_is_drawn_as_far_as_the_picture_goes() -> None:
    exact = exact_shares(SHAPE, 0.5, 30.0, "quadrant-panel", 10.0, 20.0)
    shares = _shares(SHAPE, 0.5, 30.0, "quadrant-panel", 10.0, 20.0)
    assert_allclose(shares, exact, rtol=0, atol=0.03)
    off = render_target(SHAPE, -40.0, 15.0, "x-panel", 10.0, 0.0, **COLOURS, blur_px=0.0, rng=_rng())
    assert (off == GROUND).all()


def test_same_seed_gives_the_same_picture() -> None:
    first, second = (
        render_target(SHAPE, 15.0, 15.0, "x-panel", 12.0, 9.0, **COLOURS, blur_px=0.7, rng=_rng(8))
        for _ in range(2)
    )
    assert (first == second).all()


def test_unknown_kind_is_refused_with_the_kinds_there_are() -> None:
    with pytest.raises(MeasurementError, match="quadrant-panel, round-quadrant-panel"):
        render_target(SHAPE, 15.0, 15.0, "pentagon", 12.0, 0.0, **COLOURS, blur_px=0.7, rng=_rng())


@pytest.mark.parametrize("size_px", [0.0, -3.0, float("nan")])
def test_side_that_is_no_length_is_refused(size_px: float) -> None:
    with pytest.raises(MeasurementError, match="positive length"):
        render_target(SHAPE, 15.0, 15.0, "x-panel", size_px, 0.0, **COLOURS, blur_px=0.7, rng=_rng())
