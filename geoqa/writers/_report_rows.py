"""What the report shows of the document of results, as rows of words ready to be written."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geoqa.records.assessment import Assessment
from geoqa.writers._chip_names import chip_paths
from geoqa.writers._map_notes import largest_first
from geoqa.writers._numbers import MISSING, fixed, interval, metres, plain, whole

Member = Mapping[str, Any]

# Up to here all points stand in the table; above, the largest residuals and a sample of the others.
MOST_POINTS = 300
_LARGEST, _SAMPLED = 100, 100
# Pictures of targets inside the report; all others lie beside it.
MOST_PICTURES = 24
_FIGURES = {
    "fit": "fit to the checkpoints",
    "product_alone": "the product alone",
    "absolute": "absolute",
}
COMPONENTS = ("east", "north", "up", "horizontal")
# Members of the statistics of a component that have a column of their own.
_TABLED = {
    *("count", "mean_m", "std_m", "rmse_m", "rmse_interval_m", "median_m", "nmad_m", "max_abs_m"),
    *("rmse_upper95_m", "rmse_lower95_m"),
}
# What the trade calls them; any other member is told by its own name.
_NAMES = {
    "mean_interval_m": "95 % interval of the mean, m",
    "freedom": "Degrees of freedom",
    "quantile683_m": "68.3 % of the residuals within, m",
    "quantile95_m": "95 % of the residuals within, m",
    **{f"{kind}{share}_m": f"{kind.upper()}{share}, m" for kind in ("le", "ce") for share in (50, 90, 95)},
    "plan_bias": "Mean vector of the plan",
}
_UNITS = ("m2", "m", "px", "deg", "percent")


@dataclass(frozen=True)
class FigureRow:
    """One accuracy figure: of what, in which direction, how large, relative to what."""

    kind: str
    direction: str
    rmse: str
    interval: str
    relative_to: str


@dataclass(frozen=True)
class Cell:
    """A cell of the table of points: its words, and the number that it is sorted by."""

    words: str
    number: float | None = None


def figure_rows(accuracy: Member) -> list[FigureRow]:
    """Return the three numbers, horizontal and vertical."""
    return [
        FigureRow(
            words,
            direction,
            metres(accuracy[name][direction]["rmse_m"]),
            interval(accuracy[name][direction]["interval_m"]),
            accuracy[name][direction]["relative_to"],
        )
        for name, words in _FIGURES.items()
        for direction in ("horizontal", "vertical")
    ]


def further_statistics(statistics: Member) -> list[tuple[str, list[str]]]:
    """Return a row for each figure that has no column of its own: its name, and it for each component."""
    names = dict.fromkeys(
        name for part in COMPONENTS for name in statistics.get(part, {}) if name not in _TABLED
    )
    found = [
        (label(name), [value_text(statistics.get(part, {}).get(name), name) for part in COMPONENTS])
        for name in names
    ]
    return [(name, values) for name, values in found if set(values) != {MISSING}]


def label(name: str) -> str:
    """Return the name of a member as a heading.

    Examples
    --------
    >>> label("spread_m"), label("skewness"), label("le90_m")
    ('Spread, m', 'Skewness', 'LE90, m')
    """
    if name in _NAMES:
        return _NAMES[name]
    stem, _, unit = name.rpartition("_")
    words = (stem if stem and unit in _UNITS else name).replace("_", " ")
    heading = words[:1].upper() + words[1:]
    return f"{heading}, {unit}" if stem and unit in _UNITS else heading


def value_text(value: Any, name: str = "") -> str:
    """Return a member of the document in words; a length to the millimetre.

    Examples
    --------
    >>> value_text([0.01, None], "interval_m"), value_text(True), value_text(None)
    ('0.010 to —', 'yes', '—')
    """
    if value is None or value in ("", [], {}):
        return MISSING
    if isinstance(value, int | float):
        return _number_text(value, name)
    if isinstance(value, list):
        parts = [value_text(item, name) for item in value]
        return (" to " if "interval" in name and len(parts) == 2 else ", ").join(parts)
    if isinstance(value, Mapping):
        return "; ".join(f"{label(key)} {value_text(item, key)}" for key, item in value.items())
    return str(value)


def _number_text(value: float, name: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return whole(value)
    return metres(value) if name.endswith("_m") else plain(float(f"{value:.3g}"))


def groups(statistics_by: Member) -> list[tuple[str, Member]]:
    """Return the name of each group of points and its statistics."""
    return [
        (name if name == grouping else f"{grouping}: {name}", statistics)
        for grouping, members in statistics_by.items()
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


def point_cells(entry: Member) -> dict[str, Cell]:
    """Return the cells of one point, by heading."""
    east, north, up = entry["residual_m"]
    plan = None if east is None or north is None else float(np.hypot(east, north))
    slope = entry["surface"]["slope_percent"]
    return {
        "Role": Cell(entry["role"]),
        "East": Cell(metres(east, signed=True), east),
        "North": Cell(metres(north, signed=True), north),
        "Plan": Cell(metres(plan), plan),
        "Up": Cell(metres(up, signed=True), up),
        "Plan counts": Cell(_use(entry["horizontal"])),
        "Height counts": Cell(_use(entry["vertical"])),
        "Target": Cell(entry["target"]["status"]),
        "Slope": Cell(fixed(slope, 1), slope),
    }


NUMERIC = ("East", "North", "Plan", "Up", "Slope")


def _use(use: Member) -> str:
    return "used" if use["used"] else f"not used: {use['reason'] or 'no reason given'}"


def point_facts(entry: Member) -> Iterator[tuple[str, str]]:
    """Yield what is known of one point beside its residual, as names and words."""
    target, surface, survey = entry["target"], entry["surface"], entry["survey"]
    yield "Read from", entry["source"]
    for name, words in (("session", "Session"), ("fix", "GNSS solution"), ("cover", "Ground cover")):
        if entry.get(name):
            yield words, entry[name]
    yield "Surveyed, m", value_text(entry["survey_m"], "_m")
    yield "In the product, m", value_text(entry["product_m"], "_m")
    yield "Survey, 1 sigma, m", value_text(entry["sigma_survey_m"], "_m")
    for direction, words in (("horizontal", "Plan"), ("vertical", "Height")):
        yield words, _use(entry[direction])
    told = [target["status"], target["kind"], target["reason"], "; ".join(target["flags"])]
    yield "Target", "; ".join(part for part in told if part)
    if target["score"] is not None:
        yield "Score of the target", fixed(target["score"], 2)
    heights = [surface["status"], surface["reason"]]
    yield "Surface", "; ".join(part for part in heights if part)
    if surface["slope_percent"] is not None:
        yield "Slope", f"{fixed(surface['slope_percent'], 1)} %"
    if surface["roughness_m"] is not None:
        yield "Roughness, m", metres(surface["roughness_m"])
    noticed = [*survey["flags"], *survey["reasons"]]
    if noticed:
        yield "Noticed in the survey", "; ".join(noticed)


def pictured_rows(assessment: Assessment) -> list[int]:
    """Return the targets pictured in the report: those not used first, then the largest residuals."""
    paths = chip_paths(assessment)
    delta, used = assessment.residuals.delta_m, assessment.residuals.horizontal.used
    length = np.nan_to_num(np.hypot(delta[:, 0], delta[:, 1]), nan=-1.0)
    return sorted(paths, key=lambda row: (bool(used[row]), -float(length[row]), row))[:MOST_PICTURES]


def judgement_value(unit: str, value: float | None) -> str:
    """Return the value or the limit of a judgement with its unit."""
    if value is None:
        return MISSING
    number = metres(value) if unit == "m" else plain(value)
    return number if unit in ("", "1") else f"{number} {unit}"


def quantity_text(quantity: Member) -> str:
    """Return a quantity of a finding: name, value, standard deviation, unit."""
    unit, sigma = quantity["unit"], quantity["sigma"]
    digits = 3 if unit == "m" else 2
    text = f"{quantity['name']} {fixed(quantity['value'], digits)}"
    if sigma is not None:
        text += f" ± {fixed(sigma, digits)}"
    return text if unit in ("", "1") else f"{text} {unit}"


def step_change(change: Sequence[float | None]) -> str:
    """Return what a step did to a point, east, north, up; an em dash where that has no meaning."""
    if all(value is None for value in change):
        return MISSING
    return ", ".join(metres(value, signed=True) for value in change)
