"""Cures tried dry: what the residuals would be, with no input touched.

A trial explores; it never becomes a result. A cure whose size is fitted to the checkpoints makes them
control: it is labelled so, and its honest figure is that of the points it was not fitted to.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from geoqa.accuracy.limits import metres
from geoqa.accuracy.statistics import summarise
from geoqa.accuracy.trends import Trend, fitted, plane, shift, similarity
from geoqa.causes.comparison import Comparison, Weighed
from geoqa.causes.hypothesis import DIRECTIONS, on_slopes
from geoqa.causes.prediction import NAMES, effect_m
from geoqa.errors import InputError
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.records.decision import Trial
from geoqa.records.results import ResidualSet, Use, UseReason

WORDS = "vector EAST NORTH UP, without ID …, swap ID ID, shift, plane, similarity, or the id of a finding"


@dataclass(frozen=True, eq=False)
class _Cured:
    """Residuals after a cure, what was done, and figures of points it was not fitted to."""

    residuals: ResidualSet
    words: str
    left_out: dict[str, float] = field(default_factory=dict)
    point_ids: tuple[str, ...] = ()


def tried(
    cures: Sequence[str],
    residuals: ResidualSet,
    comparison: Comparison | None,
    *,
    gradient: FloatArray,
) -> tuple[Trial, ...]:
    """Return the trials asked for, then one of every cause that the comparison chose.

    Parameters
    ----------
    cures
        Each as words: see `WORDS`.
    gradient : array, shape (n, 2)
        Rise of the surface per metre east and north at each point; NaN where not known.

    Raises
    ------
    InputError
        For a cure that cannot be read, or names a point or a finding that is not there.
    """
    found = () if comparison is None else comparison.present[:3]
    asked = [(cure, _asked(cure.split(), residuals, comparison, gradient)) for cure in cures]
    taken = [
        (item.hypothesis.cause, _of_finding(item, residuals, comparison))
        for item in found
        if comparison is not None
    ]
    return (
        *(_trial(cure, cured, residuals, by_hand=True) for cure, cured in asked),
        *(_trial(cure, cured, residuals, by_hand=False) for cure, cured in taken),
    )


def _trial(cure: str, cured: _Cured, residuals: ResidualSet, *, by_hand: bool) -> Trial:
    before, after = summarise(residuals), summarise(cured.residuals)
    told = [
        f"{name} RMSE {metres(old.rmse_m)} → {metres(new.rmse_m)}"
        for name, old, new in (
            ("horizontal", before.horizontal, after.horizontal),
            ("vertical", before.up, after.up),
        )
        if old.count and new.count
    ]
    sentence = f"Exploration: {cured.words}; {', '.join(told) or 'no point counts'}."
    if cured.left_out:
        honest = ", ".join(f"{name} {metres(value)}" for name, value in cured.left_out.items())
        sentence += (
            " The checkpoints become control by it and no longer test the map; at points that it was not "
            f"fitted to: {honest}."
        )
    return Trial(
        cure=cure,
        origin="command line" if by_hand else "finding",
        sentence=sentence,
        makes_control=bool(cured.left_out),
        before=before,
        after=after,
        leave_one_out_rmse_m=cured.left_out,
        point_ids=cured.point_ids,
    )


def _asked(
    words: list[str], residuals: ResidualSet, comparison: Comparison | None, gradient: FloatArray
) -> _Cured:
    verb, rest = (words[0], words[1:]) if words else ("", [])
    if verb == "vector" and len(rest) == 3:
        return _vector(rest, residuals, gradient)
    if verb == "without" and rest:
        return _without(rest, residuals)
    if verb == "swap" and len(rest) == 2:
        return _swapped(rest, residuals)
    if verb in ("shift", "plane", "similarity") and not rest:
        return _trend(verb, residuals)
    chosen = None if comparison is None else comparison.found(verb)
    if chosen is not None and comparison is not None and not rest:
        return _of_finding(chosen, residuals, comparison)
    present = (
        "none" if comparison is None else ", ".join(item.hypothesis.cause for item in comparison.present)
    )
    message = (
        f"--cure: “{' '.join(words)}” is no cure that can be tried. Write {WORDS} (found here: "
        f"{present or 'none'})."
    )
    raise InputError(message)


def _vector(numbers: list[str], residuals: ResidualSet, gradient: FloatArray) -> _Cured:
    try:
        vector = np.array([float(text.replace("−", "-")) for text in numbers])
    except ValueError as mistake:
        message = f"--cure: “vector {' '.join(numbers)}” needs three numbers, metres east, north and up."
        raise InputError(message) from mistake
    told = ", ".join(
        f"{value:+.3f} m {axis}" for value, axis in zip(vector, ("east", "north", "up"), strict=True)
    ).replace("-", "−")
    change = on_slopes(np.tile(vector, (len(residuals), 1)), gradient)
    return _Cured(_with(residuals, residuals.delta_m + change), f"the product moved by {told}")


def _without(names: list[str], residuals: ResidualSet) -> _Cured:
    rows = [_row(name, residuals) for name in names]
    keep = np.ones(len(residuals), dtype=bool)
    keep[rows] = False
    cured = replace(
        residuals, horizontal=_kept(residuals.horizontal, keep), vertical=_kept(residuals.vertical, keep)
    )
    return _Cured(cured, f"without {', '.join(names)}", point_ids=tuple(names))


def _kept(use: Use, keep: BoolArray) -> Use:
    reasons = tuple(
        reason if stays or reason is not None else UseReason.ROLE_UNUSED
        for stays, reason in zip(keep.tolist(), use.reasons, strict=True)
    )
    return Use(use.used & keep, reasons)


def _swapped(names: list[str], residuals: ResidualSet) -> _Cured:
    first, second = (_row(name, residuals) for name in names)
    delta = np.array(residuals.delta_m)
    for one, other in ((first, second), (second, first)):
        delta[one] = residuals.product_m[other] - residuals.survey_m[one]
    return _Cured(
        _with(residuals, delta), f"the names of {names[0]} and {names[1]} exchanged", point_ids=tuple(names)
    )


def _trend(name: str, residuals: ResidualSet) -> _Cured:
    delta, left_out = np.array(residuals.delta_m), {}
    for direction, rows in (("horizontal", residuals.horizontal.used), ("vertical", residuals.vertical.used)):
        if not rows.any() or (name, direction) in (("plane", "horizontal"), ("similarity", "vertical")):
            continue
        columns = slice(0, 2) if direction == "horizontal" else 2
        trend = _fitted_trend(
            name, residuals.survey_m[rows, :2], np.asarray(residuals.delta_m[rows, columns])
        )
        delta[rows, columns] = trend.left
        left_out[direction] = trend.leave_one_out_rmse_m()
    return _Cured(_with(residuals, delta), f"a {name} fitted to the checkpoints taken off", left_out)


def _fitted_trend(name: str, places_m: FloatArray, delta_m: FloatArray) -> Trend:
    if name == "shift":
        return shift(delta_m)
    return plane(places_m, delta_m) if name == "plane" else similarity(places_m, delta_m)


def _of_finding(found: Weighed, residuals: ResidualSet, comparison: Comparison) -> _Cured:
    """Return the residuals without the effect of a chosen cause; beyond the points compared it is unknown."""
    evidence = comparison.evidence
    delta = np.array(residuals.delta_m)
    if evidence.thinned_from > len(evidence):
        residuals = _only(residuals, evidence.rows)
        delta = np.array(residuals.delta_m)
        delta -= np.nan_to_num(effect_m(comparison, found))
    else:
        delta[evidence.rows] -= np.nan_to_num(effect_m(comparison, found))
    words = f"the effect of {found.hypothesis.cause} taken off"
    return _Cured(
        _with(residuals, delta),
        words,
        dict(_left_out(found, comparison)),
        tuple(evidence.ids[row] for row in found.hypothesis.point_rows),
    )


def _left_out(found: Weighed, comparison: Comparison) -> Iterator[tuple[str, float]]:
    """Yield the leave-one-out RMSE where sizes were fitted to the checkpoints."""
    for name in DIRECTIONS:
        part, observed = found.item.parts[name], comparison.evidence.residuals(name)
        if part.known is None and part.columns.shape[1] and not found.hypothesis.point_rows:
            left_out = fitted(part.columns, observed).left_out
            per_point = left_out.reshape(-1, 2) if name == "plan" else left_out[:, None]
            yield NAMES[name], float(np.sqrt((per_point**2).sum(axis=1).mean()))


def _only(residuals: ResidualSet, rows: IntArray) -> ResidualSet:
    return replace(
        residuals,
        ids=tuple(residuals.ids[row] for row in rows.tolist()),
        survey_m=residuals.survey_m[rows],
        product_m=residuals.product_m[rows],
        delta_m=residuals.delta_m[rows],
        sigma_survey_m=residuals.sigma_survey_m[rows],
        sigma_product_m=residuals.sigma_product_m[rows],
        horizontal=_use_of(residuals.horizontal, rows),
        vertical=_use_of(residuals.vertical, rows),
        groups={},
    )


def _use_of(use: Use, rows: IntArray) -> Use:
    return Use(use.used[rows], tuple(use.reasons[row] for row in rows.tolist()))


def _with(residuals: ResidualSet, delta_m: FloatArray) -> ResidualSet:
    return replace(residuals, delta_m=delta_m, product_m=residuals.survey_m + delta_m)


def _row(name: str, residuals: ResidualSet) -> int:
    if name not in residuals.ids:
        message = (
            f"--cure: there is no point “{name}” in this check. Write its id as it stands in the results."
        )
        raise InputError(message)
    return residuals.ids.index(name)
