"""From the comparison of all causes to the finding of one: verdict, figures, evidence in words."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from geoqa.causes.comparison import Comparison, Weighed
from geoqa.causes.hypothesis import DIRECTIONS, Hypothesis
from geoqa.causes.prediction import Amplitude, amplitudes, predicted
from geoqa.records.results import Finding, FindingVerdict, Quantity

# From this share of the detection limit on a cause is not called absent.
_DOUBTFUL = 0.7


@dataclass(frozen=True)
class Sayings:
    """What a diagnosis says of its cause.

    Attributes
    ----------
    cause
        Id of the diagnosis.
    advice
        What to do, and in the second sentence the test that would decide.
    untestable
        Why these points cannot show it, where they cannot.
    figures
        Further quantities from the fitted sizes.
    """

    cause: str
    advice: str
    untestable: str
    figures: Callable[[dict[str, Amplitude], Hypothesis], Sequence[Quantity]] = lambda found, what: ()


def finding(comparison: Comparison | None, sayings: Sayings) -> Finding:
    """Return what the comparison says of one cause."""
    if comparison is None or not len(comparison.evidence):
        return _cannot_tell(sayings, "No point counts, so there are no residuals to look at.")
    found = comparison.found(sayings.cause)
    if found is not None:
        return _present(comparison, found, sayings)
    for item in comparison.present:
        if sayings.cause in {other.cause for other in item.alike}:
            other = next(other for other in item.alike if other.cause == sayings.cause)
            evidence = (
                f"It would explain the residuals about as well as {item.hypothesis.cause} does, which stands "
                f"first: {other.words}."
            )
            return _cannot_tell(sayings, evidence, alike=_set_of(item, sayings.cause))
    other_weighed = comparison.others.get(sayings.cause)
    if other_weighed is None:
        return _cannot_tell(sayings, sayings.untestable)
    return _not_found(other_weighed, sayings)


def _present(comparison: Comparison, found: Weighed, sayings: Sayings) -> Finding:
    rank = [item.hypothesis.cause for item in comparison.present].index(sayings.cause) + 1
    hypothesis = found.hypothesis
    expected = predicted(comparison, found)
    figures = (
        *sayings.figures(amplitudes(comparison, found), hypothesis),
        Quantity("effect at the points, root mean square", found.effect_m, "m"),
        Quantity("detection limit of that", found.limit_m, "m"),
        Quantity("coincidence probability", found.chance, "1"),
        *(
            Quantity(f"{name} RMSE after the cure, {side} end of the 95 % interval", value, "m")
            for name, item in expected.items()
            for side, value in zip(("lower", "upper"), item.interval_m, strict=True)
        ),
    )
    return Finding(
        sayings.cause,
        FindingVerdict.PRESENT,
        _evidence(comparison, found),
        sayings.advice,
        rank=rank,
        quantities=figures,
        not_separable_from=tuple(other.cause for other in found.alike),
        predicted_rmse_m={name: item.rmse_m for name, item in expected.items()},
        point_ids=tuple(comparison.evidence.ids[row] for row in hypothesis.point_rows),
    )


def _evidence(comparison: Comparison, found: Weighed) -> str:
    hypothesis = found.hypothesis
    words = hypothesis.words[:1].upper() + hypothesis.words[1:]
    share = _share_explained(comparison, found)
    parts = [
        f"{words}: that makes {found.effect_m:.3f} m (root mean square) at "
        f"{_points(len(comparison.evidence))} "
        f"and explains {100 * share:.0f} % of RMSE²; from {found.limit_m:.3f} m on it would be seen."
    ]
    if hypothesis.coincidence is not None:
        parts.append(f"{_once_in(found.chance)} arbitrary effects of this kind would match as closely.")
    if comparison.evidence.thinned_from > len(comparison.evidence):
        parts.append(
            f"{len(comparison.evidence)} evenly spaced ones of {comparison.evidence.thinned_from} points "
            "were compared."
        )
    if found.alike:
        names = ", ".join(other.cause for other in found.alike)
        parts.append(f"These points cannot tell it from {names}.")
    return " ".join(parts)


def _share_explained(comparison: Comparison, found: Weighed) -> float:
    total = taken = 0.0
    for name in DIRECTIONS:
        observed = comparison.evidence.residuals(name)
        if name in found.item.directions and len(observed):
            total += float(observed @ observed)
            taken += found.effect_m**2 * len(observed)
    return min(taken / total, 1.0) if total > 0 else 0.0


def _not_found(weighed: Weighed, sayings: Sayings) -> Finding:
    if math.isnan(weighed.limit_m):
        return _cannot_tell(sayings, sayings.untestable)
    quantities = (Quantity("detection limit of the effect, root mean square", weighed.limit_m, "m"),)
    seen = f"an effect from {weighed.limit_m:.3f} m (root mean square) on would have been seen"
    if weighed.strength >= 1.0:
        evidence = f"Once the causes named first are gone it explains nothing more; {seen}."
        return Finding(sayings.cause, FindingVerdict.ABSENT, evidence, "", quantities=quantities)
    if weighed.strength >= _DOUBTFUL:
        evidence = (
            f"There is a trace of it ({weighed.effect_m:.3f} m) below what these points can show; {seen}."
        )
        return Finding(sayings.cause, FindingVerdict.CANNOT_TELL, evidence, "", quantities=quantities)
    evidence = f"Nothing of it is in the residuals; {seen}."
    return Finding(sayings.cause, FindingVerdict.ABSENT, evidence, "", quantities=quantities)


def _cannot_tell(sayings: Sayings, evidence: str, alike: tuple[str, ...] = ()) -> Finding:
    return Finding(sayings.cause, FindingVerdict.CANNOT_TELL, evidence, "", not_separable_from=alike)


def _set_of(item: Weighed, without: str) -> tuple[str, ...]:
    causes = (item.hypothesis.cause, *(other.cause for other in item.alike))
    return tuple(cause for cause in causes if cause != without)


def _once_in(chance: float) -> str:
    if chance < 1e-4:
        return "Fewer than one in 10,000"
    return f"About {100 * chance:.2g} in 100"


def _points(count: int) -> str:
    return f"{count} point" if count == 1 else f"{count} points"


def height_offset(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the height offset, for causes that show as one."""
    offset = found["shift up"]
    return (Quantity("height offset", offset.value, "m", offset.sigma),)
