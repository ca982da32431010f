"""What the points of one direction prove now, and how many more prove the next better class."""

import math
from dataclasses import replace

from scipy.special import chdtr, chdtri

from geoqa.accuracy.intervals import CONFIDENCE
from geoqa.accuracy.limits import centimetres, checkpoints, within_limit
from geoqa.records.evidence import Reach
from geoqa.records.results import ComponentStatistics

# Classes that specifications usually ask for, centimetres (common practice).
USUAL_CLASSES_CM = (1, 1.5, 2, 2.5, 3, 4, 5, 7.5, 10, 12.5, 15, 20, 25, 30, 50, 75, 100)
# Chance that the points suffice, and the number beyond which nobody asks.
CHANCE, MOST_POINTS = 0.80, 10_000
# With fewer points a bound rests on the assumption of normal errors alone, and nothing is claimed.
FEWEST_TO_PROVE = 4


def chance_of_proof(ratio: float, freedom: float) -> float:
    """Return the probability that an RMSE is proved, its true value being this share of the limit.

    An observed RMSE proves the limit where its square times f / χ²(5 %, f) is within the limit's.

    Examples
    --------
    >>> round(chance_of_proof(1.0, 10), 3)
    0.05
    """
    least = float(chdtri(freedom, CONFIDENCE))
    return float(chdtr(freedom, least / ratio**2))


def points_needed(ratio: float, freedom_per_point: float = 1.0) -> int | None:
    """Return how many points prove a limit with a chance of 80 %; None for more than 10,000.

    Parameters
    ----------
    ratio
        True RMSE over the limit.
    freedom_per_point
        1 for a height, up to 2 for the plan.

    Examples
    --------
    >>> points_needed(0.5), points_needed(0.5, 2.0), points_needed(1.0)
    (9, 5, None)
    """
    if ratio >= 1 or chance_of_proof(ratio, MOST_POINTS * freedom_per_point) < CHANCE:
        return None
    low, high = 0, MOST_POINTS
    while high - low > 1:
        middle = (low + high) // 2
        if chance_of_proof(ratio, middle * freedom_per_point) >= CHANCE:
            high = middle
        else:
            low = middle
    return high


def reach(part: ComponentStatistics, limit_m: float | None) -> Reach | None:
    """Return what these points prove of the RMSE; None without a point or without any error.

    Parameters
    ----------
    limit_m
        The limit on the RMSE that was asked for, if any.
    """
    if part.count == 0 or not part.rmse_m > 0:
        return None
    if part.count < FEWEST_TO_PROVE:
        return _too_few(part, limit_m)
    classes_m = [size / 100 for size in USUAL_CLASSES_CM]
    proved = [size for size in classes_m if within_limit(part.rmse_upper95_m, size)]
    better = [size for size in classes_m if not within_limit(part.rmse_upper95_m, size)]
    next_m = better[-1] if better else None
    more = None if next_m is None else _more(part, next_m)
    asked = None if limit_m is None else _more(part, limit_m)
    found = Reach(
        proved_m=part.rmse_upper95_m,
        class_m=proved[0] if proved else None,
        next_class_m=next_m,
        more_points=more,
        more_points_for_limit=asked,
        sentence="",
    )
    return replace(found, sentence=_sentence(found, limit_m, part))


def _too_few(part: ComponentStatistics, limit_m: float | None) -> Reach:
    needed = None if limit_m is None else points_needed(part.rmse_m / limit_m, part.freedom / part.count)
    more = None if needed is None else max(needed, FEWEST_TO_PROVE) - part.count
    said = f"{checkpoints(part.count)} cannot prove anything: at least {FEWEST_TO_PROVE} are asked for here"
    if limit_m is not None:
        said += f". {_needed(more, 'The limit asked for')}"
    return Reach(float("nan"), None, None, None, more, f"{said}.")


def _more(part: ComponentStatistics, limit_m: float) -> int | None:
    if within_limit(part.rmse_upper95_m, limit_m):
        return None
    needed = points_needed(part.rmse_m / limit_m, part.freedom / part.count)
    # Points that would usually do and did not: at least one more.
    return None if needed is None else max(needed - part.count, 1)


def _sentence(found: Reach, limit_m: float | None, part: ComponentStatistics) -> str:
    said = [f"These points prove an RMSE of {centimetres(_rounded_up(found.proved_m))} or more"]
    if found.class_m is not None:
        said[0] += f"; of the usual classes the {_class(found.class_m)} one"
    if found.next_class_m is not None:
        said.append(_needed(found.more_points, f"The {_class(found.next_class_m)} class"))
    if limit_m is not None and not within_limit(part.rmse_upper95_m, limit_m):
        said.append(_needed(found.more_points_for_limit, "The limit asked for"))
    return ". ".join(said) + "."


def _needed(more: int | None, what: str) -> str:
    if more is None:
        return f"{what} is not within reach: the RMSE found is too close to it or above it"
    points = "point" if more == 1 else "points"
    return f"{what} takes about {more} more {points} of this quality (chance 80 %)"


def _class(size_m: float) -> str:
    return f"{100 * size_m:g} cm"


def _rounded_up(size_m: float) -> float:
    return math.ceil(round(1000 * size_m, 6)) / 1000
