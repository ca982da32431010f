"""Hypotheses made ready to be fitted many times over: columns of one size, and what their choice costs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.hypothesis import DIRECTIONS, Direction, Hypothesis, Pattern
from geoqa.numerics.arrays import BoolArray, FloatArray

# An amplitude costs at least as much as one at the usual detection limit, some five standard deviations,
# however small it comes out: it was free to be large.
_LEAST_SIGNAL = 25.0
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


@dataclass(frozen=True, eq=False)
class Gathered:
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
        recognised = np.array([own is None for own in self.own])
        signal = np.where(recognised, np.maximum(signal, _LEAST_SIGNAL), signal)
        beyond = np.maximum(size / bounds - _PLAUSIBLE, 0.0)
        cost = 0.5 * np.log1p(signal[free]).sum() + 0.5 * (beyond[free] ** 2).sum()
        normal = size[self.slack] / self.priors[self.slack]
        room = len(self.columns) * self.priors[self.slack] ** 2 / variance_m2
        return float(cost + 0.5 * (normal**2).sum() + 0.5 * np.log1p(room).sum())


def gather(name: Direction, chosen: Sequence[Prepared], count: int) -> Gathered:
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
    return Gathered(design, tuple(keys), np.array(priors), np.array(slack, dtype=bool), tuple(own))
