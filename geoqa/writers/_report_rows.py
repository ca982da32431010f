"""What the report shows, as rows of words ready to be written."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.records.assessment import Assessment
from geoqa.records.results import AccuracyFigure, AccuracyStatistics, Judgement, Quantity
from geoqa.writers._chip_names import chip_paths
from geoqa.writers._map_notes import largest_first
from geoqa.writers._numbers import MISSING, fixed, interval, metres, plain, whole

# Up to here all points stand in the table; above, the largest residuals and a sample of the others.
MOST_POINTS = 300
_LARGEST, _SAMPLED = 100, 100
# Pictures of targets inside the report; all others lie beside it.
MOST_PICTURES = 24


@dataclass(frozen=True)
class FigureRow:
    """One accuracy figure: of what, in which direction, how large, relative to what."""

    kind: str
    direction: str
    rmse: str
    interval: str
    relative_to: str


@dataclass(frozen=True)
class PointRow:
    """One point as the table shows it."""

    id: str
    role: str
    east: str
    north: str
    plan: str
    up: str
    plan_use: str
    height_use: str
    target: str
    slope: str
    origin: str
    picture: str | None


def figure_rows(assessment: Assessment) -> list[FigureRow]:
    """Return the three numbers, horizontal and vertical."""
    numbers = assessment.accuracy
    kinds = (
        ("fit to the checkpoints", numbers.fit),
        ("the product alone", numbers.product_alone),
        ("absolute", numbers.absolute),
    )
    return [
        _figure(kind, direction, figure)
        for kind, pair in kinds
        for direction, figure in zip(("horizontal", "vertical"), pair, strict=True)
    ]


def _figure(kind: str, direction: str, figure: AccuracyFigure) -> FigureRow:
    return FigureRow(kind, direction, metres(figure.rmse_m), interval(figure.interval_m), figure.relative_to)


def groups(assessment: Assessment) -> list[tuple[str, AccuracyStatistics]]:
    """Return the name of each group of points and its statistics."""
    return [
        (name if name == grouping else f"{grouping}: {name}", statistics)
        for grouping, members in assessment.statistics_by.items()
        for name, statistics in members.items()
    ]


def shown_rows(assessment: Assessment) -> tuple[list[int], str]:
    """Return the rows of the points in the table and a sentence about the choice (empty: all)."""
    total = len(assessment.residuals)
    if total <= MOST_POINTS:
        return list(range(total)), ""
    plan, up = largest_first(assessment)
    half = _LARGEST // 2
    largest = list(dict.fromkeys([*plan[:half].tolist(), *up[:half].tolist()]))
    others = np.setdiff1d(np.arange(total), largest)
    sample = others[np.linspace(0, len(others) - 1, _SAMPLED).round().astype(int)].tolist()
    sentence = (
        f"Of {whole(total)} points the table shows the {len(largest)} with the largest residuals in plan or "
        f"height, then {_SAMPLED} of the others, evenly spaced in the order of the files. All of them are in "
        "points.csv."
    )
    return [*largest, *sample], sentence


def point_rows(assessment: Assessment, rows: Sequence[int], *, pictures: bool) -> list[PointRow]:
    """Return the table of these points; `pictures` adds the paths of those that lie beside the report."""
    paths = chip_paths(assessment) if pictures else {}
    return [_point(assessment, row, paths[row].as_posix() if row in paths else None) for row in rows]


def _point(assessment: Assessment, row: int, path: str | None) -> PointRow:
    residuals, delta = assessment.residuals, assessment.residuals.delta_m[row]
    status = assessment.fixes.fixes[row].status
    return PointRow(
        id=residuals.ids[row],
        role=str(assessment.checkpoints.roles[row]),
        east=metres(float(delta[0]), signed=True),
        north=metres(float(delta[1]), signed=True),
        plan=metres(float(np.hypot(delta[0], delta[1]))),
        up=metres(float(delta[2]), signed=True),
        plan_use=_use(residuals.horizontal.used[row], residuals.horizontal.reasons[row]),
        height_use=_use(residuals.vertical.used[row], residuals.vertical.reasons[row]),
        target=str(status),
        slope=fixed(float(assessment.samples.slope_percent[row]), 1),
        origin=assessment.checkpoints.origin(row),
        picture=path,
    )


def _use(used: bool, reason: str | None) -> str:
    return "used" if used else f"not used: {reason or 'no reason given'}"


def pictured_rows(assessment: Assessment) -> list[int]:
    """Return the targets pictured in the report: those not used first, then the largest residuals."""
    paths = chip_paths(assessment)
    delta, used = assessment.residuals.delta_m, assessment.residuals.horizontal.used
    length = np.nan_to_num(np.hypot(delta[:, 0], delta[:, 1]), nan=-1.0)
    return sorted(paths, key=lambda row: (bool(used[row]), -float(length[row]), row))[:MOST_PICTURES]


def judgement_value(judgement: Judgement, value: float | None) -> str:
    """Return the value or the limit of a judgement with its unit."""
    if value is None:
        return MISSING
    number = metres(value) if judgement.unit == "m" else plain(value)
    return number if judgement.unit in ("", "1") else f"{number} {judgement.unit}"


def quantity_text(quantity: Quantity) -> str:
    """Return a quantity of a finding: name, value, standard deviation, unit."""
    digits = 3 if quantity.unit == "m" else 2
    text = f"{quantity.name} {fixed(quantity.value, digits)}"
    if quantity.sigma is not None:
        text += f" ± {fixed(quantity.sigma, digits)}"
    return text if quantity.unit in ("", "1") else f"{text} {quantity.unit}"


def step_change(change: Sequence[float]) -> str:
    """Return what a step did to a point, east, north, up; an em dash where that has no meaning."""
    if not np.isfinite(np.asarray(change, dtype=float)).any():
        return MISSING
    return ", ".join(metres(float(value), signed=True) for value in change)
