"""The rows of the files as shots: of which point, in which occupation, in the mean or left out."""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, IntArray
from geoqa.records.points import Checkpoints, FixType, Role
from geoqa.survey.occupations import Shot, partition


@dataclass(frozen=True, eq=False)
class Shots:
    """Rows of the files, grouped.

    Attributes
    ----------
    rows
        One row a shot, ids repeated.
    point : array of int, shape (n,)
        Number of the point of each shot, in order of first appearance.
    first : array of int, shape (p,)
        For each point its first shot that is in the mean.
    in_mean : array of bool, shape (n,)
        False for a shot set unused, and for one with a weaker solution than another of the point.
    occupation : array of int, shape (n,)
        Number of the occupation of each shot in the mean, -1 for the others.
    point_of_occupation : array of int, shape (m,)
    told_apart : array of bool, shape (p,)
        False where nothing shows to which occupation the shots of a point belong.
    repeated
        Point → its rows, for those with several.
    """

    rows: Checkpoints
    point: IntArray
    first: IntArray
    in_mean: BoolArray
    occupation: IntArray
    point_of_occupation: IntArray
    told_apart: BoolArray
    repeated: dict[int, tuple[int, ...]]

    @property
    def count(self) -> int:
        """Return the number of points."""
        return len(self.first)

    @property
    def per_point(self) -> IntArray:
        """Return how many shots are in the mean of each point, shape (p,)."""
        return np.bincount(self.point[self.in_mean], minlength=self.count)

    @property
    def occupations(self) -> IntArray:
        """Return how many occupations each point has, shape (p,)."""
        return np.bincount(self.point_of_occupation, minlength=self.count)


def gather(rows: Checkpoints, gap_minutes: float) -> Shots:
    """Return the shots in the rows of all files, grouped into points and occupations."""
    numbers: dict[str, int] = {}
    point = np.array([numbers.setdefault(name, len(numbers)) for name in rows.ids], dtype=np.int64)
    repeated = _repeated(point, len(numbers))
    in_mean = _in_mean(rows, point, repeated)
    occupation = point.copy()
    told_apart = np.ones(len(numbers), dtype=bool)
    following = len(numbers)
    for number, members in repeated.items():
        counted = [row for row in members if in_mean[row]]
        parts = partition([_shot(rows, row) for row in counted], gap_minutes)
        # The first occupation keeps the number of the point.
        occupation[counted] = [following + part - 1 if part else number for part in parts.numbers]
        following += max(parts.numbers)
        told_apart[number] = parts.told_apart
    occupation[~in_mean] = -1
    point_of_occupation = np.empty(following, dtype=np.int64)
    point_of_occupation[occupation[in_mean]] = point[in_mean]
    _, first = np.unique(point[in_mean], return_index=True)
    return Shots(
        rows=rows,
        point=point,
        first=np.flatnonzero(in_mean)[first],
        in_mean=in_mean,
        occupation=occupation,
        point_of_occupation=point_of_occupation,
        told_apart=told_apart,
        repeated=repeated,
    )


def _repeated(point: IntArray, count: int) -> dict[int, tuple[int, ...]]:
    if count == len(point):
        return {}
    members: dict[int, list[int]] = defaultdict(list)
    several = np.bincount(point, minlength=count) > 1
    for row in np.flatnonzero(several[point]).tolist():
        members[int(point[row])].append(row)
    return {number: tuple(rows) for number, rows in members.items()}


def _in_mean(rows: Checkpoints, point: IntArray, repeated: dict[int, tuple[int, ...]]) -> BoolArray:
    """Return which shots are in the mean: the best of a point, set unused being worst of all."""
    in_mean = np.ones(len(point), dtype=bool)
    for members in repeated.values():
        ranks = [_rank(rows, row) for row in members]
        in_mean[list(members)] = np.array(ranks) == min(ranks)
    return in_mean


def _rank(rows: Checkpoints, row: int) -> int:
    return _SET_UNUSED * (rows.roles[row] is Role.UNUSED) + weakness(rows.fixes[row])


def weakness(fix: FixType | None) -> int:
    """Return 0 for a fixed solution or none stated, 1 for float, 2 for autonomous."""
    return _WEAKNESS.get(fix, 0)


def _shot(rows: Checkpoints, row: int) -> Shot:
    return Shot(rows.sessions[row], rows.attribute("occupation", row), rows.attribute("time", row))


_WEAKNESS: dict[FixType | None, int] = {FixType.FLOAT: 1, FixType.AUTONOMOUS: 2}
# Above every weakness of a fix.
_SET_UNUSED = 10
