"""One comparison over all causes: which set of them explains the residuals at the lowest price."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.fitting import Fit, Fitter
from geoqa.causes.hypothesis import Hypothesis, Search
from geoqa.causes.power import noncentrality, significance
from geoqa.causes.prepared import Part, Prepared, prepare

# Causes at work at once; single points count as one.
MOST_CAUSES = 4
# A cause that explains as much within odds of one to twenty cannot be told apart.
ALIKE = math.log(20.0)
# Odds that a further cause has to bring.
_LEAST_GAIN = math.log(3.0)
_TRIED = 6
_ROUNDS = 2


@dataclass(frozen=True, eq=False)
class Weighed:
    """A cause in the company of the others that were chosen.

    Attributes
    ----------
    strength
        Effect found over the detection limit; 1 at the limit, 0 where it cannot be tested.
    effect_m, limit_m
        Root mean square effect over the points and directions it acts on, and the detection limit of that,
        metres; the limit is NaN where it cannot be tested.
    chance
        How often an arbitrary pattern, or for a known effect an arbitrary effect, would match as closely.
    gain
        Logarithm of the odds that it brings.
    """

    item: Prepared
    strength: float
    effect_m: float
    limit_m: float
    chance: float
    gain: float
    alike: tuple[Hypothesis, ...] = ()

    @property
    def hypothesis(self) -> Hypothesis:
        """Return what is supposed."""
        return self.item.hypothesis


@dataclass(frozen=True, eq=False)
class Comparison:
    """What the comparison of all causes found.

    Attributes
    ----------
    evidence, fit
        The residuals, and the chosen causes fitted to them together.
    present
        The chosen causes, the strongest first.
    others
        For each cause that was not chosen the best of its hypotheses, weighed beside the chosen ones.
    """

    evidence: Evidence
    fit: Fit
    present: tuple[Weighed, ...]
    others: dict[str, Weighed] = field(default_factory=dict)

    def found(self, cause: str) -> Weighed | None:
        """Return the cause if it was chosen."""
        return next((item for item in self.present if item.hypothesis.cause == cause), None)


def compare(
    evidence: Evidence, hypotheses: Iterable[Hypothesis], searches: Sequence[Search] = ()
) -> Comparison:
    """Return the set of causes that explains the residuals best for its price.

    Parameters
    ----------
    hypotheses
        Of all causes.
    searches
        Called with what is left of the residuals, for hypotheses that depend on it (single points).
    """
    search = _SetSearch(evidence, hypotheses, searches)
    best = search.best()
    present = [search.weigh(best, place) for place in range(len(best.chosen))]
    present.sort(key=lambda item: (not item.hypothesis.gross, -item.gain))
    return Comparison(evidence, best, tuple(present), search.others(best))


class _SetSearch:
    """Looks for the best set: adds causes one by one, then tries to exchange and to drop each."""

    def __init__(
        self, evidence: Evidence, hypotheses: Iterable[Hypothesis], searches: Sequence[Search]
    ) -> None:
        self.evidence = evidence
        self.fitter = Fitter(evidence)
        self.searches = searches
        self.fixed = [item for item in (prepare(evidence, one) for one in hypotheses) if self._testable(item)]

    def best(self) -> Fit:
        """Return the best set of causes."""
        best = self._grown(self.fitter.fit(()))
        for _ in range(_ROUNDS):
            before = best.score
            for place in range(len(best.chosen)):
                if place < len(best.chosen):
                    rest = self.fitter.fit(_without(best.chosen, place))
                    other = self._grown(rest, most=len(best.chosen))
                    best = max(best, other, key=lambda fit: fit.score)
            if best.score <= before + 1e-9:
                break
        return best

    def weigh(self, fit: Fit, place: int) -> Weighed:
        """Return a chosen cause with its strength beside the others, and what explains as much."""
        rest = self.fitter.fit(_without(fit.chosen, place))
        item = fit.chosen[place]
        weighed = self._weighed(rest, self.fitter.fit((*rest.chosen, item), rest))
        causes = {item.hypothesis.cause}
        alike = []
        for other in self._candidates(rest, item.hypothesis.cause):
            if other.score < fit.score - ALIKE:
                break
            hypothesis = other.chosen[-1].hypothesis
            if hypothesis.cause not in causes and self._weighed(rest, other).strength >= 1.0:
                causes.add(hypothesis.cause)
                alike.append(hypothesis)
        return replace(weighed, alike=tuple(alike))

    def others(self, fit: Fit) -> dict[str, Weighed]:
        """Return for each cause that was not chosen its best hypothesis beside the chosen ones."""
        chosen = {item.hypothesis.cause for item in fit.chosen}
        best: dict[str, Weighed] = {}
        for larger in self._candidates(fit, None):
            cause = larger.chosen[-1].hypothesis.cause
            if cause not in chosen and cause not in best:
                best[cause] = self._weighed(fit, larger)
        return best

    def _grown(self, fit: Fit, most: int = MOST_CAUSES) -> Fit:
        """Return the fit with causes added as long as they pay and lie above their detection limit."""
        while len(fit.chosen) < most:
            grown = None
            for larger in self._candidates(fit, None)[:_TRIED]:
                if larger.score < fit.score + _LEAST_GAIN:
                    break
                if self._weighed(fit, larger).strength >= 1.0:
                    grown = larger
                    break
            if grown is None:
                return fit
            fit = grown
        return fit

    def _candidates(self, fit: Fit, replaced: str | None) -> list[Fit]:
        """Return the set with each cause that could join, the best first.

        A cause that is chosen already does not join twice, but for the one that is replaced.
        """
        taken = {item.hypothesis.cause for item in fit.chosen}
        left_m = fit.left_m(self.evidence)
        found = [
            prepare(self.evidence, one) for search in self.searches for one in search(self.evidence, left_m)
        ]
        larger = [
            self.fitter.fit((*fit.chosen, item), fit)
            for item in (*self.fixed, *found)
            if item.directions and (item.hypothesis.cause not in taken or item.hypothesis.cause == replaced)
        ]
        return sorted(larger, key=lambda one: -one.score)

    def _weighed(self, rest: Fit, full: Fit) -> Weighed:
        """Return the last cause of a set, weighed against the same set without it."""
        item = full.chosen[-1]
        bare = self.fitter.fit((*rest.chosen, item.accompaniments()))
        squares, noise, observations, gain, freedom = 0.0, 0.0, 0, 0.0, 0
        for name in item.directions:
            one, other = full.parts[name], bare.parts[name]
            taken_off = max(other.sum_of_squares - one.sum_of_squares, 0.0)
            gain += taken_off / one.variance_m2
            squares += taken_off
            noise = max(noise, min(one.variance_m2, other.variance_m2))
            freedom += one.freedom
            observations += len(one.left)
        hypothesis = item.hypothesis
        risk = hypothesis.false_alarm / hypothesis.choices
        needed = noncentrality(hypothesis.components, freedom, risk)
        testable = math.isfinite(needed)
        strength = math.sqrt(gain / needed) if testable else 0.0
        effect_m = math.sqrt(squares / observations)
        limit_m = effect_m / strength if strength > 0 else math.sqrt(needed * noise / observations)
        by_chance = significance(gain, hypothesis.components, freedom) * hypothesis.choices
        if hypothesis.coincidence is not None:
            by_chance = hypothesis.coincidence
        return Weighed(
            item=item,
            strength=strength,
            effect_m=effect_m,
            limit_m=limit_m if testable else math.nan,
            chance=min(by_chance, 1.0),
            gain=full.score - rest.score,
        )

    def _testable(self, item: Prepared) -> bool:
        """Return whether it acts on the points, and all its amplitudes can be had from them."""
        if not item.directions:
            return False
        wanted = {pattern.key for pattern in item.hypothesis.amplitudes}
        had = {pattern.key for part in item.parts.values() for pattern in part.patterns}
        if not wanted <= had:
            return False
        return all(_independent(part) for part in item.parts.values())


def _independent(part: Part) -> bool:
    """Return whether the points tell all patterns apart; slack need not be."""
    free = [place for place, pattern in enumerate(part.patterns) if not pattern.slack]
    if len(free) < 2:
        return True
    return int(np.linalg.matrix_rank(part.columns[:, free], tol=1e-6)) == len(free)


def _without(chosen: Sequence[Prepared], place: int) -> tuple[Prepared, ...]:
    return (*chosen[:place], *chosen[place + 1 :])
