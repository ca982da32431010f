"""Learn how evidence for a target is weighed: the `Likelihood` of each kind.

Run it by itself: `python -m tests.benchmarks.learn_targets [KIND …] [--count 300] [--open-data FOLDER]`. A
logistic regression over drawn targets, and over drawn and photographed windows without one; the benchmark
`targets` reports on other seeds, and on the other half of the photographs. Nothing here is a test.
"""

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from functools import partial
from importlib import import_module
from pathlib import Path

import numpy as np
from scipy import optimize

from geoqa.readers.blocks import read_patches
from geoqa.readers.rasters import read_info
from geoqa.records.measurements import RasterPatch, TargetSearch
from geoqa.targets import KINDS, window_half_px
from geoqa.targets._candidates import SearchArea
from geoqa.targets._finds import Find, examine
from geoqa.targets._pattern import Likelihood, TargetPattern
from tests.targets.scenes import (
    Scene,
    look_alike,
    mosaic_scene,
    random_look,
    scene_of,
    target_scene,
    window_side,
)

SEED = 1
PICTURES = ("neon-osbs-ortho/OSBS_029.tif", "pdal-autzen/ortho_1ft_epsg2994.tif")
# How much more all that is no target weighs than all that is one.
_FALSE_FIND = 1.0
_RIDGE = 0.0002
_NAMES = [field.name for field in fields(Likelihood)]
# Bounds of the weights. All but two speak against a target, whatever was drawn: a pattern that goes on beyond
# its outline, a rhomb and another size at least so much. Drawn targets fit better than real ones, and what
# lies half a side beside one is not among what was drawn: a good fit must not outweigh all else, nor a bad
# one pass. Paint lies on ground that explains less, so that its bounds are wider.
_AT_MOST = dict.fromkeys(_NAMES, 0.0) | {"continuation": -20.0, "aspect": -10.0, "size": -25.0}
_AT_MOST |= {"constant": -2.0, "smallness": np.inf, "unexplained": -4.5, "shadow": -1.0}
_AT_MOST_PAINT = _AT_MOST | {"constant": np.inf, "unexplained": -2.0}
_AT_LEAST = dict.fromkeys(_NAMES, -np.inf) | {"unexplained": -6.0, "weakness": -30.0, "continuation": -40.0}


def pattern_of(kind: str) -> TargetPattern:
    """Return the pattern of a kind of this package."""
    pattern: TargetPattern = import_module(f"geoqa.targets.{kind.replace('-', '_')}").PATTERN
    return pattern


def finds_in(patch: RasterPatch, search: TargetSearch, kind: str) -> list[Find]:
    """Return all that was fitted in a window."""
    area = SearchArea(search.row - patch.row0, search.col - patch.col0, search.radius_px, search.size_px)
    return examine(patch.grey, patch.valid, area, pattern_of(kind))


def drawn_target(kind: str, rng: np.random.Generator) -> Scene:
    """Return a scene with a target: any size, noise and compression, sometimes oblong or of low contrast."""
    look = random_look(
        rng,
        kind=kind,
        sizes=(8.0, 64.0),
        snr=float(np.exp(rng.uniform(*np.log([8.0, 60.0])))),
        jpeg=[None, 95, 85, 75][rng.integers(4)],
        bright=float(rng.choice([150.0, 190.0, 230.0])),
    )
    if rng.random() < 0.3:
        return mosaic_scene(kind, look, rng, shear=float(rng.uniform(0.0, 0.08)))
    condition = "shadow" if rng.random() < 0.12 else "clean"
    if look.snr > 24.0 and rng.random() < 0.3:
        condition = "low contrast"
    return target_scene(kind, look, rng, condition, known=rng.random() < 0.7)


def empty_window(rng: np.random.Generator) -> Scene:
    """Return a window without a target."""
    size_px = float(np.exp(rng.uniform(*np.log([8.0, 64.0]))))
    known = size_px if rng.random() < 0.7 else None
    side = window_side(known)
    picture = look_alike(rng, size_px, side) + rng.normal(0.0, rng.uniform(1.0, 8.0), (side, side))
    return scene_of(np.clip(picture, 0, 255).astype(np.uint8), np.nan, np.nan, known)


def photographed(path: Path, count: int, seed: int, *, left: bool) -> list[tuple[RasterPatch, TargetSearch]]:
    """Return windows of the left or right half of a picture without targets, and a search in each."""
    info, rng = read_info(str(path)), np.random.default_rng(seed)
    places = rng.uniform(0.0, [1.0, 0.5], (count, 2)) * info.shape
    places[:, 1] += 0.0 if left else info.shape[1] / 2
    half = window_half_px(20.0, 40.0)
    windows = np.hstack([np.floor(places).astype(int) - half, np.full((count, 2), 2 * half + 1)])
    sizes = rng.uniform(10.0, 40.0, count)
    return [
        (patch, TargetSearch(*places[index], 20.0, float(sizes[index])))
        for index, patch in read_patches(info, windows)
    ]


def samples(kind: str, count: int, open_data: Path | None) -> tuple[np.ndarray, np.ndarray]:
    """Return features, shape (n, f), and whether each belongs to a target."""
    rng = np.random.default_rng([SEED, len(kind), ord(kind[0])])
    features, truths = [], []
    for _ in range(count):
        scene = drawn_target(kind, rng)
        finds = finds_in(scene.patch, scene.search, kind)
        place = scene.row - scene.patch.row0, scene.col - scene.patch.col0
        near = [find.distance_px(*place) < 0.5 + 0.05 * find.size_px for find in finds]
        for find, true in zip(finds, near, strict=True):
            if true or find.distance_px(*place) > 0.7 * find.size_px:
                features.append(find.evidence.features())
                truths.append(true)
    windows = [(scene.patch, scene.search) for scene in (empty_window(rng) for _ in range(3 * count))]
    for name in PICTURES if open_data else ():
        windows += photographed(open_data / name, 2 * count, SEED, left=True)
    for patch, search in windows:
        found = [find.evidence.features() for find in finds_in(patch, search, kind)]
        features += found
        truths += [False] * len(found)
    return np.array(features), np.array(truths)


def learnt(features: np.ndarray, truths: np.ndarray, *, painted: bool = False) -> np.ndarray:
    """Return the weights of a logistic regression with a ridge, each of the sign that makes sense."""
    scale = np.maximum(np.abs(features).max(axis=0), 1e-3)
    scaled = features / scale
    # Both weigh alike as a whole: how rare targets are among candidates is left to the constant.
    weight = np.where(truths, 1.0, _FALSE_FIND * truths.sum() / max((~truths).sum(), 1))

    def cost(weights: np.ndarray) -> tuple[float, np.ndarray]:
        odds = scaled @ weights
        missed = np.where(truths, -odds, odds)
        loss = (weight * np.logaddexp(0.0, missed)).sum() + _RIDGE * (weights[1:] ** 2).sum()
        slope = weight * np.where(truths, -1.0, 1.0) / (1.0 + np.exp(np.clip(-missed, -500, 500)))
        gradient = scaled.T @ slope
        gradient[1:] += 2.0 * _RIDGE * weights[1:]
        return loss, gradient

    # log10(1 − explained) is negative: a weight below 0 speaks for a target there as well.
    highest = _AT_MOST_PAINT if painted else _AT_MOST
    bounds = [
        (_AT_LEAST[name] * size, highest[name] * size) for name, size in zip(_NAMES, scale, strict=True)
    ]
    start = np.clip(0.0, *np.transpose(bounds))
    return optimize.minimize(cost, start, jac=True, bounds=bounds, method="L-BFGS-B").x / scale


def report(kind: str, count: int, open_data: Path | None) -> str:
    """Return the weights as they stand in the kind's file, and how they part what they were learnt from."""
    features, truths = samples(kind, count, open_data)
    weights = learnt(features, truths, painted=pattern_of(kind).painted)
    odds = features @ weights
    sure = odds > np.log(0.95 / 0.05)
    words = ", ".join(f"{name}={value:.2f}" for name, value in zip(_NAMES, weights, strict=True))
    return (
        f"{kind}: Likelihood({words})\n  {truths.sum()} targets, {sure[truths].mean():.1%} sure, "
        f"{(odds[truths] > 0).mean():.1%} likely; {(~truths).sum()} others, {sure[~truths].sum()} sure, "
        f"{(odds[~truths] > 0).sum()} likely"
    )


def main() -> None:
    """Print the weights of each kind."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("kinds", nargs="*", help="all but the inner corner of the L where none is named")
    words.add_argument("--count", type=int, default=300, help="drawn targets of each kind")
    words.add_argument("--open-data", type=Path, help="folder of open data with pictures without targets")
    asked = words.parse_args()
    kinds = asked.kinds or [kind for kind in KINDS.all() if kind != "l-mark-inner"]
    with ProcessPoolExecutor(2) as pool:
        for line in pool.map(partial(report, count=asked.count, open_data=asked.open_data), kinds):
            print(line, flush=True)


if __name__ == "__main__":
    main()
