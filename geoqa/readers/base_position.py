"""The positions of the base: numbers of the settings, or stations in SINEX files."""

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.sinex import SinexStation, read_sinex
from geoqa.records.base import GivenBase, GivenPosition, PositionKind
from geoqa.records.base_settings import ANTENNA, Base, Position
from geoqa.records.settings import Settings

# Two-sided 95 % of a normal distribution in standard deviations.
_SIGMAS_95 = 1.959963984540054
# Epochs nearer than this count as one, in years.
_ONE_EPOCH = 0.01
_MARKER_M = 1e-4


def read_bases(settings: Settings) -> tuple[GivenBase, ...]:
    """Return both positions of every base of the settings, as they are given.

    Raises
    ------
    InputError
        Where a SINEX file cannot be read or does not say which station is meant.
    """
    several = len(settings.base) > 1
    return tuple(
        given_base(table, f"base[{number}]" if several else "base", settings.file)
        for number, table in enumerate(settings.base)
    )


def sinex_files(settings: Settings) -> Iterator[str]:
    """Yield the paths of the SINEX files that the settings name, each once."""
    positions = [position for base in settings.base for position in (base.assumed, base.precise)]
    names = [position.sinex for position in positions if position.sinex is not None]
    yield from (settings.file(name) for name in dict.fromkeys(names))


def given_base(table: Base, key: str, located: Callable[[str], str]) -> GivenBase:
    """Return one base; `located` makes a path of the settings one that opens from here."""
    assumed, precise = table.assumed, table.precise
    # What the controller was told is the mark, antenna height apart; a service may return either.
    on_antenna = {
        "assumed": assumed.reference == ANTENNA,
        "precise": (precise.reference or table.reference) == ANTENNA,
    }
    return GivenBase(
        key,
        table,
        _given(assumed, table, f"{key}.assumed", located, on_antenna=on_antenna["assumed"]),
        _given(precise, table, f"{key}.precise", located, on_antenna=on_antenna["precise"]),
    )


def _given(
    position: Position, table: Base, key: str, located: Callable[[str], str], *, on_antenna: bool
) -> GivenPosition:
    if position.sinex is not None:
        return _of_sinex(position, table, key, Path(located(position.sinex)), on_antenna=on_antenna)
    kind, numbers = _numbers(position)
    return GivenPosition(
        key=key,
        kind=kind,
        numbers=numbers,
        crs=position.crs or table.crs,
        epoch=table.epoch if position.epoch is None else position.epoch,
        on_antenna=on_antenna,
        covariance_m2=_stated_covariance(position),
        covariance_geocentric=False,
        source=key,
    )


def _numbers(position: Position) -> tuple[PositionKind, FloatArray]:
    ways = {
        PositionKind.GEOGRAPHIC: (position.longitude, position.latitude, position.height),
        PositionKind.PROJECTED: (position.easting, position.northing, position.height),
        PositionKind.GEOCENTRIC: (position.x, position.y, position.z),
    }
    kind = next(kind for kind, numbers in ways.items() if None not in numbers)
    return kind, np.array(ways[kind], dtype=float)


def _stated_covariance(position: Position) -> FloatArray | None:
    if position.sigma_m is not None:
        return np.diag(np.square(position.sigma_m))
    if position.sigma_95_m is not None:
        return np.diag(np.square(np.array(position.sigma_95_m) / _SIGMAS_95))
    return None


def _of_sinex(position: Position, table: Base, key: str, path: Path, *, on_antenna: bool) -> GivenPosition:
    station = read_sinex(path, position.site)
    up = station.antenna_up_m
    if on_antenna and up is not None and abs(up) > _MARKER_M:
        message = (
            f"{key}: {path.name} gives the position of the marker, {up:g} m below the antenna reference "
            f"point, and the settings say that it is that of the “{ANTENNA}”. Leave `reference` out."
        )
        raise InputError(message)
    epoch = _epoch_wanted(position, table, key, path.name, station)
    numbers, covariance = station.at(epoch)
    stated = _stated_covariance(position)
    moved = "" if epoch == station.epoch else f", moved from epoch {station.epoch:.3f} by its velocity"
    own = "" if stated is None else "; its standard deviations are those of the settings"
    return GivenPosition(
        key=key,
        kind=PositionKind.GEOCENTRIC,
        numbers=numbers,
        crs=position.crs or table.crs,
        epoch=epoch,
        on_antenna=on_antenna,
        covariance_m2=covariance[:3, :3] if stated is None else stated,
        covariance_geocentric=stated is None,
        source=f"{path.name}, station {station.name}{moved}{own}",
        frame_remark=station.reference_frame,
        notes=station.notes if stated is None else (),
    )


def _epoch_wanted(position: Position, table: Base, key: str, name: str, station: SinexStation) -> float:
    """Return the epoch of the settings where a velocity leads there, else that of the estimate."""
    wanted = table.epoch if position.epoch is None else position.epoch
    if wanted is None or abs(wanted - station.epoch) <= _ONE_EPOCH:
        return station.epoch
    if station.velocity_m is not None:
        return wanted
    if position.epoch is not None:
        message = (
            f"{key}: {name} gives the position of {station.name} at epoch {station.epoch:.3f} and no "
            f"velocity, so it cannot be moved to {wanted:g}. Leave {key}.epoch out, or give a position at "
            "that epoch."
        )
        raise InputError(message)
    return station.epoch
