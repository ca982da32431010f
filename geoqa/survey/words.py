"""Ids, counts and lengths as words in sentences."""

from collections.abc import Sequence

_MOST_NAMED = 8
AXES = ("east", "north", "up")


def some(names: Sequence[str], count: int | None = None) -> str:
    """Return names for a sentence, cut after eight; `count` is how many there are in all.

    Examples
    --------
    >>> some(["CP1", "CP2"])
    'CP1, CP2'
    """
    shown, total = ", ".join(names[:_MOST_NAMED]), len(names) if count is None else count
    return shown if total <= _MOST_NAMED else f"{shown} and {total - _MOST_NAMED} more"


def points_text(count: int) -> str:
    """Return "1 point", "2 points" and so on."""
    return f"{count} point{'' if count == 1 else 's'}"


def metres(value_m: float, *, signed: bool = False) -> str:
    """Return a length to the millimetre, with its unit.

    Examples
    --------
    >>> metres(-0.0412, signed=True)
    '−0.041 m'
    """
    return (f"{value_m:+.3f} m" if signed else f"{value_m:.3f} m").replace("-", "−")
