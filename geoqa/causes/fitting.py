"""A set of causes fitted to the residuals together, and how well the set does for its price.

Plan and height are fitted apart, each with its own noise. Every pattern is scaled to a root mean square of
one over the points, so that its amplitude is metres. The score is a logarithm of odds: closeness of the fit,
less the price of each amplitude that had to be chosen (½·log(1 + n·size²/noise²), the information that the
choice takes), plus the logarithm of how usual the causes are. With as many amplitudes this is close to the
Bayesian information criterion.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.hypothesis import DIRECTIONS, Direction
from geoqa.causes.prepared import Gathered, Prepared, gather
from geoqa.numerics.arrays import FloatArray

# The noise that slack is weighed against is that of the fit itself; it settles at once.
_PASSES = 3
_NO_PRIOR_M = 1e4


@dataclass(frozen=True, eq=False)
class DirectionFit:
    """The fit in one direction.

    Attributes
    ----------
    left : array, shape (N,)
        What is left of the residuals.
    amplitudes, covariance : arrays, shape (p,), (p, p)
        Metres root mean square over the points.
    keys
        Key of each pattern.
    freedom
        N − p.
    variance_m2
        Of what is left, with the little that is given beforehand.
    """

    left: FloatArray
    amplitudes: FloatArray
    covariance: FloatArray
    keys: tuple[str, ...]
    columns: FloatArray
    freedom: int
    sum_of_squares: float
    variance_m2: float
    score: float


@dataclass(frozen=True, eq=False)
class Fit:
    """A set of causes, fitted in both directions."""

    chosen: tuple[Prepared, ...]
    parts: dict[Direction, DirectionFit]
    score: float

    def left_m(self, evidence: Evidence) -> FloatArray:
        """Return what is left of the residuals, shape (n, 3), NaN where a point does not count."""
        left = np.full((len(evidence), 3), np.nan)
        left[evidence.plan, :2] = self.parts["plan"].left.reshape(-1, 2)
        left[evidence.height, 2] = self.parts["height"].left
        return left


class Fitter:
    """Fits sets of causes to one evidence."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self._residuals: dict[Direction, FloatArray] = {name: evidence.residuals(name) for name in DIRECTIONS}
        self._least: dict[Direction, tuple[float, float]] = {
            name: evidence.least_squares_sum(name) for name in DIRECTIONS
        }

    def fit(self, chosen: Sequence[Prepared], known: Fit | None = None) -> Fit:
        """Return the fit of a set of causes.

        Parameters
        ----------
        known
            A fit of all of them but the last: a direction in which that one does nothing is taken over.
        """
        parts: dict[Direction, DirectionFit] = {}
        for name in DIRECTIONS:
            if known is not None and name not in chosen[-1].directions:
                parts[name] = known.parts[name]
            else:
                parts[name] = self._direction(name, chosen)
        usual = sum(item.hypothesis.log_prior - math.log(item.hypothesis.choices) for item in chosen)
        return Fit(tuple(chosen), parts, sum(part.score for part in parts.values()) + usual)

    def _direction(self, name: Direction, chosen: Sequence[Prepared]) -> DirectionFit:
        observed = self._residuals[name]
        least, weight = self._least[name]
        gathered = gather(name, chosen, len(observed))
        for item in chosen:
            known = item.parts[name].known
            if known is not None:
                observed = observed - known
        count = len(observed)
        if not gathered.keys:
            squares = float(observed @ observed)
            variance = (least + squares) / (weight + count) if count else 1.0
            score = -0.5 * (weight + count) * math.log(variance) if count else 0.0
            nothing = np.empty(0)
            return DirectionFit(
                observed, nothing, np.empty((0, 0)), (), gathered.columns, count, squares, variance, score
            )
        return self._with_amplitudes(observed, gathered, (least, weight))

    @staticmethod
    def _with_amplitudes(
        observed: FloatArray, gathered: Gathered, beforehand: tuple[float, float]
    ) -> DirectionFit:
        # Slack may be used up (little noise), or the effect may not be there at all (much noise): both are
        # tried.
        least, _ = beforehand
        starts = [least, float(observed @ observed) / len(observed)] if gathered.slack.any() else [least]
        return max((_fitted(observed, gathered, beforehand, start) for start in starts), key=_by_score)


def _by_score(fit: DirectionFit) -> float:
    return fit.score


def _fitted(
    observed: FloatArray, gathered: Gathered, beforehand: tuple[float, float], variance: float
) -> DirectionFit:
    """Return the fit that iterating from this variance of the noise leads to."""
    least, weight = beforehand
    columns, slack = gathered.columns, gathered.slack
    count, number = columns.shape
    priors = np.where(slack, gathered.priors, _NO_PRIOR_M)
    # Columns in units of their prior: then the prior is a sphere, and one decomposition serves all noise.
    scaled = columns * priors
    values, vectors = np.linalg.eigh(scaled.T @ scaled)
    values = np.maximum(values, 0.0)
    turned = vectors.T @ (scaled.T @ observed)
    freedom = count - number
    for _ in range(_PASSES):
        solution = vectors @ (turned / (values + variance))
        left = observed - scaled @ solution
        squares = float(left @ left)
        variance = (least + squares) / (weight + max(freedom, 0))
    amplitudes = np.asarray(solution * priors)
    covariance = variance * (vectors / (values + variance)) @ vectors.T * np.outer(priors, priors)
    misfit = (least + squares) / (weight + count)
    return DirectionFit(
        left=left,
        amplitudes=amplitudes,
        covariance=np.asarray(covariance),
        keys=gathered.keys,
        columns=columns,
        freedom=freedom,
        sum_of_squares=squares,
        variance_m2=variance,
        score=-0.5 * (weight + count) * math.log(misfit) - gathered.price(amplitudes, variance),
    )
