"""Known marks: what the survey found at a place whose coordinates are published."""

from collections.abc import Iterator

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import Checkpoints, FixType, Role
from geoqa.records.survey import NO_KNOWN_MARK, SurveyFlag, Tie, TieVerdict
from geoqa.records.survey_settings import Survey
from geoqa.survey.words import AXES, metres, some

# Two-sided 95 % of the normal distribution, axis by axis.
_FACTOR = 1.96
_NOISE_M = 1e-8
# Published positions are printed to the millimetre.
_SAME_POSITION_M = 0.001


def ties(
    points: Checkpoints,
    published: Checkpoints,
    flags: tuple[tuple[SurveyFlag, ...], ...],
    rules: Survey,
    base_sigma_m: FloatArray,
) -> tuple[Tie, ...]:
    """Return the comparison of each known mark that was measured, in the order of the published list.

    The difference is measured minus known. It is held, axis by axis, against 1.96 times the root of
    the sum of both variances and that of the base, or against the limit for a warning between
    occupations where one of the first two is unknown. A mark with a float or autonomous solution, with
    disagreeing occupations or set unused decides nothing.

    Raises
    ------
    InputError
        Where a mark has two published positions.
    """
    wanted = set(published.ids)
    row_of = {name: row for row, name in enumerate(points.ids) if name in wanted} if wanted else {}
    found = []
    for place in _once(published):
        row = row_of.get(published.ids[place])
        if row is not None:
            tolerance_m = _tolerance(points.sigma_m[row], published.sigma_m[place], base_sigma_m, rules)
            found.append(_tie(points, row, published, place, flags[row], tolerance_m))
    return tuple(found)


def statement(found: tuple[Tie, ...]) -> str:
    """Return what the known marks say of the absolute position."""
    beyond = [tie for tie in found if tie.verdict is TieVerdict.BEYOND]
    within = [tie for tie in found if tie.verdict is TieVerdict.WITHIN]
    if beyond:
        named = some([tie.id for tie in beyond])
        return (
            f"The survey does not fit the known position of {named}: base position, antenna height, frame or "
            "published coordinates are wrong, and absolute accuracy is not proved."
        )
    if within:
        heights = any(np.isfinite(tie.difference_m[2]) for tie in within)
        what = "in plan and height" if heights else "in plan only"
        return (
            f"The absolute position was checked {what} at {some([tie.id for tie in within])}: every "
            "difference to the known position lies within its tolerance."
        )
    if found:
        named = some([tie.id for tie in found])
        return f"The measurement of {named} decides nothing: absolute accuracy is not proved by this survey."
    return NO_KNOWN_MARK


def tie_messages(points: Checkpoints, published: Checkpoints, found: tuple[Tie, ...]) -> Iterator[str]:
    """Yield what the user should know of the known marks, the statement last."""
    yield from (f"{tie.measured_origin}: {tie.sentence}" for tie in found)
    measured, known = {tie.id for tie in found}, set(published.ids)
    missed = [name for name in dict.fromkeys(published.ids) if name not in measured]
    if missed:
        yield f"Known, and not measured: {some(missed)}."
    marks = np.flatnonzero(np.array(points.roles, dtype=object) == Role.MARK).tolist()
    without = [points.ids[row] for row in marks if points.ids[row] not in known]
    if without:
        yield (
            f"{some(without)}: the role is mark, but no table of points with known = true holds the "
            "published coordinates, so that nothing was compared."
        )
    yield statement(found)


def _once(published: Checkpoints) -> Iterator[int]:
    """Yield the first row of each published mark, or raise where another row says otherwise."""
    first: dict[str, int] = {}
    for row, name in enumerate(published.ids):
        before = first.setdefault(name, row)
        if before == row:
            yield row
            continue
        apart_m = np.abs(published.position_m[row] - published.position_m[before])
        if np.nanmax(apart_m) > _SAME_POSITION_M:
            message = (
                f"{published.origin(row)}: the known mark “{name}” has another position in "
                f"{published.origin(before)}, {metres(float(np.nanmax(apart_m)))} apart. Keep the valid one."
            )
            raise InputError(message)


def _tolerance(measured_m: FloatArray, known_m: FloatArray, base_m: FloatArray, rules: Survey) -> FloatArray:
    sigma_m = np.sqrt(measured_m**2 + known_m**2 + base_m**2)
    limits_m = np.array([rules.warn_horizontal_m, rules.warn_horizontal_m, rules.warn_vertical_m])
    return np.where(np.isfinite(sigma_m), _FACTOR * sigma_m, limits_m)


def _tie(
    points: Checkpoints,
    row: int,
    published: Checkpoints,
    place: int,
    flags: tuple[SurveyFlag, ...],
    tolerance_m: FloatArray,
) -> Tie:
    difference_m = points.position_m[row] - published.position_m[place]
    why_not = _undecided(points, row, flags)
    if why_not:
        verdict = TieVerdict.UNDECIDED
    elif (np.abs(difference_m) > tolerance_m + _NOISE_M).any():
        verdict = TieVerdict.BEYOND
    else:
        verdict = TieVerdict.WITHIN
    ending = f", {why_not}: not decided" if why_not else f": {verdict}"
    told = _differences(difference_m, tolerance_m)
    return Tie(
        id=points.ids[row],
        known_origin=published.origin(place),
        measured_origin=points.origin(row),
        difference_m=difference_m,
        tolerance_m=tolerance_m,
        verdict=verdict,
        sentence=f"“{points.ids[row]}”, measured minus known: {told}{ending}.",
    )


def _undecided(points: Checkpoints, row: int, flags: tuple[SurveyFlag, ...]) -> str | None:
    if SurveyFlag.DISAGREE in flags:
        return "but its occupations disagree"
    if points.fixes[row] in (FixType.FLOAT, FixType.AUTONOMOUS):
        return f"but with a {points.fixes[row]} solution"
    return "but set unused" if points.roles[row] is Role.UNUSED else None


def _differences(difference_m: FloatArray, tolerance_m: FloatArray) -> str:
    return ", ".join(
        f"{axis} {metres(value, signed=True)} (± {metres(limit)})"
        for axis, value, limit in zip(AXES, difference_m.tolist(), tolerance_m.tolist(), strict=True)
        if np.isfinite(value)
    )
