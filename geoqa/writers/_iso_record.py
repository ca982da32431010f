"""A metadata record of the delivery: ISO 19115-3 XML with extent, reference system, quality and lineage.

References
----------
ISO/TS 19115-3:2016 with the schemas mdb 2.0, which catalogues read today.
"""

import math

import numpy as np
from lxml import etree

from geoqa.frame.projection import to_geographic
from geoqa.records.assessment import Assessment, InputFile
from geoqa.writers._iso_metadata import quality_element
from geoqa.writers._iso_xml import NAMESPACES, SCOPES, code, inside, text

MDB = "http://standards.iso.org/iso/19115/-3/mdb/2.0"
_ISO_19115_3 = "http://standards.iso.org/iso/19115/-3"
_PARTS = {"mdb": "2.0", "gex": "1.0", "lan": "1.0", "mri": "1.0", "mrl": "2.0", "mrs": "1.0"}
_SPACES = {
    **{part: f"{_ISO_19115_3}/{part}/{edition}" for part, edition in _PARTS.items()},
    **NAMESPACES,
}
_CODES = "http://standards.iso.org/iso/19115/resources/Codelists/cat/codelists.xml"
# Degrees: a metre on the ground, enough to find the site in a catalogue.
_DEGREES = 5


def record_xml(assessment: Assessment) -> str:
    """Return the `mdb:MD_Metadata` document.

    Who is responsible is not known to a program: the party has no name, for the one who signs.
    """
    root = etree.Element(f"{{{MDB}}}MD_Metadata", nsmap=_SPACES)
    _about_itself(root, assessment)
    _reference_systems(root, assessment)
    _identification(root, assessment)
    quality = quality_element(assessment)
    if quality is not None:
        inside(root, "mdb:dataQualityInfo").append(quality)
    _lineage(root, assessment)
    etree.cleanup_namespaces(root, keep_ns_prefixes=["mdb"])
    return etree.tostring(root, encoding="unicode", pretty_print=True)


def _about_itself(root: etree._Element, assessment: Assessment) -> None:
    scope = inside(root, "mdb:metadataScope", "mdb:MD_MetadataScope", "mdb:resourceScope")
    code(inside(scope, "mcc:MD_ScopeCode"), SCOPES, "dataset")
    person = inside(root, "mdb:contact", "cit:CI_Responsibility")
    code(inside(person, "cit:role", "cit:CI_RoleCode"), f"{_CODES}#CI_RoleCode", "pointOfContact")
    name = inside(person, "cit:party", "cit:CI_Organisation", "cit:name")
    name.set(f"{{{NAMESPACES['gco']}}}nilReason", "missing")
    date = inside(root, "mdb:dateInfo", "cit:CI_Date")
    inside(date, "cit:date", "gco:DateTime").text = assessment.provenance.created
    code(inside(date, "cit:dateType", "cit:CI_DateTypeCode"), f"{_CODES}#CI_DateTypeCode", "creation")
    standard = inside(root, "mdb:metadataStandard", "cit:CI_Citation")
    text(inside(standard, "cit:title"), "ISO 19115-3")


def _reference_systems(root: etree._Element, assessment: Assessment) -> None:
    frame = assessment.frame
    authority = frame.crs.to_authority(min_confidence=100)
    horizontal = ":".join(authority) if authority else frame.crs.to_wkt()
    for system in (horizontal, frame.height_system):
        place = inside(root, "mdb:referenceSystemInfo", "mrs:MD_ReferenceSystem")
        identifier = inside(place, "mrs:referenceSystemIdentifier", "mcc:MD_Identifier")
        text(inside(identifier, "mcc:code"), system)


def _identification(root: etree._Element, assessment: Assessment) -> None:
    data = inside(root, "mdb:identificationInfo", "mri:MD_DataIdentification")
    citation = inside(data, "mri:citation", "cit:CI_Citation")
    text(inside(citation, "cit:title"), assessment.title)
    abstract = [
        f"Accuracy of map products at {len(assessment.residuals)} surveyed points. Residuals are product "
        f"minus survey. {assessment.verdict.sentence}",
        *assessment.cautions,
    ]
    text(inside(data, "mri:abstract"), " ".join(abstract))
    kind = inside(data, "mri:spatialRepresentationType", "mcc:MD_SpatialRepresentationTypeCode")
    code(kind, f"{_CODES}#MD_SpatialRepresentationTypeCode", "vector")
    inside(data, "mri:topicCategory", "mri:MD_TopicCategoryCode").text = "location"
    box = _box(assessment)
    if box is None:
        return
    place = inside(
        data, "mri:extent", "gex:EX_Extent", "gex:geographicElement", "gex:EX_GeographicBoundingBox"
    )
    sides = ("westBoundLongitude", "eastBoundLongitude", "southBoundLatitude", "northBoundLatitude")
    for side, degrees in zip(sides, box, strict=True):
        inside(place, f"gex:{side}", "gco:Decimal").text = f"{degrees:.{_DEGREES}f}"


def _box(assessment: Assessment) -> tuple[float, float, float, float] | None:
    """Return west, east, south, north in degrees around product and points; None for a local grid."""
    frame = assessment.frame
    if frame.crs.is_engineering or frame.site_grid is not None:
        return None
    places = np.vstack([assessment.mapped_area_m, assessment.residuals.survey_m[:, :2]])
    degrees = to_geographic(places[np.isfinite(places).all(axis=1)] / frame.unit.metres, frame.crs)
    degrees = degrees[np.isfinite(degrees).all(axis=1)]
    if not len(degrees):
        return None
    (west, south), (east, north) = degrees.min(axis=0).tolist(), degrees.max(axis=0).tolist()
    grain = 10**_DEGREES
    low = (math.floor(side * grain) / grain for side in (west, south))
    high = (math.ceil(side * grain) / grain for side in (east, north))
    (west, south), (east, north) = low, high
    return west, east, south, north


def _lineage(root: etree._Element, assessment: Assessment) -> None:
    lineage = inside(root, "mdb:resourceLineage", "mrl:LI_Lineage")
    version = assessment.provenance.versions.get("geoqa", "")
    text(inside(lineage, "mrl:statement"), f"Computed by geoqa {version} from the sources named here.")
    scope = inside(lineage, "mrl:scope", "mcc:MD_Scope", "mcc:level", "mcc:MD_ScopeCode")
    code(scope, SCOPES, "dataset")
    for item in (*assessment.provenance.inputs, *assessment.provenance.grids):
        text(inside(lineage, "mrl:source", "mrl:LI_Source", "mrl:description"), _source(item))
    for words in _steps(assessment):
        text(inside(lineage, "mrl:processStep", "mrl:LI_ProcessStep", "mrl:description"), words)


def _source(item: InputFile) -> str:
    if item.sha256:
        return f"{item.use}: {item.path}, SHA-256 {item.sha256}"
    sampled = "" if item.sample_sha256 is None else f", SHA-256 of a sample {item.sample_sha256}"
    return f"{item.use}: {item.path}{sampled}"


def _steps(assessment: Assessment) -> list[str]:
    survey = assessment.checkpoints.survey
    return [
        f"{file.source}: {step.title}: {step.operation}"
        for file, steps in zip(survey, assessment.checkpoints.file_steps, strict=True)
        for step in steps
    ]
