"""How well targets are located: errors against the physical bound, coverage, finds and false finds.

Run it by itself: `python -m tests.benchmarks.targets [KIND …] [--count 30] [--open-data FOLDER]`. Pictures
are rendered with known centres, on seeds that nothing was learnt from. Nothing here is a test.
"""

import argparse
import time
from collections import Counter
from importlib import import_module
from pathlib import Path

import numpy as np

from geoqa.numerics.edges import effective_blur_px
from geoqa.targets import KINDS, locate
from geoqa.targets._appearance import design_of, levels_of
from geoqa.targets._centres import point_gradient
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._shape import GROUND_REACH, Shape, Sight
from tests.benchmarks.learn_targets import PICTURES, photographed
from tests.targets.scenes import (
    CONDITIONS,
    Outcomes,
    Scene,
    noise_free_scene,
    plain_look,
    random_look,
    target_scene,
)

SEED = 2026
SIZES_PX = (12.0, 16.0, 24.0, 32.0, 64.0)
BLUR_PX = 0.8
_BIAS_SIZES_PX = (16.0, 24.0, 40.0)
# A twin stands 1.3 sides away and has to fit into the window as well.
_TWIN_SIZES = (12.0, 22.0)
_CLEAN_HEAD = """
| kind | px | SNR | JPEG | RMSE px | × bound, rest known | × bound, all free | in ellipse | found | CPU ms |
|---|---|---|---|---|---|---|---|---|---|"""
_BIAS_HEAD = """
| kind | px | pictures | mean at 0° | mean at 45° | mean at any angle | largest error |
|---|---|---|---|---|---|---|"""
_CONDITION_HEAD = """
| kind | condition | found | suspect | ambiguous | not found | RMSE px | in ellipse | off > 1 px | flags |
|---|---|---|---|---|---|---|---|---|---|"""


def bounds_px(pattern: TargetPattern, size_px: float, snr: float) -> tuple[float, float]:
    """Return the Cramér-Rao bounds per coordinate: of a shift with all else known, and with all else free.

    The Fisher information is J'J over the noise variance, J the derivatives of the noise-free picture over
    the target's footprint: a panel's inside without the outline, which depends on the ground, or paint and
    the ground around it.
    """
    axes = np.array([[0.0, 1.0], [1.0, 0.0]]) * 2.0 / size_px
    shape = Shape(0.13, 0.31, axes, effective_blur_px(BLUR_PX), pattern.proportions)
    half = np.ceil(GROUND_REACH * size_px / 2)
    rows, cols = (axis.ravel() + 0.5 for axis in np.mgrid[-half:half, -half:half])
    parts = np.stack(pattern.parts(*shape.own_axes(rows, cols), shape.blur, shape.proportions))
    levels = np.array([1.0, 0.0]) if pattern.painted else np.array([0.5, 0.5, 0.5])
    fit = levels_of(Sight(rows, cols, levels @ parts, 1), pattern, shape)
    design = design_of(fit)[:, fit.footprint]
    known = 1.0 / (snr * np.sqrt(np.mean((design[:2] ** 2).sum(axis=1))))
    scales = np.linalg.norm(design, axis=1)
    scales[scales == 0.0] = 1.0
    # A round target has no turn: what does not show in the picture is left out.
    inverse = np.linalg.pinv((design / scales[:, None]) @ (design / scales[:, None]).T, rcond=1e-9)
    gradient = point_gradient(fit)
    terms = gradient.shape[1]
    covariance = gradient @ (inverse / np.outer(scales, scales))[:terms, :terms] @ gradient.T
    return float(known), float(np.sqrt(np.trace(covariance) / 2) / snr)


def timed(scene: Scene, kind: str, outcomes: Outcomes) -> float:
    """Count what the locator makes of a scene, and return its CPU seconds."""
    start = time.process_time()
    fix = scene.locate(kind)
    seconds = time.process_time() - start
    outcomes.add(scene, fix)
    return seconds


def clean_row(kind: str, size_px: float, snr: float, jpeg: int | None, count: int) -> str:
    """Return one row of the table of clean targets on plain ground."""
    pattern = import_module(f"geoqa.targets.{kind.replace('-', '_')}").PATTERN
    rng = np.random.default_rng([SEED, int(size_px), int(snr), jpeg or 0])
    outcomes, seconds = Outcomes(), 0.0
    for _ in range(count):
        wanted = {"blur_px": BLUR_PX, "snr": snr, "jpeg": jpeg}
        look = plain_look(kind, size_px=size_px, angle_deg=float(rng.uniform(0.0, 360.0)), **wanted)
        seconds += timed(target_scene(kind, look, rng), kind, outcomes)
    if not outcomes.errors:
        return f"| {kind} | {size_px:.0f} | {snr:g} | {jpeg or 'none'} | – | – | – | – | 0 % | – |"
    known, free = bounds_px(pattern, size_px, snr)
    rmse = outcomes.rmse_px()
    cells = [
        f"{rmse:.4f}",
        f"{rmse / known:.2f}",
        f"{rmse / free:.2f}",
        f"{outcomes.inside_95():.0%}",
        f"{outcomes.share('found'):.0%}",
        f"{seconds / count * 1e3:.0f}",
    ]
    return f"| {kind} | {size_px:.0f} | {snr:g} | {jpeg or 'none'} | {' | '.join(cells)} |"


def bias_row(kind: str, size_px: float) -> str:
    """Return one row of the table of errors without noise: 216 pictures, not rounded to whole grey values.

    The mean is that of rows or columns, whichever is farther from 0, over 72 places within a pixel.
    """
    rng = np.random.default_rng([SEED, int(size_px), len(kind)])
    means, largest, count = [], 0.0, 0
    for angle in (0.0, 45.0, None):
        errors = []
        for down, across in np.ndindex(8, 9):
            turn = float(rng.uniform(0.0, 360.0)) if angle is None else angle
            phase = (down + rng.random()) / 8, (across + rng.random()) / 9
            scene = noise_free_scene(kind, size_px, turn, phase, rng)
            errors.append(scene.error(scene.locate(kind)))
        means.append(f"{np.abs(np.mean(errors, axis=0)).max():.4f}")
        largest = max(largest, float(np.abs(errors).max()))
        count += len(errors)
    return f"| {kind} | {size_px:.0f} | {count} | {' | '.join(means)} | {largest:.4f} |"


def condition_row(kind: str, condition: str, count: int) -> str:
    """Return one row of the table of conditions: any size from 16 to 48 px, half of it in JPEG quality 75."""
    rng = np.random.default_rng([SEED, len(condition), len(kind)])
    outcomes, found, flags = Outcomes(), Outcomes(), Counter()
    for _ in range(count):
        sizes = _TWIN_SIZES if condition == "twin" else (16.0, 48.0)
        look = random_look(rng, kind=kind, sizes=sizes, jpeg=[None, 75][rng.integers(2)])
        scene = target_scene(kind, look, rng, condition)
        fix = scene.locate(kind)
        outcomes.add(scene, fix)
        flags.update(fix.flags)
        if fix.status == "found":
            found.add(scene, fix)
    shares = [f"{outcomes.share(status):.0%}" for status in ("found", "suspect", "ambiguous", "not found")]
    errors = ["–"] * 3
    if found.errors:
        gross = np.mean(np.hypot(*np.transpose(found.errors)) > 1.0)
        errors = [f"{found.rmse_px():.3f}", f"{found.inside_95():.0%}", f"{gross:.0%}"]
    seen = ", ".join(f"{flag} {number / count:.0%}" for flag, number in flags.most_common(3))
    return f"| {kind} | {condition} | {' | '.join(shares + errors)} | {seen} |"


def false_finds(path: Path, kind: str, count: int) -> str:
    """Return how many windows of the half of a picture that nothing was learnt from give a position."""
    statuses = Counter(
        str(locate(patch, search, kind).status)
        for patch, search in photographed(path, count, SEED, left=False)
    )
    counts = [str(statuses[status]) for status in ("found", "suspect", "ambiguous")]
    return f"| {path.name} | {kind} | {count} | {' | '.join(counts)} |"


def main() -> None:
    """Print the tables."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("kinds", nargs="*", help="all where none is named")
    words.add_argument("--count", type=int, default=30, help="pictures a row")
    words.add_argument("--windows", type=int, default=1000, help="windows a picture without targets")
    words.add_argument("--open-data", type=Path, help="folder of open data with pictures without targets")
    asked = words.parse_args()
    kinds = asked.kinds or list(KINDS.all())
    print(_CLEAN_HEAD)
    for kind in kinds:
        for size_px in SIZES_PX:
            for snr, jpeg in ((10.0, None), (20.0, None), (50.0, None), (50.0, 75)):
                print(clean_row(kind, size_px, snr, jpeg, asked.count), flush=True)
    print(_BIAS_HEAD)
    for kind in kinds:
        for size_px in _BIAS_SIZES_PX:
            print(bias_row(kind, size_px), flush=True)
    print(_CONDITION_HEAD)
    for kind in kinds:
        for condition in CONDITIONS:
            print(condition_row(kind, condition, asked.count), flush=True)
    if asked.open_data:
        print("\n| picture | kind | windows | found | suspect | ambiguous |\n|---|---|---|---|---|---|")
        for kind in ("quadrant-panel", "auto"):
            for name in PICTURES:
                print(false_finds(asked.open_data / name, kind, asked.windows), flush=True)


if __name__ == "__main__":
    main()
