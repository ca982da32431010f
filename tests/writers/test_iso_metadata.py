"""ISO 19157-2 metadata of the RMSE.

Order of the elements: `dataQualityElement.xsd` of ISO-TC211/XML (standards.iso.org/iso/19157/-2/mdq/1.0)
and, for the results, ISO/TS 19139 `DQ_ConformanceResult_Type`: specification, explanation, pass.
"""

from dataclasses import replace

import pytest
from lxml import etree

from geoqa.records.results import ClaimVerdict
from geoqa.writers._iso_metadata import NAMESPACES, quality_xml
from tests.builders import make_assessment

NS = NAMESPACES


def parsed(assessment):
    return etree.fromstring(quality_xml(assessment))


def names(elements):
    return [etree.QName(element).localname for element in elements]


@pytest.fixture(scope="module")
def root():
    return parsed(make_assessment(8, pictures=False))


def test_document_is_a_data_quality_element_about_a_dataset(root):
    assert root.tag == "{http://standards.iso.org/iso/19157/-2/mdq/1.0}DQ_DataQuality"
    (level,) = root.xpath("mdq:scope/mcc:MD_Scope/mcc:level/mcc:MD_ScopeCode/@codeListValue", namespaces=NS)
    assert level == "dataset"
    assert names(root) == ["scope", "report", "report", "report"]


def test_measures_carry_their_numbers_and_names(root):
    # GeoAPI (opengeospatial/geoapi), AbsoluteExternalPositionalAccuracy, table of ISO 19157 measures.
    codes = root.xpath("//mdq:measureIdentification//mcc:code/gco:CharacterString/text()", namespaces=NS)
    told = root.xpath("//mdq:nameOfMeasure/gco:CharacterString/text()", namespaces=NS)
    assert dict(zip(codes, told, strict=True)) == {
        "47": "root mean square error of planimetry",
        "39": "root mean square error",
        "128": "bias of positions (1D, 2D and 3D)",
    }


def test_children_stand_in_the_order_of_the_schema(root):
    for report in root.iterfind("mdq:report/*", namespaces=NS):
        order = ["measure", "evaluationMethod", "result"]
        places = [order.index(name) for name in names(report)]
        assert places == sorted(places)
    methods = root.xpath("//mdq:DQ_SampleBasedInspection", namespaces=NS)
    for method in methods:
        description = ["dateTime", "evaluationMethodDescription", "evaluationMethodType"]
        assert names(method) == [*description, "samplingScheme", "lotDescription", "samplingRatio"]
    for result in root.xpath("//mdq:DQ_ConformanceResult", namespaces=NS):
        assert names(result) == ["specification", "explanation", "pass"]


def test_values_are_the_unrounded_figures_in_metres(root):
    statistics = make_assessment(8, pictures=False).statistics
    values = [float(text) for text in root.xpath("//gco:Real/text()", namespaces=NS)]
    assert values == [statistics.horizontal.rmse_m, statistics.up.rmse_m, statistics.up.mean_m]
    assert set(root.xpath("//mdq:valueUnit/@xlink:href", namespaces=NS)) == {
        "http://www.opengis.net/def/uom/UCUM/0/m"
    }


@pytest.mark.parametrize(
    ("verdict", "text", "nil"),
    [
        (ClaimVerdict.PROVED, "true", None),
        (ClaimVerdict.FAILED, "false", None),
        (ClaimVerdict.NOT_CONTRADICTED, None, "unknown"),
    ],
)
def test_what_is_not_proved_does_not_pass(verdict, text, nil):
    assessment = make_assessment(8, pictures=False)
    claim = replace(assessment.claims[1], verdict=verdict)
    root = parsed(replace(assessment, claims=(claim,)))
    (result,) = root.xpath("//mdq:DQ_ConformanceResult/mdq:pass", namespaces=NS)
    assert result.findtext("gco:Boolean", namespaces=NS) == text
    assert result.get(f"{{{NS['gco']}}}nilReason") == nil


def test_a_limit_that_was_not_asked_has_no_conformance():
    assessment = make_assessment(8, pictures=False)
    claims = tuple(replace(claim, limit_m=None) for claim in assessment.claims)
    assert not parsed(replace(assessment, claims=claims)).xpath("//mdq:DQ_ConformanceResult", namespaces=NS)


def test_without_a_residual_there_is_no_metadata():
    assert quality_xml(make_assessment(0, pictures=False)) is None


def test_a_title_with_characters_that_xml_forbids_is_still_written():
    root = parsed(make_assessment(2, pictures=False, title="Linden\x00kamp & <co>\x1b"))
    (told, *_) = root.xpath("//mdq:evaluationMethodDescription/gco:CharacterString/text()", namespaces=NS)
    assert told.endswith("Linden\ufffdkamp & <co>\ufffd")
