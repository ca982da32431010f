"""Invented geoids as files, and folders of grids that PROJ looks into."""

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from affine import Affine
from numpy.typing import ArrayLike

from geoqa.records.geoid import GeoidGrid

# Missing node in a GTX file (NOAA, VDatum).
GTX_MISSING = -88.8888


def plane(first: tuple[float, float], step: float, shape: tuple[int, int], *, n0=-17.0, east=0.5, north=-0.3):
    """Return nodes from north to south: n0 at the north-western one, rising by metres a degree."""
    rows, cols = np.indices(shape)
    return n0 + east * step * cols + north * (-step * rows)


def write_gtx(path: Path, first: tuple[float, float], step: float, nodes: ArrayLike) -> Path:
    """Write nodes (north to south, from `first` in longitude and latitude) as GTX, NaN as missing.

    Big-endian: latitude and longitude of the south-western node, steps in latitude and longitude as
    doubles, rows and columns as 32-bit integers; 32-bit floats from south to north.
    """
    values = np.asarray(nodes, float)
    rows, cols = values.shape
    header = struct.pack(">4d2i", first[1] - (rows - 1) * step, first[0], step, step, rows, cols)
    values = np.where(np.isnan(values), GTX_MISSING, values)
    path.write_bytes(header + values[::-1].astype(">f4").tobytes())
    return path


def write_grid(path: Path, first: tuple[float, float], step: float, nodes: ArrayLike, **profile: Any) -> Path:
    """Write nodes with GDAL in the format of the suffix or of `driver`; cells are centred on the nodes."""
    values = np.asarray(nodes, float)
    tags = profile.pop("tags", {})
    scale, offset = profile.pop("scale", 1.0), profile.pop("offset", 0.0)
    nodata = profile.pop("nodata", None)
    dtype = profile.pop("dtype", "float32")
    numbers = (values - offset) / scale
    if nodata is not None:
        numbers = np.where(np.isnan(numbers), nodata, numbers)
    if np.dtype(dtype).kind in "iu":
        numbers = np.rint(numbers)
    transform = Affine(step, 0.0, first[0] - step / 2, 0.0, -step, first[1] + step / 2)
    wanted = {"driver": "GTiff", "crs": "EPSG:4326", "transform": transform} | profile
    with rasterio.open(
        path,
        "w",
        width=values.shape[1],
        height=values.shape[0],
        count=1,
        dtype=dtype,
        nodata=nodata,
        **wanted,
    ) as target:
        target.write(numbers.astype(dtype), 1)
        target.update_tags(**tags)
        if (scale, offset) != (1.0, 0.0):
            target.scales, target.offsets = (scale,), (offset,)
    return path


def write_official(
    path: Path, first: tuple[float, float], step: float, nodes: ArrayLike, **profile: Any
) -> Path:
    """Write a GeoTIFF of separations in the layout that PROJ asks for (PROJ, geodetic TIFF grids)."""
    tags = {"TYPE": "VERTICAL_OFFSET_GEOGRAPHIC_TO_VERTICAL", "AREA_OR_POINT": "Point"}
    write_grid(path, first, step, nodes, tags=tags | profile.pop("tags", {}), **profile)
    with rasterio.open(path, "r+") as target:
        target.set_band_description(1, "geoid_undulation")
        target.units = ("metre",)
    return path


@contextmanager
def grids_in(folder: Path) -> Iterator[None]:
    """Let PROJ find the grids of a folder."""
    before = pyproj.datadir.get_data_dir()
    pyproj.datadir.append_data_dir(str(folder))
    try:
        yield
    finally:
        pyproj.datadir.set_data_dir(before)


def own_grid(
    path: Path,
    first: tuple[float, float],
    step: float,
    nodes: ArrayLike,
    *,
    crs: str = "",
    vertical: str = "",
) -> GeoidGrid:
    """Return nodes as the grid that the settings name, written to `path` as GTX."""
    write_gtx(path, first, step, nodes)
    values = np.asarray(nodes, float)
    rows, cols = values.shape
    return GeoidGrid(
        file=path.name,
        path=str(path),
        crs=pyproj.CRS(crs) if crs else None,
        vertical=pyproj.CRS(vertical) if vertical else None,
        nodes=values,
        first_deg=first,
        step_deg=(step, step),
        area_deg=(first[0], first[1] - (rows - 1) * step, first[0] + (cols - 1) * step, first[1]),
    )
