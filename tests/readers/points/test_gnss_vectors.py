"""Points out of GVX 1.0: start plus vector along the geocentric axes, covariance turned to the horizon.

Structure of the file: GNSS Vector Exchange File Format (GVX), version 1.0, NGS, 4 February 2021. The site is
invented: the worked base example, whose points are given as vectors from the assumed base.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError, InputError
from geoqa.readers.points import PointsRequest, read_points
from geoqa.records.points import Role
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import EPOCH, brought_with_base, geographic, table
from tests.frame.test_base_points import ELEVATION, UTM, assert_in_place

SIGMA = (0.009, 0.006, 0.010)
CORRELATION = (0.10, 0.45, -0.20)


def point(number, name, place=None, *, frame="126", epoch="2026.4500", geodetic=False):
    coordinates = ""
    if place is not None:
        values = place if geodetic else hand.geocentric(place)
        names = ("LONGITUDE", "LATITUDE", "ELLIPSOIDAL_HEIGHT") if geodetic else ("X", "Y", "Z")
        block = "GEODETIC_COORDINATES" if geodetic else "GEOCENTRIC_COORDINATES"
        inner = "".join(f"<{tag}>{value:.11f}</{tag}>" for tag, value in zip(names, values, strict=True))
        coordinates = (
            f"<COORDINATES><REFERENCE_SYSTEM_ID>{frame}</REFERENCE_SYSTEM_ID><EPOCH>{epoch}</EPOCH>"
            f"<{block}>{inner}</{block}></COORDINATES>"
        )
    return (
        f"<POINT>\n<ID>{number}</ID><NAME>{name}</NAME><EQUIPMENT_ID>1</EQUIPMENT_ID>"
        f"<ARP_HEIGHT>1.8</ARP_HEIGHT>{coordinates}</POINT>"
    )


def vector(number, start, end, delta, sigma=SIGMA, correlation=CORRELATION, more=""):
    deltas = "".join(f"<D{axis}>{value:.6f}</D{axis}>" for axis, value in zip("XYZ", delta, strict=True))
    sigmas = "".join(f"<SD{axis}>{value}</SD{axis}>" for axis, value in zip("XYZ", sigma, strict=True))
    pairs = zip(("XY", "XZ", "YZ"), correlation, strict=True)
    others = "".join(f"<P{axes}>{value}</P{axes}>" for axes, value in pairs)
    return (
        f"<GNSS_VECTOR>\n<ID>{number}</ID><INITIAL_POINT_ID>{start}</INITIAL_POINT_ID>"
        f"<TERMINAL_POINT_ID>{end}</TERMINAL_POINT_ID>{more}<ECEF_DELTAS>{deltas}</ECEF_DELTAS>"
        f"<CORRELATION_MATRIX>{sigmas}{others}</CORRELATION_MATRIX></GNSS_VECTOR>"
    )


FRAME = (
    "<REFERENCE_SYSTEM><ID>126</ID><NAME>ITRF2020</NAME><LINEAR_UNIT><NAME>meter</NAME></LINEAR_UNIT>"
    "</REFERENCE_SYSTEM>"
)
BASE = point(1, "BASE", hand.ASSUMED)
ENDS = [point(number, name) for number, name in enumerate(hand.BEFORE, start=2)]
VECTORS = [
    vector(f"V{number}", 1, number, hand.geocentric(place) - hand.geocentric(hand.ASSUMED))
    for number, place in enumerate(hand.BEFORE.values(), start=2)
]


def gvx(*parts, version="1.0"):
    inner = "\n".join(parts or (FRAME, BASE, *ENDS, *VECTORS))
    return f'<?xml version="1.0" encoding="utf-8"?>\n<GVX VERSION="{version}">\n{inner}\n</GVX>\n'


@pytest.fixture
def read(tmp_path):
    def reader(text=None, name="site.gvx", **request):
        (tmp_path / name).write_text(gvx() if text is None else text)
        return read_points(str(tmp_path / name), PointsRequest(**request))

    return reader


def test_end_of_a_vector_is_its_start_plus_the_vector(read):
    points = read()
    assert points.ids == ("P1", "P2", "P3")
    assert points.geographic
    for found, expected in zip(points.coordinates, hand.BEFORE.values(), strict=True):
        # The vectors are written to a thousandth of a millimetre.
        assert_allclose(hand.apart_m(expected, found), 0.0, rtol=0, atol=3e-6)
    assert points.sessions == ("BASE",) * 3
    assert points.attributes["occupation"] == ("V2", "V3", "V4")
    assert points.lines.tolist() == [9 + 2 * place + 3 for place in range(3)]
    assert any("ITRF2020 at epoch 2026.4500" in note for note in points.notes)


def test_covariance_is_turned_to_the_horizon(read):
    points = read()
    xy, xz, yz = CORRELATION
    correlation = np.array([[1, xy, xz], [xy, 1, yz], [xz, yz, 1]])
    covariance = correlation * np.outer(SIGMA, SIGMA)
    for sigma, place in zip(points.sigma_m, hand.BEFORE.values(), strict=True):
        turn = hand.horizon(place)
        assert_allclose(sigma**2, np.diagonal(turn @ covariance @ turn.T), rtol=1e-6, atol=0)


def test_repeated_vectors_come_as_repeated_occupations(read):
    again = VECTORS[0].replace("<ID>V2</ID>", "<ID>V9</ID>")
    points = read(gvx(FRAME, BASE, *ENDS, *VECTORS, again))
    assert points.ids == ("P1", "P2", "P3", "P1")
    assert points.attributes["occupation"][3] == "V9"


def test_ends_of_two_occupations_may_be_two_points_of_one_name(read):
    second = [point(9, "P1"), VECTORS[0].replace("<TERMINAL_POINT_ID>2<", "<TERMINAL_POINT_ID>9<")]
    assert read(gvx(FRAME, BASE, *ENDS, *VECTORS, *second)).ids == ("P1", "P2", "P3", "P1")


def test_each_vector_knows_its_base(read):
    second = point(8, "BASE 2", hand.BEFORE["P1"])
    delta = hand.geocentric(hand.BEFORE["P2"]) - hand.geocentric(hand.BEFORE["P1"])
    points = read(gvx(FRAME, BASE, second, *ENDS, *VECTORS, vector("V8", 8, 3, delta)))
    assert points.sessions == ("BASE", "BASE", "BASE", "BASE 2")
    assert_allclose(points.coordinates[3], points.coordinates[1], rtol=0, atol=1e-6)


def test_point_from_which_vectors_start_is_no_checkpoint(read):
    delta = hand.geocentric(hand.BEFORE["P2"]) - hand.geocentric(hand.BEFORE["P1"])
    placed = [point(2, "P1", hand.BEFORE["P1"]), *ENDS[1:]]
    points = read(gvx(FRAME, BASE, *placed, *VECTORS, vector("V8", 2, 3, delta)))
    assert points.roles == (Role.UNUSED, Role.CHECK, Role.CHECK, Role.CHECK)
    assert any("P1 start vectors themselves" in note for note in points.notes)


def test_start_in_longitude_and_latitude_is_the_same_point(read):
    base = point(1, "BASE", hand.ASSUMED, geodetic=True)
    points = read(gvx(FRAME, base, *ENDS, *VECTORS))
    assert_allclose(points.coordinates, read().coordinates, rtol=0, atol=1e-9)


def test_blocks_may_stand_deeper_and_in_a_namespace(read):
    deep = "<QUALITY_CONTROL>" + VECTORS[0].partition("<ECEF_DELTAS>")[1]
    text = (
        gvx()
        .replace("<ECEF_DELTAS>", deep)
        .replace("</CORRELATION_MATRIX>", "</CORRELATION_MATRIX></QUALITY_CONTROL>")
    )
    assert_allclose(read(text).coordinates, read().coordinates, rtol=0, atol=0)
    named = gvx().replace("<GVX ", '<GVX xmlns="urn:invented" ')
    assert_allclose(read(named, "site.xml").coordinates, read().coordinates, rtol=0, atol=0)


def test_time_is_taken_where_it_reads_as_one(read):
    begun = "<OBSERVATION_TIME><START>{}</START></OBSERVATION_TIME>"
    delta = hand.geocentric(hand.BEFORE["P1"]) - hand.geocentric(hand.ASSUMED)
    timed = [
        vector("A", 1, 2, delta, more=begun.format("2026-06-14T10:00:00")),
        vector("B", 1, 2, delta, more=begun.format("noon")),
    ]
    assert read(gvx(FRAME, BASE, *ENDS, *timed)).attributes["time"] == ("2026-06-14T10:00:00", None)


def replaced(old, new):
    text = gvx()
    assert old in text
    return text.replace(old, new, 1)


SPOILED = {
    "no XML": ("not at all", "no well-formed XML"),
    "another root": ("<LandXML/>", "outermost element is LandXML"),
    "another version": (gvx(version="2.0"), "of version “2.0”; GVX 1.0 is read"),
    "entities": (
        gvx()
        .replace("<GVX", '<!DOCTYPE GVX [<!ENTITY a SYSTEM "file:///etc/hostname">]>\n<GVX')
        .replace("BASE", "&a;"),
        "declares a document type",
    ),
    "feet": (replaced("<NAME>meter", "<NAME>US survey foot"), "line 3: the linear unit is “US survey foot”"),
    "no vectors": (gvx(FRAME, BASE, *ENDS), "no GNSS_VECTOR"),
    "start unknown": (
        gvx(FRAME, *ENDS, *VECTORS),
        "line 10: the vector V2 starts at “1”, which has no coordinates",
    ),
    "start without coordinates": (gvx(FRAME, point(1, "BASE"), *ENDS, *VECTORS), "which has no coordinates"),
    "no deltas": (gvx().replace("ECEF_DELTAS", "ECEF", 2), "line 12: the vector has no ECEF_DELTAS"),
    "no covariance": (gvx().replace("CORRELATION_MATRIX", "MATRIX", 2), "has no CORRELATION_MATRIX"),
    "no number": (
        replaced("<SDY>0.006", "<SDY>0,006"),
        "SDY of CORRELATION_MATRIX is “0,006”, which is no number",
    ),
    "number missing": (replaced("<SDY>0.006</SDY>", ""), "SDY of CORRELATION_MATRIX is “”"),
    "sigma zero": (replaced("<SDY>0.006", "<SDY>0"), "are no covariance"),
    "correlation beyond 1": (replaced("<PXY>0.1", "<PXY>1.1"), "are no covariance"),
    "point twice": (gvx(FRAME, BASE, BASE, *ENDS, *VECTORS), "the point id “1” stands twice"),
    "no id": (replaced("<ID>V2</ID>", ""), "GNSS_VECTOR has no ID"),
    "two frames": (
        gvx(
            FRAME,
            BASE,
            point(8, "BASE 2", hand.BEFORE["P1"], epoch="2010.0"),
            *ENDS,
            *VECTORS,
            vector("V8", 8, 3, (0.0, 0.0, 1.0)),
        ),
        "one file for each frame and epoch",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_spoiled_file_is_refused_in_one_sentence(read, name):
    text, words = SPOILED[name]
    with pytest.raises(InputError, match=words) as refusal:
        read(text)
    assert str(refusal.value).startswith("site.gvx")


@pytest.mark.parametrize("crs", ["EPSG:9988", "EPSG:9989"])
def test_vectors_of_a_base_move_with_its_precise_position(read, crs):
    points = {"crs": crs, "epoch": EPOCH}
    found = brought_with_base(read(), UTM, points, table(session="BASE"), **ELEVATION)
    assert_in_place(found, np.array(list(hand.AFTER.values())))


def test_assumed_position_must_be_what_the_vectors_start_from(read):
    elsewhere = geographic(hand.ASSUMED + np.array([0.0, 0.0, 0.25]))
    with pytest.raises(FrameError, match=r"“P1” starts at .* 0\.250 m from base\.assumed"):
        brought_with_base(read(), UTM, {"crs": "EPSG:9988", "epoch": EPOCH}, table(elsewhere), **ELEVATION)


def test_layout_and_columns_have_no_meaning(read):
    with pytest.raises(InputError, match="neither layout nor columns"):
        read(layout="PNEZD")
    with pytest.raises(InputError, match="neither layout nor columns"):
        read(columns={"id": "Name"})
