"""Which systematic effects a set of points can see, and the test that sees them.

An effect is a pattern in the residuals of one direction, a column for each of its parameters. It is
tested by least squares beside what may also be there (its company): F of the fit with it against
that without. Noise is taken as normal, equal at all points and in both axes, and independent from
point to point; for points along a profile the last is too hopeful.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, fdtri, ncfdtr

from geoqa.numerics.arrays import FloatArray, frozen
from geoqa.records.evidence import Direction

SIGNIFICANCE, POWER = 0.05, 0.80
ARC_SECOND = np.pi / 648_000
PPM = 1e-6
# Tilts are given over this distance, metres.
TILT_BASE_M = 100.0
# A pattern that its company explains to this share of its square cannot be told from it.
_INSEPARABLE = 1e-9


@dataclass(frozen=True, eq=False)
class Effect:
    """A pattern of residuals.

    Attributes
    ----------
    name, unit
        Of its size; 1 of this unit gives the residuals of a column of `pattern`, in metres.
    pattern : array, shape (k, m)
        k residuals (for the plan all of east, then all of north), m parameters.
    company : array, shape (k, q)
        What is fitted beside it.
    """

    name: str
    direction: Direction
    unit: str
    pattern: FloatArray
    company: FloatArray

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        object.__setattr__(self, "pattern", frozen(self.pattern))
        object.__setattr__(self, "company", frozen(self.company))

    @property
    def freedom(self) -> tuple[int, int]:
        """Return the degrees of freedom of the F test: parameters, residuals left over."""
        rows, parameters = self.pattern.shape
        return parameters, rows - parameters - self.company.shape[1]


@dataclass(frozen=True, eq=False)
class EffectTest:
    """An effect fitted to residuals: estimates, F, and the probability of so large an F by chance."""

    estimates: FloatArray
    sigmas: FloatArray
    f: float
    probability: float


def plan_effects(plan_m: FloatArray) -> tuple[Effect, ...]:
    """Return shift, scale and rotation at these places, an array of shape (n, 2) in metres.

    Scale and rotation are about the centre of the points and keep each other and a shift company.
    """
    count = len(plan_m)
    east, north = (plan_m - plan_m.mean(axis=0)).T
    ones = np.repeat([1.0, 0.0], count)
    shift = np.column_stack([ones, 1.0 - ones])
    scale = PPM * np.concatenate([east, north])[:, None]
    rotation = ARC_SECOND * np.concatenate([-north, east])[:, None]
    nothing = np.empty((2 * count, 0))
    return (
        Effect("shift", "horizontal", "m", shift, nothing),
        Effect("scale", "horizontal", "ppm", scale, np.column_stack([shift, rotation])),
        Effect("rotation", "horizontal", "arc seconds", rotation, np.column_stack([shift, scale])),
    )


def height_effects(plan_m: FloatArray) -> tuple[Effect, ...]:
    """Return bias, tilt and dome at these places, an array of shape (n, 2) in metres.

    A tilt keeps company with a bias, a dome with both. The size of a dome is the height of its
    middle above its edge, which runs through the point farthest from the centre.
    """
    centred = plan_m - plan_m.mean(axis=0)
    bias, tilt = np.ones((len(plan_m), 1)), centred / TILT_BASE_M
    square = (centred**2).sum(axis=1, keepdims=True)
    dome = -square / max(float(square.max()), np.finfo(float).tiny)
    return (
        Effect("bias", "vertical", "m", bias, np.empty((len(plan_m), 0))),
        Effect("tilt", "vertical", f"m per {TILT_BASE_M:.0f} m", tilt, bias),
        Effect("dome", "vertical", "m", dome, np.column_stack([bias, tilt])),
    )


def smallest_detectable(effect: Effect, sigma_m: float) -> float | None:
    """Return the smallest size that the test finds in 80 % of the cases, at a significance of 5 %.

    Of several parameters the worst direction counts. None where these points cannot tell it at all.

    Parameters
    ----------
    sigma_m
        Noise of one residual, metres.

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [0.5, 0.5]])
    >>> round(smallest_detectable(height_effects(corners)[0], 1.0), 2)
    1.68
    """
    parameters, left = effect.freedom
    if left < 1:
        return None
    alone = _apart(effect.pattern, effect.company)
    information = np.linalg.eigvalsh(alone.T @ alone)
    largest = float((effect.pattern**2).sum())
    if information[0] <= _INSEPARABLE * largest:
        return None
    return sigma_m * float(np.sqrt(noncentrality(parameters, left) / information[0]))


def noncentrality(parameters: int, left: int, significance: float = SIGNIFICANCE) -> float:
    """Return the noncentrality at which the F test finds an effect in 80 % of the cases.

    Examples
    --------
    >>> round(noncentrality(1, 10**6), 3), round((1.959964 + 0.841621) ** 2, 3)
    (7.849, 7.849)
    """
    critical = float(fdtri(parameters, left, 1 - significance))
    low, high = 0.0, 1.0
    while ncfdtr(parameters, left, high, critical) > 1 - POWER:
        low, high = high, 2 * high
    for _ in range(60):
        middle = (low + high) / 2
        if ncfdtr(parameters, left, middle, critical) > 1 - POWER:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def fit(effect: Effect, residuals_m: FloatArray) -> EffectTest | None:
    """Return the effect as found in residuals, shape (k,); None where they cannot tell it.

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    >>> found = fit(height_effects(corners)[0], np.array([0.04, 0.05, 0.05, 0.06]))
    >>> round(float(found.estimates[0]), 3), found.probability < 0.01
    (0.05, True)
    """
    parameters, left = effect.freedom
    if left < 1 or smallest_detectable(effect, 1.0) is None:
        return None
    alone = _apart(effect.pattern, effect.company)
    rest = _apart(residuals_m[:, None], effect.company)[:, 0]
    normal = alone.T @ alone
    estimates = np.linalg.solve(normal, alone.T @ rest)
    explained = float(estimates @ alone.T @ rest)
    variance = max(float(rest @ rest) - explained, 0.0) / left
    exact = float("inf") if explained > 0 else 0.0
    f = explained / parameters / variance if variance > 0 else exact
    sigmas = np.sqrt(variance * np.diag(np.linalg.inv(normal)))
    return EffectTest(np.asarray(estimates), np.asarray(sigmas), f, float(fdtrc(parameters, left, f)))


def noise(effects: tuple[Effect, ...], residuals_m: FloatArray) -> float:
    """Return the noise of one residual beside all effects that the points can carry, metres.

    The largest set of effects counts that leaves four degrees of freedom, else the smallest one;
    NaN where nothing is left over.
    """
    for effect in (*reversed(effects), effects[0]):
        model = np.column_stack([effect.company, effect.pattern])
        left = len(residuals_m) - model.shape[1]
        if left >= 4 or (effect is effects[0] and left >= 1):
            rest = _apart(residuals_m[:, None], model)
            return float(np.sqrt((rest**2).sum() / left))
    return float("nan")


def _apart(columns: FloatArray, company: FloatArray) -> FloatArray:
    """Return what is left of columns when their company is fitted to them."""
    if company.shape[1] == 0:
        return columns
    scaled = company / np.maximum(np.sqrt((company**2).sum(axis=0)), np.finfo(float).tiny)
    solution = np.linalg.lstsq(scaled, columns, rcond=None)[0]
    return np.asarray(columns - scaled @ solution)
