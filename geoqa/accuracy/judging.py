"""What the rules of published standards share: comparing, counting, wording."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.accuracy.limits import COORDINATE_NOISE_M, checkpoints, within_limit
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import Judgement, JudgementVerdict

FROM_MEMORY = (
    "This rule is written from memory, its text was not at hand: hold it against your copy of the standard "
    "before anything rests on it."
)


@dataclass(frozen=True)
class Rule:
    """One rule of a standard: where it stands, what it is about, how many points it asks for.

    `from_memory` adds a caveat that says so to every judgement by this rule.
    """

    standard: str
    clause: str
    quantity: str
    unit: str = "m"
    count_required: int | None = None
    from_memory: bool = False

    def judged(
        self,
        value: float | None,
        limit: float | None,
        sentence: str,
        *,
        count: int,
        caveats: Sequence[str] = (),
    ) -> Judgement:
        """Return the judgement; its verdict follows from value and limit, compared unrounded."""
        known = count > 0 and value is not None and not np.isnan(value)
        memory = (FROM_MEMORY,) if self.from_memory else ()
        return Judgement(
            standard=self.standard,
            clause=f"{self.clause}, from memory" if self.from_memory else self.clause,
            quantity=self.quantity,
            value=value if known else None,
            unit=self.unit,
            limit=limit,
            verdict=verdict_of(value if known else None, limit),
            sentence=sentence if known or (count and value is None) else self._not_stated(count),
            count=count,
            count_required=self.count_required,
            caveats=(*few(count, self.count_required), *(caveats if count else ()), *memory),
        )

    def _not_stated(self, count: int) -> str:
        name = self.quantity[0].upper() + self.quantity[1:]
        reason = f"{checkpoints(count)} cannot give it" if count else "no checkpoint could be used"
        return f"{name} is not stated: {reason}."


def verdict_of(value: float | None, limit: float | None) -> JudgementVerdict:
    """Return whether a figure keeps its limit; not assessed where either is missing."""
    if value is None or limit is None or np.isnan(value):
        return JudgementVerdict.NOT_ASSESSED
    return JudgementVerdict.MET if within_limit(value, limit) else JudgementVerdict.NOT_MET


def met(value: float | None, limit: float | None) -> bool:
    """Return whether a figure is known to keep its limit."""
    return verdict_of(value, limit) is JudgementVerdict.MET


def few(count: int, required: int | None) -> tuple[str, ...]:
    """Return a caveat where there are fewer points than a standard asks for."""
    if required is None or not 0 < count < required:
        return ()
    return (f"The standard asks for {required} checkpoints; this rests on {checkpoints(count)}.",)


def percent_beyond(size_m: FloatArray, tolerance_m: float) -> float:
    """Return the share of sizes above a tolerance in per cent; NaN for no size.

    Examples
    --------
    >>> percent_beyond(np.array([0.1, 0.2, 0.3, 0.4]), 0.3)
    25.0
    """
    if len(size_m) == 0:
        return float("nan")
    return float(100 * np.mean(np.abs(size_m) > tolerance_m + COORDINATE_NOISE_M))


def counted(size_m: FloatArray, tolerance_m: float) -> str:
    """Return "2 of 14 checkpoints"."""
    beyond = int((np.abs(size_m) > tolerance_m + COORDINATE_NOISE_M).sum())
    return f"{beyond} of {checkpoints(len(size_m))}"


def plan_lengths(plan_m: FloatArray) -> FloatArray:
    """Return the length of each horizontal residual, from an array of shape (n, 2)."""
    return np.asarray(np.hypot(plan_m[:, 0], plan_m[:, 1]))
