"""The base: a position as it was given, and the correction between two of them."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pyproj

from geoqa.numerics.arrays import FloatArray, frozen
from geoqa.records.base_settings import Base


class PositionKind(StrEnum):
    """In which numbers a position is given."""

    GEOGRAPHIC = "longitude, latitude, height"
    PROJECTED = "easting, northing, height"
    GEOCENTRIC = "x, y, z"


class AppliedTo(StrEnum):
    """To which side the correction was applied, by calculation."""

    NEITHER = "neither"
    POINTS = "points"
    PRODUCTS = "products"
    BOTH = "points and products"


@dataclass(frozen=True, eq=False)
class GivenPosition:
    """A position of the base as the settings or a file give it.

    Attributes
    ----------
    key
        Where it stands in the settings, for messages: "base.precise".
    kind, numbers : array, shape (3,)
        The numbers in the order of their kind, in the unit of the CRS.
    crs
        Code or WKT, or None where nothing names it.
    epoch
        To which the numbers refer, decimal year, or None.
    on_antenna
        True where they are those of the antenna reference point, not of the mark.
    covariance_m2 : array, shape (3, 3), or None
        Along the geocentric axes for a geocentric position with `covariance_geocentric`, else east,
        north, up.
    source
        Where the numbers come from, for the history of a point.
    frame_remark
        What a file remarks of its reference frame, which no machine may rely on; or None.
    notes
        Sentences for the user.
    """

    key: str
    kind: PositionKind
    numbers: FloatArray
    crs: str | None
    epoch: float | None
    on_antenna: bool
    covariance_m2: FloatArray | None
    covariance_geocentric: bool
    source: str
    frame_remark: str | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        object.__setattr__(self, "numbers", frozen(self.numbers))
        if self.covariance_m2 is not None:
            object.__setattr__(self, "covariance_m2", frozen(self.covariance_m2))


@dataclass(frozen=True, eq=False)
class GivenBase:
    """One table [base] of the settings, and both of its positions; `key` is "base" or "base[1]"."""

    key: str
    table: Base
    assumed: GivenPosition
    precise: GivenPosition


@dataclass(frozen=True, eq=False)
class BaseCorrection:
    """By how much, and which way, everything that rests on an assumed base position is off.

    Attributes
    ----------
    session
        Of which points; None serves all.
    frame, epoch
        Geographic CRS with height, and coordinate epoch, of both positions.
    assumed_m, precise_m : array, shape (3,)
        The mark, geocentric.
    shift_enu_m : array, shape (3,)
        Precise minus assumed, east, north, up at the assumed position.
    covariance_m2 : array, shape (3, 3), or None
        Of the precise position, east, north, up; None where nothing states it.
    operation_accuracy_m, grids
        Of the operation that brought one position into the frame of the other; 0 and none where none was
        needed.
    points_use, products_use
        "assumed", "precise"; the products also "independent".
    applied_to
        To which side it is applied.
    source
        Both positions and the operation between their frames, in words.
    assumptions, messages
        Sentences: what was taken to be so because nothing said otherwise, and warnings.
    """

    session: str | None
    frame: pyproj.CRS
    epoch: float | None
    assumed_m: FloatArray
    precise_m: FloatArray
    shift_enu_m: FloatArray
    covariance_m2: FloatArray | None
    operation_accuracy_m: float
    points_use: str
    products_use: str
    source: str
    applied_to: AppliedTo = AppliedTo.NEITHER
    assumptions: tuple[str, ...] = ()
    messages: tuple[str, ...] = ()
    grids: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("assumed_m", "precise_m", "shift_enu_m", "covariance_m2"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def shift_m(self) -> FloatArray:
        """Return precise minus assumed along the geocentric axes, shape (3,)."""
        difference: FloatArray = self.precise_m - self.assumed_m
        return difference

    @property
    def distance_m(self) -> float:
        """Return the length of the shift."""
        return float(np.linalg.norm(self.shift_m))

    @property
    def sigma_m(self) -> FloatArray | None:
        """Return the standard deviations east, north, up of the precise position, or None."""
        return None if self.covariance_m2 is None else np.sqrt(np.diagonal(self.covariance_m2))

    @property
    def frame_name(self) -> str:
        """Return the frame of both positions, with its epoch."""
        return str(self.frame.name) if self.epoch is None else f"{self.frame.name} at epoch {self.epoch:g}"

    def serves(self, session: str | None) -> bool:
        """Return whether a point of this session was measured from this base."""
        return self.session is None or self.session == session
