"""The metadata record, and both ISO documents held against the published schemas."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pyproj
import pytest
from lxml import etree

from geoqa.writers._iso_record import MDB, record_xml
from geoqa.writers.geopackage import WRITER as GEOPACKAGE
from geoqa.writers.metadata import WRITER
from tests.builders import SITE_GRID, make_assessment, make_frame
from tests.iso_schemas import mistakes

NS = {
    "mdb": MDB,
    "mdq": "http://standards.iso.org/iso/19157/-2/mdq/1.0",
    "cit": "http://standards.iso.org/iso/19115/-3/cit/2.0",
    "gco": "http://standards.iso.org/iso/19115/-3/gco/1.0",
    "gex": "http://standards.iso.org/iso/19115/-3/gex/1.0",
    "mcc": "http://standards.iso.org/iso/19115/-3/mcc/1.0",
    "mrl": "http://standards.iso.org/iso/19115/-3/mrl/2.0",
    "mrs": "http://standards.iso.org/iso/19115/-3/mrs/1.0",
}


@pytest.fixture(scope="module")
def assessment():
    return make_assessment(16, pictures=False)


@pytest.fixture(scope="module")
def root(assessment):
    return etree.fromstring(record_xml(assessment))


def words(root, path):
    return [str(found) for found in root.xpath(path, namespaces=NS)]


@pytest.mark.parametrize("n", [0, 1, 2, 16, 200])
def test_files_keep_to_the_schemas_of_iso(tmp_path, n):
    paths = WRITER.write(make_assessment(n, pictures=False), tmp_path)
    assert [path.name for path in paths] == ["metadata.xml", "quality.xml"][: 2 if n else 1]
    for path in paths:
        assert mistakes((tmp_path / path).read_bytes()) == [], path


@pytest.mark.parametrize("crs", [SITE_GRID, "EPSG:2263", "EPSG:32661"], ids=["local", "feet", "pole"])
def test_record_of_any_frame_keeps_to_the_schemas(assessment, crs):
    assert mistakes(record_xml(replace(assessment, frame=make_frame(crs)))) == []


def test_schema_check_finds_what_is_missing(assessment):
    document = etree.fromstring(record_xml(assessment))
    (contact,) = document.findall(f"{{{MDB}}}contact")
    document.remove(contact)
    assert any("contact" in sentence for sentence in mistakes(etree.tostring(document)))


def test_markup_and_control_characters_do_no_harm(assessment):
    odd = replace(assessment, title="A <b>&amp;</b> B\x07")
    (title,) = words(
        etree.fromstring(record_xml(odd)), "//mdb:identificationInfo//cit:title/gco:CharacterString/text()"
    )
    assert title == "A <b>&amp;</b> B\ufffd"
    assert mistakes(record_xml(odd)) == []


def test_record_names_reference_systems_and_sources(root, assessment):
    path = "//mrs:referenceSystemIdentifier//mcc:code/gco:CharacterString/text()"
    assert words(root, path) == ["EPSG:25832", "EPSG:7837"]
    sources = words(root, "//mrl:LI_Source/mrl:description/gco:CharacterString/text()")
    for item in assessment.provenance.inputs:
        assert any(item.path in line for line in sources)


def test_box_encloses_the_product(root, assessment):
    west, east, south, north = (float(value) for value in words(root, "//gex:*/gco:Decimal/text()"))
    # A second way to the same degrees: pyproj's own pipeline to the geodetic CRS.
    to_degrees = pyproj.Transformer.from_crs(25832, 4258, always_xy=True)
    longitude, latitude = to_degrees.transform(*assessment.mapped_area_m.T)
    assert 0 <= min(longitude) - west < 2e-5
    assert 0 <= east - max(longitude) < 2e-5
    assert 0 <= min(latitude) - south < 2e-5
    assert 0 <= north - max(latitude) < 2e-5


def test_local_grid_has_no_box(assessment):
    record = etree.fromstring(record_xml(replace(assessment, frame=make_frame(SITE_GRID))))
    assert words(record, "//gex:EX_GeographicBoundingBox") == []


def test_no_claim_of_who_is_responsible_is_made_up(root):
    assert words(root, "//mdb:contact//cit:name/@gco:nilReason") == ["missing"]


def test_both_documents_lie_in_the_geopackage(tmp_path, assessment):
    (path,) = GEOPACKAGE.write(assessment, tmp_path)
    with closing(sqlite3.connect(tmp_path / path)) as database:
        stored = dict(database.execute("SELECT md_standard_uri, metadata FROM gpkg_metadata").fetchall())
        referred = database.execute(
            "SELECT reference_scope, md_file_id FROM gpkg_metadata_reference"
        ).fetchall()
    assert set(stored) == {NS["mdq"], MDB}
    assert stored[MDB] == record_xml(assessment)
    assert referred == [("geopackage", 1), ("geopackage", 2)]
