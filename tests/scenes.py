"""Small sites rendered to measure: targets drawn where a test wants them, points where it says."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import Affine

from geoqa.demo.render import render_target

CRS = "EPSG:25832"
ORIGIN = (512_000.0, 5_403_000.0)


@dataclass(frozen=True)
class Scene:
    """A rendered orthomosaic, and where its targets really are.

    `centres_m` (n, 2) are easting and northing of the targets in the picture; `cell_m` is the side
    of a pixel.
    """

    folder: Path
    ids: tuple[str, ...]
    centres_m: np.ndarray
    cell_m: float


def textured(shape, rng, *, level=105.0, contrast=8.0):
    """Return ground with structure at several scales."""
    from scipy import ndimage

    ground = np.full(shape, level)
    for scale, share in ((1.0, 0.5), (4.0, 1.0), (20.0, 1.0)):
        layer = ndimage.gaussian_filter(rng.standard_normal(shape), scale)
        ground += share * contrast * layer / layer.std()
    return ground


def render_scene(folder, rng, *, kinds, size_px, cell_m=0.02, noise=2.5, spacing_px=130):
    """Render targets of the given kinds on a grid of places with random phase and angle."""
    side = int(np.ceil(np.sqrt(len(kinds))))
    shape = (side * spacing_px, side * spacing_px)
    picture = textured(shape, rng)
    centres = []
    for index, kind in enumerate(kinds):
        cell_row, cell_col = divmod(index, side)
        row, col = (np.array([cell_row, cell_col]) + 0.5) * spacing_px + rng.uniform(-6, 6, 2)
        window = (
            slice(cell_row * spacing_px, (cell_row + 1) * spacing_px),
            slice(cell_col * spacing_px, (cell_col + 1) * spacing_px),
        )
        picture[window] = render_target(
            (spacing_px, spacing_px),
            row - cell_row * spacing_px,
            col - cell_col * spacing_px,
            kind,
            size_px,
            rng.uniform(0, 360),
            dark=35.0,
            bright=215.0,
            ground=picture[window],
            blur_px=0.8,
            rng=rng,
        )
        centres.append((ORIGIN[0] + col * cell_m, ORIGIN[1] - row * cell_m))
    values = np.clip(picture + noise * rng.standard_normal(shape), 0, 255).round().astype("uint8")
    write_raster(folder / "ortho.tif", values[None], cell_m)
    ids = tuple(f"T{index + 1:02d}" for index in range(len(kinds)))
    return Scene(folder, ids, np.array(centres), cell_m)


def write_raster(path, values, cell_m, *, crs=CRS, nodata=None, **profile):
    """Write bands, shape (bands, rows, cols), as a tiled GeoTIFF with its corner at ORIGIN."""
    bands, rows, cols = values.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=cols,
        height=rows,
        count=bands,
        dtype=values.dtype,
        crs=crs,
        transform=Affine(cell_m, 0, ORIGIN[0], 0, -cell_m, ORIGIN[1]),
        nodata=nodata,
        tiled=True,
        blockxsize=128,
        blockysize=128,
        **profile,
    ) as target:
        target.write(values)


def write_points(path, ids, positions_m, heights_m=None, **columns):
    """Write a points file with a header; further columns by name."""
    names = ["id", "easting", "northing", "height", *columns]
    lines = [",".join(names)]
    for index, name in enumerate(ids):
        height = "" if heights_m is None else f"{heights_m[index]:.4f}"
        further = [str(values[index]) for values in columns.values()]
        east, north = positions_m[index]
        lines.append(",".join([name, f"{east:.5f}", f"{north:.5f}", height, *further]))
    path.write_text("\n".join(lines) + "\n")
