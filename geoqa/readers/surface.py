"""Heights of the elevation raster at points, and how the surface lies around them."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import InputError
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.numerics.bilinear import between_centres, bilinear, lower_cells
from geoqa.numerics.cells import Cells
from geoqa.numerics.tiling import Visit, visits
from geoqa.progress import counted
from geoqa.readers._dataset import Source
from geoqa.readers._handles import Handles, opened_handles
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
    nothing_beside = np.empty((len(row_col), 0, 2))
    return read_surface_beside(info, row_col, nothing_beside, value_unit_m=value_unit_m, sought=sought)[0]


def read_surface_beside(
    info: RasterInfo, row_col: FloatArray, beside: FloatArray, *, value_unit_m: float, sought: BoolArray
) -> tuple[SurfaceSamples, FloatArray]:
    """Return what `read_surface` returns, and the bilinear heights at further places beside each point.

    Both come from one pass over the file.

    Parameters
    ----------
    beside : array, shape (n, k, 2)
        Row, col of the k places that belong to each point.

    Returns
    -------
    samples
        As of `read_surface`.
    heights : array, shape (n, k)
        Metres; NaN where four cells with data do not surround the place, and at all places of a point that is
        not sought or lies outside the raster or in its outer half cell.
    """
    places = np.asarray(row_col, dtype=np.float64).reshape(-1, 2)
    outcomes = outcomes_by_place(places, info.shape, np.asarray(sought, dtype=bool))
    asked = np.flatnonzero(outcomes == Outcome.SAMPLED)
    measured = np.full((len(places), 5), np.nan)
    further = np.full(beside.shape[:2], np.nan)
    if len(asked):
        around = beside[asked].reshape(-1, 2)
        inside = between_centres(around, info.shape)
        found = _read_numbers(info, places[asked], around[inside])
        outcomes[asked] = outcomes_by_corners(found.corners, found.nodata)
        planes = found.planes()
        columns = [found.heights(), planes.gradient, planes.roughness, planes.relief]
        measured[asked] = np.column_stack(columns) * value_unit_m
        heights = np.full(len(around), np.nan)
        heights[inside] = found.heights_beside() * value_unit_m
        further[asked] = heights.reshape(len(asked), -1)
    statuses, reasons = statuses_and_reasons(outcomes)
    height, gradient, roughness, relief = np.split(measured, [1, 3, 4], axis=1)
    samples = SurfaceSamples(statuses, reasons, height[:, 0], gradient, roughness[:, 0], relief[:, 0])
    return samples, further


@dataclass(frozen=True, eq=False)
class _Numbers:
    """The numbers of the file around n points, NaN where masked or beyond the raster.

    Attributes
    ----------
    corners : array, shape (n, 4)
        In the four cells around each point.
    shares : array, shape (n, 2)
        Of the way between the corners.
    corners_beside, shares_beside : arrays, shape (m, 4) and (m, 2)
        The same of the places beside the points.
    around : array, shape (n, cells), single precision
        In the cells that the plane is fitted to.
    window
        Of the plane; None where cells have no size in metres.
    scale, offset
        A height is number × scale + offset, in the unit of the heights.
    """

    corners: NDArray[np.floating[Any]]
    shares: FloatArray
    corners_beside: NDArray[np.floating[Any]]
    shares_beside: FloatArray
    around: NDArray[np.floating[Any]]
    window: PlaneWindow | None
    nodata: float | None
    scale: float
    offset: float

    def heights(self) -> FloatArray:
        """Return the heights between the corners, NaN where one is missing; in the file's unit."""
        return self._between(self.corners, self.shares)

    def heights_beside(self) -> FloatArray:
        """Return the same at the places beside the points."""
        return self._between(self.corners_beside, self.shares_beside)

    def _between(self, corners: NDArray[np.floating[Any]], shares: FloatArray) -> FloatArray:
        if not len(corners):
            return np.empty(0)
        there = np.where(missing_heights(corners, self.nodata), np.nan, corners)
        return bilinear(there, shares) * self.scale + self.offset

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


def _read_numbers(info: RasterInfo, places: FloatArray, beside: FloatArray) -> _Numbers:
    """Return the numbers around points, and around m places beside them; four cell centres surround all."""
    window = plane_window(info.cell_axes_m) if np.isfinite(info.cell_axes_m).all() else None
    first, shares = lower_cells(places, info.shape)
    first_beside, shares_beside = lower_cells(beside, info.shape)
    corners, corners_beside = (
        Cells.empty(item, _CORNERS, _CORNERS, np.float64) for item in (first, first_beside)
    )
    collected = [corners]
    if window is not None:
        cells: IntArray = np.floor(places).astype(np.int64)
        collected.append(Cells.empty(cells, window.row_offsets, window.col_offsets, np.float32))
    with opened_handles(info, most_bands=1) as handles:
        source = handles.first
        if source.picture:
            message = f"{info.path} is a picture in red, green and blue. Name the raster of heights."
            raise InputError(message)
        _fill(handles, info, collected, corners_beside)
    around, nodata = collected[-1].numbers, source.nodata[0]
    at_points, at_beside = (corners.numbers, shares), (corners_beside.numbers, shares_beside)
    return _Numbers(*at_points, *at_beside, around, window, nodata, source.scale, source.offset)


def _fill(handles: Handles, info: RasterInfo, at_points: list[Cells], beside: Cells) -> None:
    """Fill in cells from the file, each block decoded once."""
    # The cells of a plane come last and reach around the corners.
    at_point = at_points[-1].windows
    wanted = clipped(np.vstack([at_point, beside.windows]), info.shape)
    with handles.first.reading():
        batches = list(handles.batches(visits(wanted, reading_tile(info))))
        for batch in counted(batches, len(batches), "Blocks of heights read"):
            found = handles.read([visit.window for visit in batch], Source.read)
            for visit, (values, valid) in zip(batch, found, strict=True):
                numbers = values[0] if valid is None else np.where(valid, values[0], np.nan)
                of_points = np.searchsorted(visit.members, len(at_point))
                for item in at_points:
                    item.fill_in(numbers, Visit(visit.window, visit.members[:of_points]))
                if of_points < len(visit.members):
                    of_beside = visit.members[of_points:] - len(at_point)
                    beside.fill_in(numbers, Visit(visit.window, of_beside))
