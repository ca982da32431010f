"""Tracks of an invented site, and the marks that wheels leave beside them."""

from itertools import pairwise
from math import cos, pi, sin

import numpy as np
from scipy.interpolate import CubicSpline

from geoqa.demo.noise import Field
from geoqa.demo.site import Grid, Place, Site
from geoqa.demo.terrain import pit_distance
from geoqa.numerics.arrays import FloatArray

_HALF_GAUGE_M = 0.95
_RUT_M = 0.38
_PIECE_M = 2.5


def wear_of(site: Site) -> Field:
    """Return how much wheels have worn each cell: 0 untouched, 1 in the ruts of a bare track."""
    wear = np.zeros(site.grid.shape, np.float32)
    for track in site.tracks:
        window, out = _distance_from_line(site.grid, track.places, track.width_m / 2 + 1.0)
        verge = np.clip((track.width_m / 2 - out) / 0.6 + 0.5, 0.0, 1.0)
        middle = (0.25 if track.middle_grass else 0.88) * verge
        wear[window] = np.maximum(wear[window], track.wear * np.maximum(middle, _ruts(out)))
    return wear


def tyre_marks(site: Site, rng: np.random.Generator) -> Field:
    """Return faint marks, 0 to 1, of machines that drove about the floor of the pit."""
    marks = np.zeros(site.grid.shape, np.float32)
    for _ in range(site.tyre_marks):
        strength = rng.uniform(0.3, 1.0)
        window, out = _distance_from_line(site.grid, _stray_drive(site, rng), 2.0)
        marks[window] = np.maximum(marks[window], strength * _ruts(out))
    return marks


def _distance_from_line(
    grid: Grid, places: tuple[Place, ...], reach_m: float
) -> tuple[tuple[slice, slice], FloatArray]:
    """Return a window around a smooth line and the distance of its cells; infinite beyond the reach."""
    window = grid.around(places, reach_m + 5.0)
    rows, cols = window
    out = np.full((rows.stop - rows.start, cols.stop - cols.start), np.inf)
    for start, end in _pieces(places):
        near = grid.around((start, end), reach_m)
        inner = tuple(
            slice(max(part.start - whole.start, 0), max(part.stop - whole.start, 0))
            for part, whole in zip(near, window, strict=True)
        )
        here = _distance(start, end, *grid.places(near))
        if here.shape == out[inner].shape:
            out[inner] = np.minimum(out[inner], here)
    return window, out


def _stray_drive(site: Site, rng: np.random.Generator) -> tuple[Place, ...]:
    """Return a gently winding line that starts on the floor of the pit and stays off its banks."""
    east, north = (rng.uniform(0.1, 0.9) * length for length in site.size_m)
    heading, bend = rng.uniform(0, 2 * pi), 0.0
    places = [(east, north)]
    for _ in range(int(rng.integers(6, 16))):
        bend = 0.8 * bend + rng.normal(0.0, 0.10)
        heading += bend
        east, north = east + 4.0 * sin(heading), north + 4.0 * cos(heading)
        if site.pit is not None and _inward_m(site, east, north) < 20.0:
            break
        places.append((east, north))
    return tuple(places)


def _inward_m(site: Site, east: float, north: float) -> float:
    if site.pit is None:
        return 0.0
    return float(pit_distance(site.pit, np.array(east), np.array(north))[0])


def _pieces(places: tuple[Place, ...]) -> list[tuple[Place, Place]]:
    """Return a smooth curve through the places as short straight pieces."""
    if len(places) < 2:
        return []
    corners = np.array(places)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    curve = CubicSpline(along, corners)(np.linspace(0.0, along[-1], int(along[-1] / _PIECE_M) + 2))
    points = [(float(east), float(north)) for east, north in curve]
    return list(pairwise(points))


def _distance(start: Place, end: Place, east: FloatArray, north: FloatArray) -> FloatArray:
    """Return the distance of each place from a straight piece, in metres."""
    step_east, step_north = end[0] - start[0], end[1] - start[1]
    share = ((east - start[0]) * step_east + (north - start[1]) * step_north) / (step_east**2 + step_north**2)
    share = np.clip(share, 0.0, 1.0)
    out: FloatArray = np.hypot(east - start[0] - share * step_east, north - start[1] - share * step_north)
    return out


def _ruts(out: FloatArray) -> FloatArray:
    ruts: FloatArray = np.exp(-(((out - _HALF_GAUGE_M) / _RUT_M) ** 2))
    return ruts
