"""Lists without a header row: the order of the columns is named, never guessed.

PNEZD and its variants are common practice of data collectors. All points are invented.
"""

from pathlib import Path

import numpy as np
import pyproj
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.points._layouts import layout_columns, suggestion
from geoqa.units import LinearUnit

REAL = Path(__file__).parents[3].parent / "shared" / "real"
real = pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository")
FULL = ("CP1", [431250.118, 5412380.472, 212.34], "kerb")


@pytest.fixture
def read(tmp_path):
    """Return a function that reads a list from its text, with a layout."""

    def read_list(text, layout, **request):
        path = tmp_path / "points.txt"
        path.write_text(text, encoding="utf-8")
        return read_points(str(path), PointsRequest(layout=layout, **request))

    return read_list


@pytest.mark.parametrize(
    ("layout", "line"),
    [
        ("PNEZD", "CP1,5412380.472,431250.118,212.34,kerb"),
        ("pnezd", "CP1;5412380,472;431250,118;212,34;kerb"),
        ("PENZD", "CP1\t431250.118\t5412380.472\t212.34\tkerb"),
        ("PENHD", "CP1   431250,118   5412380,472\t 212,34  kerb"),
        ("id, northing, easting, height, description", "CP1 5412380.472 431250.118 212.34 kerb"),
        ("P,N,E,Z,D", "CP1,5412380.472,431250.118,212.34,kerb"),
        ("point Northing Easting elev desc", "CP1,5412380.472,431250.118,212.34,kerb"),
        ("DPENZ", "kerb,CP1,431250.118,5412380.472,212.34"),
        ("id, -, easting, northing, height, D", "CP1,32,431250.118,5412380.472,212.34,kerb"),
    ],
)
def test_layout_says_which_column_is_which(read, layout, line):
    points = read(f"# invented\n\n{line}\n", layout)
    assert points.ids == (FULL[0],)
    np.testing.assert_array_equal(points.coordinates, [FULL[1]])
    assert dict(points.attributes) == {"description": (FULL[2],)}
    np.testing.assert_array_equal(points.lines, [3])
    assert (points.unit, points.notes, points.geographic) == (None, (), False)


@pytest.mark.parametrize(
    ("layout", "line", "expected"),
    [
        ("PNEZ", "A,20,10,30", [10, 20, 30]),
        ("PENZ", "A,10,20,30", [10, 20, 30]),
        ("PNE", "A,20,10", [10, 20, np.nan]),
        ("PLLHD", "A,48.5,11.5,431,kerb", [11.5, 48.5, 431]),
        ("P,lat,lon,h,D", "A,48 30 00 N,11 30 00 E,431,kerb", [11.5, 48.5, 431]),
        ("id, longitude, latitude", "A,11.5,48.5", [11.5, 48.5, np.nan]),
        ("id, latitude (d.mmss), longitude (d.mmss)", "A,48.3,11.3000", [11.5, 48.5, np.nan]),
    ],
)
def test_layout_may_be_shorter_or_geographic(read, layout, line, expected):
    points = read(f"{line}\n", layout)
    np.testing.assert_allclose(points.coordinates, [expected], rtol=0, atol=1e-12)
    assert points.ids == ("A",)
    assert points.geographic == (expected[1] == 48.5)


@pytest.mark.parametrize(
    ("layout", "line"), [("NEZ", "20,10,30"), ("ENZ", "10 20 30"), ("ENZD", "10;20;30;x")]
)
def test_list_without_ids_is_named_by_file_and_line(read, layout, line):
    points = read(f"{line}\n{line}\n", layout)
    assert points.ids == ("points:1", "points:2")
    np.testing.assert_array_equal(points.coordinates, [[10, 20, 30]] * 2)
    assert "points.txt has no column of ids" in points.notes[0]


def test_description_at_the_end_may_be_missing_or_hold_the_separator(read):
    points = read("1,20,10,30,kerb, north side\n2,20,10,30\n3,20,10,30,\n", "PNEZD")
    assert points.attributes["description"] == ("kerb, north side", None, None)
    assert points.ids == ("1", "2", "3")


def test_unit_may_stand_behind_a_name(read):
    points = read("A,20,10,30\n", "id, northing_ft, easting_ft, height (ftUS)")
    assert (points.unit, points.height_unit) == (LinearUnit.FOOT, LinearUnit.US_SURVEY_FOOT)


@pytest.mark.parametrize(
    ("layout", "text", "parts"),
    [
        ("PXYZ", "A,1,2,3\n", ["“PXYZ”", "PNEZD", "PLLHD"]),
        ("PZD", "A,1,2\n", ["does not say where the position stands"]),
        ("", "A,1,2\n", ["does not say where the position stands"]),
        ("PNZ", "A,1,2\n", ["does not say where the position stands"]),
        ("PNEE", "A,1,2,3\n", ["names the easting twice"]),
        ("id, name, easting, northing", "A,1,2,3\n", ["names the id twice"]),
        ("id, x, y", "A,1,2\n", ["“x”", "call north X"]),
        ("id, nothing, easting", "A,1,2\n", ["“nothing”, which names no column", "northing"]),
        ("PNEZ", "A,1,2\n", ["line 1", "“A,1,2” does not split into the 4 columns"]),
        ("PNEZ", "A,1,2,3,4\n", ["line 1", "does not split into the 4 columns"]),
        ("PNEZ", "A,b,2,3\n", ["line 1", "with a number in each column of the position"]),
        ("PNEZ", "A,1,2,3\nB,1,2\n", ["line 2", "3 cells, the header 4"]),
        ("PNEZ", "A,1,2,3\nB,1,2,x\n", ["line 2, column “height”", "“x” is not a number"]),
        (
            "PNEZD",
            "A,20,10,30,kerb\nB,20,5,10,5,30,5,kerb\n",
            ["line 2", "8 cells, the header 5", "decimal point"],
        ),
        ("PNEZ", "# nothing\n", ["no points"]),
        ("PLLH", "A,91.5,11.5,431\n", ["line 1", "latitude 91.5", "swapped"]),
        ("id, easting_ft, northing_m", "A,1,2\n", ["points.layout", "easting in ft"]),
    ],
)
def test_wrong_layout_or_line_is_refused_in_one_sentence(read, layout, text, parts):
    with pytest.raises(InputError) as caught:
        read(text, layout)
    assert "\n" not in str(caught.value)
    for part in ["points.txt", *parts]:
        assert part in str(caught.value)


def test_names_of_columns_beside_a_layout_are_refused(read):
    with pytest.raises(InputError, match=r"Leave \[points.columns\] out"):
        read("A,1,2,3\n", "PNEZ", columns={"id": "P"})


def test_decimal_comma_among_blanks_is_not_taken_for_a_separator(read):
    points = read("1 431250,118 5412380,472 212,34\n", "PENZ")
    np.testing.assert_array_equal(points.coordinates, [FULL[1]])


def test_suggestion_is_a_layout_or_none():
    assert suggestion("id;name\n") is None
    assert suggestion("north,1,2\n") == "PEN"
    for text in ("A,1,2\n", "1.5 2.5\n", "1 2 3 4 x\n", "A;1,5;2,5;3,5;x\n", "A,48.123456,11.123456,3\n"):
        assert layout_columns(suggestion(text), "points.txt")


@real
@pytest.mark.real
def test_real_list_of_packed_angles_agrees_with_its_grid_coordinates():
    # GeodePy (Apache-2.0), Geoscience Australia: 128 stations in D.MMSSsss and in MGA2020, written to 1 mm.
    folder = REAL / "gda-mga-points"
    angles = read_points(
        str(folder / "Test_Conversion_Geo.csv"),
        PointsRequest(layout="id, latitude (d.mmss), longitude (d.mmss)"),
    )
    grid = read_points(
        str(folder / "Test_Conversion_Grid.csv"), PointsRequest(layout="id, -, easting, northing")
    )
    assert angles.ids == grid.ids
    assert len(angles) == 128
    lines = (folder / "Test_Conversion_Grid.csv").read_text().split()
    zones = np.array([int(line.split(",")[1]) for line in lines])
    for zone in np.unique(zones):
        inside = zones == zone
        transformer = pyproj.Transformer.from_crs(7844, 7800 + int(zone), always_xy=True)
        plan = np.column_stack(transformer.transform(*angles.coordinates[inside, :2].T))
        np.testing.assert_allclose(plan, grid.coordinates[inside, :2], rtol=0, atol=0.00051)


@real
@pytest.mark.real
def test_real_list_parted_by_blanks_is_read_by_its_layout():
    # Geoscience Australia, reference stations in GDA2020: grid, D.MMSSsssss, heights, X Y Z, uncertainties.
    columns = "-, easting, northing, -, -, -, -, height, -, -, -, -, -, -, description"
    points = read_points(
        str(REAL / "ga-rvs-gda2020" / "natadjust_rvs_example.dat"), PointsRequest(layout=f"id, {columns}")
    )
    assert len(points) == 109
    assert points.ids[:2] == ("ALBY", "ALIC")
    np.testing.assert_array_equal(points.coordinates[0], [573976.8746, 6132177.546, 36.6536])
    assert points.attributes["description"][1] == "ALIC_2011201"
