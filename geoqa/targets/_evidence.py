"""How much a fitted target looks like one: measures over its whole footprint, and their verdict."""

from dataclasses import astuple, dataclass
from math import exp, log, log10

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.targets._appearance import AppearanceFit
from geoqa.targets._candidates import Candidate
from geoqa.targets._pattern import QUARTER_TURN, Likelihood
from geoqa.targets._shape import GROUND_REACH

# The ground is looked at from here to GROUND_REACH, in half sides: clear of the blurred outline.
_GROUND_FROM = 1.12
_FEWEST_GROUND_PIXELS = 12


@dataclass(frozen=True)
class Evidence:
    """What speaks for and against a fitted target.

    Attributes
    ----------
    explained
        Share of the variance on the footprint that the model explains.
    continuation
        How far the pattern goes on beyond the outline, as a target's does not: 1 for lines that cross
        and for a chequered floor.
    aspect
        Longer over shorter axis on the ground: 1 for a square, more for a rhomb or an oblong.
    relative_contrast
        Half the difference of the two tones over their mean.
    softness
        Blur in sides of the target.
    size_px
        Side of a square of the same area.
    size_ratio
        That side over the known one, or None where none is known.
    strength
        Correlation of the block averages with the pattern.
    stretch
        Largest ratio of a proportion to its usual value, as the absolute value of a logarithm.
    shadow
        Whether the edge of a shadow was taken off the picture.
    """

    explained: float
    continuation: float
    aspect: float
    relative_contrast: float
    softness: float
    size_px: float
    size_ratio: float | None
    strength: float
    stretch: float
    shadow: bool = False

    def features(self) -> tuple[float, ...]:
        """Return what each weight of a `Likelihood` is multiplied with, in its order."""
        return (
            1.0,
            1.0 if self.size_ratio is None else 0.0,
            log10(max(1.0 - self.explained, 0.01)),
            _between(self.continuation - 0.25, 0.0, 0.75),
            min(log(self.aspect), 1.0) ** 2,
            min(abs(log(self.size_ratio or 1.0)), 1.0) ** 2,
            _between(self.softness - 0.08, 0.0, 0.2),
            -_between(log(max(self.relative_contrast, 1e-9) / 0.2), -2.0, 0.0),
            -_between(log(self.size_px / 16.0), -1.0, 0.0),
            1.0 - self.strength,
            min(self.stretch, 2.0) ** 2,
            1.0 if self.shadow else 0.0,
        )

    def score(self, likelihood: Likelihood) -> float:
        """Return the probability that this is a target and not something that resembles one."""
        log_odds = float(np.dot(astuple(likelihood), self.features()))
        return 1.0 / (1.0 + exp(-_between(log_odds, -30.0, 30.0)))


def weigh(
    fit: AppearanceFit, start: Candidate, known_size_px: float | None, *, shadow: bool = False
) -> Evidence:
    """Return the measures of a target that was fitted near a candidate."""
    on_ground = fit.shape.axes @ np.linalg.inv(start.stretch)
    lengths = np.linalg.svd(on_ground, compute_uv=False)
    size_px = fit.shape.size_px
    stretches = [
        abs(log(one / usual))
        for one, usual in zip(fit.shape.proportions, fit.pattern.proportions, strict=True)
    ]
    return Evidence(
        explained=fit.explained,
        continuation=_continuation(fit),
        aspect=float(lengths[0] / max(float(lengths[1]), 1e-12)),
        relative_contrast=abs(fit.contrast) / max(abs(fit.middle), 1e-300),
        softness=fit.shape.blur_px / size_px,
        size_px=size_px,
        size_ratio=None if known_size_px is None else size_px / known_size_px,
        strength=start.strength,
        stretch=max(stretches, default=0.0),
        shadow=shadow,
    )


def _continuation(fit: AppearanceFit) -> float:
    """Return how far the ground follows the pattern as it would run on, or as it would repeat."""
    distance = fit.pattern.distance(fit.u, fit.v)
    around = (distance > _GROUND_FROM) & (distance < GROUND_REACH)
    if around.sum() < _FEWEST_GROUND_PIXELS or fit.contrast == 0.0:
        return 0.0
    grey = fit.sight.grey[around] / fit.contrast
    u, v = fit.u[around], fit.v[around]
    runs_on = _tone(fit, u, v)
    if fit.pattern.turn != QUARTER_TURN:
        return _following(grey, runs_on)
    repeated = _tone(fit, (u + 1.0) % 2.0 - 1.0, (v + 1.0) % 2.0 - 1.0)
    return max(_following(grey, runs_on), _following(grey, repeated))


def _tone(fit: AppearanceFit, u: FloatArray, v: FloatArray) -> FloatArray:
    return fit.pattern.tone(u, v, fit.shape.blur, fit.shape.proportions)


def _following(grey: FloatArray, tone: FloatArray) -> float:
    """Return the lesser of the slope and the correlation of grey, in contrasts, on a tone."""
    grey, tone = grey - grey.mean(), tone - tone.mean()
    common = float(tone @ grey)
    slope = common / max(float(tone @ tone), 1e-300)
    correlation = common / max(float(np.linalg.norm(tone) * np.linalg.norm(grey)), 1e-300)
    return min(slope, correlation)


def _between(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
