"""Invented shots, as rows of a file in the common frame."""

from collections.abc import Sequence

import numpy as np

from geoqa.records.points import Checkpoints, FixType, Role, SurveyPoints
from geoqa.records.survey_settings import Survey
from geoqa.survey.combine import combine_occupations, part_known

NAN = float("nan")
PLACE_M = np.array([634_200.0, 5_342_700.0, 411.0])
RULES = Survey()


def rows(ids: Sequence[str], offset_m=None, *, sigma_m=NAN, files=None, **columns) -> Checkpoints:
    """Return shots at these offsets, shape (n, 3), from one place.

    Parameters
    ----------
    sigma_m
        One for all, or shape (n, 3).
    files
        Number of the file of each shot; all in one where it is left out.
    columns
        `roles`, `fixes`, `covers`, `sessions`, `targets`, or a further column of the file as text.
    """
    n = len(ids)
    offset = np.zeros((n, 3)) if offset_m is None else np.asarray(offset_m, dtype=float)
    sigma = np.broadcast_to(np.asarray(sigma_m, dtype=float), (n, 3))
    nothing = (None,) * n
    named = {
        "roles": (Role.CHECK,) * n,
        **dict.fromkeys(("fixes", "covers", "sessions", "targets"), nothing),
    }
    named |= {name: tuple(columns.pop(name)) for name in list(named) if name in columns}
    of_row = np.zeros(n, dtype=int) if files is None else np.asarray(files)
    parts, index = [], np.zeros((n, 2), dtype=int)
    for file in range(int(of_row.max()) + 1 if n else 1):
        inside = np.flatnonzero(of_row == file)
        index[inside] = np.column_stack([np.full(len(inside), file), np.arange(len(inside))])
        taken = {name: tuple(values[row] for row in inside) for name, values in named.items()}
        further = {name: tuple(values[row] for row in inside) for name, values in columns.items()}
        parts.append(
            SurveyPoints(
                ids=tuple(ids[row] for row in inside),
                coordinates=PLACE_M + offset[inside],
                geographic=False,
                sigma_m=sigma[inside],
                target_height_m=np.zeros(len(inside)),
                source=f"shots_{file + 1}.csv",
                lines=np.arange(2, len(inside) + 2),
                attributes=further,
                **taken,
            )
        )
    return Checkpoints(
        ids=tuple(ids),
        position_m=PLACE_M + offset,
        sigma_m=sigma,
        survey=tuple(parts),
        survey_index=index,
        file_steps=((),) * len(parts),
        **named,
    )


def combined(*arguments, rules: Survey = RULES, known_files=(), base_sigma_m=(0.0, 0.0, 0.0), **columns):
    """Return points and quality of these shots."""
    measured, published = part_known(rows(*arguments, **columns), known_files)
    return combine_occupations(measured, rules, published=published, base_sigma_m=np.array(base_sigma_m))


def offsets(points: Checkpoints) -> np.ndarray:
    """Return the positions as offsets from the place."""
    return np.asarray(points.position_m) - PLACE_M


FLOAT, FIXED, AUTONOMOUS = FixType.FLOAT, FixType.FIXED, FixType.AUTONOMOUS
