"""One row a point: what the rows of a point say of it, brought together."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import Checkpoints, CoordinateStep, Cover, FixType, Role
from geoqa.records.survey import Occupation
from geoqa.survey.means import Means
from geoqa.survey.shots import Shots

T = TypeVar("T")

NO_TARGET = "none"
# What holds where the rows of a point say different things: the one that claims less.
ROLES = (Role.CONTROL, Role.MARK, Role.CHECK, Role.UNUSED)
COVERS = (Cover.VEGETATED, Cover.BARE, Cover.HARD)


def merged(shots: Shots, means: Means) -> Checkpoints:
    """Return one row a point, with the mean position and a step that tells how it came about.

    A point with one shot keeps what its row says. Else it is control if a shot is, a known mark if
    one is, and a checkpoint if one is; vegetated, bare or hard in this order; its session names all
    sessions of its shots. File and line are those of its first shot in the mean.
    """
    points = shots.rows if not shots.repeated else shots.rows.take(shots.first.tolist())
    columns: dict[str, Any] = {
        name: list(getattr(points, name)) for name in ("roles", "fixes", "covers", "sessions", "targets")
    }
    for number, members in shots.repeated.items():
        counted = [row for row in members if shots.in_mean[row]]
        columns["roles"][number] = _first_of(ROLES, _at(shots.rows.roles, members))
        columns["fixes"][number] = _fix(_at(shots.rows.fixes, counted))
        columns["covers"][number] = _first_of(COVERS, _at(shots.rows.covers, members))
        columns["sessions"][number] = _sessions(_at(shots.rows.sessions, counted))
        columns["targets"][number] = _target(_at(shots.rows.targets, members))
    return replace(
        points,
        roles=tuple(columns["roles"]),
        fixes=tuple(columns["fixes"]),
        covers=tuple(columns["covers"]),
        sessions=tuple(columns["sessions"]),
        targets=tuple(columns["targets"]),
        position_m=means.position_m,
        sigma_m=means.sigma_m,
        file_steps=_with_step(shots, means),
        messages=(*points.messages, *_contradictions(shots)),
    )


def occupations_of(shots: Shots, means: Means) -> dict[int, tuple[Occupation, ...]]:
    """Return the occupations of each point that has several shots."""
    return {number: tuple(_occupations(shots, means, members)) for number, members in shots.repeated.items()}


def _occupations(shots: Shots, means: Means, members: Sequence[int]) -> Iterator[Occupation]:
    rows = shots.rows
    parts: dict[int, list[int]] = defaultdict(list)
    for row in members:
        if shots.in_mean[row]:
            parts[int(shots.occupation[row])].append(row)
    for occupation, inside in parts.items():
        times = [rows.attribute("time", row) for row in inside]
        yield Occupation(
            session=_sessions(_at(rows.sessions, inside)),
            label=rows.attribute("occupation", inside[0]),
            begin=min((time for time in times if time is not None), default=None),
            origins=tuple(rows.origin(row) for row in inside),
            from_mean_m=means.from_mean_m[occupation],
            sigma_m=means.occupation_sigma_m[occupation],
        )


def _at(values: Sequence[T], rows: Iterable[int]) -> list[T]:
    return [values[row] for row in rows]


def _first_of(order: Sequence[T], said: Sequence[T | None]) -> T | None:
    return next((item for item in order if item in said), None)


def _fix(said: Sequence[FixType | None]) -> FixType | None:
    return said[0] if len(set(said)) == 1 else None


def _sessions(said: Sequence[str | None]) -> str | None:
    return ", ".join(sorted({session for session in said if session is not None})) or None


def _target(said: Sequence[str | None]) -> str | None:
    named = {target for target in said if target is not None}
    return min(named - {NO_TARGET} or named, default=None)


def _with_step(shots: Shots, means: Means) -> tuple[tuple[CoordinateStep, ...], ...]:
    """Return the steps of each file with the mean behind them, where it moved a point of that file."""
    rows = shots.rows
    all_steps = list(rows.file_steps)
    index = rows.survey_index[shots.first]
    change_m = means.position_m - rows.position_m[shots.first]
    for file in {int(rows.survey_index[shots.first[number], 0]) for number in shots.repeated}:
        here = index[:, 0] == file
        changes: FloatArray = np.full((len(rows.survey[file]), 3), np.nan)
        changes[index[here, 1]] = change_m[here]
        all_steps[file] = (*all_steps[file], CoordinateStep("mean of the shots", _MEAN, None, changes))
    return tuple(all_steps)


_MEAN = "mean of each occupation, weighted mean of the occupations; a point with one shot keeps its place"


def _contradictions(shots: Shots) -> Iterator[str]:
    """Yield a sentence for each point whose rows say different things of it."""
    rows = shots.rows
    columns: tuple[tuple[str, Sequence[str | None], Callable[[Sequence[str | None]], str | None]], ...] = (
        ("roles", rows.roles, lambda said: _first_of(ROLES, said)),
        ("covers", rows.covers, lambda said: _first_of(COVERS, said)),
        ("targets", rows.targets, _target),
    )
    for members in shots.repeated.values():
        for name, values, holds in columns:
            said = [value for value in _at(values, members) if value is not None]
            if name == "roles":
                said = [value for value in said if value != Role.UNUSED]
            if len(set(said)) > 1:
                yield (
                    f"{rows.origin(members[0])}: the rows of “{rows.ids[members[0]]}” name different {name} "
                    f"({', '.join(dict.fromkeys(said))}); “{holds(said)}” holds. Write the same into each."
                )
