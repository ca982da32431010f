"""Styles as OGC Styled Layer Descriptor 1.1 with Symbology Encoding 1.1.

References
----------
OGC 05-078r4, Styled Layer Descriptor 1.1; OGC 05-077r4, Symbology Encoding 1.1;
OGC 04-095, Filter Encoding 1.1.
"""

from lxml import etree

from geoqa.records.assessment import Assessment
from geoqa.records.tables import BY_NAME
from geoqa.writers._style_rules import Comparison, Condition, Line, Marker, Rule, rules

SLD = "http://www.opengis.net/sld"
SE = "http://www.opengis.net/se"
OGC = "http://www.opengis.net/ogc"
_PREFIXES: dict[str, str] = {None: SLD, "se": SE, "ogc": OGC}  # type: ignore[dict-item]
_ELEMENTS = {
    Comparison.ABOVE: "PropertyIsGreaterThan",
    Comparison.AT_LEAST: "PropertyIsGreaterThanOrEqualTo",
    Comparison.BELOW: "PropertyIsLessThan",
    Comparison.AT_MOST: "PropertyIsLessThanOrEqualTo",
    Comparison.EQUALS: "PropertyIsEqualTo",
    Comparison.IS_NULL: "PropertyIsNull",
}


def sld(assessment: Assessment, layer: str) -> bytes:
    """Return the style of one layer as an SLD 1.1 document in UTF-8."""
    root = etree.Element(f"{{{SLD}}}StyledLayerDescriptor", nsmap=_PREFIXES)
    root.set("version", "1.1.0")
    named = etree.SubElement(root, f"{{{SLD}}}NamedLayer")
    _se(named, "Name", layer)
    style = etree.SubElement(named, f"{{{SLD}}}UserStyle")
    _se(style, "Name", layer)
    _se(_se(style, "Description"), "Title", BY_NAME[layer].title)
    features = _se(style, "FeatureTypeStyle")
    area = BY_NAME[layer].geometry == "Polygon"
    for number, rule in enumerate(rules(assessment, layer), start=1):
        _rule(features, number, rule, area=area)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True, pretty_print=True)


def _se(parent: etree._Element, name: str, text: str | None = None) -> etree._Element:
    element = etree.SubElement(parent, f"{{{SE}}}{name}")
    element.text = text
    return element


def _rule(parent: etree._Element, number: int, rule: Rule, *, area: bool) -> None:
    element = _se(parent, "Rule")
    _se(element, "Name", f"rule_{number}")
    _se(_se(element, "Description"), "Title", rule.title)
    condition = etree.SubElement(element, f"{{{OGC}}}Filter")
    if len(rule.conditions) > 1:
        condition = etree.SubElement(condition, f"{{{OGC}}}And")
    for part in rule.conditions:
        _condition(condition, part)
    if isinstance(rule.symbol, Marker):
        _marker(_se(element, "PointSymbolizer"), rule.symbol)
    else:
        _stroke(_se(element, "PolygonSymbolizer" if area else "LineSymbolizer"), rule.symbol)


def _condition(parent: etree._Element, condition: Condition) -> None:
    if condition.comparison is Comparison.IS_NOT_NULL:
        parent = etree.SubElement(parent, f"{{{OGC}}}Not")
        condition = Condition(condition.column, Comparison.IS_NULL)
    element = etree.SubElement(parent, f"{{{OGC}}}{_ELEMENTS[condition.comparison]}")
    etree.SubElement(element, f"{{{OGC}}}PropertyName").text = condition.column
    if condition.value is not None:
        etree.SubElement(element, f"{{{OGC}}}Literal").text = str(condition.value)


def _marker(parent: etree._Element, marker: Marker) -> None:
    graphic = _se(parent, "Graphic")
    mark = _se(graphic, "Mark")
    _se(mark, "WellKnownName", marker.shape)
    fill = _se(mark, "Fill")
    _parameter(fill, "fill", marker.fill or "#ffffff")
    if marker.fill is None:
        _parameter(fill, "fill-opacity", "0")
    stroke = _se(mark, "Stroke")
    _parameter(stroke, "stroke", marker.rim)
    _parameter(stroke, "stroke-width", f"{marker.rim_px:g}")
    _se(graphic, "Size", f"{marker.size_px:g}")
    if marker.rotation_deg:
        _se(graphic, "Rotation", f"{marker.rotation_deg:g}")


def _stroke(parent: etree._Element, line: Line) -> None:
    stroke = _se(parent, "Stroke")
    _parameter(stroke, "stroke", line.colour)
    _parameter(stroke, "stroke-width", f"{line.width_px:g}")
    if line.dash_px is not None:
        _parameter(stroke, "stroke-dasharray", " ".join(f"{length:g}" for length in line.dash_px))


def _parameter(parent: etree._Element, name: str, value: str) -> None:
    _se(parent, "SvgParameter", value).set("name", name)
