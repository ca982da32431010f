"""Points: as surveyed, and as brought into the common frame of the products."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Any, Self

import numpy as np
import pyproj

from geoqa.numerics.arrays import FloatArray, IntArray, frozen
from geoqa.records.settings import SiteGrid
from geoqa.units import LinearUnit

# Further column of points at the ends of vectors: geocentric coordinates that the vector starts from, metres.
VECTOR_START = "vector_start"


class Role(StrEnum):
    """What a point is for."""

    CHECK = "check"
    CONTROL = "control"
    MARK = "mark"
    UNUSED = "unused"


class FixType(StrEnum):
    """How the GNSS receiver solved the carrier-phase ambiguities."""

    FIXED = "fixed"
    FLOAT = "float"
    AUTONOMOUS = "autonomous"


class Cover(StrEnum):
    """What covers the ground at a point."""

    HARD = "hard"
    BARE = "bare"
    VEGETATED = "vegetated"


@dataclass(frozen=True, eq=False)
class SurveyPoints:
    """Points as read from one file, in the file's own coordinates and units.

    Attributes
    ----------
    ids
        Names of the points, as text. A name that stands several times is several occupations.
    coordinates : array, shape (n, 3)
        Easting or longitude, northing or latitude, height, in the units of the file
        (degrees where `geographic`). A missing height is NaN: a plan-only point.
    geographic
        True where the first two columns are longitude and latitude in degrees.
    roles, fixes, covers, sessions, targets
        One entry a point; None where the file does not say. A target of "none" marks a
        height-only point.
    sigma_m : array, shape (n, 3)
        Standard deviations east, north, up in metres, 1 sigma, NaN where not given.
    target_height_m : array, shape (n,)
        Height of the target above the ground, metres, 0 where not given.
    source, lines
        File and line (or feature number) of each point.
    unit, height_unit
        Units that the file itself states (in its header or CRS); None where it does not.
    crs
        CRS that the file itself carries (vector files), or None.
    ellipsoidal
        True where the format itself says that heights count from the ellipsoid.
    attributes
        Further columns kept as text: time, occupation, antenna_height, separation, description.
    notes
        Sentences for the user about how the file was understood.
    """

    ids: tuple[str, ...]
    coordinates: FloatArray
    geographic: bool
    roles: tuple[Role, ...]
    fixes: tuple[FixType | None, ...]
    covers: tuple[Cover | None, ...]
    sessions: tuple[str | None, ...]
    targets: tuple[str | None, ...]
    sigma_m: FloatArray
    target_height_m: FloatArray
    source: str
    lines: IntArray
    unit: LinearUnit | None = None
    height_unit: LinearUnit | None = None
    crs: pyproj.CRS | None = None
    ellipsoidal: bool = False
    attributes: Mapping[str, tuple[str | None, ...]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("coordinates", "sigma_m", "target_height_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        object.__setattr__(self, "lines", frozen(self.lines, int))
        object.__setattr__(self, "attributes", MappingProxyType(dict(self.attributes)))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.ids)

    def origin(self, index: int) -> str:
        """Return where a point was read, for messages: `points.csv, line 9`."""
        return f"{self.source}, line {int(self.lines[index])}"


@dataclass(frozen=True, eq=False)
class CommonFrame:
    """The frame in which products and points are compared.

    Positions in it are easting, northing, height in metres: the numbers of `crs` times the
    length of its unit. Heights are metres in `height_system`.

    Attributes
    ----------
    crs
        Horizontal CRS of the products (2D, projected).
    unit
        Unit of that CRS; positions are in metres whatever it is.
    height_system
        Vertical CRS of the elevation raster, "ellipsoidal", or "not stated".
    epoch
        Coordinate epoch, decimal year, or None.
    assumptions
        Sentences that the user must know: what was taken to be so because nothing said otherwise.
    site_grid
        Where the products, and so all positions, are in coordinates of the site: how these follow from
        those of `crs`; else None.
    """

    crs: pyproj.CRS
    unit: LinearUnit
    height_system: str
    epoch: float | None = None
    assumptions: tuple[str, ...] = ()
    site_grid: SiteGrid | None = None

    @property
    def name(self) -> str:
        """Return the name and code of the CRS, for captions; a code that only resembles it is no name."""
        authority = self.crs.to_authority(min_confidence=100)
        name = f"{self.crs.name} ({':'.join(authority)})" if authority else str(self.crs.name)
        return name if self.site_grid is None else f"site grid, scaled from {name}"


@dataclass(frozen=True, eq=False)
class CoordinateStep:
    """One operation that brought the points of a file into the common frame.

    Attributes
    ----------
    title
        In the words of the trade: "projection change", "unit", "height of the target".
    operation
        Name or definition of the operation, with its code or grid.
    accuracy_m
        Stated accuracy of the operation, metres, or None where it is exact or states none.
    change_m : array, shape (n, 3)
        What the step did to each point, east, north, up in metres; NaN where a change has no
        meaning (a change of projection).
    grids
        Files that PROJ reads for the operation.
    exact
        False where the operation is not exact though it states no accuracy.
    """

    title: str
    operation: str
    accuracy_m: float | None
    change_m: FloatArray
    grids: tuple[str, ...] = ()
    exact: bool = True

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "change_m", frozen(self.change_m))


@dataclass(frozen=True, eq=False)
class Checkpoints:
    """Points of all files in the common frame, one row a point.

    As they come from the files, an id may stand in several rows; `geoqa.survey` makes one row of them.

    Attributes
    ----------
    position_m : array, shape (n, 3)
        Easting, northing, height of the ground at the point, metres; NaN height where none.
    sigma_m : array, shape (n, 3)
        Standard deviations of the survey, metres, NaN where unknown.
    steps
        For each point the steps that brought it here, as (step, row in the step).
    survey
        The files as read; `survey_index` (n, 2) gives file number and row of each point, the first
        one where it is the mean of several.
    assumptions, messages
        Sentences: what was taken to be so because nothing said otherwise, and warnings.
    disagreeing
        Rows of the points whose occupations disagree so much that they do not count.
    """

    ids: tuple[str, ...]
    roles: tuple[Role, ...]
    fixes: tuple[FixType | None, ...]
    covers: tuple[Cover | None, ...]
    sessions: tuple[str | None, ...]
    targets: tuple[str | None, ...]
    position_m: FloatArray
    sigma_m: FloatArray
    survey: tuple[SurveyPoints, ...]
    survey_index: IntArray
    file_steps: tuple[tuple[CoordinateStep, ...], ...]
    assumptions: tuple[str, ...] = ()
    messages: tuple[str, ...] = ()
    disagreeing: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("position_m", "sigma_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        object.__setattr__(self, "survey_index", frozen(self.survey_index, int))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.ids)

    def take(self, rows: Sequence[int]) -> Self:
        """Return the points of these rows, in their order; the files stay whole."""
        named = ("ids", "roles", "fixes", "covers", "sessions", "targets")
        columns: dict[str, Any] = {name: [getattr(self, name)[row] for row in rows] for name in named}
        chosen = np.asarray(rows, dtype=int)
        return replace(
            self,
            **{name: tuple(values) for name, values in columns.items()},
            position_m=self.position_m[chosen],
            sigma_m=self.sigma_m[chosen],
            survey_index=self.survey_index[chosen],
            disagreeing=tuple(place for place, row in enumerate(rows) if row in self.disagreeing),
        )

    @property
    def grids(self) -> tuple[str, ...]:
        """Return the grids that PROJ read for any of the points, each once."""
        named = [grid for steps in self.file_steps for step in steps for grid in step.grids]
        return tuple(dict.fromkeys(named))

    def origin(self, index: int) -> str:
        """Return where a point was read: `points.csv, line 9`."""
        file, row = self.survey_index[index]
        return self.survey[int(file)].origin(int(row))

    def steps(self, index: int) -> Iterator[tuple[CoordinateStep, FloatArray]]:
        """Yield each step of a point with what it changed there, east, north, up in metres."""
        file, row = self.survey_index[index]
        for step in self.file_steps[file]:
            yield step, step.change_m[row]

    def attribute(self, name: str, index: int) -> str | None:
        """Return a further column of a point as text, or None."""
        file, row = self.survey_index[index]
        column = self.survey[file].attributes.get(name)
        return None if column is None else column[row]

    def has_attribute(self, name: str) -> bool:
        """Return whether one of the files has this further column."""
        return any(name in part.attributes for part in self.survey)
