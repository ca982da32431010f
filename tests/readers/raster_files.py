"""Small invented rasters on disk, and a rasterio that keeps count of what is read."""

from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine
from scipy import ndimage

from geoqa.errors import InputError
from geoqa.readers import _dataset
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface

CRS = "EPSG:25832"
SHAPE = (150, 190)
NORTH_UP = Affine(0.2, 0.0, 512_000.0, 0.0, -0.2, 5_403_000.0)
SOUTH_UP = Affine(0.2, 0.0, 512_000.0, 0.0, 0.2, 5_403_000.0)
# Turned by 31°, with cells of 0.3 m × 0.2 m.
TURNED = Affine(0.2572, 0.1030, 512_000.0, 0.1545, -0.1714, 5_403_000.0)

TILED = {"tiled": True, "blockxsize": 64, "blockysize": 64}
LAYOUTS = {
    "tiles": TILED | {"compress": "deflate"},
    "strips": {"tiled": False, "blockysize": 7, "compress": "lzw"},
    "single rows": {"tiled": False, "blockysize": 1},
    "one strip": {"tiled": False, "blockysize": 5000, "compress": "deflate"},
}


def write(path, values, *, crs=CRS, transform=NORTH_UP, mask=None, driver="GTiff", **profile):
    """Write values, shape (rows, cols) or (bands, rows, cols), and return the path as text."""
    values = values[None] if values.ndim == 2 else values
    bands, rows, cols = values.shape
    with (
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(
            path,
            "w",
            driver=driver,
            height=rows,
            width=cols,
            count=bands,
            dtype=values.dtype,
            crs=crs,
            transform=transform,
            **profile,
        ) as target,
    ):
        target.write(values)
        if mask is not None:
            target.write_mask(mask)
    return str(path)


def ground(rows=SHAPE[0], cols=SHAPE[1], *, seed=3):
    """Return invented heights in single precision: a slope, waves and noise."""
    row, col = np.mgrid[0:rows, 0:cols]
    waves = 0.4 * np.sin(row / 11.0) * np.cos(col / 17.0)
    noise = np.random.default_rng(seed).normal(0.0, 0.02, (rows, cols))
    return (240.0 + 0.01 * row - 0.02 * col + waves + noise).astype("float32")


@contextmanager
def counted(monkeypatch):
    """Yield the list of windows that are read while the block runs."""
    windows = []
    really_open = rasterio.open

    class Counting:
        def __init__(self, dataset):
            self._dataset = dataset

        def __getattr__(self, name):
            return getattr(self._dataset, name)

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self._dataset.close()

        def read(self, *words, **options):
            windows.append(options["window"])
            return self._dataset.read(*words, **options)

    with monkeypatch.context() as patch:
        patch.setattr(_dataset.rasterio, "open", lambda path: Counting(really_open(path)))
        yield windows


def blocks_of(windows, block_shape):
    """Return row, column of each block that each window touches, one entry for each touch."""
    touched = []
    for (row0, row1), (col0, col1) in windows:
        rows = range(row0 // block_shape[0], -(-row1 // block_shape[0]))
        cols = range(col0 // block_shape[1], -(-col1 // block_shape[1]))
        touched += [(row, col) for row in rows for col in cols]
    return touched


def places(n=300, *, shape=SHAPE, seed=7):
    """Return places all over the raster, and some way beyond."""
    rng = np.random.default_rng(seed)
    return rng.uniform([-2.0, -2.0], np.array(shape) + 2.0, (n, 2))


def sample(path, row_col, *, unit=1.0, **options):
    info = read_info(path, **options)
    return read_surface(info, row_col, value_unit_m=unit, sought=np.ones(len(row_col), dtype=bool))


def by_scipy(values, row_col):
    """Return the bilinear heights of a whole raster, NaN beyond its outer cell centres."""
    inner = ((row_col >= 0.5) & (row_col <= np.array(values.shape) - 0.5)).all(axis=1)
    found = ndimage.map_coordinates(values.astype(float), (row_col - 0.5).T, order=1, cval=np.nan)
    return np.where(inner, found, np.nan)


def with_band_unit(path, text):
    with rasterio.open(path, "r+") as dataset:
        dataset.units = [text] * dataset.count
    return path


def refusal(path, **options):
    """Return the message of the refusal, which names the file."""
    with pytest.raises(InputError) as caught:
        read_info(str(path), **options)
    message = str(caught.value)
    assert Path(path).name in message
    assert message.endswith(".")
    assert "\n" not in message
    return message
