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
from geoqa.causes.hypothesis import DIRECTIONS, Direction, Hypothesis, Pattern
from geoqa.numerics.arrays import BoolArray, FloatArray

# The noise that slack is weighed against is that of the fit itself; it settles at once.
_PASSES = 3
_NO_PRIOR_M = 1e4
# Up to so many times its plausible size an amplitude costs nothing beyond its choice.
_PLAUSIBLE = 2.0


@dataclass(frozen=True, eq=False)
class Part:
    """One direction of one hypothesis, scaled and restricted to the points that count there."""

    known: FloatArray | None
    patterns: tuple[Pattern, ...]
    columns: FloatArray
    scales: FloatArray


@dataclass(frozen=True, eq=False)
class Prepared:
    """A hypothesis, ready to be fitted many times over."""

    hypothesis: Hypothesis
    parts: dict[Direction, Part]

    @property
    def directions(self) -> tuple[Direction, ...]:
        """Return in which directions it does anything."""
        return tuple(
            name for name, part in self.parts.items() if part.known is not None or len(part.patterns)
        )

    def accompaniments(self) -> "Prepared":
        """Return only what goes with the cause, without what it is recognised by and without slack."""
        parts: dict[Direction, Part] = {}
        for name, part in self.parts.items():
            keep = [place for place, item in enumerate(part.patterns) if item.accompanies and not item.slack]
            patterns = tuple(part.patterns[place] for place in keep)
            parts[name] = Part(None, patterns, part.columns[:, keep], part.scales[keep])
        return Prepared(self.hypothesis, parts)


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


def prepare(evidence: Evidence, hypothesis: Hypothesis) -> Prepared:
    """Return a hypothesis with its patterns scaled; one without effect at these points is left out."""
    parts: dict[Direction, Part] = {}
    for direction in DIRECTIONS:
        rows = evidence.mask(direction)
        known = None
        if hypothesis.known_m is not None:
            of_rows = hypothesis.known_m[rows]
            known = of_rows[:, :2].ravel() if direction == "plan" else of_rows[:, 2]
            known = known if known.any() else None
        kept: list[Pattern] = []
        columns: list[FloatArray] = []
        scales: list[float] = []
        for item in hypothesis.patterns:
            if item.direction != direction:
                continue
            column = item.values[rows].ravel()
            size = math.sqrt(float(column @ column) / len(column)) if len(column) else 0.0
            if size > 0.0:
                kept.append(item)
                columns.append(column / size)
                scales.append(size)
        count = len(evidence.residuals(direction))
        design = np.column_stack(columns) if columns else np.empty((count, 0))
        parts[direction] = Part(known, tuple(kept), design, np.array(scales))
    return Prepared(hypothesis, parts)


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
        gathered = _gathered(name, chosen, len(observed))
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
        observed: FloatArray, gathered: "_Gathered", beforehand: tuple[float, float]
    ) -> DirectionFit:
        # Slack may be used up (little noise), or the effect may not be there at all (much noise): both are
        # tried.
        least, _ = beforehand
        starts = [least, float(observed @ observed) / len(observed)] if gathered.slack.any() else [least]
        return max((_fitted(observed, gathered, beforehand, start) for start in starts), key=_by_score)


def _by_score(fit: DirectionFit) -> float:
    return fit.score


def _fitted(
    observed: FloatArray, gathered: "_Gathered", beforehand: tuple[float, float], variance: float
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


@dataclass(frozen=True, eq=False)
class _Gathered:
    """The patterns of a set of causes in one direction, each key once.

    `own` gives for a pattern that only goes with a cause the places of those that the cause is recognised by,
    and the size of its known effect; None for the others.
    """

    columns: FloatArray
    keys: tuple[str, ...]
    priors: FloatArray
    slack: BoolArray
    own: tuple[tuple[tuple[int, ...], float] | None, ...]

    def price(self, amplitudes: FloatArray, variance_m2: float) -> float:
        """Return what the choice of these amplitudes costs, as a logarithm of odds.

        A free one costs √n times its size over the noise, and more beyond what is plausible; slack costs by
        its normal prior.
        """
        size = np.abs(amplitudes)
        bounds = np.array(
            [
                self.priors[place]
                if own is None
                else max(own[1], max((float(size[at]) for at in own[0]), default=0.0))
                + math.sqrt(variance_m2 / len(self.columns))
                for place, own in enumerate(self.own)
            ]
        )
        free = ~self.slack
        signal = len(self.columns) * size**2 / variance_m2
        beyond = np.maximum(size / bounds - _PLAUSIBLE, 0.0)
        cost = 0.5 * np.log1p(signal[free]).sum() + 0.5 * (beyond[free] ** 2).sum()
        normal = size[self.slack] / self.priors[self.slack]
        room = len(self.columns) * self.priors[self.slack] ** 2 / variance_m2
        return float(cost + 0.5 * (normal**2).sum() + 0.5 * np.log1p(room).sum())


def _gathered(name: Direction, chosen: Sequence[Prepared], count: int) -> _Gathered:
    """Return the patterns of all causes; a key that one cause is recognised by is bound to no other."""
    columns: list[FloatArray] = []
    keys: list[str] = []
    priors: list[float] = []
    slack: list[bool] = []
    own: list[tuple[tuple[int, ...], float] | None] = []
    for item in chosen:
        part = item.parts[name]
        known = part.known
        size = 0.0 if known is None else math.sqrt(float(known @ known) / len(known))
        start = len(keys)
        recognised = tuple(
            start + place for place, pattern in enumerate(part.patterns) if not pattern.accompanies
        )
        for place, pattern in enumerate(part.patterns):
            if pattern.key in keys:
                at = keys.index(pattern.key)
                priors[at] = max(priors[at], pattern.prior_m)
                slack[at] = slack[at] and pattern.slack
                own[at] = own[at] if pattern.accompanies else None
                recognised = tuple(number - (number > start + place) for number in recognised)
                continue
            keys.append(pattern.key)
            columns.append(part.columns[:, place])
            priors.append(pattern.prior_m)
            slack.append(pattern.slack)
            own.append((recognised, size) if pattern.accompanies and not pattern.slack else None)
    design = np.column_stack(columns) if columns else np.empty((count, 0))
    return _Gathered(design, tuple(keys), np.array(priors), np.array(slack, dtype=bool), tuple(own))
