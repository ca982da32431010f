"""Seek targets around their surveyed places, and where few are found, one common shift away."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np

from geoqa.errors import InputError
from geoqa.frame.rasters import to_pixels
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.numerics.cell_shape import cell_stretch
from geoqa.progress import counted
from geoqa.readers.blocks import read_patches
from geoqa.records.base import BaseCorrection
from geoqa.records.measurements import RasterInfo, RasterPatch, TargetFix, TargetSearch, TargetStatus
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.settings import Targets
from geoqa.targets import locate, window_half_px
from geoqa.wide_search import REACH_M, shift_px

NO_TARGET = "none"
MARKED_BY_HAND = "marked by hand"
COMMON_SHIFT = "common shift"
_PLACED = {TargetStatus.FOUND, TargetStatus.SUSPECT}

# A window of twice as many rows and columns takes some hundred megabytes while it is searched.
_LARGEST_PX = 2000

# Windows kept for pictures: a person judges no more, and memory stays bounded.
_MOST_PATCHES = 200


def seek(
    fixes: list[TargetFix],
    kinds: Sequence[str],
    checkpoints: Checkpoints,
    orthomosaic: RasterInfo,
    frame: CommonFrame,
    targets: Targets,
    bases: Sequence[BaseCorrection],
) -> tuple[RasterPatch | None, ...]:
    """Fill in the fixes of the points that are sought and return their windows."""
    patches: list[RasterPatch | None] = [None] * len(fixes)
    places = to_pixels(checkpoints.position_m[:, :2], frame, orthomosaic)
    seekable = np.array([kind != NO_TARGET for kind in kinds], dtype=bool)
    on_map = within(places, orthomosaic)
    for row in np.flatnonzero(seekable & ~on_map).tolist():
        fixes[row] = TargetFix(TargetStatus.OUTSIDE, reason="the point lies outside the orthomosaic")
    sought = np.flatnonzero(seekable & on_map)
    radius_px = targets.search_radius_m / orthomosaic.cell_size_m
    size_px = None if targets.size_m is None else targets.size_m / orthomosaic.cell_size_m
    _refuse_boundless(orthomosaic, targets, radius_px, size_px)
    here = TargetSearch(0.0, 0.0, radius_px, size_px, cell_stretch(orthomosaic.cell_axes_m))
    searches = {int(row): _moved(here, places[row]) for row in sought}
    _seek_at(searches, kinds, orthomosaic, fixes, patches)
    if 2 * sum(fixes[row].status in _PLACED for row in searches) >= len(searches):
        return tuple(patches)
    open_rows = [row for row in np.flatnonzero(seekable).tolist() if kinds[row] != MARKED_BY_HAND]
    reach_m = max([REACH_M, *(float(np.hypot(*base.shift_enu_m[:2])) for base in bases)])
    open_kinds = [kinds[row] for row in open_rows]
    shift = shift_px(places[open_rows], open_kinds, orthomosaic, size_px=size_px, reach_m=reach_m)
    if shift is not None and np.hypot(*(here.stretch @ shift)) > radius_px:
        on_map = within(places + shift, orthomosaic)
        moved = {row: _moved(here, places[row] + shift) for row in open_rows if on_map[row]}
        _seek_shifted(moved, kinds, orthomosaic, fixes, patches)
    return tuple(patches)


def _seek_shifted(
    searches: Mapping[int, TargetSearch],
    kinds: Sequence[str],
    orthomosaic: RasterInfo,
    fixes: list[TargetFix],
    patches: list[RasterPatch | None],
) -> None:
    """Fill in the fixes where all targets are shifted alike, each with the flag that says so."""
    before = list(fixes)
    _seek_at(searches, kinds, orthomosaic, fixes, patches)
    for row in searches:
        if fixes[row].status in _PLACED:
            fixes[row] = replace(fixes[row], flags=(*fixes[row].flags, COMMON_SHIFT))
        elif before[row].status is TargetStatus.OUTSIDE:
            fixes[row] = before[row]


def _moved(search: TargetSearch, place: FloatArray) -> TargetSearch:
    return replace(search, row=float(place[0]), col=float(place[1]))


def _seek_at(
    searches: Mapping[int, TargetSearch],
    kinds: Sequence[str],
    orthomosaic: RasterInfo,
    fixes: list[TargetFix],
    patches: list[RasterPatch | None],
) -> None:
    """Fill in the fixes and windows of the rows that are sought."""
    if not searches:
        return
    rows = list(searches)
    first = searches[rows[0]]
    half = window_half_px(first.radius_px, first.size_px, first.stretch)
    places = np.array([(searches[row].row, searches[row].col) for row in rows])
    for index, patch in counted(
        read_patches(orthomosaic, _windows(places, half)), len(rows), "Targets looked for"
    ):
        row = rows[index]
        if kinds[row] != MARKED_BY_HAND:
            fixes[row] = locate(patch, searches[row], kinds[row])
        patches[row] = patch if index < _MOST_PATCHES else None


def _refuse_boundless(
    orthomosaic: RasterInfo, targets: Targets, radius_px: float, size_px: float | None
) -> None:
    """Raise `InputError` where a target is smaller than a pixel, or a window larger than memory can bear."""
    cell = f"The pixels of {PurePath(orthomosaic.path).name} are {orthomosaic.cell_size_m:.3g} m wide"
    if size_px is not None and size_px < 1:
        message = f"{cell}: a target of targets.size_m = {targets.size_m:g} does not show. Is that metres?"
        raise InputError(message)
    if radius_px > _LARGEST_PX or (size_px or 0) > _LARGEST_PX:
        message = (
            f"{cell}: targets.search_radius_m = {targets.search_radius_m:g} or targets.size_m is more than "
            f"{_LARGEST_PX} of them. Set them to what the site needs; search where the targets are."
        )
        raise InputError(message)


def within(places: FloatArray, info: RasterInfo) -> BoolArray:
    """Return for each row, col, shape (n, 2), whether it lies in the raster."""
    rows, cols = info.shape
    inside: BoolArray = (places >= 0).all(axis=1) & (places[:, 0] < rows) & (places[:, 1] < cols)
    return inside


def _windows(places: FloatArray, half: int) -> IntArray:
    corners = np.floor(places).astype(int) - half
    sides = np.full_like(corners, 2 * half + 1)
    return np.hstack([corners, sides])
