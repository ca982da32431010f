"""What a whole check of many height points costs: memory, and whether time grows with their number.

Run it by itself: `python -m tests.benchmarks.many_points [--folder FOLDER]`. It builds an invented surface of
8000 × 8000 cells and up to 100,000 points on it, and prints CPU seconds of fresh processes, best of three,
and their peak memory. Nothing here is a test: the figures belong to the machine.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.benchmarks.sampling import CELL_M, build
from tests.benchmarks.whole_check import cost

SIDE = 8000
COUNTS = (25_000, 50_000, 100_000)


def write_points(folder: Path, count: int) -> Path:
    """Write points near the ground of the surface, in random order, and settings; return their path."""
    row, col = np.random.default_rng(5).uniform(20, SIDE - 20, (2, count))
    height = 240 + 6 * np.sin(row / 900) * np.cos(col / 700)
    columns = zip(512_000 + CELL_M * col, 5_403_000 - CELL_M * row, height, strict=True)
    lines = [f"P{i},{east:.3f},{north:.3f},{up:.3f},none" for i, (east, north, up) in enumerate(columns)]
    (folder / f"points_{count}.csv").write_text(
        "\n".join(["id,easting,northing,height,target", *lines]) + "\n"
    )
    settings = folder / f"points_{count}.toml"
    settings.write_text(
        f"[elevation]\npath = 'surface_{SIDE}.tif'\n[points]\npath = 'points_{count}.csv'\n"
        "[requirement]\nvertical_rmse_m = 0.05\n"
    )
    return settings


def main() -> None:
    """Print the costs."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--folder", type=Path, help="where the inputs are built, and kept")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        folder = asked.folder or Path(passing)
        if not (folder / f"surface_{SIDE}.tif").exists():
            build(folder / f"surface_{SIDE}.tif", SIDE)
        for count in COUNTS:
            settings = write_points(folder, count)
            out = str(folder / f"out_points_{count}")
            found = cost([sys.executable, "-m", "geoqa", "check", str(settings), "--out", out, "--quiet"])
            each = 1e6 * found.seconds / count
            costs = f"{found.seconds:6.2f} s CPU  {each:4.0f} µs each  {found.peak_mb:5.0f} MB peak"
            print(f"{count:>7} points  {costs}")


if __name__ == "__main__":
    main()
