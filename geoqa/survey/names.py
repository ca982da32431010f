"""Ids that nearly match: “CP-3”, “cp03”, “CP3” and “CP 3” may be one point, or may not."""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from geoqa.records.points import Checkpoints
from geoqa.survey.words import metres

# Between digits a mark parts numbers: 1-1 is not 11.
_BETWEEN_DIGITS = re.compile(r"(?<=\d)[^\w\n]+(?=\d)|(?<=\d)_+(?=\d)")
_MARKS = re.compile(r"[^\w\n-]|_|(?<!\d)-|-(?!\d)")
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")


def alike(ids: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """Return the rows whose ids differ in case, blanks, marks or leading zeros only, group by group.

    Examples
    --------
    >>> alike(["CP-3", "cp03", "CP4", "CP 3", "1-1", "11"])
    ((0, 1, 3),)
    """
    plain = _plain(ids)
    if len(set(plain)) == len(plain):
        return ()
    groups: dict[str, list[int]] = defaultdict(list)
    for row, name in enumerate(plain):
        groups[name].append(row)
    return tuple(tuple(rows) for name, rows in groups.items() if name and len(rows) > 1)


def _plain(ids: Sequence[str]) -> list[str]:
    """Return the ids in plain form; all at once, since there may be a hundred thousand."""
    joined = "\n".join(ids)
    if joined.count("\n") >= len(ids):
        joined = "\n".join(name.replace("\n", " ") for name in ids)
    text = (joined if joined.isascii() else unicodedata.normalize("NFKC", joined)).casefold()
    if not text.replace("\n", "").isalnum():
        text = _MARKS.sub("", _BETWEEN_DIGITS.sub("-", text))
    return _LEADING_ZEROS.sub("", text).split("\n")


def alike_points(points: Checkpoints, published: Checkpoints) -> tuple[dict[int, str], tuple[str, ...]]:
    """Return a sentence for each point whose id is nearly that of another, and what to tell of them.

    Published positions of known marks take part; one whose id is that of a point is the same mark.
    """
    known = set(points.ids) if len(published) else set()
    others = [row for row, name in enumerate(published.ids) if name not in known]
    reasons: dict[int, str] = {}
    messages = []
    for group in alike([*points.ids, *(published.ids[row] for row in others)]):
        members = [
            (points, row) if row < len(points) else (published, others[row - len(points)]) for row in group
        ]
        plan_m = [part.position_m[row, :2] for part, row in members]
        apart_m = max(float(np.hypot(*(first - second))) for first in plan_m for second in plan_m)
        names = [f"“{part.ids[row]}” ({part.origin(row)})" for part, row in members]
        told = f"{' and '.join(names)} are named nearly alike and lie {metres(apart_m)} apart"
        reasons |= dict.fromkeys((row for row in group if row < len(points)), told)
        messages.append(f"{told}. Nothing was merged: if they are one point, give all rows one id.")
    return reasons, tuple(messages)
