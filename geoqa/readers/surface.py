"""Heights of the elevation raster at points, and how the surface lies around them."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import InputError
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.numerics.bilinear import bilinear, lower_cells
from geoqa.numerics.cells import Cells
from geoqa.numerics.tiling import visits
from geoqa.progress import counted
from geoqa.readers._dataset import Source
from geoqa.readers._handles import opened_handles
from geoqa.readers.blocks import clipped, reading_tile
from geoqa.records.measurements import RasterInfo, SurfaceSamples
from geoqa.surface.plane import Planes, PlaneWindow, fit_planes, plane_window
from geoqa.surface.sample import (
    Outcome,
    missing_heights,
    outcomes_by_corners,
    outcomes_by_place,
    statuses_and_reasons,
)

_CORNERS = np.array([0, 1])
# Points whose planes are fitted together: as many as keep the working memory small.
_TOGETHER = 8192


def read_surface(
    info: RasterInfo, row_col: FloatArray, *, value_unit_m: float, sought: BoolArray
) -> SurfaceSamples:
    """Return height, slope, roughness and relief of the elevation raster at points, in metres.

    Each block of the file is decoded once, in the order of the file, whatever the order of the points;
    memory grows with the points, not with the raster.

    Parameters
    ----------
    info
        The elevation raster; its first band holds the heights. Scale and offset of the band are applied.
    row_col : array, shape (n, 2)
        Places from the corner of the upper-left cell; cell centres at .5. NaN where there is none.
    value_unit_m
        Length in metres of the unit of the heights.
    sought : array of bool, shape (n,)
        False where no height is wanted.

    Returns
    -------
    SurfaceSamples
        Bilinear between four cell centres; NaN, with status and reason, where one of the four holds no data.
        Slope, roughness and relief of the plane through the cells around the point (`fit_planes`); NaN
        where the size of the cells in metres is not known.

    Raises
    ------
    InputError
        Where the file cannot be decoded, or is a picture.
    """
    places = np.asarray(row_col, dtype=np.float64).reshape(-1, 2)
    outcomes = outcomes_by_place(places, info.shape, np.asarray(sought, dtype=bool))
    asked = np.flatnonzero(outcomes == Outcome.SAMPLED)
    measured = np.full((len(places), 5), np.nan)
    if len(asked):
        found = _read_numbers(info, places[asked])
        outcomes[asked] = outcomes_by_corners(found.corners, found.nodata)
        planes = found.planes()
        columns = [found.heights(), planes.gradient, planes.roughness, planes.relief]
        measured[asked] = np.column_stack(columns) * value_unit_m
    statuses, reasons = statuses_and_reasons(outcomes)
    height, gradient, roughness, relief = np.split(measured, [1, 3, 4], axis=1)
    return SurfaceSamples(statuses, reasons, height[:, 0], gradient, roughness[:, 0], relief[:, 0])


@dataclass(frozen=True, eq=False)
class _Numbers:
    """The numbers of the file around n points, NaN where masked or beyond the raster.

    Attributes
    ----------
    corners : array, shape (n, 4)
        In the four cells around each point.
    shares : array, shape (n, 2)
        Of the way between the corners.
    around : array, shape (n, cells), single precision
        In the cells that the plane is fitted to.
    window
        Of the plane; None where cells have no size in metres.
    scale, offset
        A height is number × scale + offset, in the unit of the heights.
    """

    corners: NDArray[np.floating[Any]]
    shares: FloatArray
    around: NDArray[np.floating[Any]]
    window: PlaneWindow | None
    nodata: float | None
    scale: float
    offset: float

    def heights(self) -> FloatArray:
        """Return the heights between the corners, NaN where one is missing; in the file's unit."""
        corners = np.where(missing_heights(self.corners, self.nodata), np.nan, self.corners)
        return bilinear(corners, self.shares) * self.scale + self.offset

    def planes(self) -> Planes:
        """Return the planes around the points, in the file's unit of height; NaN without a window."""
        fitted = np.full((len(self.around), 4), np.nan)
        if self.window is not None:
            for start in range(0, len(fitted), _TOGETHER):
                part = slice(start, start + _TOGETHER)
                cells = self.around[part]
                cells[missing_heights(cells, self.nodata)] = np.nan
                planes = fit_planes(cells, self.window)
                fitted[part] = np.column_stack([planes.gradient, planes.roughness, planes.relief])
        fitted *= np.array([self.scale, self.scale, abs(self.scale), abs(self.scale)])
        return Planes(fitted[:, :2], fitted[:, 2], fitted[:, 3])


def _read_numbers(info: RasterInfo, places: FloatArray) -> _Numbers:
    """Return the numbers around places that four cell centres surround."""
    window = plane_window(info.cell_axes_m) if np.isfinite(info.cell_axes_m).all() else None
    first, shares = lower_cells(places, info.shape)
    corners = Cells.empty(first, _CORNERS, _CORNERS, np.float64)
    collected = [corners]
    if window is not None:
        cells: IntArray = np.floor(places).astype(np.int64)
        collected.append(Cells.empty(cells, window.row_offsets, window.col_offsets, np.float32))
    with opened_handles(info, most_bands=1) as handles:
        source = handles.first
        if source.picture:
            message = f"{info.path} is a picture in red, green and blue. Name the raster of heights."
            raise InputError(message)
        # The cells of a plane come last and reach around the corners.
        wanted = clipped(collected[-1].windows, info.shape)
        with source.reading():
            batches = list(handles.batches(visits(wanted, reading_tile(info))))
            for batch in counted(batches, len(batches), "Blocks of heights read"):
                found = handles.read([visit.window for visit in batch], Source.read)
                for visit, (values, valid) in zip(batch, found, strict=True):
                    numbers = values[0] if valid is None else np.where(valid, values[0], np.nan)
                    for item in collected:
                        item.fill_in(numbers, visit)
    around, nodata = collected[-1].numbers, source.nodata[0]
    return _Numbers(corners.numbers, shares, around, window, nodata, source.scale, source.offset)
