"""What the points that count could not have seen."""

import math
from collections.abc import Iterator

from geoqa.accuracy.detection import POWER, Effect, height_effects, noise, plan_effects, smallest_detectable
from geoqa.accuracy.limits import checkpoints, metres
from geoqa.numerics.arrays import FloatArray
from geoqa.records.evidence import BlindSpot, Direction
from geoqa.records.results import ResidualSet

_SHARED = (
    "An error that survey and product share, such as that of a common base, would not have shown at any "
    "size: it cancels in the residuals."
)


def blind_spots(residuals: ResidualSet) -> tuple[BlindSpot, ...]:
    """Return, effect by effect, the smallest size that these very points would have seen.

    The noise is what is left of the residuals beside the effects themselves. A direction without a
    point gives nothing.
    """
    plan, height = residuals.horizontal.used, residuals.vertical.used
    places_m = residuals.survey_m[:, :2]
    spots: list[BlindSpot] = []
    if plan.any():
        values_m = residuals.used_horizontal_m.T.ravel()
        spots += _spots(plan_effects(places_m[plan]), values_m, int(plan.sum()))
    if height.any():
        values_m = residuals.used_vertical_m
        spots += _spots(height_effects(places_m[height]), values_m, int(height.sum()))
    first = [spot for spot in spots if spot.effect in {"shift", "bias"}]
    return (*spots, *(_shared(spot.direction, spot.count) for spot in first))


def _spots(effects: tuple[Effect, ...], values_m: FloatArray, count: int) -> Iterator[BlindSpot]:
    noise_m = noise(effects, values_m)
    for effect in effects:
        size = None if math.isnan(noise_m) else smallest_detectable(effect, noise_m)
        sentence = _sentence(effect, size, noise_m, count)
        yield BlindSpot(effect.name, effect.direction, size, effect.unit, noise_m, count, sentence)


def _sentence(effect: Effect, size: float | None, noise_m: float, count: int) -> str:
    if size is None:
        told = f"{checkpoints(count)} in these places cannot tell it"
        return f"A {effect.name} would not have shown at any size: {told}."
    return (
        f"A {effect.name} of less than {_size(size, effect.unit)} would probably not have shown "
        f"({checkpoints(count)}, noise {metres(noise_m)}; found in {100 * POWER:.0f} % of the cases)."
    )


def _size(size: float, unit: str) -> str:
    """Return a size with three significant digits, lengths to the millimetre.

    Examples
    --------
    >>> _size(0.0213, "m"), _size(214.4, "ppm")
    ('0.021 m', '214 ppm')
    """
    return f"{size:.3f} {unit}" if unit.startswith("m") else f"{size:.3g} {unit}"


def _shared(direction: Direction, count: int) -> BlindSpot:
    return BlindSpot("shared error", direction, None, "m", float("nan"), count, _SHARED)
