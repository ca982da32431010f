"""Styles as QML, the style file that QGIS loads by itself from the table `layer_styles`."""

from lxml import etree

from geoqa.records.assessment import Assessment
from geoqa.records.columns import Table
from geoqa.records.tables import BY_NAME
from geoqa.writers._style_rules import Condition, Line, Marker, rules

# The file format counts in millimetres, our rules in the pixel of Symbology Encoding.
_MM_PER_PX = 0.28
_SHAPES = {"triangle": "equilateral_triangle", "x": "cross2"}
_LABEL_COLUMN = {"checkpoints": "id"}
_ARROW = Marker("filled_arrowhead", "#000000", size_px=9.0)


def qml(assessment: Assessment, layer: str) -> str:
    """Return the style of one layer, with the headings of its columns, as a QML document."""
    table = BY_NAME[layer]
    label = _LABEL_COLUMN.get(layer)
    root = etree.Element("qgis", version="3.22.0", styleCategories="Symbology|Labeling|Fields")
    root.set("labelsEnabled", str(int(label is not None)))
    _renderer(root, assessment, table)
    if label is not None:
        _labels(root, label)
    aliases = etree.SubElement(root, "aliases")
    for column in table.columns:
        etree.SubElement(aliases, "alias", field=column.name, name=column.title)
    return etree.tostring(root, encoding="unicode", pretty_print=True)


def _renderer(root: etree._Element, assessment: Assessment, table: Table) -> None:
    renderer = etree.SubElement(root, "renderer-v2", type="RuleRenderer", symbollevels="0", forceraster="0")
    listed = etree.SubElement(renderer, "rules", key="rules")
    symbols = etree.SubElement(renderer, "symbols")
    for number, rule in enumerate(rules(assessment, table.name)):
        etree.SubElement(
            listed,
            "rule",
            key=f"rule_{number + 1}",
            label=rule.title,
            symbol=str(number),
            filter=" AND ".join(_expression(condition) for condition in rule.conditions),
        )
        name = str(number)
        if isinstance(rule.symbol, Marker):
            _marker(_symbol(symbols, "marker", name), rule.symbol)
        elif table.geometry == "Polygon":
            _outline(_symbol(symbols, "fill", name), rule.symbol)
        else:
            _line(_symbol(symbols, "line", name), rule.symbol, name)


def _expression(condition: Condition) -> str:
    column = f'"{condition.column}"'
    if condition.value is None:
        return f"{column} {condition.comparison.value.upper()}"
    value = f"'{condition.value}'" if isinstance(condition.value, str) else repr(condition.value)
    return f"{column} {condition.comparison} {value}"


def _symbol(parent: etree._Element, kind: str, name: str) -> etree._Element:
    return etree.SubElement(parent, "symbol", type=kind, name=name, alpha="1", clip_to_extent="1")


def _layer(symbol: etree._Element, kind: str, options: dict[str, str]) -> etree._Element:
    layer = etree.SubElement(
        symbol, "layer", attrib={"class": kind, "enabled": "1", "pass": "0", "locked": "0"}
    )
    listed = etree.SubElement(layer, "Option", type="Map")
    for name, value in options.items():
        etree.SubElement(listed, "Option", name=name, value=value, type="QString")
    return layer


def _marker(symbol: etree._Element, marker: Marker) -> None:
    options = {
        "name": _SHAPES.get(marker.shape, marker.shape),
        "color": _rgba(marker.fill or "#ffffff", opaque=marker.fill is not None),
        "outline_color": _rgba(marker.rim),
        "outline_style": "solid",
        "outline_width": _mm(marker.rim_px),
        "outline_width_unit": "MM",
        "size": _mm(marker.size_px),
        "size_unit": "MM",
        "angle": f"{marker.rotation_deg:g}",
    }
    _layer(symbol, "SimpleMarker", options)


def _line(symbol: etree._Element, line: Line, name: str) -> None:
    options = {
        "line_color": _rgba(line.colour),
        "line_style": _style(line),
        "line_width": _mm(line.width_px),
        "line_width_unit": "MM",
    }
    _layer(symbol, "SimpleLine", options)
    if line.arrow:
        # Two keys for one choice: readers before and after version 3.24 look for different ones.
        head = {"placement": "lastvertex", "placements": "LastVertex", "rotate": "1"}
        layer = _layer(symbol, "MarkerLine", head)
        _marker(_symbol(layer, "marker", f"@{name}@1"), _ARROW)


def _outline(symbol: etree._Element, line: Line) -> None:
    options = {
        "style": "no",
        "outline_color": _rgba(line.colour),
        "outline_style": _style(line),
        "outline_width": _mm(line.width_px),
        "outline_width_unit": "MM",
    }
    _layer(symbol, "SimpleFill", options)


def _labels(root: etree._Element, column: str) -> None:
    labeling = etree.SubElement(root, "labeling", type="simple")
    settings = etree.SubElement(labeling, "settings", calloutType="simple")
    text = etree.SubElement(
        settings, "text-style", fieldName=column, isExpression="0", fontSize="8", fontSizeUnit="Point"
    )
    text.set("textColor", _rgba("#000000"))
    buffer = etree.SubElement(text, "text-buffer", bufferDraw="1", bufferSize="0.8", bufferSizeUnits="MM")
    buffer.set("bufferColor", _rgba("#ffffff"))
    etree.SubElement(settings, "placement", placement="0", dist="1.5", distUnits="MM")
    etree.SubElement(settings, "rendering", scaleVisibility="0")


def _style(line: Line) -> str:
    return "solid" if line.dash_px is None else "dash"


def _mm(pixels: float) -> str:
    return f"{pixels * _MM_PER_PX:.2f}"


def _rgba(colour: str, *, opaque: bool = True) -> str:
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return f"{red},{green},{blue},{255 if opaque else 0}"
