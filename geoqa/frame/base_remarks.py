"""Base corrections that look like something else: too large, a datum, an antenna, a geoid."""

from collections.abc import Iterator

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.datums import same_datum
from geoqa.frame.grids import area_around, covers, network, offered
from geoqa.frame.legs import Leg
from geoqa.frame.operations import change_m
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import BaseCorrection
from geoqa.records.settings import Limits

# Receiver makers' guides: a base that is 10 m off falsifies a vector by 1 part in a million of its length at
# the most; textbooks give half of that (from memory). One tenth is printed: 1e-7 a metre.
LARGE_M, REFUSED_M = 10.0, 100.0
ERROR_PER_METRE = 1e-7

# Common practice: an antenna stands this high above its mark, and a mark is known better than this in plan.
_ANTENNA_M, _PLAN_M = (1.0, 2.2), 0.05

# How near a correction has to come to the difference of two frames to be named after it, each axis.
_ALIKE_M = 0.10
# Realisations that are nearer to each other than this are named together.
_ONE_FRAME_M = 0.02
# Differences below this are lost in the correction of an ordinary autonomous position.
_TELLING_M = 0.25

# Geographic CRSs with height; the global frame of precise point positioning, and those that surveys are in.
_GLOBAL = "EPSG:9989"
_NATIONAL = {
    "NAD83(2011)": "EPSG:6319",
    "NAD83(CSRS)v8": "EPSG:10413",
    "NAD83(CSRS)v7": "EPSG:8254",
    "ETRF2000": "EPSG:7931",
    "ETRF2014": "EPSG:8403",
    "GDA2020": "EPSG:7843",
    "GDA94": "EPSG:4939",
}
# Epochs that are tried where none is given.
_YEARS = tuple(float(year) for year in range(2000, 2041, 2))

# The geoid lies between 107 m below and 85 m above the ellipsoid (EGM2008, NGA); near zero it is not telling.
_GEOID_M = (10.0, 107.0)


def refuse_or_warn(
    correction: BaseCorrection, key: str, place: FloatArray, limits: Limits
) -> tuple[str, ...]:
    """Return warnings on a correction that is large, or looks like the trace of a mistake.

    Parameters
    ----------
    key
        Its table in the settings.
    place : array, shape (1, 3)
        Longitude, latitude, height of the base.

    Raises
    ------
    FrameError
        When it is longer than 100 m and the settings do not allow that.
    """
    length, told = correction.distance_m, tuple(_likenesses(correction, key, place))
    if length > REFUSED_M and not limits.allow_large_base_shift:
        message = (
            f"{key}: the precise position lies {length:.1f} m from the assumed one ({words(correction)}), "
            "further than a base that was set up by hand is "
            f"off.{''.join(f' {sentence}' for sentence in told)} Mend the positions, or set "
            "limits.allow_large_base_shift if it is really so."
        )
        raise FrameError(message)
    return told


def words(correction: BaseCorrection) -> str:
    """Return the correction as east, north and up, for messages."""
    east, north, up = correction.shift_enu_m
    return f"{east:+.3f} m east, {north:+.3f} m north, {up:+.3f} m up".replace("-", "−")


def extra_error(correction: BaseCorrection, furthest_m: float) -> str | None:
    """Return a sentence on the error that a large correction leaves in the vectors, or None.

    Parameters
    ----------
    furthest_m
        Distance from the base to the point that is furthest from it.
    """
    length = correction.distance_m
    if length <= LARGE_M:
        return None
    error_mm = 1000.0 * ERROR_PER_METRE * length * furthest_m
    return (
        f"The base was taken to stand {length:.1f} m from its true position. The vectors themselves were "
        f"computed from there: up to {error_mm:.1f} mm more error at the point {furthest_m:.0f} m away, "
        "which no correction takes out."
    )


def _likenesses(correction: BaseCorrection, key: str, place: FloatArray) -> Iterator[str]:
    east, north, up = np.abs(correction.shift_enu_m)
    if _ANTENNA_M[0] <= up <= _ANTENNA_M[1] and max(east, north) < _PLAN_M:
        yield (
            f"{key}: the correction is {words(correction)}: nearly all height, and as much as an antenna "
            "stands above its mark. Is one position that of the mark and the other that of the antenna? "
            f"Then say so with {key}.reference."
        )
    elif _GEOID_M[0] <= up <= _GEOID_M[1] and np.hypot(east, north) < _GEOID_M[0]:
        yield (
            f"{key}: the correction is {words(correction)}: much height and little plan, as where one height "
            "is above the ellipsoid and the other above the geoid. Give both above the ellipsoid."
        )
    frames = _frames_alike(correction, place)
    if frames is not None:
        yield (
            f"{key}: the correction ({words(correction)}) looks like the difference between {frames}. Is one "
            f"of the positions in the other frame? Then say so with {key}.assumed.crs or {key}.precise.crs."
        )


def _frames_alike(correction: BaseCorrection, place: FloatArray) -> str | None:
    """Return names and difference of the frames whose difference the correction resembles, or None."""
    years = _YEARS if correction.epoch is None else (correction.epoch,)
    alike: list[tuple[float, str, float, FloatArray]] = []
    for name, vectors in _frame_vectors(place, years).items():
        for signed in (vectors, -vectors):
            off = np.abs(signed - correction.shift_enu_m).max(axis=1)
            row = int(off.argmin())
            if off[row] <= _ALIKE_M and np.linalg.norm(vectors[row]) > _TELLING_M:
                alike.append((float(off[row]), name, years[row], signed[row]))
    if not alike:
        return None
    nearest, _, year, vector = min(alike, key=lambda item: item[0])
    names = " or ".join(name for off, name, _, _ in alike if off <= nearest + _ONE_FRAME_M)
    east, north, up = vector
    here = f"{east:+.2f}, {north:+.2f}, {up:+.2f} m here".replace("-", "−")
    return f"ITRF2020 and {names} ({here} at epoch {year:g})"


def _frame_vectors(place: FloatArray, years: tuple[float, ...]) -> dict[str, FloatArray]:
    """Return national minus global frame, east, north, up, one row a year, for the frames used there."""
    area = area_around(place)
    source = pyproj.CRS(_GLOBAL)
    vectors: dict[str, FloatArray] = {}
    with network(active=False):
        for name, code in _NATIONAL.items():
            target = pyproj.CRS(code)
            if same_datum(source, target) or not _used_at(target, place):
                continue
            known = [item for item in offered(source, target, area).transformers if item.accuracy >= 0]
            if not known or not covers(known[0], area):
                continue
            leg = Leg(known[0])
            vectors[name] = np.concatenate([change_m(place, leg.apply(place, year)) for year in years])
    return {name: values for name, values in vectors.items() if np.isfinite(values).all()}


def _used_at(frame: pyproj.CRS, place: FloatArray) -> bool:
    use = frame.area_of_use
    longitude, latitude = place[0, :2]
    if use is None or not use.south <= latitude <= use.north:
        return False
    return bool((longitude - use.west) % 360.0 <= (use.east - use.west) % 360.0)
