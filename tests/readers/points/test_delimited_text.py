"""Tables of text: every acceptance, and one spoiled table for every refusal. All points are invented."""

from pathlib import Path

import numpy as np
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest
from geoqa.readers.points.delimited_text import READER
from geoqa.records.points import Cover, FixType, Role
from geoqa.units import LinearUnit

HEADER = "id,easting,northing,height"
ROW = "CP1,431250.118,5412380.472,212.340"
REAL = Path(__file__).parents[3].parent / "shared" / "real" / "pdal-autzen"
real = pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository")


@pytest.fixture
def read(tmp_path):
    """Return a function that reads a table from its text or bytes."""

    def read_table(content, **request):
        path = tmp_path / "points.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return READER.read(path, PointsRequest(**request))

    return read_table


@pytest.fixture
def message(read):
    """Return a function that gives the sentence with which a table is refused."""

    def refused(content, **request):
        with pytest.raises(InputError) as caught:
            read(content, **request)
        assert str(caught.value).startswith("points.csv")
        assert "\n" not in str(caught.value)
        return str(caught.value)

    return refused


def test_full_table_fills_every_column(read):
    points = read(
        "id,easting,northing,height,sd_east,sd_north,sd_up,role,fix,time,occupation,session,cover,target,"
        "target_height,antenna_height,separation,description\n"
        "A1,1.5,2.5,3.5,0.01,0.02,0.03,control,float,2026-05-01T10:00Z,1,am,hard,none,0.12,2.000,-17.03,kerb\n"
        "A2,4.5,5.5,,,,,,,,,,,,,,,\n"
    )
    assert points.ids == ("A1", "A2")
    np.testing.assert_array_equal(points.coordinates, [[1.5, 2.5, 3.5], [4.5, 5.5, np.nan]])
    np.testing.assert_array_equal(points.sigma_m, [[0.01, 0.02, 0.03], [np.nan] * 3])
    np.testing.assert_array_equal(points.target_height_m, [0.12, 0.0])
    np.testing.assert_array_equal(points.lines, [2, 3])
    assert points.roles == (Role.CONTROL, Role.CHECK)
    assert points.fixes == (FixType.FLOAT, None)
    assert points.covers == (Cover.HARD, None)
    assert points.sessions == ("am", None)
    assert points.targets == ("none", None)
    assert dict(points.attributes) == {
        "time": ("2026-05-01T10:00Z", None),
        "occupation": ("1", None),
        "antenna_height": ("2.000", None),
        "separation": ("-17.03", None),
        "description": ("kerb", None),
    }
    assert (points.unit, points.height_unit, points.crs, points.geographic) == (None, None, None, False)
    assert points.origin(1) == "points.csv, line 3"


def test_ids_stay_text(read):
    points = read(f"{HEADER}\n001,1,2,3\nNA,1,2,3\n1e5,1,2,3\n1.0,1,2,3\nnan,1,2,3\nGröße 7,1,2,3\n")
    assert points.ids == ("001", "NA", "1e5", "1.0", "nan", "Größe 7")


def test_repeated_id_is_a_second_occupation(read):
    assert read(f"{HEADER}\nP,1,2,3\nP,1.01,2,3\n").ids == ("P", "P")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_separator_line_end_and_byte_order_mark_do_not_matter(read, separator, line_end, mark):
    text = f"{HEADER}\n{ROW}\n{ROW.replace('CP1', 'CP2')}\n".replace(",", separator).replace("\n", line_end)
    points = read(mark + text)
    assert points.ids == ("CP1", "CP2")
    np.testing.assert_array_equal(points.coordinates, [[431250.118, 5412380.472, 212.34]] * 2)
    np.testing.assert_array_equal(points.lines, [2, 3])


def test_last_line_needs_no_line_end(read):
    assert read(f"{HEADER}\n{ROW}").ids == ("CP1",)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_comma_is_read_beside_semicolon_and_tab(read, separator):
    rows = ["id|easting|northing|height|sd_up", "A|431250,118|-5,4e6|,5|0,01", "B|7|8|9|"]
    points = read("\n".join(rows).replace("|", separator))
    np.testing.assert_array_equal(points.coordinates, [[431250.118, -5.4e6, 0.5], [7.0, 8.0, 9.0]])
    assert points.sigma_m[0, 2] == 0.01


def test_comma_inside_a_name_or_remark_is_no_separator(read):
    points = read("id;easting;northing;height;remark, if any, of the crew\nA;1,5;2;3;wet, windy\n")
    assert points.coordinates[0, 0] == 1.5
    assert points.attributes["remark, if any, of the crew"] == ("wet, windy",)


def test_separator_inside_quotes_does_not_count(read):
    points = read('"id","a;b;c;d;e","easting","northing"\nA,x,1,2\n')
    assert points.attributes["a;b;c;d;e"] == ("x",)


def test_quoted_cells_follow_rfc_4180(read):
    # RFC 4180, section 2, rules 5 to 7: quotes around cells, line breaks inside, doubled quotes.
    points = read(
        'id,easting,northing,description\n"P,1",1,2,"a ""b"" c"\n\n"#2",3,4,"one\n\n# two"\n'
        '# remark, "\nP3,"5", "6",5" nail\n'
    )
    assert points.ids == ("P,1", "#2", "P3")
    assert points.attributes["description"] == ('a "b" c', "one\n\n# two", '5" nail')
    np.testing.assert_array_equal(points.lines, [2, 4, 8])
    np.testing.assert_array_equal(points.coordinates[:, :2], [[1, 2], [3, 4], [5, 6]])


def test_empty_lines_and_remarks_keep_the_line_numbers(read):
    points = read(f"# invented\n\n  \n{HEADER}\n# one\nA,1,2,3\n,,,\n\n#B,1,2,3\nC,4,5,6\n")
    assert points.ids == ("A", "C")
    np.testing.assert_array_equal(points.lines, [6, 10])


def test_trailing_separator_is_accepted(read):
    assert read(f"{HEADER},\nA,1,2,3,\nB,1,2,3\n").ids == ("A", "B")
    assert read(f"{HEADER}\nA,1,2,3,,\nB,1,2,3\n").ids == ("A", "B")


def test_blanks_around_cells_and_names_are_taken_off(read):
    points = read("id , easting ,northing, height\n A 1 , 1 ,2 , 3\n")
    assert points.ids == ("A 1",)
    np.testing.assert_array_equal(points.coordinates, [[1, 2, 3]])


def test_northing_may_come_first(read):
    points = read("northing,easting,id\n5412380.5,431250.25,A\n")
    np.testing.assert_array_equal(points.coordinates, [[431250.25, 5412380.5, np.nan]])


def test_latitude_and_longitude_become_longitude_first(read):
    points = read("id,latitude,longitude,height\nA,-36.848461,174.763336,12.5\nB,90,-180,\nC,-90,360,\n")
    assert points.geographic
    np.testing.assert_array_equal(points.coordinates[0], [174.763336, -36.848461, 12.5])
    assert points.unit is None


def test_words_are_read_in_any_case(read):
    points = read(
        "id,easting,northing,role,fix,cover,target\nA,1,2,Check,FIXED,Bare,None\nB,1,2,MARK,Autonomous,VEGETATED,X-Panel\n"
        "C,1,2,unused,float,hard,\n"
    )
    assert points.roles == (Role.CHECK, Role.MARK, Role.UNUSED)
    assert points.fixes == (FixType.FIXED, FixType.AUTONOMOUS, FixType.FLOAT)
    assert points.covers == (Cover.BARE, Cover.VEGETATED, Cover.HARD)
    assert points.targets == ("none", "x-panel", None)


def test_unknown_columns_are_kept_under_their_own_name(read):
    points = read("id,easting,northing,PDOP,antenna_height_ft\nA,1,2,1.4,6.56\nB,1,2,,6.56\n")
    assert dict(points.attributes) == {"PDOP": ("1.4", None), "antenna_height_ft": ("6.56", "6.56")}


def test_columns_named_by_the_user_go_before_all_others(read):
    text = "No;X [ft];Y [ft];Z;east;Ell. height [m]\nA;1;2;3;4;5\n"
    named = {"id": "No", "easting": "Y [ft]", "northing": "X [ft]", "height": "Ell. height [m]"}
    points = read(text, columns=named)
    np.testing.assert_array_equal(points.coordinates, [[2, 1, 5]])
    assert (points.unit, points.height_unit) == (LinearUnit.FOOT, LinearUnit.METRE)
    assert dict(points.attributes) == {"Z": ("3",), "east": ("4",)}


def test_named_pair_decides_between_two_positions(read):
    text = "id,lat,lon,easting,northing\nA,1,2,3,4\n"
    np.testing.assert_array_equal(read(text, columns={"northing": "northing"}).coordinates[0, :2], [3, 4])
    np.testing.assert_array_equal(read(text, columns={"latitude": "lat"}).coordinates[0, :2], [2, 1])


def test_exact_name_goes_before_one_alike(read):
    points = read("id,easting,northing,H,h\nA,1,2,3,4\n", columns={"height": "h"})
    assert points.coordinates[0, 2] == 4
    assert points.attributes["H"] == ("3",)


def test_remark_in_brackets_of_a_named_column_is_no_unit(read):
    points = read("id,easting,northing,Height (NAVD88)\nA,1,2,3\n", columns={"height": "Height (NAVD88)"})
    assert points.coordinates[0, 2] == 3
    assert points.height_unit is None


def test_standard_deviations_become_metres(read):
    points = read(
        "id,easting,northing,sd_east_mm,sd_north (cm),sd_up_ftUS,target_height_ft\nA,1,2,8,0.9,1,10\n"
    )
    # NIST SP 811, appendix B.6: 1200/3937 m and 0.3048 m.
    np.testing.assert_allclose(points.sigma_m, [[0.008, 0.009, 1200 / 3937]], rtol=1e-15, atol=0)
    np.testing.assert_allclose(points.target_height_m, [3.048], rtol=1e-15, atol=0)


def test_example_can_be_read(read):
    points = read(READER.example)
    assert len(points) == 4
    assert np.isnan(points.coordinates[2, 2])


REFUSED = {
    "empty file": ("", ["is empty"]),
    "only blanks": ("\n  \n# remark\n", ["no header row"]),
    "header only": (f"\n{HEADER}\n", ["line 2", "no points"]),
    "no header": (
        "1,500000,5400000,1\n2,500001,5400001,2\n",
        ["line 1", "“1,500000,5400000,1”", "easting", "layout"],
    ),
    "no header, blanks": ("1 500000 5400000 1\n", ["line 1", 'points.layout = "PENZ"']),
    "no header, northing first": (
        "1;5400000,5;500000,5;1,5;kerb\n",
        ["line 1", "id, northing, easting, height, description", 'points.layout = "PNEZD"'],
    ),
    "no header, no ids": ("500000.5\t5400000.5\t1.5\n", ['points.layout = "ENZ"']),
    "no header, degrees": ("A,48.8512041,11.0215031,431.2\n", ['points.layout = "PLLZ"']),
    "no header, small site grid": ("A,48.851,11.021,431.2\n", ['points.layout = "PNEZ"']),
    "strange header": ("\na,b,c\n1,2,3\n", ["line 2", "“a,b,c”", "latitude"]),
    "long line": ("x" * 500, ["…"]),
    "blanks inside a name": (
        "id easting northing\nA 1 1 2\n",
        ["line 2", "4 cells, the header 3", "Quote a cell"],
    ),
    "blanks before x and y": ("id x y\nA 1 2\n", ["line 1"]),
    "bar as separator": ("id|easting|northing\nA|1|2\n", ["line 1", "“id|easting|northing”"]),
    "binary": (b"II*\0\x08\0\0\0", ["binary"]),
    "UTF-16 without a mark": (f"{HEADER}\n{ROW}\n".encode("utf-16-le"), ["binary"]),
    "UTF-16 cut short": (f"{HEADER}\n{ROW}\n".encode("utf-16")[:-1], ["binary"]),
    "neither UTF-8 nor Windows-1252": (f"{HEADER}\n{ROW}\n".encode() + b"\x81", ["line 3", "0x81", "UTF-8"]),
    "picture": (b"\xff\xd8\xff\xe1\x18\x03Exif", ["binary"]),
    "one endless line": ("x" * 2_000_000, ["line 1", "more than 1000000 characters"]),
    "names in a column without a name of ours": (
        "Bezeichner,easting,northing,height\nA,1,2,3\nA,1,2,3\nB,1,2,3\n",
        ["line 1", "ids", "“Bezeichner”", "[points.columns]", 'id = "Bezeichner"', "description ="],
    ),
    "numbers that may be names": (
        "shot,easting,northing\n7,1,2\n8,1,2\n",
        ["ids", 'id = "shot"'],
    ),
    "no position": ("id,height\nA,1\n", ["line 1", "the easting and the northing", "“id”, “height”"]),
    "no northing": ("id,easting\nA,1\n", ["line 1", "the northing", 'northing = "…"']),
    "no longitude": ("id,lat\nA,1\n", ["line 1", "the longitude"]),
    "x and y": ("id,x,y,z\nA,1,2,3\n", ["line 1", "“x”, “y”", "which is east", "[points.columns]"]),
    "X in feet": ("id,X (ft),Y (ft)\nA,1,2\n", ["“X (ft)”, “Y (ft)”", "which is east"]),
    "two positions": ("id,easting,northing,lat,lon\nA,1,2,3,4\n", ["line 1", "twice", "[points.columns]"]),
    "two heights": (
        "id,easting,northing,elevation,ellipsoidal height\nA,1,2,3,4\n",
        ["“elevation” or “ellipsoidal"],
    ),
    "two ids": ("point,name,easting,northing\nA,B,1,2\n", ["the id may be “point” or “name”"]),
    "same name twice": ("id,easting,northing,note,note\nA,1,2,a,b\n", ["line 1", "“note” twice"]),
    "same name in another case": ("id,easting,Easting,northing\nA,1,2,3\n", ["“easting” or “Easting”"]),
    "column without a name": ("id,,easting,northing\nA,1,2,3\n", ["line 1", "column 2 has no name"]),
    "two units": ("id,easting_ft,northing_m\nA,1,2\n", ["line 1", "easting in ft", "northing in m"]),
    "unit for one": ("id,easting_ft,northing\nA,1,2\n", ["easting in ft", "northing in no unit"]),
    "two feet": ("id,easting_ft,northing_ftUS\nA,1,2\n", ["easting in ft", "northing in ftUS"]),
    "kilometres": ("id,easting_km,northing_km\nA,1,2\n", ["line 1", "“km” in “easting_km”", "ft, ftUS, m"]),
    "height with a remark": (
        "id,easting,northing,Height (NAVD88)\nA,1,2,3\n",
        ["“NAVD88”", "[points.columns]"],
    ),
    "decimals under DMS": (
        "id,Latitude (DMS),Longitude (DMS)\nA,47.3015,8.3015\n",
        ["column “Longitude (DMS)”", "“8.3015” is no longitude", "d.mmss"],
    ),
    "grads": ("id,Latitude (gon),Longitude (gon)\nA,1,2\n", ["“gon”", "latitude"]),
    "angles of two kinds": (
        "id,lat (d.mmss),lon\nA,47.3015,8.3015\n",
        ["line 1", "latitude in d.mmss", "longitude in deg"],
    ),
    "packed angle with 75 minutes": (
        "id,lat (d.mmss),lon (d.mmss)\nA,47.7515,8.3015\n",
        ["column “lat (d.mmss)”", "“47.7515” is no latitude", "two digits of minutes"],
    ),
    "few cells": (f"{HEADER}\n{ROW}\nA,1,2\n", ["line 3", "3 cells, the header 4"]),
    "many cells": (f"{HEADER}\nA,1,2,3,4\n", ["line 2", "5 cells, the header 4"]),
    "decimal comma among commas": (f"{HEADER}\nA,1,5,2,5,3,5\n", ["line 2", "7 cells", "decimal point"]),
    "open quotes": (f'{HEADER}\nA,1,2,3\n"B,1,2,3\n', ["line 3", "Close every quoted cell"]),
    "text after quotes": (f'{HEADER}\n"A"1,1,2,3\n', ["line 2", "cannot be split"]),
    "cell too long": (f"{HEADER}\n{'A' * 200_000},1,2,3\n", ["line 2", "cannot be split"]),
    "no number": (
        f"{HEADER}\n{ROW}\nB,5oo001,1,2\n",
        ["line 3, column “easting”", "“5oo001” is not a number"],
    ),
    "underscore": (f"{HEADER}\nA,500_000,1,2\n", ["“500_000” is not a number"]),
    "foreign digits": (f"{HEADER}\nA,١٢,1,2\n", ["“١٢” is not a number"]),
    "two signs": (f"{HEADER}\nA,+-5,1,2\n", ["“+-5” is not a number"]),
    "nan": (f"{HEADER}\nA,1,NaN,2\n", ["line 2, column “northing”", "“NaN” is not a finite number"]),
    "inf": (f"{HEADER}\nA,1,2,-inf\n", ["column “height”", "“-inf” is not a finite number"]),
    "overflow": (f"{HEADER}\nA,1,2,1e999\n", ["“1e999” is not a finite number"]),
    "dash for a height": (f"{HEADER}\nA,1,2,-\n", ["column “height”", "“-” is not a number"]),
    "thousands": (f'{HEADER}\nA,"500,000.5",1,2\n', ["“500,000.5”", "thousands"]),
    "decimal comma in quotes": (f'{HEADER}\nA,"500000,5",1,2\n', ["“500000,5” is not a number"]),
    "two commas": ("id;easting;northing\nA;5,412,380;1\n", ["“5,412,380”", "thousands"]),
    "comma and point": ("id;easting;northing\nA;1,5;2\n\nB;1;2.5\n", ["line 2", "“1,5”", "“2.5” in line 4"]),
    "sixty seconds": ("id,lat,lon\nA,47 30 60 N,1\n", ["column “lat”", "“47 30 60 N”", "decimal degrees"]),
    "north and south of a longitude": ("id,lat,lon\nA,1,8 30 00 N\n", ["“8 30 00 N” is no longitude"]),
    "sign and letter": ("id,lat,lon\nA,-47 30 00 S,8\n", ["“-47 30 00 S” is no latitude"]),
    "Ost or Ouest": ("id,lat,lon\nA,47,8 30 00 O\n", ["“8 30 00 O”", "Ouest"]),
    "angle as easting": ("id,easting,northing\nA,47 30 15.5 N,1\n", ["“47 30 15.5 N”", "latitude"]),
    "empty easting": (f"{HEADER}\nA,,1,2\n", ["line 2, column “easting”", "empty"]),
    "empty northing": (f"{HEADER}\nA,1,,2\n", ["line 2, column “northing”", "empty"]),
    "empty longitude": ("id,lat,lon\nA,1,\n", ["column “lon”", "empty"]),
    "empty id": (f"{HEADER}\n{ROW}\n ,1,2,3\n", ["line 3, column “id”", "empty"]),
    "latitude": ("id,lat,lon\nA,-90.1,1\n", ["line 2", "latitude -90.1", "±90", "swapped"]),
    "longitude": ("id,lat,lon\nA,1,360.5\n", ["line 2", "longitude 360.5", "±360"]),
    "eastings as latitude": ("id,lat,lon\nA,5412380.472,431250.118\n", ["latitude 5412380.472"]),
    "sigma zero": (f"{HEADER},sd_up\n{ROW},0\n", ["line 2, column “sd_up”", "above zero"]),
    "sigma negative": (f"{HEADER},sd_east\n{ROW},-0.01\n", ["column “sd_east”", "-0.01"]),
    "sigma text": (f"{HEADER},sd_north\n{ROW},good\n", ["column “sd_north”", "“good”"]),
    "role": (
        f"{HEADER},role\n{ROW},gcp\n",
        ["line 2, column “role”", "“gcp”", "check, control, mark, unused"],
    ),
    "fix": (f"{HEADER},fix\n{ROW},rtk\n", ["line 2, column “fix”", "“rtk”", "fixed, float, autonomous"]),
    "cover": (f"{HEADER},Cover\n{ROW},grass\n", ["column “Cover”", "“grass”", "hard, bare, vegetated"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_spoiled_table_is_refused_in_one_sentence(message, name):
    content, expected = REFUSED[name]
    found = message(content)
    for part in expected:
        assert part in found


@pytest.mark.parametrize(
    ("columns", "expected"),
    [
        ({"height": "Zz"}, ["calls the height “Zz”", "“id”, “easting”, “northing”, “height”"]),
        ({"hight": "height"}, ["“hight”", "did you mean “height”?"]),
        ({"easting": "height", "northing": "height"}, ["“height” twice"]),
        (
            {"easting": "easting", "latitude": "northing", "longitude": "height"},
            ["position stands there twice"],
        ),
        ({"description": "id", "id": "height"}, []),
    ],
)
def test_wrong_names_of_columns_are_refused(read, message, columns, expected):
    text = f"{HEADER},depth_km\n{ROW},1\n"
    if not expected:
        assert read(text, columns=columns).attributes["description"] == ("CP1",)
        return
    for part in ["line 1", *expected]:
        assert part in message(text, columns=columns)


def test_header_that_holds_a_name_given_away_is_refused(message):
    found = message("id,easting,northing,shot,occupation\nA,1,2,3,4\n", columns={"occupation": "shot"})
    assert "Rename “occupation”" in found


@pytest.mark.parametrize("layout", ["PENZ", "id, easting, northing, height"])
def test_header_row_under_a_layout_is_refused(message, layout):
    found = message(f"{HEADER}\n{ROW}\n", layout=layout)
    assert "line 1" in found
    assert "Leave the layout out" in found


def test_message_about_a_huge_cell_stays_short(message):
    assert len(message(f"{HEADER}\nA,{'9' * 100_000}x,2,3\n")) < 200


@pytest.mark.parametrize(
    "text",
    [
        "id easting northing height\nA 1,5 2 3\nB\t4 \t 5   6\n",
        "  id\teasting  northing height  \n  A 1,5 2 3\n B 4 5 6  \n",
    ],
)
def test_blanks_and_tabs_may_part_the_columns(read, text):
    points = read(text)
    assert points.ids == ("A", "B")
    np.testing.assert_array_equal(points.coordinates, [[1.5, 2, 3], [4, 5, 6]])


def test_description_at_the_end_may_hold_blanks(read):
    points = read('id easting northing description\n"CP 1" 1 2 kerb, north side\nB 3 4\n')
    assert points.ids == ("CP 1", "B")
    assert points.attributes["description"] == ("kerb, north side", None)


def test_names_of_several_words_do_not_fall_apart_beside_another_separator(read):
    points = read("Point ID, East [m], North [m]\nA 1, 1, 2\n")
    assert points.ids == ("A 1",)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_unicode_is_read_however_it_is_written(read, encoding):
    mark = "\ufeff" if encoding in {"utf-16-le", "utf-16-be"} else ""
    points = read(f"{mark}id,easting,northing\nGröße 7,1,2\n".encode(encoding))
    assert points.ids == ("Größe 7",)
    assert points.notes == ()


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252"])
def test_other_text_is_read_as_windows_1252_and_said_to_be(read, encoding):
    points = read("id;Rechtswert;Hochwert;Höhe\nGröße 7;1,5;2;3\n".encode(encoding))
    assert points.ids == ("Größe 7",)
    assert points.coordinates[0, 2] == 3
    assert len(points.notes) == 1
    assert "points.csv is not UTF-8 (line 1) and was read as Windows-1252" in points.notes[0]


def test_mark_at_the_end_of_a_text_of_old_programs_is_no_row(read):
    assert read(f"{HEADER}\n{ROW}\n".encode() + b"\x1a").ids == ("CP1",)


def test_table_without_ids_is_named_by_file_and_line(read):
    points = read("# invented track\neasting,northing,height,speed\n1,2,3,0.5\n\n4,5,6,0.7\n")
    assert points.ids == ("points:3", "points:5")
    assert points.attributes["speed"] == ("0.5", "0.7")
    assert points.notes == (
        "points.csv has no column of ids: its points are named by file and line, such as “points:3”.",
    )


def test_column_of_repeated_words_is_no_column_of_ids(read):
    rows = "".join(f"{row},2,{'asphalt' if row else 'gravel'}\n" for row in range(5))
    assert read(f"easting,northing,surface\n{rows}").ids[0] == "points:2"


def test_column_named_as_something_else_is_no_column_of_ids(read):
    points = read("Bezeichner,easting,northing\nA,1,2\nB,3,4\n", columns={"description": "Bezeichner"})
    assert points.ids == ("points:2", "points:3")


def test_degrees_minutes_and_seconds_stand_beside_decimal_degrees(read):
    # By hand: 40.92 s = 0.682 min; 2.682 min = 0.0447°; 18.84 s = 0.314 min; 4.314 min = 0.0719°.
    points = read(
        'id,lat,lon,height\nA,51 02 40.92 N,114 04 18.84 W,1\nB,"51°02\'40.92""N",-114:04:18.84,1\n'
        "C,51.0447,-114.0719,1\nD,N 51 02.682,W114 04.314,1\n"
    )
    np.testing.assert_allclose(points.coordinates[:, :2], [[-114.0719, 51.0447]] * 4, rtol=0, atol=1e-12)


def test_angle_below_one_degree_keeps_its_minus(read):
    points = read("id;lat;lon\nA;-0 30 15,6;-0:00:36\n")
    np.testing.assert_allclose(points.coordinates[0, :2], [-0.01, -0.504333333333], rtol=0, atol=1e-11)


def test_packed_angles_are_read_where_the_header_says_so(read):
    points = read("id,lat (D.MMSS),lon_d.mmssss\nA,-24.093248960000,151.5313188\nB,-0.30,151\n")
    expected = [151 + 53 / 60 + 13.188 / 3600, -(24 + 9 / 60 + 32.4896 / 3600)]
    np.testing.assert_allclose(points.coordinates[0, :2], expected, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(points.coordinates[1, :2], [151, -0.5])


def test_parted_angles_are_read_where_the_header_says_so(read):
    points = read("id,Latitude (dd mm ss.ss),Longitude DMS\nA,47-30-36,8 30 36\n")
    np.testing.assert_allclose(points.coordinates[0, :2], [8.51, 47.51], rtol=0, atol=1e-12)


@real
@pytest.mark.real
@pytest.mark.parametrize(
    ("name", "count", "first", "unit"),
    [
        # Read off the files: PDAL test data (BSD), Eugene, Oregon.
        ("checkpoints_epsg2994_ft.csv", 40, [636148.87, 848981.58, 427.95], LinearUnit.FOOT),
        ("checkpoints_epsg3740_m.csv", 40, [494166.0597, 4877433.3436, 130.43916], LinearUnit.METRE),
        ("expected_dtm_samples.csv", 40, [636148.87, 848981.58, 427.95], LinearUnit.FOOT),
    ],
)
def test_real_checkpoints_are_read_with_their_units(name, count, first, unit):
    points = READER.read(REAL / name, PointsRequest())
    assert len(points) == count
    assert points.ids[0] == "G01"
    np.testing.assert_array_equal(points.coordinates[0], first)
    assert (points.unit, points.height_unit) == (unit, unit)


@real
@pytest.mark.real
def test_real_profile_has_metres_and_survey_feet(read):
    lines = (REAL / "track_2010_ground_points.csv").read_text().splitlines()
    numbered = [f"{'id' if number == 0 else number},{line}" for number, line in enumerate(lines)]
    points = read("\n".join(numbered))
    assert len(points) == 829
    np.testing.assert_array_equal(points.coordinates[0], [194506.86, 259235.01, 426.54])
    assert (points.unit, points.height_unit) == (LinearUnit.METRE, LinearUnit.US_SURVEY_FOOT)


@real
@pytest.mark.real
def test_real_profile_without_ids_is_named_by_line():
    points = READER.read(REAL / "track_2023_ground_points.csv", PointsRequest())
    assert len(points) == 687
    assert points.ids[0] == "track_2023_ground_points:2"
    assert len(set(points.ids)) == 687
