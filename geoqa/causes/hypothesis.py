"""What a cause would do to the residuals: a known effect, or patterns whose size is fitted."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.power import FALSE_ALARM
from geoqa.numerics.arrays import FloatArray, frozen

Direction = Literal["plan", "height"]
AXES = ("east", "north", "up")
DIRECTIONS: tuple[Direction, Direction] = ("plan", "height")


@dataclass(frozen=True, eq=False)
class Pattern:
    """A pattern over the points whose size is fitted.

    Attributes
    ----------
    key
        Patterns of one key are one: two causes that both need a constant share it.
    values : array, shape (n, 2) for the plan, (n,) for the height
        Effect in metres of one unit at each point of the evidence.
    prior_m
        How large the effect may plausibly be, one standard deviation, root mean square over the points.
    accompanies
        True where the pattern only goes with the cause, and is not what it is recognised by; it is then
        plausible up to the size of what it goes with.
    slack
        True where it is the uncertainty of a known effect, normal with `prior_m`.
    """

    key: str
    direction: Direction
    values: FloatArray
    prior_m: float
    unit: str = "m"
    accompanies: bool = False
    slack: bool = False

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "values", frozen(self.values))


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """One way in which a cause would show.

    Attributes
    ----------
    cause
        Id of the diagnosis.
    words
        What is supposed, as part of a sentence: "the base correction is missing on the points".
    known_m : array, shape (n, 3), or None
        Effect on each point of the evidence where its size is known beforehand.
    coincidence
        For a known effect: the share of arbitrary effects of this kind that it would match.
    choices
        From how many alike ones it was picked: a single point of n, one of several multiples.
    false_alarm
        Risk of its test of calling noise a cause, before it pays for the choices.
    log_prior
        Natural logarithm of how usual it is, 0 for usual.
    point_rows
        Points of the evidence that it is about; empty for all.
    gross
        True where it stands before all patterns: something was read or measured wrongly.
    """

    cause: str
    words: str
    patterns: tuple[Pattern, ...] = ()
    known_m: FloatArray | None = None
    coincidence: float | None = None
    choices: int = 1
    false_alarm: float = FALSE_ALARM
    log_prior: float = 0.0
    point_rows: tuple[int, ...] = ()
    gross: bool = False

    def __post_init__(self) -> None:
        """Make the array read-only."""
        if self.known_m is not None:
            object.__setattr__(self, "known_m", frozen(self.known_m))

    @property
    def amplitudes(self) -> tuple[Pattern, ...]:
        """Return the patterns by which the cause is recognised."""
        return tuple(item for item in self.patterns if not item.accompanies)

    @property
    def components(self) -> int:
        """Return the degrees of freedom of the test: amplitudes, or components of a known effect."""
        if self.known_m is None:
            return len(self.amplitudes)
        return max(int(np.any(self.known_m != 0.0, axis=0).sum()), 1)


Search: TypeAlias = Callable[[Evidence, FloatArray], Iterable[Hypothesis]]
"""From the evidence and what is left of the residuals, shape (n, 3): hypotheses worth a try."""


def constant(evidence: Evidence, axis: int, prior_m: float, *, accompanies: bool = False) -> Pattern:
    """Return the pattern of a shift along east, north or up (0, 1, 2), alike at all points."""
    key = f"shift {AXES[axis]}"
    if axis == 2:
        return Pattern(key, "height", np.ones(len(evidence)), prior_m, accompanies=accompanies)
    values = np.zeros((len(evidence), 2))
    values[:, axis] = 1.0
    return Pattern(key, "plan", values, prior_m, accompanies=accompanies)


def slack(evidence: Evidence, cause: str, axis: int, sigma_m: float) -> Pattern:
    """Return by what the known effect of a cause may be off along an axis, with its standard deviation."""
    pattern = constant(evidence, axis, sigma_m, accompanies=True)
    return replace(pattern, key=f"{cause}: {AXES[axis]}", slack=True)


def on_slopes(effect_m: FloatArray, gradient: FloatArray) -> FloatArray:
    """Return an effect with what its plan part makes of heights, shape (n, 3).

    Where the map lies off by v in plan, its surface is read v beside the place, and is too high by −g·v on a
    slope g.

    Parameters
    ----------
    gradient : array, shape (n, 2)
        Rise of the surface per metre east and north; NaN, where it is not known, counts as flat.

    Examples
    --------
    >>> on_slopes(np.array([[2.0, 0.0, 1.0]]), np.array([[0.01, 0.0]])).tolist()
    [[2.0, 0.0, 0.98]]
    """
    effect = np.array(effect_m)
    effect[:, 2] -= (np.nan_to_num(gradient) * effect[:, :2]).sum(axis=1)
    return effect


def same_everywhere(evidence: Evidence, vector_m: Iterable[float]) -> FloatArray:
    """Return one vector east, north, up for all points, shape (n, 3)."""
    return np.tile(np.asarray(list(vector_m), dtype=float), (len(evidence), 1))
