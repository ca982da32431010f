"""Windows with one target, or without: rendered, so that the centre is known."""

import numpy as np

from geoqa.demo.render import render_target
from geoqa.records.measurements import RasterPatch, TargetSearch
from geoqa.targets import locate, window_half_px
from tests.scenes import textured

ROW0, COL0 = 4000, 9000


def window(rng, kind, size_px, *, snr=30.0, radius_px=12.0, angle=None, offset=None, ground=None, blur=0.8):
    """Return a noisy 8-bit window with a target, its search, and the true centre in the raster."""
    half = window_half_px(radius_px, size_px)
    side = 2 * half + 1
    phase = rng.uniform(-0.5, 0.5, 2)
    offset = rng.uniform(-0.6, 0.6, 2) * radius_px if offset is None else np.asarray(offset, float)
    centre = half + 0.5 + phase + offset
    dark, bright = 50.0, 200.0
    picture = render_target(
        (side, side),
        *centre,
        kind,
        size_px,
        float(rng.uniform(0, 360)) if angle is None else angle,
        dark=dark,
        bright=bright,
        ground=textured((side, side), rng) if ground is None else ground,
        blur_px=blur,
        rng=rng,
    )
    search = TargetSearch(
        ROW0 + half + 0.5 + phase[0], COL0 + half + 0.5 + phase[1], radius_px, float(size_px)
    )
    noisy = picture + (bright - dark) / snr * rng.standard_normal((side, side))
    return patch_of(noisy), search, centre + np.array([ROW0, COL0])


def patch_of(picture, valid=None):
    """Return a one-band 8-bit patch."""
    values = np.clip(picture, 0, 255).round().astype("uint8")[None]
    there = np.ones(picture.shape, dtype=bool) if valid is None else valid
    return RasterPatch(values, there, ROW0, COL0)


def errors_px(rng, kind, size_px, count, **wanted):
    """Return the errors of `count` windows, row and col, and the fixes."""
    fixes, errors = [], []
    for _ in range(count):
        patch, search, centre = window(rng, kind, size_px, **wanted)
        fix = locate(patch, search, kind)
        fixes.append(fix)
        errors.append((fix.row - centre[0], fix.col - centre[1]))
    return np.array(errors), fixes
