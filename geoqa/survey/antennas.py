"""Antenna heights that differ where one height was to be expected."""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence

from geoqa.survey.shots import Shots
from geoqa.survey.words import some

_HEIGHT = re.compile(r"(\d+(?:[.,]\d+)?)\s*m?")

Group = dict[int, str]


def antenna_heights(shots: Shots) -> tuple[dict[int, str], tuple[str, ...]]:
    """Return a sentence for each point whose antenna height is unlike others, and what to tell of them.

    Within a point all shots are compared, within a session all points; without sessions a file counts
    as one. The height of most points of a session is taken for the usual one.
    """
    rows = shots.rows
    if not rows.has_attribute("antenna_height"):
        return {}, ()
    heights = [_plain(rows.attribute("antenna_height", row)) for row in range(len(rows))]
    reasons: dict[int, str] = {}
    messages = []
    for where, group in _groups(shots, heights).items():
        counted = Counter(group.values()).most_common()
        usual = counted[0][0]
        others = {point: height for point, height in group.items() if height != usual}
        reasons |= {
            point: f"its antenna height is {height}, that of most points {where} {usual}"
            for point, height in others.items()
        }
        if others:
            messages.append(_message(shots, where, usual, others))
    for point, members in shots.repeated.items():
        found = {heights[row] for row in members if shots.in_mean[row]} - {None}
        if len(found) > 1:
            reasons[point] = f"its shots have antenna heights of {' and '.join(sorted(map(str, found)))}"
            messages.append(
                f"{rows.origin(members[0])}: “{rows.ids[members[0]]}”: {reasons[point]}. "
                "Hold them against the field notes: a wrong one moves the height of the point."
            )
    return reasons, tuple(messages)


def _plain(text: str | None) -> str | None:
    """Return a height as 1.800 m where it is a number of metres, else as written."""
    match = None if text is None else _HEIGHT.fullmatch(text.strip())
    return text if match is None else f"{float(match[1].replace(',', '.')):.3f} m"


def _groups(shots: Shots, heights: Sequence[str | None]) -> dict[str, Group]:
    """Return the height of each point by session, or by file; a point with two heights has the first."""
    groups: dict[str, Group] = defaultdict(dict)
    rows = shots.rows
    for row, height in enumerate(heights):
        if height is not None and shots.in_mean[row]:
            session, file = rows.sessions[row], int(rows.survey_index[row, 0])
            where = f"in {rows.survey[file].source}" if session is None else f"in session {session}"
            groups[where].setdefault(int(shots.point[row]), height)
    return groups


def _message(shots: Shots, where: str, usual: str, others: Group) -> str:
    by_height: dict[str, list[str]] = defaultdict(list)
    for point, height in others.items():
        by_height[height].append(shots.rows.ids[shots.first[point]])
    told = "; ".join(f"{height} at {some(ids)}" for height, ids in by_height.items())
    return (
        f"The antenna height {where} is {usual} at most points, but {told}. Hold them against the field "
        "notes: a wrong one moves the height of the point."
    )
