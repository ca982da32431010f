"""A grid of geoid separations in any format that GDAL opens, as a file that PROJ reads."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
import pyproj
from pyproj.exceptions import CRSError
from pyproj.transformer import AreaOfInterest

from geoqa.errors import InputError
from geoqa.frame.axes import crs_name, parse_crs, parts, plan_unit
from geoqa.numerics.arrays import FloatArray
from geoqa.readers._dataset import Dataset, described, opened
from geoqa.readers._gtx import proj_reads, write_gtx
from geoqa.records.geoid import GeoidGrid

# The geoid lies between 107 m below and 86 m above the ellipsoid (EGM2008, NGA).
_LARGEST_M = 120.0
# Nodes beyond the site on each side: a change of datum may move it by 200 m.
_SPARE_NODES, _SPARE_DEG = 2, 0.01
_METRES = {"", "m", "metre", "metres", "meter", "meters"}
_GEOID = "VERTICAL_OFFSET_GEOGRAPHIC_TO_VERTICAL"


class _Layout(NamedTuple):
    """Nodes of a file: longitude and latitude of the first, steps (south is positive), how many."""

    west: float
    north: float
    east_step: float
    south_step: float
    rows: int
    cols: int

    @property
    def around(self) -> int | None:
        """Return the number of different columns of a grid around the Earth, or None for any other."""
        turn = round(360.0 / self.east_step)
        whole = abs(turn * self.east_step - 360.0) < 0.01 * self.east_step
        return turn if whole and self.cols >= turn else None


@contextmanager
def opened_geoid(path: str, area: AreaOfInterest) -> Iterator[GeoidGrid]:
    """Yield the separations around a site, in a file that PROJ reads for as long.

    A `.gtx` or `.tif` whose path PROJ can take serves as it is; of any other the part around the site
    is written to a temporary file.

    Parameters
    ----------
    path
        A file or whatever else GDAL opens: .gtx, .tif, .byn, .isg, .asc, netCDF and others.
    area
        Of the points, degrees.

    Raises
    ------
    InputError
        Where the file holds no single band of separations in metres over longitude and latitude.
    """
    grid = read_geoid(path, area)
    if grid.path:
        yield grid
        return
    with TemporaryDirectory(prefix="geoqa-geoid-") as folder:
        yield replace(grid, path=write_gtx(grid.nodes, grid.first_deg, grid.step_deg, Path(folder)))


def read_geoid(path: str, area: AreaOfInterest) -> GeoidGrid:
    """Return the separations around a site; the path is empty where PROJ cannot read the file as it is."""
    with opened(path) as dataset, described(path):
        layout = _layout(path, dataset)
        crs, vertical, notes = _reference(path, dataset, layout)
        _refuse_other_contents(path, dataset)
        rows, cols = _rows_and_cols(layout, area)
        nodes = _nodes(path, dataset, layout, rows, cols)
        plain = dataset.scales[0] == 1.0 and dataset.offsets[0] == 0.0 and dataset.transform.e < 0
    west = layout.west + cols[0] * layout.east_step
    return GeoidGrid(
        file=path,
        path=str(Path(path).resolve()) if plain and proj_reads(path) else "",
        crs=crs,
        vertical=vertical,
        nodes=nodes,
        first_deg=((west + 180.0) % 360.0 - 180.0, layout.north - rows[0] * layout.south_step),
        step_deg=(layout.east_step, layout.south_step),
        area_deg=_area(layout),
        notes=notes,
    )


def is_geoid(path: str) -> bool:
    """Return whether a file is one of separations in the layout of PROJ, in one piece."""
    with opened(path) as dataset, described(path):
        return dataset.count == 1 and not dataset.subdatasets and dataset.tags().get("TYPE") == _GEOID


def _layout(path: str, dataset: Dataset) -> _Layout:
    transform = dataset.transform
    if dataset.count != 1 or dataset.subdatasets:
        found = f"{dataset.count} bands" if dataset.count else "no band of its own"
        within = f"; within it are {', '.join(dataset.subdatasets[:3])}" if dataset.subdatasets else ""
        message = (
            f"{path}: a geoid grid has one band, the separation in metres, and this file has {found}{within}"
            ". Name the file or the layer that holds the separations."
        )
        raise InputError(message)
    if transform.is_identity or transform.b or transform.d or transform.a <= 0 or min(dataset.shape) < 2:
        message = (
            f"{path}: the nodes do not lie in rows of latitude and columns of longitude. Name a geoid grid "
            "over longitude and latitude, in degrees."
        )
        raise InputError(message)
    rows, cols = dataset.shape
    # The transform refers to corners of cells, the nodes are their centres.
    edges = (transform.f, transform.f + rows * transform.e)
    return _Layout(
        transform.c + transform.a / 2,
        max(edges) - abs(transform.e) / 2,
        transform.a,
        abs(transform.e),
        rows,
        cols,
    )


def _area(layout: _Layout) -> tuple[float, float, float, float]:
    east = layout.west + (layout.cols - 1) * layout.east_step
    return layout.west, layout.north - (layout.rows - 1) * layout.south_step, east, layout.north


def _reference(
    path: str, dataset: Dataset, layout: _Layout
) -> tuple[pyproj.CRS | None, pyproj.CRS | None, tuple[str, ...]]:
    """Return the CRS of the nodes, the vertical CRS that the separations lead to, and notes."""
    west, south, east, north = _area(layout)
    if dataset.crs:
        crs = parse_crs(dataset.crs.to_wkt(version="WKT2_2019"), path)
        crs = parts(crs, path).horizontal
        if not crs.is_geographic:
            message = (
                f"{path} is in {crs_name(crs)}, and a geoid grid lies over longitude and latitude in "
                "degrees. Warp it (`gdalwarp -t_srs EPSG:…` with the code of a geographic CRS)."
            )
            raise InputError(message)
        plan_unit(crs, path)  # refuses grads
        # GTX and other formats name no CRS, and GDAL says WGS 84 for them.
        return crs, _vertical(dataset), ()
    if south < -90.0 or north > 90.0 or east - west > 361.0 or west < -361.0 or east > 541.0:
        message = (
            f"{path} names no CRS, and its nodes from {west:g}, {south:g} to {east:g}, {north:g} are no "
            "longitudes and latitudes. Name a geoid grid over longitude and latitude, in degrees."
        )
        raise InputError(message)
    name = PurePath(path).name
    note = f"{name} names no CRS: its nodes are taken to lie over longitude and latitude in degrees."
    return None, _vertical(dataset), (note,)


def _vertical(dataset: Dataset) -> pyproj.CRS | None:
    """Return the vertical CRS that a grid in the layout of PROJ names."""
    code = dataset.tags().get("target_crs_epsg_code", "")
    try:
        crs = pyproj.CRS.from_epsg(int(code)) if code.isdigit() else None
    except CRSError:
        return None
    return crs if crs is not None and crs.is_vertical else None


def _refuse_other_contents(path: str, dataset: Dataset) -> None:
    kind = dataset.tags().get("TYPE", _GEOID)
    if kind != _GEOID:
        message = (
            f"{path} is a grid of another kind ({kind}). Name one of separations between ellipsoid and geoid."
        )
        raise InputError(message)
    unit = (dataset.units[0] or "").strip().lower()
    if unit not in _METRES:
        message = f"{path}: the separations are in “{unit}”. Convert them to metres."
        raise InputError(message)


def _rows_and_cols(layout: _Layout, area: AreaOfInterest) -> tuple[range, range]:
    """Return the rows and columns around an area; around the Earth columns go on past the rim."""
    north, south = area.north_lat_degree + _SPARE_DEG, area.south_lat_degree - _SPARE_DEG
    top = (layout.north - north) / layout.south_step
    bottom = (layout.north - south) / layout.south_step
    across = layout.east_step * (layout.cols - 1)
    start = layout.west - (360.0 - across) / 2.0
    west = start + (area.west_lon_degree - _SPARE_DEG - start) % 360.0
    width = (area.east_lon_degree - area.west_lon_degree) % 360.0 + 2 * _SPARE_DEG
    left = (west - layout.west) / layout.east_step
    right = left + width / layout.east_step
    rows = _clipped(top, bottom, layout.rows)
    if layout.around:
        return rows, range(int(np.floor(left)) - _SPARE_NODES, int(np.ceil(right)) + _SPARE_NODES + 1)
    return rows, _clipped(left, right, layout.cols)


def _clipped(low: float, high: float, count: int) -> range:
    """Return at least two neighbouring numbers around an interval, from 0 to count - 1."""
    first = min(max(int(np.floor(low)) - _SPARE_NODES, 0), count - 2)
    last = max(min(int(np.ceil(high)) + _SPARE_NODES, count - 1), first + 1)
    return range(first, last + 1)


def _nodes(path: str, dataset: Dataset, layout: _Layout, rows: range, cols: range) -> FloatArray:
    """Return the separations, from north to south; NaN where there is none."""
    south_up = dataset.transform.e > 0
    window_rows = (layout.rows - rows.stop, layout.rows - rows.start) if south_up else (rows.start, rows.stop)
    pieces = []
    for first, last in _runs(cols, layout.around or layout.cols):
        piece = dataset.read(1, window=(window_rows, (first, last)), masked=True).astype(float)
        pieces.append(np.ma.filled(piece, np.nan))
    values = np.hstack(pieces) * dataset.scales[0] + dataset.offsets[0]
    nodes: FloatArray = values[::-1] if south_up else values
    largest = float(np.nanmax(np.abs(nodes), initial=0.0))
    if largest >= _LARGEST_M:
        message = (
            f"{path} holds {largest:.0f} m around the site: no separation of the geoid is larger than "
            f"{_LARGEST_M:.0f} m. Name a geoid grid, not a raster of heights."
        )
        raise InputError(message)
    return nodes


def _runs(cols: range, count: int) -> Iterator[tuple[int, int]]:
    """Yield first and one past the last column of each piece that lies together in the file."""
    start = cols.start
    while start < cols.stop:
        first = start % count
        last = min(first + cols.stop - start, count)
        yield first, last
        start += last - first
