"""Ratios of reading heights: against decoding the touched blocks once, and against point-by-point reading.

Run it by itself: `python tests/benchmarks/sampling.py [--side 8000] [--folder FOLDER]`. It builds an
invented surface and prints CPU seconds, best of three, and ratios. GDAL's block cache is 64 MB on all sides.
Nothing here is a test: the figures belong to the machine.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import Affine

from geoqa.numerics.tiling import visits
from geoqa.readers import surface
from geoqa.readers.blocks import clipped, reading_tile
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from geoqa.surface.plane import plane_window

CACHE = {"GDAL_CACHEMAX": 64 << 20}
CELL_M = 0.1
MANY, FEWER = 100_000, 10_000


def build(path: Path, side: int) -> None:
    """Write gently rolling ground with 1 cm of noise, in tiles of 512."""
    rng = np.random.default_rng(11)
    profile = {
        "driver": "GTiff", "width": side, "height": side, "count": 1, "dtype": "float32", "nodata": -9999.0,
        "crs": "EPSG:25832", "transform": Affine(CELL_M, 0, 512_000, 0, -CELL_M, 5_403_000),
        "tiled": True, "blockxsize": 512, "blockysize": 512, "compress": "DEFLATE", "predictor": 3,
    }  # fmt: skip
    col = np.arange(side)
    with rasterio.open(path, "w", **profile) as target:
        for row0 in range(0, side, 512):
            row = np.arange(row0, min(row0 + 512, side))[:, None]
            height = 240 + 6 * np.sin(row / 900) * np.cos(col / 700) + rng.normal(0, 0.01, (len(row), side))
            target.write(height.astype("float32"), 1, window=((row0, row0 + len(row)), (0, side)))


def seconds(work: Callable[[], object]) -> float:
    """Return the least CPU time of three runs."""
    times = []
    for _ in range(3):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def decode(path: Path, windows: np.ndarray, tile: tuple[int, int]) -> None:
    """Decode each block that a window touches, once."""
    with rasterio.Env(**CACHE), rasterio.open(path) as dataset:
        rows, cols = dataset.shape
        for visit in visits(windows, tile):
            row0 = visit.window.row0 // tile[0] * tile[0]
            col0 = visit.window.col0 // tile[1] * tile[1]
            ends = (row0, min(row0 + tile[0], rows)), (col0, min(col0 + tile[1], cols))
            dataset.read(1, window=ends)


def one_by_one(path: Path, places: np.ndarray) -> None:
    """Read the nearest cell of each point with rasterio's own sampling, in the order of the points."""
    with rasterio.Env(**CACHE), rasterio.open(path) as dataset:
        positions = [dataset.transform * (col, row) for row, col in places.tolist()]
        for _ in dataset.sample(positions):
            pass


def main() -> None:
    """Print the ratios."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--side", type=int, default=8000, help="rows and columns of the surface")
    words.add_argument("--folder", type=Path, help="where the surface is built, and kept")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        path = (asked.folder or Path(passing)) / f"surface_{asked.side}.tif"
        if not path.exists():
            build(path, asked.side)
        report(path, asked.side)


def report(path: Path, side: int) -> None:
    """Measure on one surface and print."""
    info = read_info(str(path))
    rng = np.random.default_rng(5)
    places = rng.uniform(1, side - 1, (MANY, 2))
    tile = reading_tile(info)
    reach = int(plane_window(info.cell_axes_m).row_offsets[-1])
    cells = np.floor(places).astype(int)
    windows = clipped(np.hstack([cells - reach, np.full_like(cells, 2 * reach + 1)]), info.shape)
    corners = clipped(np.hstack([np.floor(places - 0.5).astype(int), np.full_like(cells, 2)]), info.shape)

    def heights(count: int) -> None:
        read_surface(info, places[:count], value_unit_m=1.0, sought=np.ones(count, dtype=bool))

    def heights_alone(count: int) -> None:
        fitted, surface.plane_window = surface.plane_window, lambda axes: None
        try:
            heights(count)
        finally:
            surface.plane_window = fitted

    limit, with_plane, alone = (
        seconds(lambda: decode(path, windows, tile)),
        seconds(lambda: heights(MANY)),
        seconds(lambda: heights_alone(MANY)),
    )
    touched = seconds(lambda: decode(path, corners, tile))
    blocks = len(list(visits(windows, tile)))
    ours, ours_alone, theirs = (
        seconds(lambda: heights(FEWER)),
        seconds(lambda: heights_alone(FEWER)),
        seconds(lambda: one_by_one(path, places[:FEWER])),
    )
    lines = (
        f"{side} × {side}, {MANY} points, {blocks} blocks",
        f"  decode the touched blocks once     {limit:7.3f} s   (of the corners alone {touched:.3f} s)",
        f"  bilinear heights                   {alone:7.3f} s   {alone / touched:6.2f} ×",
        f"  heights, slope, roughness, relief  {with_plane:7.3f} s   {with_plane / limit:6.2f} ×",
        f"{side} × {side}, {FEWER} points in random order",
        f"  rasterio's sample(), nearest       {theirs:7.3f} s",
        f"  bilinear heights                   {ours_alone:7.3f} s   {theirs / ours_alone:6.1f} × faster",
        f"  heights, slope, roughness, relief  {ours:7.3f} s   {theirs / ours:6.1f} × faster",
    )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
