"""Ratios of a whole check of 30 targets: against the imports and decoding the touched blocks once.

Run it by itself: `python -m tests.benchmarks.whole_check [--side 40000] [--folder FOLDER]`. It builds an
invented orthomosaic (JPEG, cloud-optimised) and a surface of half its side, and prints CPU seconds of fresh
processes, best of three, their peak memory, and ratios. A process inherits the peak of the one that starts
it, so quote memory from a run with a `--folder` in which the sites stand already. Nothing here is a test:
the figures belong to the machine.
"""

import argparse
import compileall
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
from rasterio.transform import Affine

import geoqa
from geoqa.demo.render import render_target

CELL_M = 0.02
TARGETS = 30
SIZE_PX = 30.0
TILE = 512
ORIGIN = (512_000.0, 5_403_000.0)
RUNS = 3
ENVIRONMENT = {**os.environ, "GDAL_CACHEMAX": "64"}

LIMIT = """
import sys
import geopandas, rasterio, shapely, pyproj
import matplotlib.pyplot
import numpy as np
ortho, surface, places = sys.argv[1:]
places = np.loadtxt(places)
for path, per_px, half, bands in ((ortho, 1, 64, [1, 2, 3]), (surface, 2, 12, [1])):
    with rasterio.open(path) as data:
        side = data.block_shapes[0][0]
        blocks = set()
        for row, col in places / per_px:
            for r in range(int(row - half) // side, int(row + half) // side + 1):
                for c in range(int(col - half) // side, int(col + half) // side + 1):
                    blocks.add((r, c))
        for r, c in sorted(blocks):
            ends = min((r + 1) * side, data.height), min((c + 1) * side, data.width)
            data.read(bands, window=((r * side, ends[0]), (c * side, ends[1])))
"""


@dataclass(frozen=True)
class Cost:
    """CPU seconds, best of the runs, and the largest peak memory in megabytes."""

    seconds: float
    peak_mb: float


def cost(command: Sequence[str]) -> Cost:
    """Return what a command costs as a fresh process."""
    seconds, peaks = [], []
    for _ in range(RUNS):
        process = subprocess.Popen(
            command, env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        text = process.stderr.read().decode() if process.stderr else ""
        _, status, usage = os.wait4(process.pid, 0)
        if os.waitstatus_to_exitcode(status) not in {0, 1}:
            raise SystemExit(text)
        seconds.append(usage.ru_utime + usage.ru_stime)
        peaks.append(usage.ru_maxrss / 1024)
    return Cost(min(seconds), max(peaks))


def build(folder: Path, side: int) -> Path:
    """Write orthomosaic, surface, points and settings of one size, unless they are there."""
    site = folder / f"site_{side}"
    if (site / "with_pictures.toml").exists():
        return site
    site.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(17)
    places = rng.uniform(1000, side - 1000, (TARGETS, 2))
    np.savetxt(site / "places.txt", places)
    _ortho(site, side, places, rng)
    _surface(site, side // 2, rng)
    rows = [
        f"T{i:02d},{ORIGIN[0] + c * CELL_M:.4f},{ORIGIN[1] - r * CELL_M:.4f},240"
        for i, (r, c) in enumerate(places)
    ]
    (site / "points.csv").write_text("\n".join(["id,easting,northing,height", *rows]) + "\n")
    for name, pictures in (("without_pictures", "false"), ("with_pictures", "true")):
        (site / f"{name}.toml").write_text(
            "[orthomosaic]\npath = 'ortho.tif'\n[elevation]\npath = 'surface.tif'\n"
            "[points]\npath = 'points.csv'\n"
            f"[targets]\nkind = 'quadrant-panel'\nsize_m = {SIZE_PX * CELL_M}\n"
            f"[deliver]\npictures = {pictures}\n"
        )
    return site


def _ortho(site: Path, side: int, places: np.ndarray, rng: np.random.Generator) -> None:
    profile = {
        "driver": "GTiff", "width": side, "height": side, "count": 3, "dtype": "uint8", "crs": "EPSG:25832",
        "transform": Affine(CELL_M, 0, ORIGIN[0], 0, -CELL_M, ORIGIN[1]), "tiled": True, "blockxsize": TILE,
        "blockysize": TILE, "compress": "JPEG", "photometric": "YCBCR", "jpeg_quality": 85, "bigtiff": "YES",
    }  # fmt: skip
    ground = np.clip(rng.normal(110, 12, (3, TILE, side + TILE)), 0, 255).astype("uint8")
    with rasterio.open(site / "plain.tif", "w", **profile) as target:
        for row0 in range(0, side, TILE):
            rows = min(TILE, side - row0)
            start = int(rng.integers(TILE))
            strip = ground[:, :rows, start : start + side]
            target.write(strip, window=((row0, row0 + rows), (0, side)))
        for row, col in places:
            row0, col0 = int(row) - 48, int(col) - 48
            panel = render_target(
                (96, 96), row - row0, col - col0, "quadrant-panel", SIZE_PX, float(rng.uniform(0, 90)),
                dark=30, bright=220, ground=110.0, blur_px=0.8, rng=rng,
            )  # fmt: skip
            noisy = np.clip(panel + rng.normal(0, 3, (3, 96, 96)), 0, 255).astype("uint8")
            target.write(noisy, window=((row0, row0 + 96), (col0, col0 + 96)))
    rasterio.shutil.copy(
        site / "plain.tif", site / "ortho.tif", driver="COG", COMPRESS="JPEG", QUALITY="85", BIGTIFF="YES",
        OVERVIEW_RESAMPLING="NEAREST", NUM_THREADS="2",
    )  # fmt: skip
    (site / "plain.tif").unlink()


def _surface(site: Path, side: int, rng: np.random.Generator) -> None:
    profile = {
        "driver": "GTiff", "width": side, "height": side, "count": 1, "dtype": "float32", "nodata": -9999.0,
        "crs": "EPSG:25832", "transform": Affine(2 * CELL_M, 0, ORIGIN[0], 0, -2 * CELL_M, ORIGIN[1]),
        "tiled": True, "blockxsize": TILE, "blockysize": TILE, "compress": "DEFLATE", "predictor": 3,
        "bigtiff": "YES", "num_threads": 2,
    }  # fmt: skip
    noise = rng.normal(0, 0.01, (TILE, side)).astype("float32")
    with rasterio.open(site / "surface.tif", "w", **profile) as target:
        for row0 in range(0, side, TILE):
            rows = min(TILE, side - row0)
            target.write(
                240 + np.roll(noise[:rows], row0, axis=1), 1, window=((row0, row0 + rows), (0, side))
            )


def report(folder: Path, side: int) -> dict[str, Cost]:
    """Measure one size and print it."""
    site = build(folder, side)
    python = sys.executable
    found = {
        "limit": cost(
            [python, "-c", LIMIT, *(str(site / n) for n in ("ortho.tif", "surface.tif", "places.txt"))]
        )
    }
    for name in ("without_pictures", "with_pictures"):
        out = str(folder / f"out_{side}_{name}")
        words = ["check", str(site / f"{name}.toml"), "--out", out, "--quiet"]
        found[name] = cost([python, "-m", "geoqa", *words])
    for name, item in found.items():
        ratio = item.seconds / found["limit"].seconds
        costs = f"{item.seconds:6.2f} s CPU  {ratio:5.2f} × limit  {item.peak_mb:5.0f} MB peak"
        print(f"{side:>6}  {name:<17} {costs}")
    return found


def main() -> None:
    """Print costs and ratios for a large and a small site."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--side", type=int, default=40_000, help="rows and columns of the large orthomosaic")
    words.add_argument("--folder", type=Path, help="where the sites are built, and kept")
    asked = words.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    # An installation compiles the modules, a checkout under PYTHONDONTWRITEBYTECODE never does.
    compileall.compile_dir(Path(geoqa.__file__).parent, quiet=1)
    with tempfile.TemporaryDirectory() as passing:
        folder = asked.folder or Path(passing)
        large, small = report(folder, asked.side), report(folder, 4_000)
    ratio = large["without_pictures"].seconds / small["without_pictures"].seconds
    print(f"{asked.side} against 4000: {ratio:.2f}")


if __name__ == "__main__":
    main()
