"""INSPIRE Data Specification on Elevation: recommended minimum accuracy."""

from collections.abc import Iterator
from typing import Any

from geoqa.accuracy.judging import Rule, met
from geoqa.accuracy.limits import metres
from geoqa.accuracy.options import Option, read_options
from geoqa.records.results import ComponentStatistics, Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "inspire-elevation"
SOURCE = (
    "INSPIRE, Data Specification on Elevation – Technical Guidelines, D2.8.II.1, table 11 (read; number and "
    "edition 3.0 of 2013 from memory), and Data Specification on Orthoimagery – Technical Guidelines, 7.1.2 "
    "(read)."
)
# [INSPIRE-EL2013], table 11: shares of the grid spacing, of the scale number and of the contour interval.
GRID_VERTICAL, GRID_HORIZONTAL = 1 / 3, 1 / 6
SCALE_HORIZONTAL_M, CONTOUR_VERTICAL = 1 / 10_000, 1 / 6
# [INSPIRE-EL2013], table 11: where the ground is hidden, as under trees, by half more.
HIDDEN_GROUND_FACTOR = 1.5
_RECOMMENDED = "Technical guidelines recommend; they do not oblige."

OPTIONS = (
    Option("grid_spacing_m", "Spacing of the elevation grid", "m"),
    Option("scale", "Scale number of elevation as vector data"),
    Option("contour_interval_m", "Contour interval of elevation as vector data", "m"),
)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return RMSE_H and RMSE_v against the recommendations for a grid, or for vector data.

    Without an option the figures are stated. East and north are stated together with the radial
    figure, as the guidelines on orthoimagery ask.
    """
    options = read_options(ID, request.options, OPTIONS)
    return (*_plan(case, options), *_heights(case, options))


def _plan(case: StandardCase, options: dict[str, Any]) -> Iterator[Judgement]:
    figures = case.statistics
    limit_m, words = _limit(
        options, ("grid_spacing_m", GRID_HORIZONTAL, "1/6 of the grid spacing"),
        ("scale", SCALE_HORIZONTAL_M, "1/10 000 of the scale number in metres"),
    )  # fmt: skip
    rule = Rule(ID, "Elevation, table 11", "RMSE_H")
    yield _judged(rule, figures.horizontal, limit_m, words)
    both = f"RMSE-x {metres(figures.east.rmse_m)}, RMSE-y {metres(figures.north.rmse_m)}"
    words = f"{both}, given together; the guidelines on orthoimagery set no limit."
    for name, part in (("RMSE-x", figures.east), ("RMSE-y", figures.north)):
        rule = Rule(ID, "Orthoimagery, 7.1.2", name)
        yield rule.judged(part.rmse_m, None, words, count=part.count)


def _heights(case: StandardCase, options: dict[str, Any]) -> Iterator[Judgement]:
    limit_m, words = _limit(
        options, ("grid_spacing_m", GRID_VERTICAL, "1/3 of the grid spacing"),
        ("contour_interval_m", CONTOUR_VERTICAL, "1/6 of the contour interval"),
    )  # fmt: skip
    yield _judged(Rule(ID, "Elevation, table 11", "RMSE_v"), case.statistics.up, limit_m, words)
    if case.vegetated is not None and case.vegetated.up.count:
        hidden_m = None if limit_m is None else HIDDEN_GROUND_FACTOR * limit_m
        rule = Rule(ID, "Elevation, table 11", "RMSE_v of hidden ground")
        yield _judged(rule, case.vegetated.up, hidden_m, f"{words}, and half more where the ground is hidden")


def _limit(options: dict[str, Any], *rules: tuple[str, float, str]) -> tuple[float | None, str]:
    """Return the smallest of the limits that the options give, and where it comes from."""
    limits = [(share * options[name], words) for name, share, words in rules if name in options]
    return min(limits, default=(None, ""))


def _judged(rule: Rule, part: ComponentStatistics, limit_m: float | None, words: str) -> Judgement:
    found = f"{rule.quantity} is {metres(part.rmse_m, limit_m)}"
    if limit_m is None:
        return rule.judged(
            part.rmse_m, None, f"{found}; no spacing, scale or interval was given.", count=part.count
        )
    relation = "within" if met(part.rmse_m, limit_m) else "beyond"
    sentence = f"{found}, {relation} the recommended {metres(limit_m)} ({words})."
    return rule.judged(part.rmse_m, limit_m, sentence, count=part.count, caveats=(_RECOMMENDED,))


STANDARD = Standard(
    id=ID,
    title="INSPIRE Data Specification on Elevation – Technical Guidelines",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
