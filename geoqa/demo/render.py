"""Pictures of ground targets whose centre is known exactly: the only renderer of target pictures.

Rows and columns count from the upper-left corner of the upper-left pixel, whose centre is 0.5, 0.5.

Two things keep the centre where it is said to be. A regular grid of sub-samples errs alike all along an
edge that runs with the grid, which moves the centre by some hundredths of a pixel; here each pixel is cut
into 16 × 16 equal cells with a random place in each. And a blur that is worked out from whole pixels skews
an edge that cuts them unevenly, by up to 0.016 pixels; here the blur acts on quarters of pixels, before
the pixels are formed, as it does in a camera.
"""

from collections.abc import Sequence
from math import cos, isfinite, radians, sin
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from geoqa.demo.target_patterns import PATTERNS, Pattern
from geoqa.errors import MeasurementError
from geoqa.numerics.arrays import FloatArray

Window: TypeAlias = tuple[slice, slice]

# Fine pixels across a pixel and samples across a fine pixel: 16 × 16 samples a pixel.
_FINE = 4
_SAMPLES_ACROSS = 4
# Keeps the arrays of one step, 16 samples a fine pixel, in the cache of the processor.
_FINE_PIXELS_AT_ONCE = 2048
# Gaussian tails beyond this many standard deviations hold less than one part in a million.
_BLUR_REACH = 5.0


def render_target(  # noqa: PLR0913 - a picture has as many free properties
    shape: tuple[int, int],
    row: float,
    col: float,
    kind: str,
    size_px: float,
    angle_deg: float,
    *,
    dark: float,
    bright: float,
    ground: float | FloatArray,
    blur_px: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Return a one-band picture of a target on the ground, free of noise.

    Parameters
    ----------
    shape
        Rows, columns of the picture.
    row, col
        The target's point: its centre, or the corner of an L mark.
    kind
        A key of `target_patterns.PATTERNS`. At 0° a quadrant panel is bright upper left and lower right,
        and the arms of an L mark run to the right and downward. Strokes are 0.2 of their length wide.
        What is painted has no dark part.
    size_px
        Side of the square, diameter, or length of the strokes.
    angle_deg
        Turn of the panel, clockwise as the picture is seen.
    dark, bright, ground
        Grey values; the ground may be an array of the picture's shape.
    blur_px
        Standard deviation of the Gaussian optical blur of the whole picture; 0 leaves it sharp.

    Returns
    -------
    array, shape (rows, cols)

    Raises
    ------
    MeasurementError
        When the kind is unknown, the side not a positive length, or the place not finite.
    """
    beneath = np.array(np.broadcast_to(ground, shape), dtype=float)
    window, bright_share, dark_share = _shares(shape, row, col, kind, size_px, angle_deg, blur_px, rng)
    level = float(beneath[window].mean()) if bright_share.size else 0.0
    # The ground's level is blurred with the target; its texture needs no finer steps than pixels.
    texture = beneath - level
    texture[window] *= 1.0 - bright_share - dark_share
    if blur_px > 0:
        texture = ndimage.gaussian_filter(texture, blur_px, mode="nearest", truncate=_BLUR_REACH)
    picture: FloatArray = texture + level
    picture[window] += (bright - level) * bright_share + (dark - level) * dark_share
    return picture


def paste_target(  # noqa: PLR0913 - see render_target
    scene: NDArray[np.generic],
    row: float,
    col: float,
    kind: str,
    size_px: float,
    angle_deg: float,
    *,
    dark: Sequence[float],
    bright: Sequence[float],
    blur_px: float,
    rng: np.random.Generator,
) -> tuple[Window, FloatArray]:
    """Return the window of a large scene that a target changes, and the bands of that window with it.

    The scene, shape (bands, rows, cols), is left as it is and taken to be blurred already; the
    target's shares of each pixel are blurred by `blur_px`. `dark` and `bright` hold a value a band.
    The bands come back as floating-point numbers, whatever the scene's type, so that noise can be
    added before they are rounded. The other parameters and the errors are those of `render_target`.
    """
    rows, cols = scene.shape[1:]
    window, bright_share, dark_share = _shares((rows, cols), row, col, kind, size_px, angle_deg, blur_px, rng)
    beneath = scene[:, *window].astype(float) * (1.0 - bright_share - dark_share)
    paint = np.multiply.outer(bright, bright_share) + np.multiply.outer(dark, dark_share)
    return window, beneath + paint


def _shares(
    shape: tuple[int, int],
    row: float,
    col: float,
    kind: str,
    size_px: float,
    angle_deg: float,
    blur_px: float,
    rng: np.random.Generator,
) -> tuple[Window, FloatArray, FloatArray]:
    """Return the window that the blurred target touches, and its bright and dark shares of the pixels."""
    if not (size_px > 0 and isfinite(row + col + size_px)):
        message = (
            f"Cannot draw a target with a side of {size_px} px at row {row}, column {col}. "
            "Give finite numbers and a positive length."
        )
        raise MeasurementError(message)
    reach = _pattern(kind).reach * size_px + _BLUR_REACH * blur_px + 1.0
    spans = [np.arange(np.floor(centre - reach), np.ceil(centre + reach), dtype=int) for centre in (row, col)]
    down, across = ((pixels[0] - centre) * _FINE for pixels, centre in zip(spans, (row, col), strict=True))
    fine = _coverage(
        (len(spans[0]) * _FINE, len(spans[1]) * _FINE), down, across, kind, size_px * _FINE, angle_deg, rng
    )
    if blur_px > 0:
        sigma = blur_px * _FINE
        fine = ndimage.gaussian_filter(fine, (0.0, sigma, sigma), mode="constant", truncate=_BLUR_REACH)
    pixels = fine.reshape(2, len(spans[0]), _FINE, len(spans[1]), _FINE).mean(axis=(2, 4))
    inner, window = zip(
        *(_within(span, length) for span, length in zip(spans, shape, strict=True)), strict=True
    )
    bright_share, dark_share = pixels[:, *inner]
    return (window[0], window[1]), bright_share, dark_share


def _coverage(
    shape: tuple[int, int],
    down: float,
    across: float,
    kind: str,
    size: float,
    angle_deg: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Return the bright and dark share of each fine pixel, shape (2, rows, cols), by stratified samples.

    `down` and `across` lead from the target's centre to the upper-left corner of the upper-left
    fine pixel. Only fine pixels that the circle around the target touches are sampled.
    """
    pattern = _pattern(kind)
    rows, cols = (
        np.arange(length, dtype=float) + start for length, start in zip(shape, (down, across), strict=True)
    )
    reach = pattern.reach * size + 0.5**0.5
    touched = np.nonzero(np.hypot(rows[:, None] + 0.5, cols[None, :] + 0.5) <= reach)
    shares = np.zeros((2, *shape))
    for start in range(0, touched[0].size, _FINE_PIXELS_AT_ONCE):
        here = tuple(index[start : start + _FINE_PIXELS_AT_ONCE] for index in touched)
        inside, lit = pattern.places(
            *_panel_axes(
                _stratified(cols[here[1]], axis=1, rng=rng),
                _stratified(rows[here[0]], axis=0, rng=rng),
                size,
                angle_deg,
            )
        )
        shares[0][here] = np.mean(inside & lit, axis=(0, 1))
        shares[1][here] = np.mean(inside & ~lit, axis=(0, 1))
    return shares


def _pattern(kind: str) -> Pattern:
    if kind not in PATTERNS:
        message = f"Cannot draw a target of kind “{kind}”. Name one of {', '.join(PATTERNS)}."
        raise MeasurementError(message)
    return PATTERNS[kind]


def _stratified(corner: FloatArray, *, axis: int, rng: np.random.Generator) -> FloatArray:
    """Return one random place in each cell of each fine pixel, along one axis: shape (4, 4, pixels)."""
    count = _SAMPLES_ACROSS
    cells = np.arange(count).reshape((-1, 1, 1) if axis == 0 else (1, -1, 1))
    places: FloatArray = corner + (cells + rng.random((count, count, corner.size))) / count
    return places


def _panel_axes(
    across: FloatArray, down: FloatArray, size: float, angle_deg: float
) -> tuple[FloatArray, FloatArray]:
    turn = radians(angle_deg)
    cosine, sine = cos(turn) / size, sin(turn) / size
    return cosine * across + sine * down, cosine * down - sine * across


def _within(span: NDArray[np.int_], length: int) -> tuple[slice, slice]:
    """Return the part of a span that lies in the picture, counted in the span and in the picture."""
    first, last = (int(np.clip(end, 0, length)) for end in (span[0], span[-1] + 1))
    offset = int(span[0])
    return slice(first - offset, last - offset) if last > first else slice(0, 0), slice(first, last)
