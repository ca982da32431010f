"""How each layer is drawn, as rules that a style of any format can be made from."""

from dataclasses import dataclass
from enum import StrEnum

from geoqa.records.assessment import Assessment
from geoqa.writers import _symbols
from geoqa.writers._symbols import Shape, height_classes

MARKER_PX = 12.0
UNUSED = "#767676"
DASH_PX = (6.0, 4.0)
_UP, _USED = "residual_up_m", "vertical_reason"


class Comparison(StrEnum):
    """How the value of a column is compared."""

    ABOVE = ">"
    AT_LEAST = ">="
    BELOW = "<"
    AT_MOST = "<="
    EQUALS = "="
    IS_NULL = "is null"
    IS_NOT_NULL = "is not null"


@dataclass(frozen=True)
class Condition:
    """A column, a comparison, and the value to compare with where there is one."""

    column: str
    comparison: Comparison
    value: float | str | None = None


@dataclass(frozen=True)
class Marker:
    """A point symbol; `fill` None is hollow, sizes in pixels of 0.28 mm."""

    shape: str
    fill: str | None
    rim: str = _symbols.RIM
    size_px: float = MARKER_PX
    rotation_deg: float = 0.0
    rim_px: float = 1.0


@dataclass(frozen=True)
class Line:
    """A line, or the outline of an area without a fill."""

    colour: str
    width_px: float
    dash_px: tuple[float, float] | None = None
    arrow: bool = False


@dataclass(frozen=True)
class Rule:
    """Features that keep all conditions, and how they are drawn."""

    title: str
    conditions: tuple[Condition, ...]
    symbol: Marker | Line


def rules(assessment: Assessment, layer: str) -> tuple[Rule, ...]:
    """Return the rules of one layer with geometry."""
    if layer == "checkpoints":
        return _checkpoints(assessment)
    return _FIXED[layer]


def _checkpoints(assessment: Assessment) -> tuple[Rule, ...]:
    classes = height_classes(assessment)
    used = Condition(_USED, Comparison.IS_NULL)
    coloured = [
        Rule(item.label, (used, *_between(item.lower_m, item.upper_m)), _marker(item.shape, item.colour))
        for item in reversed(classes)
    ]
    inner = next(item for item in classes if item.shape is Shape.WITHIN)
    unused = Condition(_USED, Comparison.IS_NOT_NULL)
    hollow = [
        Rule(f"not used for height: {words}", (unused, *_between(*limits)), _marker(shape, None))
        for words, shape, limits in (
            ("too high", Shape.HIGH, (inner.upper_m, float("inf"))),
            (inner.label, Shape.WITHIN, (inner.lower_m, inner.upper_m)),
            ("too low", Shape.LOW, (float("-inf"), inner.lower_m)),
        )
    ]
    nothing = Rule("no height", (Condition(_UP, Comparison.IS_NULL),), Marker("x", None, size_px=9.0))
    return (*coloured, *hollow, nothing)


def _between(lower: float, upper: float) -> tuple[Condition, ...]:
    """Return conditions with either limit on the side of the class nearer to zero."""
    conditions = []
    if lower > float("-inf"):
        conditions.append(Condition(_UP, Comparison.ABOVE if lower >= 0 else Comparison.AT_LEAST, lower))
    if upper < float("inf"):
        conditions.append(Condition(_UP, Comparison.AT_MOST if upper > 0 else Comparison.BELOW, upper))
    return tuple(conditions)


def _marker(shape: Shape, fill: str | None) -> Marker:
    if shape is Shape.WITHIN:
        return Marker("circle", fill)
    return Marker("triangle", fill, rotation_deg=180.0 if shape is Shape.LOW else 0.0)


def _is(column: str, value: str) -> Condition:
    return Condition(column, Comparison.EQUALS, value)


def _further_point() -> Rule:
    anywhere = Condition("rank", Comparison.AT_LEAST, 1)
    return Rule("place for a further point", (anywhere,), Marker("cross", None, size_px=10.0))


def _by_use(title: str, used: Line, unused: Line) -> tuple[Rule, ...]:
    column = "horizontal_reason"
    return (
        Rule(title, (Condition(column, Comparison.IS_NULL),), used),
        Rule(f"{title}, not used", (Condition(column, Comparison.IS_NOT_NULL),), unused),
    )


_FIXED = {
    "residual_vectors": _by_use(
        "residual vector",
        Line(_symbols.VECTOR, 1.8, arrow=True),
        Line(UNUSED, 1.2, DASH_PX, arrow=True),
    ),
    "error_ellipses": _by_use("error ellipse, 95 %", Line(_symbols.ELLIPSE, 0.8), Line(UNUSED, 0.8, DASH_PX)),
    "found_targets": tuple(
        Rule(
            status, (Condition("target_status", Comparison.EQUALS, status),), Marker(shape, fill, size_px=8.0)
        )
        for status, shape, fill in (
            ("found", "cross", _symbols.FOUND),
            ("marked", "square", _symbols.FOUND),
            ("suspect", "square", None),
        )
    ),
    "survey_points": tuple(
        Rule(kind, (Condition("point_type", Comparison.EQUALS, kind),), Marker(shape, fill, size_px=9.0))
        for kind, shape, fill in (
            ("NVA", "circle", _symbols.PALE),
            ("VVA", "triangle", _symbols.PALE),
            ("control", "square", None),
        )
    ),
    "tested_area": tuple(
        Rule(
            direction, (Condition("direction", Comparison.EQUALS, direction),), Line(_symbols.AREA, 1.2, dash)
        )
        for direction, dash in (("horizontal", None), ("vertical", DASH_PX))
    ),
    "support": tuple(
        Rule(f"statement {words}", (_is("statement", words),), Line(UNUSED, 0.8, dash))
        for words, dash in (("holds", None), ("carried on", DASH_PX))
    ),
    "next_points": (_further_point(),),
}
