"""Data quality as metadata: ISO 19157-2 XML of the RMSE of planimetry and of height.

References
----------
ISO/TS 19157-2:2016, namespace mdq 1.0, which catalogues read today. Numbers and names of the
measures: ISO 19157, annex D, as listed in GeoAPI (opengeospatial/geoapi,
`AbsoluteExternalPositionalAccuracy`): 39 root mean square error, 47 root mean square error of
planimetry, 128 bias of positions.
"""

import math
import re
from typing import NamedTuple

from lxml import etree

from geoqa.records.assessment import Assessment
from geoqa.records.results import Claim, ClaimVerdict

MDQ = "http://standards.iso.org/iso/19157/-2/mdq/1.0"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_XLINK = "http://www.w3.org/1999/xlink"
NAMESPACES = {
    "mdq": MDQ,
    "mcc": "http://standards.iso.org/iso/19115/-3/mcc/1.0",
    "cit": "http://standards.iso.org/iso/19115/-3/cit/2.0",
    "gco": "http://standards.iso.org/iso/19115/-3/gco/1.0",
    "xsi": _XSI,
    "xlink": _XLINK,
}
_SCOPES = "http://standards.iso.org/iso/19115/resources/Codelists/cat/codelists.xml#MD_ScopeCode"
_METHODS = (
    "http://standards.iso.org/iso/19157/resources/Codelists/cat/codelists.xml#DQ_EvaluationMethodTypeCode"
)
_METRE = "http://www.opengis.net/def/uom/UCUM/0/m"
# Only these code points may stand in XML 1.0 (W3C, Extensible Markup Language 1.0, production 2).
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_CONFORMS = {ClaimVerdict.PROVED: "true", ClaimVerdict.FAILED: "false"}


class _Measure(NamedTuple):
    code: str
    name: str
    value_m: float
    points: int
    quantity: str | None
    against: str


def quality_xml(assessment: Assessment) -> str | None:
    """Return the `mdq:DQ_DataQuality` document, or None where no residual counts.

    A limit that is not contradicted, yet not proved either, gets a `pass` of unknown.
    """
    measures = [item for item in _measures(assessment) if item.points and math.isfinite(item.value_m)]
    if not measures:
        return None
    root = etree.Element(f"{{{MDQ}}}DQ_DataQuality", nsmap=NAMESPACES)
    _code(_path(root, "mdq:scope", "mcc:MD_Scope", "mcc:level", "mcc:MD_ScopeCode"), _SCOPES, "dataset")
    for measure in measures:
        _report(root, assessment, measure)
    return etree.tostring(root, encoding="unicode", pretty_print=True)


def _measures(assessment: Assessment) -> tuple[_Measure, ...]:
    plan, up = assessment.statistics.horizontal, assessment.statistics.up
    return (
        _Measure(
            "47",
            "root mean square error of planimetry",
            plan.rmse_m,
            plan.count,
            "horizontal RMSE",
            "the orthomosaic",
        ),
        _Measure(
            "39", "root mean square error", up.rmse_m, up.count, "vertical RMSE", "heights of the product"
        ),
        _Measure(
            "128", "bias of positions (1D, 2D and 3D)", up.mean_m, up.count, None, "heights of the product"
        ),
    )


def _report(root: etree._Element, assessment: Assessment, measure: _Measure) -> None:
    report = _path(root, "mdq:report", "mdq:DQ_AbsoluteExternalPositionalAccuracy")
    reference = _path(report, "mdq:measure", "mdq:DQ_MeasureReference")
    identifier = _path(reference, "mdq:measureIdentification", "mcc:MD_Identifier")
    _text(_path(identifier, "mcc:code"), measure.code)
    _text(_path(identifier, "mcc:codeSpace"), "ISO 19157")
    _text(_path(reference, "mdq:nameOfMeasure"), measure.name)
    _evaluation(report, assessment, measure)
    result = _path(report, "mdq:result", "mdq:DQ_QuantitativeResult")
    record = _path(result, "mdq:value", "gco:Record")
    record.set(f"{{{_XSI}}}type", "gco:Real_PropertyType")
    _path(record, "gco:Real").text = repr(float(measure.value_m))
    _path(result, "mdq:valueUnit").set(f"{{{_XLINK}}}href", _METRE)
    for claim in assessment.claims:
        if claim.quantity == measure.quantity and claim.limit_m is not None:
            _conformance(report, claim)


def _evaluation(report: etree._Element, assessment: Assessment, measure: _Measure) -> None:
    method = _path(report, "mdq:evaluationMethod", "mdq:DQ_SampleBasedInspection")
    _path(method, "mdq:dateTime", "gco:DateTime").text = assessment.provenance.created
    sentence = f"{measure.points} surveyed checkpoints compared with {measure.against}: {assessment.title}"
    _text(_path(method, "mdq:evaluationMethodDescription"), sentence)
    kind = _path(method, "mdq:evaluationMethodType", "mdq:DQ_EvaluationMethodTypeCode")
    _code(kind, _METHODS, "directExternal")


def _conformance(report: etree._Element, claim: Claim) -> None:
    result = _path(report, "mdq:result", "mdq:DQ_ConformanceResult")
    title = _path(result, "mdq:specification", "cit:CI_Citation", "cit:title")
    _text(title, f"Requirement: {claim.quantity} at most {claim.limit_m:g} m")
    _text(_path(result, "mdq:explanation"), claim.sentence)
    verdict = _path(result, "mdq:pass")
    if claim.verdict in _CONFORMS:
        _path(verdict, "gco:Boolean").text = _CONFORMS[claim.verdict]
    else:
        verdict.set(f"{{{NAMESPACES['gco']}}}nilReason", "unknown")


def _path(parent: etree._Element, *names: str) -> etree._Element:
    """Return the last of these elements, each made inside the one before it."""
    for name in names:
        prefix, local = name.split(":")
        parent = etree.SubElement(parent, f"{{{NAMESPACES[prefix]}}}{local}")
    return parent


def _text(parent: etree._Element, text: str) -> None:
    _path(parent, "gco:CharacterString").text = _NOT_XML.sub("\ufffd", text)


def _code(element: etree._Element, codes: str, value: str) -> None:
    element.set("codeList", codes)
    element.set("codeListValue", value)
