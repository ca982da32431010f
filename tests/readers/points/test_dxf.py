"""Points of drawings: what names them, where they are, what is left out. All points are invented."""

import csv
import io

import numpy as np
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.points.dxf import READER
from tests.readers.points.files import block, label, point, write_dxf

PLACE = (431250.118, 5412380.472, 212.34)
OTHER = (431377.905, 5412391.016, 211.982)


@pytest.fixture
def write(tmp_path):
    """Return a function that writes a drawing of some entities."""
    return lambda *entities: write_dxf(tmp_path / "points.dxf", *entities)


def read(path, **request):
    return read_points(str(path), PointsRequest(**request))


def message(path, **request):
    with pytest.raises(InputError) as caught:
        read(path, **request)
    assert "\n" not in str(caught.value)
    assert path.name in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("tag", ["NUMBER", "PUNKTNR", "Pt", "point_id"])
def test_block_reference_is_named_by_its_attribute_and_lies_where_it_was_inserted(write, tag):
    points = read(write(block({tag: "CP 1", "CODE": "kerb"}, *PLACE), block({tag: "2", "CODE": ""}, *OTHER)))
    assert points.ids == ("CP 1", "2")
    np.testing.assert_array_equal(points.coordinates, [PLACE, OTHER])
    assert points.attributes["CODE"] == ("kerb", None)
    assert points.attributes["BlockName"] == ("MARK", "MARK")
    np.testing.assert_array_equal(points.lines, [1, 2])
    assert (points.crs, points.unit, points.notes) == (None, None, ())


def test_example_is_read_from_a_drawing(write):
    heads, *rows = list(csv.reader(io.StringIO(READER.example)))
    assert (heads[0], heads[-1]) == ("BLOCK REFERENCE", "position")
    places = [[float(number) for number in row[-1].split()] for row in rows]
    attributes = [dict(zip(heads[1:-1], row[1:-1], strict=True)) for row in rows]
    points = read(write(*[block(item, *place) for item, place in zip(attributes, places, strict=True)]))
    assert points.ids == ("101", "102", "103", "104")
    np.testing.assert_array_equal(points.coordinates, places)


def test_other_entities_are_left_out_and_counted(write):
    points = read(
        write(point(*OTHER), label("CP9", *OTHER), block({"NUMBER": "1"}, *PLACE), point(1, 2, 3, paper=True))
    )
    assert points.ids == ("1",)
    np.testing.assert_array_equal(points.lines, [3])
    assert points.notes == (
        "points.dxf: the points are named by “NUMBER”; 1 of 3 points, block references and texts have one, "
        "the others were left out.",
    )


def test_attribute_with_the_height_must_agree_with_the_position(write):
    assert read(write(block({"NR": "1", "HEIGHT": "212.340"}, *PLACE))).coordinates[0, 2] == 212.34
    flat = write(block({"NR": "1", "HEIGHT": "212.340"}, *PLACE[:2], 0.0))
    points = read(flat, columns={"height": "HEIGHT"})
    assert points.coordinates[0, 2] == 212.34


def test_height_of_the_position_stands_where_the_attribute_is_empty(write):
    path = write(block({"NR": "1", "HEIGHT": "212.340"}, *PLACE), block({"NR": "2", "HEIGHT": ""}, *OTHER))
    np.testing.assert_array_equal(read(path).coordinates[:, 2], [212.34, 211.982])


def test_texts_are_points_only_where_the_user_says_so(write):
    path = write(label("CP1", *PLACE), point(*OTHER))
    assert "nothing names the 2 points" in message(path)
    points = read(path, columns={"id": "Text"})
    assert points.ids == ("CP1",)
    np.testing.assert_array_equal(points.coordinates, [PLACE])
    assert "points.dxf: the positions are those of the texts." in points.notes


def test_layer_may_name_the_points(write):
    path = write(point(*PLACE, layer="CP1"), label("note", *PLACE), point(*OTHER, layer="CP2"))
    points = read(path, columns={"id": "layer"})
    assert points.ids == ("CP1", "CP2")
    np.testing.assert_array_equal(points.lines, [1, 3])


def test_flat_drawing_has_no_heights(write):
    points = read(write(block({"NR": "1"}, *PLACE[:2], 0.0), block({"NR": "2"}, *OTHER[:2], 0.0)))
    assert np.isnan(points.coordinates[:, 2]).all()
    assert "all heights are 0" in points.notes[0]
    some = read(write(block({"NR": "1"}, *PLACE[:2], 0.0), block({"NR": "2"}, *OTHER)))
    np.testing.assert_array_equal(some.coordinates[:, 2], [0, 211.982])


def test_points_without_a_name_are_refused_with_what_was_found(write):
    found = message(write(point(*PLACE), label("CP1", *OTHER)))
    assert "found “Layer”, “Text”" in found
    assert "[points.columns]" in found
    two = message(write(block({"NUMBER": "1", "NAME": "A"}, *PLACE)))
    assert "more than one attribute names" in two
    assert "“NUMBER”, “NAME”" in two
    assert read(write(block({"NUMBER": "1", "NAME": "A"}, *PLACE)), columns={"id": "NAME"}).ids == ("A",)


def test_wrong_name_of_a_column_is_refused(write):
    path = write(block({"NUMBER": "1"}, *PLACE))
    assert "“NUMBER”" in message(path, columns={"id": "NUMMER"})
    assert "has a “Text”" in message(path, columns={"id": "Text"})


def test_drawing_without_points_is_refused(write):
    line = [(0, "LINE"), (8, "0"), (10, 0), (20, 0), (11, 1), (21, 1)]
    assert "holds no points, block references or texts" in message(write(line))
    assert "holds no points, block references or texts" in message(write())


@pytest.mark.parametrize(
    ("spoil", "part"),
    [
        (
            lambda text: "not a drawing",
            "line 1: expected a group code of a DXF drawing, found “not a drawing”",
        ),
        (lambda text: text.replace(" 70\n", "\xda70\n", 1), "expected a group code"),
        (lambda text: text.replace(" 66\n1\n", " 66\n1\nextra\n", 1), "expected a group code"),
        (lambda text: text[:-20], "its end (EOF) is missing"),
        (lambda text: text.replace("SEQEND", "SEQUEL"), "cannot be read"),
        (lambda text: "0\nEOF\n", "points.dxf"),
    ],
)
def test_broken_drawing_is_refused(write, spoil, part):
    path = write(block({"NR": "1"}, *PLACE))
    path.write_text(spoil(path.read_text()), encoding="utf-8")
    assert part in message(path)


def test_layout_is_refused(write):
    assert "has no layout" in message(write(block({"NR": "1"}, *PLACE)), layout="PNEZ")
