"""What the points prove about the limits that were asked for."""

from collections.abc import Sequence
from typing import Literal

from geoqa.accuracy.limits import checkpoints, metres, within_limit
from geoqa.errors import SettingsError
from geoqa.records.results import AccuracyStatistics, Claim, ClaimVerdict, ComponentStatistics, Verdict
from geoqa.records.settings import Requirement

# From the worst to the best: a direction with several claims is as good as the worst of them.
_FROM_WORST = (
    ClaimVerdict.FAILED,
    ClaimVerdict.UNDECIDABLE,
    ClaimVerdict.NOT_CONTRADICTED,
    ClaimVerdict.PROVED,
    ClaimVerdict.NOT_ASKED,
)
_KINDS = {"p95": "a limit on the 95th percentile", "max": "a limit on the largest residual"}


def check_requirement(requirement: Requirement) -> None:
    """Raise `SettingsError` where a limit is of a kind that cannot be judged."""
    mistakes = [
        f"requirement.{direction}_{kind}_m: {words} cannot be judged. "
        f"Give requirement.{direction}_rmse_m, a limit on the RMSE."
        for direction in ("horizontal", "vertical")
        for kind, words in _KINDS.items()
        if getattr(requirement, f"{direction}_{kind}_m") is not None
    ]
    if mistakes:
        raise SettingsError("\n".join(mistakes))


def claims(statistics: AccuracyStatistics, requirement: Requirement) -> tuple[Claim, ...]:
    """Return what the points that count prove, one claim a limit, the horizontal ones first.

    The horizontal limit is radial; with `per_axis` it holds for east and for north, each by itself.
    Claiming both at 95 % keeps the risk of a wrong claim at 5 %, since both must hold to be made.
    A direction without a limit gets one claim, *not asked*.
    """
    check_requirement(requirement)
    horizontal_m, vertical_m = requirement.horizontal_rmse_m, requirement.vertical_rmse_m
    axes = requirement.per_axis and horizontal_m is not None
    parts = (statistics.east, statistics.north) if axes else (statistics.horizontal,)
    return (
        *(_claim("horizontal", part, horizontal_m) for part in parts),
        _claim("vertical", statistics.up, vertical_m),
    )


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


def _claim(
    direction: Literal["horizontal", "vertical"], part: ComponentStatistics, limit_m: float | None
) -> Claim:
    name = "vertical" if part.component == "up" else part.component
    decided = _decide(part, limit_m)
    return Claim(
        direction=direction,
        quantity=f"{name} RMSE",
        limit_m=limit_m,
        value_m=part.rmse_m,
        upper95_m=part.rmse_upper95_m,
        lower95_m=part.rmse_lower95_m,
        count=part.count,
        verdict=decided,
        sentence=f"{name.capitalize()}: {_words(part, limit_m, decided)}",
    )


def _decide(part: ComponentStatistics, limit_m: float | None) -> ClaimVerdict:
    if limit_m is None:
        return ClaimVerdict.NOT_ASKED
    if part.count == 0:
        return ClaimVerdict.UNDECIDABLE
    if not within_limit(part.rmse_m, limit_m):
        return ClaimVerdict.FAILED
    if within_limit(part.rmse_upper95_m, limit_m):
        return ClaimVerdict.PROVED
    return ClaimVerdict.NOT_CONTRADICTED


def _words(part: ComponentStatistics, limit_m: float | None, decided: ClaimVerdict) -> str:
    if limit_m is None:
        return _words_without_limit(part)
    if part.count == 0:
        return f"no checkpoint could be used, so the limit of {metres(limit_m)} cannot be judged."
    found = f"RMSE {metres(part.rmse_m, limit_m)} at {checkpoints(part.count)}"
    limit = f"the limit of {metres(limit_m)}"
    upper, lower = metres(part.rmse_upper95_m, limit_m), metres(part.rmse_lower95_m, limit_m)
    if decided is ClaimVerdict.PROVED:
        return f"{found} meets {limit} and the evidence proves it (95 % upper bound {upper})."
    if decided is ClaimVerdict.NOT_CONTRADICTED:
        return (
            f"{found} lies within {limit}, but the evidence does not prove it: the true value may be as "
            f"large as {upper} (95 % upper bound)."
        )
    if within_limit(part.rmse_lower95_m, limit_m):
        return f"{found} exceeds {limit}; the true value may still lie inside (95 % lower bound {lower})."
    return f"{found} exceeds {limit} and the evidence proves it (95 % lower bound {lower})."


def _words_without_limit(part: ComponentStatistics) -> str:
    if part.count == 0:
        return "no checkpoint could be used, and no limit was asked for."
    low, high = part.rmse_interval_m
    return (
        f"RMSE {metres(part.rmse_m)} at {checkpoints(part.count)} (95 % interval {metres(low)} to "
        f"{metres(high)}); no limit was asked for."
    )
