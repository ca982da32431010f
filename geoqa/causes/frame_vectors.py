"""By how much the coordinates of one place differ between reference frames, from PROJ, at the site."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pyproj
from pyproj.exceptions import CRSError, ProjError

from geoqa.frame.geocentric import to_geocentric, to_horizon
from geoqa.numerics.arrays import FloatArray

# Frames that field software mixes up, as geographic CRSs with height: a global one, moving with no plate, and
# the plate-fixed ones of the regions. The list is ours; the operations are those of the EPSG dataset.
_PAIRS = (
    ("EPSG:9989", "EPSG:7931", "ITRF2020", "ETRF2000 (ETRS89)"),
    ("EPSG:9989", "EPSG:6319", "ITRF2020", "NAD83(2011)"),
    ("EPSG:9989", "EPSG:7843", "ITRF2020", "GDA2020"),
    ("EPSG:7843", "EPSG:4939", "GDA2020", "GDA94"),
    ("EPSG:9989", "EPSG:4959", "ITRF2020", "NZGD2000"),
)
# Where no epoch is stated: the middle of the years in which maps of drones are made.
USUAL_EPOCH = 2025.0


@dataclass(frozen=True)
class FrameVector:
    """Coordinates in the second frame minus those in the first, east, north, up in metres.

    `per_year_m` is how the vector grows with the epoch.
    """

    first: str
    second: str
    vector_m: tuple[float, float, float]
    per_year_m: tuple[float, float, float]


def frame_vectors(lon_lat_height: FloatArray, epoch: float | None) -> tuple[FrameVector, ...]:
    """Return the differences between the frames in use at a place, shape (3,): degrees, degrees, metres.

    A pair that PROJ has no operation of known accuracy for is left out.
    """
    longitude, latitude, height = (float(value) for value in lon_lat_height)
    return _vectors(round(longitude, 4), round(latitude, 4), round(height), epoch or USUAL_EPOCH)


@lru_cache(maxsize=16)
def _vectors(longitude: float, latitude: float, height: float, epoch: float) -> tuple[FrameVector, ...]:
    return tuple(_found(np.array([longitude, latitude, height]), epoch))


def _found(place: FloatArray, epoch: float) -> Iterator[FrameVector]:
    for source, target, first, second in _PAIRS:
        try:
            frame = pyproj.CRS(target)
            area = frame.area_of_use
            if area is None or not _holds(area, place):
                continue
            transformer = pyproj.Transformer.from_crs(
                source, frame, always_xy=True, allow_ballpark=False, only_best=False
            )
            now, later = (_difference(transformer, place, when, frame) for when in (epoch, epoch + 1.0))
        except (CRSError, ProjError):
            continue
        grown = later - now
        yield FrameVector(first, second, (now[0], now[1], now[2]), (grown[0], grown[1], grown[2]))


def _holds(area: Any, place: FloatArray) -> bool:
    longitude, latitude = place[:2]
    # An area across the date line has its west beyond its east.
    east_of, west_of = longitude >= area.west, longitude <= area.east
    within = (east_of or west_of) if area.west > area.east else (east_of and west_of)
    return bool(within and area.south <= latitude <= area.north)


def _difference(
    transformer: pyproj.Transformer, place: FloatArray, epoch: float, frame: pyproj.CRS
) -> FloatArray:
    longitude, latitude, height = place.tolist()
    after = np.array(transformer.transform(longitude, latitude, height, epoch, errcheck=True)[:3])
    both = to_geocentric(np.vstack([place, after]), frame)
    difference: FloatArray = to_horizon(place[None])[0] @ (both[1] - both[0])
    return difference
