"""What is left after a cure, predicted before anybody runs anything again."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from geoqa.causes.comparison import Comparison, Weighed
from geoqa.causes.fitting import DirectionFit
from geoqa.causes.hypothesis import DIRECTIONS, Direction
from geoqa.causes.prepared import Part
from geoqa.numerics.arrays import FloatArray

# Two-sided 95 %; a little wider, since the choice of the cause has its own uncertainty.
_TAIL, _CHOICE = 0.975, 1.2
NAMES: dict[Direction, str] = {"plan": "horizontal", "height": "vertical"}


@dataclass(frozen=True)
class Predicted:
    """An RMSE to be expected at the same points, with its 95 % interval, metres."""

    rmse_m: float
    interval_m: tuple[float, float]


@dataclass(frozen=True)
class Amplitude:
    """A fitted size in its own unit, with its standard deviation."""

    value: float
    sigma: float
    unit: str


def amplitudes(comparison: Comparison, weighed: Weighed) -> dict[str, Amplitude]:
    """Return the fitted sizes of a chosen cause by key of the pattern."""
    found: dict[str, Amplitude] = {}
    for name in DIRECTIONS:
        part, fit = weighed.item.parts[name], comparison.fit.parts[name]
        for place, pattern in enumerate(part.patterns):
            at = fit.keys.index(pattern.key)
            scale = part.scales[place]
            sigma = math.sqrt(max(float(fit.covariance[at, at]), 0.0))
            found[pattern.key] = Amplitude(float(fit.amplitudes[at]) / scale, sigma / scale, pattern.unit)
    return found


def effect_m(comparison: Comparison, weighed: Weighed) -> FloatArray:
    """Return what a chosen cause does to each point of the evidence, shape (n, 3); NaN where not counted."""
    evidence = comparison.evidence
    effect = np.full((len(evidence), 3), np.nan)
    for name in DIRECTIONS:
        fit, part = comparison.fit.parts[name], weighed.item.parts[name]
        own = _cured(part, fit)
        made = fit.columns[:, own] @ fit.amplitudes[own]
        made = made if part.known is None else made + part.known
        if name == "plan":
            effect[evidence.plan, :2] = made.reshape(-1, 2)
        else:
            effect[evidence.height, 2] = made
    return effect


def predicted(comparison: Comparison, weighed: Weighed) -> dict[str, Predicted]:
    """Return the RMSE, horizontal (radial) and vertical, once this cause is gone and the others stay.

    A known effect is taken off as it is, without the slack that its own uncertainty gives it. A fitted one is
    taken off as fitted, and what the fit owes to chance is added again, so that the figure is that of a cure
    at the source and not of a map bent onto its checkpoints.
    """
    found: dict[str, Predicted] = {}
    for name in DIRECTIONS:
        observed = comparison.evidence.residuals(name)
        if len(observed):
            points = len(observed) // (2 if name == "plan" else 1)
            found[NAMES[name]] = _predicted(
                observed, weighed.item.parts[name], comparison.fit.parts[name], points
            )
    return found


def _cured(part: Part, fit: DirectionFit) -> list[int]:
    """Return the places of the patterns that a cure takes away: a known effect is cured without its slack."""
    return [fit.keys.index(pattern.key) for pattern in part.patterns if not pattern.slack]


def _predicted(observed: FloatArray, part: Part, fit: DirectionFit, points: int) -> Predicted:
    remaining = observed if part.known is None else observed - part.known
    own = _cured(part, fit)
    columns, covariance = fit.columns[:, own], fit.covariance[np.ix_(own, own)]
    remaining = remaining - columns @ fit.amplitudes[own]
    by_chance = columns.T @ columns @ covariance
    total = float(remaining @ remaining) + float(np.trace(by_chance))
    slope = columns.T @ remaining
    variance = 4 * float(slope @ covariance @ slope) + 2 * float(np.trace(by_chance @ by_chance))
    if total <= 0.0:
        return Predicted(0.0, (0.0, 0.0))
    wide = _CHOICE * float(stdtrit(max(fit.freedom, 1), _TAIL))
    factor = math.exp(wide * math.sqrt(max(variance, 0.0)) / total / 2)
    rmse_m = math.sqrt(total / points)
    return Predicted(rmse_m, (rmse_m / factor, rmse_m * factor))
