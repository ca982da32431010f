"""LandXML points: order, units, CRS and attributes as in the LandXML 1.2 schema. All points are invented."""

import numpy as np
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import READERS, PointsRequest, read_points
from geoqa.readers.points.landxml import READER
from geoqa.units import LinearUnit

POINT = '<CgPoint name="CP1">5412380.472 431250.118 212.34</CgPoint>'
METRIC = '<Units><Metric areaUnit="squareMeter" linearUnit="meter" elevationUnit="feet"/></Units>'


@pytest.fixture
def write(tmp_path):
    """Return a function that writes a LandXML file around its content."""

    def write_file(points=POINT, before=METRIC, name="points.xml"):
        path = tmp_path / name
        path.write_text(
            f'<?xml version="1.0"?>\n<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" '
            f'version="1.2">\n{before}\n<CgPoints name="survey">\n{points}\n</CgPoints>\n</LandXML>\n',
            encoding="utf-8",
        )
        return path

    return write_file


def read(path, **request):
    return read_points(str(path), PointsRequest(**request))


def message(path, **request):
    with pytest.raises(InputError) as caught:
        read(path, **request)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(path.name)
    return str(caught.value)


def test_northing_comes_first(write):
    points = read(write())
    np.testing.assert_array_equal(points.coordinates, [[431250.118, 5412380.472, 212.34]])
    assert points.ids == ("CP1",)
    assert points.geographic is False
    assert points.origin(0) == "points.xml, line 5"


def test_point_of_two_numbers_is_plan_only(write):
    points = read(write(f'{POINT}<CgPoint name="B">\n 20.5 \n 10.5\n</CgPoint>'))
    np.testing.assert_array_equal(points.coordinates[1], [10.5, 20.5, np.nan])


# LandXML 1.2, types metLinear and impLinear; `elevationUnit` is that of attributes such as ellipsoidHeight.
@pytest.mark.parametrize(
    ("units", "unit"),
    [
        (METRIC, LinearUnit.METRE),
        ('<Units><Imperial linearUnit="foot"/></Units>', LinearUnit.FOOT),
        ('<Units><Imperial linearUnit="USSurveyFoot"/></Units>', LinearUnit.US_SURVEY_FOOT),
        ("", None),
    ],
)
def test_unit_is_that_of_the_file(write, units, unit):
    points = read(write(before=units))
    assert (points.unit, points.height_unit) == (unit, unit)


def test_crs_comes_from_its_code(write):
    points = read(write(before=f'{METRIC}<CoordinateSystem epsgCode="EPSG:25832" desc="x"/>'))
    assert points.crs.to_authority() == ("EPSG", "25832")
    assert read(write(before=f'{METRIC}<CoordinateSystem epsgCode=" 7415 "/>')).crs.is_compound
    assert points.notes == ()


def test_crs_in_words_is_told_to_the_user(write):
    system = '<CoordinateSystem horizontalCoordinateSystemName="Invented zone 7"/>'
    points = read(write(before=METRIC + system))
    assert points.crs is None
    assert points.notes == (
        "points.xml names its CRS in words only, “Invented zone 7”: state it with points.crs.",
    )
    assert read(write(before=f"{METRIC}<CoordinateSystem/>")).notes == ()


def test_attributes_become_columns(write):
    points = read(
        write(
            '<CgPoint name="A" code="hard" desc="kerb" timeStamp="2026-05-01T10:00:00" state="existing" '
            'role="measured" oID="7">2 1 3</CgPoint>'
            '<CgPoint name="B">5 4 6<Feature code="x">9 9 9</Feature></CgPoint>'
        )
    )
    assert dict(points.attributes) == {
        "description": ("kerb", None),
        "time": ("2026-05-01T10:00:00", None),
        "code": ("hard", None),
    }
    np.testing.assert_array_equal(points.coordinates[1], [4, 5, 6])


def test_standard_errors_are_in_the_unit_of_the_file(write):
    errors = 'eastingStdError="0.1" northingStdError="0.2" elevationStdError="0"'
    feet = '<Units><Imperial linearUnit="foot"/></Units>'
    points = read(write(f'<CgPoint name="A" {errors}>2 1 3</CgPoint>', before=feet))
    # NIST SP 811, appendix B.6: 0.3048 m to the international foot. A zero is no standard deviation.
    np.testing.assert_allclose(points.sigma_m, [[0.03048, 0.06096, np.nan]], rtol=1e-15, atol=0)
    unknown = read(write(f'<CgPoint name="A" {errors}>2 1 3</CgPoint>', before=""))
    assert np.isnan(unknown.sigma_m).all()
    assert unknown.attributes["eastingStdError"] == ("0.1",)


def test_groups_are_read_and_references_and_other_elements_passed_over(write):
    inner = '<CgPoints><CgPoint name="B">5 4 6</CgPoint></CgPoints><CgPoint pntRef="CP1"/><!-- CgPoint -->'
    path = write(
        POINT + inner,
        before=f'{METRIC}<Monuments><Monument><CgPoint name="M">1 1</CgPoint></Monument></Monuments>',
    )
    assert set(read(path).ids) == {"CP1", "B"}


def test_columns_may_be_named_by_the_user(write):
    path = write('<CgPoint name="A" code="7">2 1 3</CgPoint>')
    assert read(path, columns={"id": "code"}).ids == ("7",)


def test_points_without_names_are_named_by_line(write):
    points = read(write("<CgPoint>2 1 3</CgPoint>\n<CgPoint>5 4 6</CgPoint>"))
    assert points.ids == ("points:5", "points:6")


@pytest.mark.parametrize(
    "root",
    [
        "<LandXML><CgPoints>{}</CgPoints></LandXML>",
        '<l:LandXML xmlns:l="http://x"><l:CgPoints>{}</l:CgPoints></l:LandXML>',
    ],
)
def test_namespace_does_not_matter(tmp_path, root):
    path = tmp_path / "points.landxml"
    point = POINT if "l:" not in root else POINT.replace("CgPoint", "l:CgPoint")
    path.write_text(root.format(point))
    assert read(path).ids == ("CP1",)


@pytest.mark.parametrize(
    ("points", "before", "parts"),
    [
        ("", METRIC, ["there is no CgPoint"]),
        ('<CgPoint name="A">1</CgPoint>', METRIC, ["line 5", "found “1”"]),
        ('<CgPoint name="A">1 2 3 4</CgPoint>', METRIC, ["line 5", "“1 2 3 4”"]),
        ('<CgPoint name="A"/>', METRIC, ["line 5", "found “”"]),
        (
            '<CgPoint name="A">1,5 2 3</CgPoint>',
            METRIC,
            ["line 5, column “northing”", "“1,5” is not a number"],
        ),
        (f'{POINT}<CgPoint name="">1 2 3</CgPoint>', METRIC, ["column “name”", "empty"]),
        (
            POINT,
            '<Units><Metric linearUnit="millimeter"/></Units>',
            ["line 3", "“millimeter”", "meter, foot"],
        ),
        (POINT, '<CoordinateSystem epsgCode="4326"/>', ["line 3", "“4326”", "no easting and northing"]),
        (POINT, '<CoordinateSystem epsgCode="4978"/>', ["“4978”", "no easting and northing"]),
        (POINT, '<CoordinateSystem epsgCode="99999999"/>', ["“99999999”", "PROJ does not know"]),
        (POINT, '<CoordinateSystem epsgCode="+proj=utm"/>', ["PROJ does not know"]),
    ],
)
def test_spoiled_file_is_refused_in_one_sentence(write, points, before, parts):
    found = message(write(points, before=before))
    for part in parts:
        assert part in found


def test_layout_is_refused(write):
    assert "has no layout, found “PNEZ”" in message(write(), layout="PNEZ")


def test_other_xml_is_no_landxml(tmp_path):
    path = tmp_path / "points.xml"
    path.write_text("<gpx/>")
    assert "no format of points has this kind of file" in message(path)
    path.write_text("<gpx>LandXML</gpx>")
    assert "its outermost element is gpx" in message(path)
    path.write_text("<LandXML><CgPoints>")
    assert "no well-formed XML" in message(path)
    path.write_bytes("<?xml version='1.0' encoding='utf-16'?><LandXML><CgPoints/></LandXML>".encode("utf-16"))
    assert "there is no CgPoint" in message(path)
    assert [reader.id for reader in READERS.all().values() if reader.can_read(path)] == [READER.id]


def bomb(depth):
    entities = "".join(
        f'<!ENTITY e{level} "{f"&e{level - 1};" * 10}">' if level else '<!ENTITY e0 "aaaaaaaaaa">'
        for level in range(depth)
    )
    point = f'<CgPoint name="&e{depth - 1};">1 2</CgPoint>'
    return f"<!DOCTYPE LandXML [{entities}]><LandXML><CgPoints>{point}</CgPoints></LandXML>"


def test_entities_are_never_unfolded_or_fetched(tmp_path):
    path = tmp_path / "points.xml"
    secret = tmp_path / "secret.txt"
    secret.write_text("1 2 3")
    external = f'<!DOCTYPE LandXML [<!ENTITY e SYSTEM "{secret.as_uri()}">]>'
    for text, part in (
        (bomb(2), "document type"),
        (bomb(12), "points.xml"),
        (
            f"{external}<LandXML><CgPoints><CgPoint name='A'>&e;</CgPoint></CgPoints></LandXML>",
            "document type",
        ),
        ('<!DOCTYPE LandXML SYSTEM "http://example.org/x.dtd"><LandXML/>', "document type"),
    ):
        path.write_text(text)
        assert part in message(path)
