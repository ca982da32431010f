"""What the points prove about the limits that were asked for."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.special import bdtrc

from geoqa.accuracy.limits import checkpoints, metres, within_limit
from geoqa.accuracy.reach import FEWEST_TO_PROVE, reach
from geoqa.records.evidence import Direction
from geoqa.records.results import AccuracyStatistics, Claim, ClaimVerdict, ComponentStatistics, Verdict
from geoqa.records.settings import Requirement

Kind = Literal["rmse", "p95", "max"]

# From the worst to the best: a direction with several claims is as good as the worst of them.
_FROM_WORST = (
    ClaimVerdict.FAILED,
    ClaimVerdict.UNDECIDABLE,
    ClaimVerdict.NOT_CONTRADICTED,
    ClaimVerdict.PROVED,
    ClaimVerdict.NOT_ASKED,
)
_QUANTITIES: dict[Kind, str] = {"rmse": "RMSE", "p95": "95 % quantile", "max": "maximum"}
CONFIDENCE = 0.95


@dataclass(frozen=True)
class _Figure:
    """What is held against a limit: the figure found and the bounds of the true one, metres.

    `upper_m` is NaN for a maximum: no number of points bounds it.
    """

    kind: Kind
    part: ComponentStatistics
    value_m: float
    lower_m: float
    upper_m: float

    @property
    def name(self) -> str:
        """Return "vertical 95 % quantile" and so on."""
        component = "vertical" if self.part.component == "up" else self.part.component
        return f"{component} {_QUANTITIES[self.kind]}"


def claims(statistics: AccuracyStatistics, requirement: Requirement) -> tuple[Claim, ...]:
    """Return what the points that count prove, one claim a limit, the horizontal ones first.

    The horizontal limit is radial; with `per_axis` it holds for east and for north, each by itself.
    Claiming both at 95 % keeps the risk of a wrong claim at 5 %, since both must hold to be made.
    A direction without a limit gets one claim, *not asked*.
    """
    return (
        *_direction("horizontal", statistics, requirement),
        *_direction("vertical", statistics, requirement),
    )


def _direction(
    direction: Direction, statistics: AccuracyStatistics, requirement: Requirement
) -> Iterator[Claim]:
    kind, limit_m = asked(requirement, direction)
    parts = [statistics.up if direction == "vertical" else statistics.horizontal]
    if direction == "horizontal" and requirement.per_axis and limit_m is not None:
        parts = [statistics.east, statistics.north]
    for part in parts:
        yield _claim(direction, _figure(part, kind), limit_m)


def asked(requirement: Requirement, direction: Direction) -> tuple[Kind, float | None]:
    """Return the kind of the limit in a direction and the limit; None where there is none."""
    kinds: tuple[Kind, ...] = ("rmse", "p95", "max")
    for kind in kinds:
        limit_m = getattr(requirement, f"{direction}_{kind}_m")
        if limit_m is not None:
            return kind, limit_m
    return "rmse", None


def _figure(part: ComponentStatistics, kind: Kind) -> _Figure:
    """Return the figure found with its bounds.

    A quantile of few points says little by itself: its bounds are those of the LE95 or CE95 of normal
    errors, widened where the quantile found lies outside them.
    """
    if kind == "rmse":
        return _Figure(kind, part, part.rmse_m, part.rmse_lower95_m, part.rmse_upper95_m)
    if kind == "max":
        return _Figure(kind, part, part.max_abs_m, part.max_abs_m, float("nan"))
    found, (lower_m, upper_m) = part.quantile95_m, part.error95_bounds_m
    return _Figure(kind, part, found, min(found, lower_m), max(found, upper_m))


def verdict(found: Sequence[Claim], notes: Sequence[str] = ()) -> Verdict:
    """Return the answer in both directions, and as sentences for a client.

    Parameters
    ----------
    found
        The claims of both directions.
    notes
        Sentences that must not be parted from the answer; they follow it.
    """
    worst = {
        direction: min(
            (claim.verdict for claim in found if claim.direction == direction),
            key=_FROM_WORST.index,
            default=ClaimVerdict.NOT_ASKED,
        )
        for direction in ("horizontal", "vertical")
    }
    sentence = " ".join([claim.sentence for claim in found] + list(notes))
    return Verdict(worst["horizontal"], worst["vertical"], sentence)


def _claim(direction: Direction, figure: _Figure, limit_m: float | None) -> Claim:
    decided = _decide(figure, limit_m)
    component = figure.name.removesuffix(f" {_QUANTITIES[figure.kind]}")
    return Claim(
        direction=direction,
        quantity=figure.name,
        limit_m=limit_m,
        value_m=figure.value_m,
        upper95_m=figure.upper_m,
        lower95_m=figure.lower_m,
        count=figure.part.count,
        verdict=decided,
        sentence=f"{component.capitalize()}: {_words(figure, limit_m, decided)}",
        arithmetic=_arithmetic(figure, limit_m),
        reach=reach(figure.part, limit_m if figure.kind == "rmse" else None),
    )


def _decide(figure: _Figure, limit_m: float | None) -> ClaimVerdict:
    if limit_m is None:
        return ClaimVerdict.NOT_ASKED
    if figure.part.count == 0:
        return ClaimVerdict.UNDECIDABLE
    if not within_limit(figure.value_m, limit_m):
        return ClaimVerdict.FAILED
    if within_limit(figure.upper_m, limit_m) and figure.part.count >= FEWEST_TO_PROVE:
        return ClaimVerdict.PROVED
    return ClaimVerdict.NOT_CONTRADICTED


def _arithmetic(figure: _Figure, limit_m: float | None) -> str:
    """Return how the upper bound follows from the figure found, and what it is held against."""
    part = figure.part
    if part.count == 0:
        return ""
    if figure.kind == "max":
        return f"largest of {part.count}: {metres(figure.value_m, limit_m)}"
    if figure.kind == "p95":
        name = "CE95" if part.component == "horizontal" else "LE95"
        upper_m = part.error95_bounds_m[1]
        factor = upper_m / part.error95_m if part.error95_m > 0 else 1.0
        bound = (
            f"{name} {part.error95_m:.4f} m × {factor:.3f} = {upper_m:.4f} m, and not below the quantile "
            f"found, {figure.value_m:.4f} m"
        )
    else:
        ratio = part.rmse_upper95_m / part.rmse_m if part.rmse_m > 0 else 1.0
        bound = (
            f"RMSE {part.rmse_m:.4f} m × √({part.freedom:.3g} / {part.freedom / ratio**2:.3g}) = "
            f"{part.rmse_upper95_m:.4f} m, with χ²(5 %, {part.freedom:.3g})"
        )
    return bound if limit_m is None else f"{bound}; limit {limit_m:g} m"


def _words(figure: _Figure, limit_m: float | None, decided: ClaimVerdict) -> str:
    if limit_m is None:
        return _words_without_limit(figure.part)
    if figure.part.count == 0:
        return f"no checkpoint could be used, so the limit of {metres(limit_m)} cannot be judged."
    found = (
        f"{_QUANTITIES[figure.kind]} {metres(figure.value_m, limit_m)} at {checkpoints(figure.part.count)}"
    )
    limit = f"the limit of {metres(limit_m)}"
    if figure.kind == "max":
        return _words_of_maximum(found, limit, figure.part.count, decided)
    return f"{found} {_relation(figure, limit_m, decided, limit)}."


def _relation(figure: _Figure, limit_m: float, decided: ClaimVerdict, limit: str) -> str:
    upper, lower = metres(figure.upper_m, limit_m), metres(figure.lower_m, limit_m)
    few = figure.part.count < FEWEST_TO_PROVE
    alone = f"fewer than {FEWEST_TO_PROVE} points prove nothing"
    if decided is ClaimVerdict.PROVED:
        return f"meets {limit} and the evidence proves it (95 % upper bound {upper})"
    if decided is ClaimVerdict.NOT_CONTRADICTED:
        if few and within_limit(figure.upper_m, limit_m):
            return f"lies within {limit}, but {alone} (95 % upper bound {upper}, if errors are normal)"
        return (
            f"lies within {limit}, but the evidence does not prove it: the true value may be as large as "
            f"{upper} (95 % upper bound)"
        )
    if within_limit(figure.lower_m, limit_m):
        return f"exceeds {limit}; the true value may still lie inside (95 % lower bound {lower})"
    return (
        f"exceeds {limit}{f'; {alone}' if few else ' and the evidence proves it'} (95 % lower bound {lower})"
    )


def _words_of_maximum(found: str, limit: str, count: int, decided: ClaimVerdict) -> str:
    if decided is ClaimVerdict.FAILED:
        return f"{found} exceeds {limit}."
    share = 100 * share_within(count)
    return (
        f"{found} keeps {limit}, but no number of points proves a maximum: {checkpoints(count)} without one "
        f"beyond prove that at least {share:.0f} % of such points keep it (95 %)."
    )


def share_within(count: int, beyond: int = 0) -> float:
    """Return the least share that keeps a limit, proved at 95 % by this many points of which some do not.

    References
    ----------
    [ClopperPearson1934]_: the exact bound of a binomial share.

    Examples
    --------
    >>> round(share_within(10), 2), round(share_within(59), 3)
    (0.74, 0.95)
    """
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        # With this share outside, so few beyond would be rarer than 5 %.
        if 1 - float(bdtrc(beyond, count, middle)) < 1 - CONFIDENCE:
            high = middle
        else:
            low = middle
    return 1 - high


def _words_without_limit(part: ComponentStatistics) -> str:
    if part.count == 0:
        return "no checkpoint could be used, and no limit was asked for."
    low, high = part.rmse_interval_m
    return (
        f"RMSE {metres(part.rmse_m)} at {checkpoints(part.count)} (95 % interval {metres(low)} to "
        f"{metres(high)}); no limit was asked for."
    )
