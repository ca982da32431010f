"""Words on the map about single points: which get their id, and why points do not count."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.records.results import Use, UseReason
from geoqa.writers._numbers import centimetres
from geoqa.writers._symbols import REASON_LETTERS

# Up to FEW_POINTS every point has its id. Above, the largest residuals have it and, up to
# MOST_IN_FULL, the points that do not count, as long as there are not too many.
FEW_POINTS = 60
MOST_IN_FULL = 400
_MOST_LABELLED = 40
_LARGEST_LABELLED = 10
_LONGEST_ID = 20
# As the words on the map call them.
DIRECTIONS = ("plan", "height")
# Reasons that lie in the kind of point or in the order, not in a defect: no letter is needed.
_UNREMARKABLE = {
    UseReason.HEIGHT_ONLY,
    UseReason.PLAN_ONLY,
    UseReason.NO_ORTHOMOSAIC,
    UseReason.NO_ELEVATION,
}


@dataclass(frozen=True)
class UnusedNote:
    """Why points do not count: a letter, the reason in words, and how many points it concerns."""

    letter: str
    text: str
    count: int


def largest_first(assessment: Assessment) -> tuple[IntArray, IntArray]:
    """Return the rows of the measured points by plan and by height residual, the largest first."""
    delta = assessment.residuals.delta_m
    sizes = (np.hypot(delta[:, 0], delta[:, 1]), np.abs(delta[:, 2]))
    plan, up = (
        np.argsort(-np.where(np.isfinite(size), size, -1.0), kind="stable")[: np.isfinite(size).sum()]
        for size in sizes
    )
    return plan, up


def labelled(assessment: Assessment, shown: BoolArray, directions: Sequence[str] = DIRECTIONS) -> IntArray:
    """Return the rows of the points that get their id, the most important first."""
    rows = np.flatnonzero(shown)
    if len(rows) <= FEW_POINTS:
        return rows
    ranked = zip(DIRECTIONS, largest_first(assessment), strict=True)
    chosen = [row for name, order in ranked if name in directions for row in order[:_LARGEST_LABELLED]]
    if len(rows) <= MOST_IN_FULL:
        chosen += [row for row in rows if letters(assessment, int(row), directions)]
    once = dict.fromkeys(int(row) for row in chosen if shown[row])
    return np.array(list(once)[:_MOST_LABELLED], dtype=np.int64)


def letters(assessment: Assessment, row: int, directions: Sequence[str] = DIRECTIONS) -> str:
    """Return the letters of the reasons why a point does not count, plan first, each once."""
    reasons = [use.reasons[row] for _, use in _uses(assessment, directions)]
    marks = [REASON_LETTERS[reason] for reason in reasons if reason and reason not in _UNREMARKABLE]
    return "".join(dict.fromkeys(marks))


def _uses(assessment: Assessment, directions: Sequence[str]) -> list[tuple[str, Use]]:
    both = zip(DIRECTIONS, (assessment.residuals.horizontal, assessment.residuals.vertical), strict=True)
    return [(name, use) for name, use in both if name in directions]


def label_text(assessment: Assessment, row: int, directions: Sequence[str] = DIRECTIONS, *, cut: bool) -> str:
    """Return the words beside a point: its id, the length of a vector that is cut, the letters.

    Where heights are shown alone, the height residual in centimetres stands behind the id.
    """
    name = assessment.residuals.ids[row]
    text = name if len(name) <= _LONGEST_ID else name[: _LONGEST_ID - 1] + "…"
    if cut:
        text += f": {float(np.hypot(*assessment.residuals.delta_m[row, :2])):.2f} m"
    up_m = float(assessment.residuals.delta_m[row, 2])
    if tuple(directions) == DIRECTIONS[1:] and np.isfinite(up_m):
        text += f" {centimetres(up_m, signed=True)}"
    mark = letters(assessment, row, directions)
    return f"{text} ({mark})" if mark else text


def unused_notes(assessment: Assessment, shown: Sequence[str] = DIRECTIONS) -> tuple[UnusedNote, ...]:
    """Return one note a letter, in the order of the alphabet, about all points that do not count."""
    directions: dict[str, dict[UseReason, set[str]]] = {}
    points: dict[str, set[int]] = {}
    for direction, use in _uses(assessment, shown):
        for row in np.flatnonzero(~use.used).tolist():
            reason = use.reasons[row]
            if reason is None or reason in _UNREMARKABLE:
                continue
            letter = REASON_LETTERS[reason]
            directions.setdefault(letter, {}).setdefault(reason, set()).add(direction)
            points.setdefault(letter, set()).add(row)
    return tuple(
        UnusedNote(letter, _reasons_text(directions[letter]), len(points[letter]))
        for letter in sorted(directions)
    )


def _reasons_text(directions: dict[UseReason, set[str]]) -> str:
    return ", ".join(
        str(reason) if len(both) == 2 else f"{reason} ({next(iter(both))})"
        for reason, both in sorted(directions.items())
    )
