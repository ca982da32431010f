"""Which shots of one point belong to one occupation.

Shots of one occupation share multipath and atmosphere, so that their mean is hardly better than one
of them; only a second occupation, some time later, is. Where nothing shows that shots belong to
different occupations they count as one, so that no standard deviation becomes smaller than it is.

References
----------
[Denys2025]_: favourable precision of repeated shots may hide significant biases by signal multipath
or reduced satellite availability.
"""

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import pairwise
from typing import NamedTuple

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?Z?", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-?\d{2}-?\d{2}")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY_MINUTES = 24 * 60.0


class Shot(NamedTuple):
    """What a row says about when it was measured; None where it does not."""

    session: str | None
    occupation: str | None
    time: str | None


class Instant(NamedTuple):
    """A time in minutes; only times of one kind can be compared."""

    kind: str
    minutes: float


class Partition(NamedTuple):
    """The occupation of each shot, numbered from 0, and whether they could be told apart."""

    numbers: tuple[int, ...]
    told_apart: bool


def instant(text: str) -> Instant | None:
    """Return a time written as ISO 8601 or as HH:MM[:SS], or None.

    Examples
    --------
    >>> instant("9:30:30")
    Instant(kind='clock', minutes=570.5)
    >>> instant("2026-04-18T10:00:00+02:00").minutes - instant("2026-04-18T07:30Z").minutes
    30.0
    >>> instant("18.4.26 10:12") is None
    True
    """
    clock = _CLOCK.fullmatch(text.strip())
    if clock:
        hours, minutes = int(clock[1]), int(clock[2])
        seconds = float((clock[3] or "0").replace(",", "."))
        return Instant("clock", 60 * hours + minutes + seconds / 60) if hours < 24 and minutes < 60 else None
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    kind = "local" if moment.tzinfo is None else "zoned"
    kind = "date" if _DATE.fullmatch(text.strip()) else kind
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return Instant(kind, (moment - _EPOCH).total_seconds() / 60)


def partition(shots: Sequence[Shot], gap_minutes: float) -> Partition:
    """Return the occupations of the shots of one point.

    A different session is a different occupation. Within a session the column `occupation` decides;
    without it a pause of more than `gap_minutes` begins a new one, times of day counted round the
    clock. Where a shot has neither, or times cannot be compared, the session is one occupation, not
    told apart. A shot without a session may belong to any and counts with the first.

    Examples
    --------
    >>> partition([Shot(None, None, "10:00"), Shot(None, None, "10:01"), Shot(None, None, "12:00")], 30.0)
    Partition(numbers=(0, 0, 1), told_apart=True)
    """
    first = next((shot.session for shot in shots if shot.session is not None), None)
    names: list[tuple[str | None, object]] = [(shot.session or first, None) for shot in shots]
    told_apart = True
    for session in dict.fromkeys(name for name, _ in names):
        rows = [row for row, (name, _) in enumerate(names) if name == session]
        within = _within_session([shots[row] for row in rows], gap_minutes)
        if within is None:
            told_apart = False
        else:
            for row, part in zip(rows, within, strict=True):
                names[row] = (session, part)
    number = {name: place for place, name in enumerate(dict.fromkeys(names))}
    return Partition(tuple(number[name] for name in names), told_apart)


def _within_session(shots: Sequence[Shot], gap_minutes: float) -> Sequence[object] | None:
    """Return a name for the occupation of each shot, None where nothing tells them apart."""
    if len(shots) == 1:
        return (None,)
    labels = [shot.occupation for shot in shots]
    if None not in labels:
        return labels
    instants = [None if shot.time is None else instant(shot.time) for shot in shots]
    known = [moment for moment in instants if moment is not None]
    if len(known) < len(shots) or len({moment.kind for moment in known}) > 1:
        return None
    return _by_gaps([moment.minutes for moment in known], gap_minutes, round_clock=known[0].kind == "clock")


def _by_gaps(minutes: Sequence[float], gap_minutes: float, *, round_clock: bool) -> list[int]:
    order = sorted(range(len(minutes)), key=minutes.__getitem__)
    numbers, number = [0] * len(minutes), 0
    for before, row in pairwise(order):
        number += minutes[row] - minutes[before] > gap_minutes
        numbers[row] = number
    across = minutes[order[0]] + _DAY_MINUTES - minutes[order[-1]]
    if round_clock and number and across <= gap_minutes:
        return [0 if value == number else value for value in numbers]
    return numbers
