"""Data quality as metadata: ISO 19157-2 XML of the RMSE of planimetry and of height.

References
----------
ISO/TS 19157-2:2016, namespace mdq 1.0, which catalogues read today. Numbers and names of the
measures: ISO 19157, annex D, as listed in GeoAPI (opengeospatial/geoapi,
`AbsoluteExternalPositionalAccuracy`): 39 root mean square error, 47 root mean square error of
planimetry, 128 bias of positions.
"""

import math
from typing import NamedTuple

from lxml import etree

from geoqa.records.assessment import Assessment
from geoqa.records.results import Claim, ClaimVerdict
from geoqa.writers._iso_xml import MDQ, NAMESPACES, SCOPES, XLINK, XSI, code, inside, text

__all__ = ["MDQ", "NAMESPACES", "quality_element", "quality_xml"]

_METHODS = (
    "http://standards.iso.org/iso/19157/resources/Codelists/cat/codelists.xml#DQ_EvaluationMethodTypeCode"
)
_METRE = "http://www.opengis.net/def/uom/UCUM/0/m"
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
    root = quality_element(assessment)
    return None if root is None else etree.tostring(root, encoding="unicode", pretty_print=True)


def quality_element(assessment: Assessment) -> etree._Element | None:
    """Return the same as an element."""
    measures = [item for item in _measures(assessment) if item.points and math.isfinite(item.value_m)]
    if not measures:
        return None
    root = etree.Element(f"{{{MDQ}}}DQ_DataQuality", nsmap=NAMESPACES)
    code(inside(root, "mdq:scope", "mcc:MD_Scope", "mcc:level", "mcc:MD_ScopeCode"), SCOPES, "dataset")
    for measure in measures:
        _report(root, assessment, measure)
    return root


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
    report = inside(root, "mdq:report", "mdq:DQ_AbsoluteExternalPositionalAccuracy")
    reference = inside(report, "mdq:measure", "mdq:DQ_MeasureReference")
    identifier = inside(reference, "mdq:measureIdentification", "mcc:MD_Identifier")
    text(inside(identifier, "mcc:code"), measure.code)
    text(inside(identifier, "mcc:codeSpace"), "ISO 19157")
    text(inside(reference, "mdq:nameOfMeasure"), measure.name)
    _evaluation(report, assessment, measure)
    result = inside(report, "mdq:result", "mdq:DQ_QuantitativeResult")
    record = inside(result, "mdq:value", "gco:Record")
    record.set(f"{{{XSI}}}type", "gco:Real_PropertyType")
    inside(record, "gco:Real").text = repr(float(measure.value_m))
    inside(result, "mdq:valueUnit").set(f"{{{XLINK}}}href", _METRE)
    for claim in assessment.claims:
        if claim.quantity == measure.quantity and claim.limit_m is not None:
            _conformance(report, claim)


def _evaluation(report: etree._Element, assessment: Assessment, measure: _Measure) -> None:
    method = inside(report, "mdq:evaluationMethod", "mdq:DQ_SampleBasedInspection")
    inside(method, "mdq:dateTime", "gco:DateTime").text = assessment.provenance.created
    sentence = f"{measure.points} surveyed checkpoints compared with {measure.against}: {assessment.title}"
    text(inside(method, "mdq:evaluationMethodDescription"), sentence)
    kind = inside(method, "mdq:evaluationMethodType", "mdq:DQ_EvaluationMethodTypeCode")
    code(kind, _METHODS, "directExternal")
    total = len(assessment.residuals)
    for name, words in (
        (
            "samplingScheme",
            "Checkpoints that a surveyor placed and measured; a point that does not count has a reason.",
        ),
        ("lotDescription", f"The area of the product: {assessment.title}"),
        ("samplingRatio", f"{measure.points} of {total} surveyed points"),
    ):
        text(inside(method, f"mdq:{name}"), words)


def _conformance(report: etree._Element, claim: Claim) -> None:
    result = inside(report, "mdq:result", "mdq:DQ_ConformanceResult")
    title = inside(result, "mdq:specification", "cit:CI_Citation", "cit:title")
    text(title, f"Requirement: {claim.quantity} at most {claim.limit_m:g} m")
    text(inside(result, "mdq:explanation"), claim.sentence)
    verdict = inside(result, "mdq:pass")
    if claim.verdict in _CONFORMS:
        inside(verdict, "gco:Boolean").text = _CONFORMS[claim.verdict]
    else:
        verdict.set(f"{{{NAMESPACES['gco']}}}nilReason", "unknown")
