"""How much a fitted panel looks like a panel: measures over its whole footprint, and their verdict."""

from dataclasses import dataclass
from math import exp, log, log10

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.targets._appearance import GROUND_REACH, PanelFit
from geoqa.targets._pattern import PanelPattern

# The ground is looked at from here to GROUND_REACH, in half sides: clear of the blurred outline.
_GROUND_FROM = 1.12
_FEWEST_GROUND_PIXELS = 12


@dataclass(frozen=True)
class Evidence:
    """What speaks for and against a fitted panel.

    Attributes
    ----------
    explained
        Share of the variance on the panel that the model explains.
    continuation
        How far the pattern goes on beyond the outline, as a panel's does not: 1 for lines that cross
        and for a chequered floor.
    aspect
        Longer over shorter axis: 1 for a square, more for a rhomb or an oblong.
    relative_contrast
        Half the difference of the two tones over their mean.
    softness
        Blur in sides of the panel.
    size_px
        Side of a square of the same area.
    size_ratio
        That side over the known one, or None where none is known.
    strength
        Correlation of the block averages with the pattern.
    """

    explained: float
    continuation: float
    aspect: float
    relative_contrast: float
    softness: float
    size_px: float
    size_ratio: float | None
    strength: float

    def score(self) -> float:
        """Return the probability that this is a panel and not something that resembles one.

        The weights are those of a logistic regression over 2 500 simulated panels (8 to 64 px, signal to
        noise 8 to 60, lossless to JPEG quality 75, affine up to 12 %, contrast down to 44 grey values of
        256) and 19 000 candidates in windows without one: textures, stones, stripes, crossing lines,
        corners of boxes, parking lots, chequered floors, and orthophotos of trees, fields and a river.
        Where no size is known, many are tried, so that the odds beforehand are lower.
        """
        log_odds = (
            (-3.0 if self.size_ratio is None else -1.5)
            - 5.8 * log10(max(1.0 - self.explained, 0.01))
            - 20.0 * _between(self.continuation - 0.25, 0.0, 0.75)
            - 25.0 * min(log(self.aspect), 1.0) ** 2
            - 60.0 * min(abs(log(self.size_ratio or 1.0)), 1.0) ** 2
            - 38.0 * _between(self.softness - 0.08, 0.0, 0.2)
            + 4.5 * _between(log(max(self.relative_contrast, 1e-9) / 0.2), -2.0, 0.0)
            - 2.2 * _between(log(self.size_px / 16.0), -1.0, 0.0)
            - 7.5 * (1.0 - self.strength)
        )
        return 1.0 / (1.0 + exp(-_between(log_odds, -30.0, 30.0)))


def weigh(fit: PanelFit, pattern: PanelPattern, strength: float, known_size_px: float | None) -> Evidence:
    """Return the measures of a fitted panel."""
    lengths = np.linalg.svd(fit.shape.axes, compute_uv=False)
    size_px = fit.shape.size_px
    return Evidence(
        explained=fit.explained,
        continuation=_continuation(fit, pattern),
        aspect=float(lengths[0] / max(float(lengths[1]), 1e-12)),
        relative_contrast=abs(fit.contrast) / max(abs(fit.middle), 1e-300),
        softness=fit.shape.blur_px / size_px,
        size_px=size_px,
        size_ratio=None if known_size_px is None else size_px / known_size_px,
        strength=strength,
    )


def _continuation(fit: PanelFit, pattern: PanelPattern) -> float:
    """Return how far the ground follows the pattern as it would run on, or as it would repeat."""
    distance = np.maximum(np.abs(fit.u), np.abs(fit.v))
    around = (distance > _GROUND_FROM) & (distance < GROUND_REACH)
    if around.sum() < _FEWEST_GROUND_PIXELS or fit.contrast == 0.0:
        return 0.0
    u, v = ((axis[around] + 1.0) % 2.0 - 1.0 for axis in (fit.u, fit.v))
    repeated = pattern.tone(u, v, 2.0 * fit.shape.blur_px / fit.shape.size_px)
    grey = fit.grey[around] / fit.contrast
    return max(_following(grey, fit.tone[around]), _following(grey, repeated))


def _following(grey: FloatArray, tone: FloatArray) -> float:
    """Return the lesser of the slope and the correlation of grey, in contrasts, on a tone."""
    grey, tone = grey - grey.mean(), tone - tone.mean()
    common = float(tone @ grey)
    slope = common / max(float(tone @ tone), 1e-300)
    correlation = common / max(float(np.linalg.norm(tone) * np.linalg.norm(grey)), 1e-300)
    return min(slope, correlation)


def _between(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
