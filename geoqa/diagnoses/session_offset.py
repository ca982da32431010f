"""Points of one session lie off together: the base moved, a wrong fix, a pole that was extended."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, Search
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 1.0
_AXES = ("east", "north", "up")
# More sessions than this are many short ones, which are single points rather than groups.
_MOST_SESSIONS = 12


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield an offset of each session that has two points, in all components and in height alone."""
    named = [case.checkpoints.sessions[row] for row in evidence.rows.tolist()]
    sessions = sorted({name for name in named if name is not None})
    if not 2 <= len(sessions) <= _MOST_SESSIONS:
        return
    for session in sessions:
        members = np.array([name == session for name in named], dtype=bool)
        if members.sum() < 2 or members.all():
            continue
        for axes in ((0, 1, 2), (2,)):
            yield Hypothesis(
                "session-offset",
                f"the points of session {session} lie off together",
                tuple(_offset(members, axis) for axis in axes),
                choices=len(sessions),
                log_prior=-0.5,
                point_rows=tuple(np.flatnonzero(members).tolist()),
            )


def search(case: DiagnosisCase) -> Search:
    """Return the search for the moment from which on the points lie off, where all of them carry a time."""

    def from_a_moment_on(evidence: Evidence, left_m: FloatArray) -> Iterator[Hypothesis]:
        times = [case.checkpoints.attribute("time", row) for row in evidence.rows.tolist()]
        known = [text for text in times if text]
        if len(known) < len(times) or len(set(known)) < len(known):
            return
        order = np.argsort(np.array(known), kind="stable")
        for axes in ((0, 1, 2), (2,)):
            first = _best_cut(left_m[order][:, axes])
            if first is None:
                continue
            members = np.zeros(len(evidence), dtype=bool)
            members[order[first:]] = True
            yield Hypothesis(
                "session-offset",
                f"the points from {evidence.ids[order[first]]} on, in the order of their time, lie off "
                "together",
                tuple(_offset(members, axis) for axis in axes),
                choices=max(len(evidence) - 3, 1),
                log_prior=-0.5,
                point_rows=tuple(np.flatnonzero(members).tolist()),
            )

    return from_a_moment_on


def _best_cut(left_m: FloatArray) -> int | None:
    """Return from which row on the values differ most from those before, two rows on either side; or None."""
    n = len(left_m)
    if n < 4 or not np.isfinite(left_m).all():
        return None
    spread = np.maximum(left_m.std(axis=0), 1e-9)
    before = np.cumsum(left_m / spread, axis=0)[1 : n - 2]
    total = (left_m / spread).sum(axis=0)
    count = np.arange(2, n - 1)[:, None]
    apart = before / count - (total - before) / (n - count)
    between = (apart**2 * count * (n - count) / n).sum(axis=1)
    return int(np.argmax(between)) + 2


def _offset(members: BoolArray, axis: int) -> Pattern:
    if axis == 2:
        return Pattern("session up", "height", members.astype(float), _TYPICAL_M)
    values = np.zeros((len(members), 2))
    values[members, axis] = 1.0
    return Pattern(f"session {_AXES[axis]}", "plan", values, _TYPICAL_M)


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the offset of the session against the others."""
    return tuple(
        Quantity(f"offset {key.removeprefix('session ')}", item.value, "m", item.sigma)
        for key, item in found.items()
    )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the points of one session lie off together."""
    return finding(
        case.comparison,
        Sayings(
            "session-offset",
            "Look in the log whether the base was started anew, the pole changed or the fix lost between the "
            "sessions; give each session its own [[base]] if it had its own position. Deciding test: measure "
            "two points of that session again, from a fresh fix.",
            "There are not two sessions with two points each (column session), nor a time at every point.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="session-offset",
    title="A session lies off together",
    minimum_points=4,
    examine=examine,
    action=Action.REMEASURE,
    propose=propose,
    search=search,
)
