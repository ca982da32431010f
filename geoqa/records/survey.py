"""How well the survey itself holds: occupations of each point, flags with reasons, known marks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from geoqa.numerics.arrays import FloatArray, IntArray, frozen

NO_KNOWN_MARK = "No known mark was measured: absolute accuracy is not proved by this survey."


class SurveyFlag(StrEnum):
    """What was noticed about the survey of a point; only `DISAGREE` and weak fixes decide about use."""

    DISAGREE = "occupations disagree"
    KEPT = "kept although its occupations disagree"
    DIFFER = "occupations differ"
    AUTONOMOUS_FIX = "autonomous fix"
    FLOAT_FIX = "float fix"
    WEAK_SHOTS = "weak shots left out"
    NOT_TOLD_APART = "occupations not told apart"
    SINGLE_OCCUPATION = "single occupation"
    OPTIMISTIC = "optimistic standard deviation"
    ANTENNA_HEIGHTS = "antenna heights differ"
    ALIKE = "id nearly like another"


@dataclass(frozen=True, eq=False)
class Occupation:
    """One occupation of a point that has several shots.

    Attributes
    ----------
    session, label, begin
        Session, text of the column `occupation` and earliest time as the files give them, or None.
    origins
        File and line of each shot in it.
    from_mean_m : array, shape (3,)
        Mean of its shots minus the position of the point, east, north, up; NaN without a height.
    sigma_m : array, shape (3,)
        Standard deviation that it enters the mean with; NaN where the files give none.
    """

    session: str | None
    label: str | None
    begin: str | None
    origins: tuple[str, ...]
    from_mean_m: FloatArray
    sigma_m: FloatArray

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("from_mean_m", "sigma_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


class TieVerdict(StrEnum):
    """What a known mark says of the survey."""

    WITHIN = "within tolerance"
    BEYOND = "beyond tolerance"
    UNDECIDED = "not decided"


@dataclass(frozen=True, eq=False)
class Tie:
    """A known mark that was measured.

    Attributes
    ----------
    known_origin, measured_origin
        File and line of the published position, and of the first shot.
    difference_m : array, shape (3,)
        Measured minus known position, east, north, up; NaN where either has no height.
    tolerance_m : array, shape (3,)
        1.96 standard deviations of the difference, or the limit for a warning where one of the two
        standard deviations is unknown.
    """

    id: str
    known_origin: str
    measured_origin: str
    difference_m: FloatArray
    tolerance_m: FloatArray
    verdict: TieVerdict
    sentence: str

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("difference_m", "tolerance_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, eq=False)
class SurveyQuality:
    """The survey of the points, one row a point in the order of the checkpoints.

    Attributes
    ----------
    occupations, shots : array of int, shape (n,)
        How many occupations, and how many rows of the files, the position is the mean of.
    spread_m : array, shape (n, 3)
        Largest difference between the occupations of a point, east, north, up; between its shots
        where the occupations are not told apart. NaN for one occupation or one shot.
    sigma_stated_m : array, shape (n, 3)
        Standard deviation of the position by what the files state alone, without the floor: what may be
        taken off a residual, where the floor, which is an assumption, may only be added.
    sigma_reported_m : array, shape (n, 3)
        Median of the standard deviations that the files give for its shots, before the floor.
    flags
        For each point what was noticed, in the order of `SurveyFlag`.
    reasons
        Row of a point → one sentence for each flag that says more than its name.
    each
        Row of a point with several shots → its occupations, the earliest row first.
    ties, statement
        Known marks, and what they say of the absolute position.
    """

    occupations: IntArray
    shots: IntArray
    spread_m: FloatArray
    sigma_stated_m: FloatArray
    sigma_reported_m: FloatArray
    flags: tuple[tuple[SurveyFlag, ...], ...]
    reasons: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    each: Mapping[int, tuple[Occupation, ...]] = field(default_factory=dict)
    ties: tuple[Tie, ...] = ()
    statement: str = NO_KNOWN_MARK

    def __post_init__(self) -> None:
        """Make arrays and mappings read-only."""
        for name in ("occupations", "shots"):
            object.__setattr__(self, name, frozen(getattr(self, name), int))
        for name in ("spread_m", "sigma_stated_m", "sigma_reported_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        for name in ("reasons", "each"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.flags)

    def is_remarkable(self, row: int) -> bool:
        """Return whether there is more to say of a point than that it was shot once."""
        return int(self.shots[row]) > 1 or bool(set(self.flags[row]) - {SurveyFlag.SINGLE_OCCUPATION})
