"""How well targets are located: errors against the physical bound, coverage, finds and false finds.

Run it by itself: `python -m tests.benchmarks.targets [--count 100] [--windows 500] [--open-data FOLDER]`.
Pictures are rendered with known centres. Nothing here is a test.
"""

import argparse
import io
import time
from pathlib import Path

import numpy as np
from PIL import Image

from geoqa.numerics.edges import effective_blur_px
from geoqa.readers.blocks import read_patches
from geoqa.readers.rasters import read_info
from geoqa.records.measurements import RasterPatch, TargetSearch, TargetStatus
from geoqa.targets import locate, window_half_px
from geoqa.targets._strokes import quadrants
from geoqa.targets.x_panel import x_tone
from tests.targets.windows import window

TONES = {"quadrant-panel": quadrants, "x-panel": x_tone}
# Chi-square with two degrees of freedom, 95 % (handbook table).
CHI2 = 5.991


def bound_px(kind: str, size_px: float, snr: float, blur_px: float = 0.8) -> float:
    """Return the bound per coordinate from the Fisher information of a shift, with all else known.

    Σ (∂I/∂row)² over the panel's inside, the pattern blurred by the lens and the pixel; its outline, which
    depends on the ground, does not count.
    """
    half_px = size_px / 2
    rows, cols = np.mgrid[: size_px + 3, : size_px + 3] - half_px - 1
    blur = effective_blur_px(blur_px) / half_px
    tone = TONES[kind](cols / half_px, rows / half_px, blur)
    steeper = TONES[kind](cols / half_px, (rows + 0.01) / half_px, blur)
    inside = np.maximum(np.abs(rows), np.abs(cols)) <= half_px
    information = float((((steeper - tone)[inside] / 0.02) ** 2).sum())
    return 1.0 / (snr * information**0.5)


def through_jpeg(patch: RasterPatch, quality: int) -> RasterPatch:
    """Return the patch after JPEG compression, as a mosaic goes through it."""
    stream = io.BytesIO()
    colours = np.repeat(patch.values, 3, axis=0).transpose(1, 2, 0)
    Image.fromarray(colours).save(stream, "JPEG", quality=quality)
    values = np.asarray(Image.open(stream)).transpose(2, 0, 1)
    return RasterPatch(values, patch.valid, patch.row0, patch.col0, luma=True)


def located(kind: str, size_px: int, snr: float, quality: int | None, count: int) -> str:
    """Return one row of the table."""
    rng = np.random.default_rng([size_px, int(snr), quality or 0])
    errors, inside, found, seconds = [], [], 0, 0.0
    for _ in range(count):
        patch, search, centre = window(rng, kind, size_px, snr=snr)
        patch = patch if quality is None else through_jpeg(patch, quality)
        start = time.process_time()
        fix = locate(patch, search, kind)
        seconds += time.process_time() - start
        if fix.status is TargetStatus.FOUND:
            found += 1
            error = np.array([fix.row, fix.col]) - centre
            errors.append(error)
            inside.append(error @ np.linalg.solve(fix.covariance_px2, error) <= CHI2)
    if not found:
        return f"| {kind} | {size_px} | {snr:g} | {quality or 'none'} | – | – | – | 0/{count} | – |"
    rmse = float(np.sqrt(np.mean(np.square(errors))))
    cells = [
        f"{rmse:.4f}",
        f"{rmse / bound_px(kind, size_px, snr):.2f}",
        f"{np.mean(inside):.0%}",
        f"{found}/{count}",
        f"{seconds / count * 1e3:.1f}",
    ]
    return f"| {kind} | {size_px} | {snr:g} | {quality or 'none'} | {' | '.join(cells)} |"


def false_finds(path: Path, count: int) -> str:
    """Return how many windows of a picture without targets give a position."""
    info = read_info(str(path))
    rng = np.random.default_rng(23)
    half = window_half_px(20.0, 40.0)
    places = rng.uniform(0, 1, (count, 2)) * info.shape
    windows = np.hstack([np.floor(places).astype(int) - half, np.full((count, 2), 2 * half + 1)])
    statuses = [
        locate(patch, TargetSearch(*places[index], 20.0, float(rng.uniform(10, 40))), "auto").status
        for index, patch in read_patches(info, windows)
    ]
    finds = sum(status is TargetStatus.FOUND for status in statuses)
    suspects = sum(status is TargetStatus.SUSPECT for status in statuses)
    return f"{path.name}: {finds} found, {suspects} suspect in {count} windows"


def main() -> None:
    """Print the tables."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--count", type=int, default=100, help="pictures a row")
    words.add_argument("--windows", type=int, default=500, help="windows a picture without targets")
    words.add_argument("--open-data", type=Path, help="folder of open data with pictures without targets")
    asked = words.parse_args()
    lines = [
        "| kind | side px | SNR | JPEG | RMSE px | × bound | in 95 % ellipse | found | CPU ms |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in TONES:
        for size_px in (8, 12, 16, 24, 32, 64):
            lines += [located(kind, size_px, snr, None, asked.count) for snr in (10, 20, 50)]
            lines.append(located(kind, size_px, 50, 75, asked.count))
    if asked.open_data:
        names = ("neon-osbs-ortho/OSBS_029.tif", "pdal-autzen/ortho_1ft_epsg2994.tif")
        lines += [false_finds(asked.open_data / name, asked.windows) for name in names]
    print("\n".join(lines))


if __name__ == "__main__":
    main()
