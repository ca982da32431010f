"""Styles by OGC 05-078r4 (SLD 1.1) and OGC 05-077r4 (Symbology Encoding 1.1)."""

import math

import numpy as np
import pytest
from lxml import etree

from geoqa.records.tables import BY_NAME, LAYERS
from geoqa.writers._qml import qml
from geoqa.writers._sld import OGC, SE, SLD
from geoqa.writers._style_rules import Comparison, rules
from geoqa.writers._symbols import height_class_of, height_classes
from geoqa.writers.styles import WRITER
from tests.builders import make_assessment

# OGC 05-077r4, section 11.3.2, well-known names.
MARKS = {"square", "circle", "triangle", "star", "cross", "x"}
# OGC 05-077r4, FeatureStyle.xsd: the order of the children of a Rule, a Mark and a Graphic.
RULE = ["Name", "Description", "Filter", "PointSymbolizer", "LineSymbolizer", "PolygonSymbolizer"]
MARK = ["WellKnownName", "Fill", "Stroke"]
GRAPHIC = ["Mark", "Size", "Rotation"]
SYMBOLIZER = {
    "Point Z": "PointSymbolizer",
    "Point": "PointSymbolizer",
    "LineString": "LineSymbolizer",
    "Polygon": "PolygonSymbolizer",
}


@pytest.fixture(scope="module")
def assessment():
    return make_assessment(8, pictures=False)


@pytest.fixture(scope="module")
def documents(assessment, tmp_path_factory):
    folder = tmp_path_factory.mktemp("styles")
    paths = WRITER.write(assessment, folder)
    return {path.stem: etree.parse(folder / path).getroot() for path in paths}


def local(element):
    return etree.QName(element).localname


def test_there_is_one_file_a_layer(documents):
    assert list(documents) == [table.name for table in LAYERS]


@pytest.mark.parametrize("table", LAYERS, ids=lambda table: table.name)
def test_document_is_sld_1_1_with_symbology_encoding(documents, table):
    root = documents[table.name]
    assert root.tag == f"{{{SLD}}}StyledLayerDescriptor"
    assert root.get("version") == "1.1.0"
    assert root.findtext(f"{{{SLD}}}NamedLayer/{{{SE}}}Name") == table.name
    assert root.find(f"{{{SLD}}}NamedLayer/{{{SLD}}}UserStyle/{{{SE}}}FeatureTypeStyle") is not None
    assert not [element for element in root.iter() if local(element) == "CssParameter"]


@pytest.mark.parametrize("table", LAYERS, ids=lambda table: table.name)
def test_children_stand_in_the_order_of_the_schema(documents, table):
    for name, order in (("Rule", RULE), ("Mark", MARK), ("Graphic", GRAPHIC)):
        for element in documents[table.name].iter(f"{{{SE}}}{name}"):
            places = [order.index(local(child)) for child in element]
            assert places == sorted(places)


@pytest.mark.parametrize("table", LAYERS, ids=lambda table: table.name)
def test_each_rule_draws_the_geometry_of_the_layer(documents, table):
    for rule in documents[table.name].iter(f"{{{SE}}}Rule"):
        assert rule.find(f"{{{SE}}}{SYMBOLIZER[table.geometry]}") is not None


@pytest.mark.parametrize("table", LAYERS, ids=lambda table: table.name)
def test_filters_ask_for_columns_that_exist(documents, table):
    names = {column.name for column in table.columns}
    asked = {element.text for element in documents[table.name].iter(f"{{{OGC}}}PropertyName")}
    assert asked
    assert asked <= names


def test_marks_are_well_known(documents):
    for root in documents.values():
        assert {element.text for element in root.iter(f"{{{SE}}}WellKnownName")} <= MARKS


def test_filters_speak_filter_encoding(documents):
    # OGC 04-095, section 9 and 10: the comparison and logical operators.
    operators = {
        *("PropertyIsEqualTo", "PropertyIsLessThan", "PropertyIsGreaterThan", "PropertyIsNull"),
        *("PropertyIsLessThanOrEqualTo", "PropertyIsGreaterThanOrEqualTo", "And", "Not"),
    }
    words = {"Filter", "PropertyName", "Literal"}
    for root in documents.values():
        found = {local(element) for element in root.iter(f"{{{OGC}}}*")}
        assert found - words <= operators


def test_literals_of_the_classes_are_the_limits(assessment, documents):
    limits = {float(element.text) for element in documents["checkpoints"].iter(f"{{{OGC}}}Literal")}
    assert limits == {item.upper_m for item in height_classes(assessment)[:-1]}


def test_too_low_is_the_triangle_turned_over(documents):
    turned = [
        rule.findtext(f"{{{SE}}}Description/{{{SE}}}Title")
        for rule in documents["checkpoints"].iter(f"{{{SE}}}Rule")
        if rule.findtext(f".//{{{SE}}}Rotation") == "180"
    ]
    assert turned == ["−0.05 to −0.025 m", "below −0.05 m", "not used for height: too low"]


def keeps(condition, row):
    value = row[condition.column]
    missing = value is None or (isinstance(value, float) and math.isnan(value))
    match condition.comparison:
        case Comparison.IS_NULL:
            return missing
        case Comparison.IS_NOT_NULL:
            return not missing
        case Comparison.ABOVE:
            return value > condition.value
        case Comparison.AT_LEAST:
            return value >= condition.value
        case Comparison.BELOW:
            return value < condition.value
        case Comparison.AT_MOST:
            return value <= condition.value
    raise AssertionError(condition)


def test_every_point_is_drawn_by_one_rule_limits_included(assessment):
    classes = height_classes(assessment)
    values = np.array([-0.2, -0.1, -0.0999, -0.05, 0.0, 0.05, 0.0501, 0.1, 0.1001, np.nan])
    wanted = height_class_of(values, classes)
    for reason in (None, "no data in the raster"):
        for value, index in zip(values.tolist(), wanted.tolist(), strict=True):
            if reason is None and index < 0:
                continue  # A used point has a residual.
            row = {"residual_up_m": value, "vertical_reason": reason}
            drawn = [
                rule
                for rule in rules(assessment, "checkpoints")
                if all(keeps(part, row) for part in rule.conditions)
            ]
            assert len(drawn) == 1, row
            if reason is None:
                assert drawn[0].title == classes[index].label
                assert drawn[0].symbol.fill == classes[index].colour
            else:
                assert drawn[0].symbol.fill is None


@pytest.mark.parametrize("table", LAYERS, ids=lambda table: table.name)
def test_qml_has_a_symbol_for_each_rule_and_a_heading_for_each_column(assessment, table):
    root = etree.fromstring(qml(assessment, table.name))
    symbols = root.findall("renderer-v2/symbols/symbol")
    assert [rule.get("symbol") for rule in root.iter("rule")] == [symbol.get("name") for symbol in symbols]
    kinds = {"Point Z": "marker", "Point": "marker", "LineString": "line", "Polygon": "fill"}
    assert {symbol.get("type") for symbol in symbols} == {kinds[table.geometry]}
    headings = {alias.get("field"): alias.get("name") for alias in root.iter("alias")}
    assert headings == {column.name: column.title for column in BY_NAME[table.name].columns}


def test_qml_and_sld_agree_on_titles(assessment, documents):
    for name, root in documents.items():
        titles = [
            element.text for element in root.iterfind(f".//{{{SE}}}Rule/{{{SE}}}Description/{{{SE}}}Title")
        ]
        assert titles == [rule.get("label") for rule in etree.fromstring(qml(assessment, name)).iter("rule")]
