"""Words on the map about single points: which get their id, and why points do not count."""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.records.results import UseReason
from geoqa.writers._symbols import REASON_LETTERS

# Up to FEW_POINTS every point has its id. Above, the largest residuals have it and, up to
# MOST_IN_FULL, the points that do not count, as long as there are not too many.
FEW_POINTS = 60
MOST_IN_FULL = 400
_MOST_LABELLED = 40
_LARGEST_LABELLED = 10
_LONGEST_ID = 20
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


def labelled(assessment: Assessment, shown: BoolArray) -> IntArray:
    """Return the rows of the points that get their id, the most important first."""
    rows = np.flatnonzero(shown)
    if len(rows) <= FEW_POINTS:
        return rows
    plan, up = largest_first(assessment)
    chosen = [*plan[:_LARGEST_LABELLED], *up[:_LARGEST_LABELLED]]
    if len(rows) <= MOST_IN_FULL:
        chosen += [row for row in rows if letters(assessment, int(row))]
    once = dict.fromkeys(int(row) for row in chosen if shown[row])
    return np.array(list(once)[:_MOST_LABELLED], dtype=np.int64)


def letters(assessment: Assessment, row: int) -> str:
    """Return the letters of the reasons why a point does not count, plan first, each once."""
    uses = (assessment.residuals.horizontal, assessment.residuals.vertical)
    reasons = [use.reasons[row] for use in uses]
    marks = [REASON_LETTERS[reason] for reason in reasons if reason and reason not in _UNREMARKABLE]
    return "".join(dict.fromkeys(marks))


def label_text(assessment: Assessment, row: int, *, cut: bool) -> str:
    """Return the words beside a point: its id, the length of a vector that is cut, the letters."""
    name = assessment.residuals.ids[row]
    text = name if len(name) <= _LONGEST_ID else name[: _LONGEST_ID - 1] + "…"
    if cut:
        text += f": {float(np.hypot(*assessment.residuals.delta_m[row, :2])):.2f} m"
    mark = letters(assessment, row)
    return f"{text} ({mark})" if mark else text


def unused_notes(assessment: Assessment) -> tuple[UnusedNote, ...]:
    """Return one note a letter, in the order of the alphabet, about all points that do not count."""
    directions: dict[str, dict[UseReason, set[str]]] = {}
    points: dict[str, set[int]] = {}
    residuals = assessment.residuals
    for direction, use in (("plan", residuals.horizontal), ("height", residuals.vertical)):
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
