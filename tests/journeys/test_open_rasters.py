"""Rasters as they lie about: the answer or the sentence that each calls for.

Sources of the data: rasterio's test data (BSD-3-Clause); Olinda elevation of the R
package stars (Apache-2.0).
"""

import pytest

from tests.site import REAL, geoqa

pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository"),
]


def check(folder, raster, point, *words):
    (folder / "points.csv").write_text(f"id,easting,northing,height\nA,{point}\n")
    out = ["--out", str(folder / "out"), "--json"]
    return geoqa(
        "check", "--elevation", str(REAL / raster), "--points", str(folder / "points.csv"), *out, *words
    )


@pytest.mark.parametrize("name", ["rotated.tif", "float_nan.tif"])
def test_raster_without_a_crs_says_how_to_name_it(tmp_path, name):
    answer = check(tmp_path, f"raster-oddities/{name}", "1,2,3")
    assert answer.exit_code == 2
    assert name in answer.stderr
    assert "crs" in answer.stderr


def test_rotated_raster_is_read_through_its_whole_transform(tmp_path):
    import rasterio

    path = REAL / "raster-oddities" / "rotated.tif"
    with rasterio.open(path) as source:
        values, transform = source.read(1), source.transform
    # A cell centre: bilinear interpolation gives the cell itself.
    east = transform.a * 4.5 + transform.b * 6.5 + transform.c
    north = transform.d * 4.5 + transform.e * 6.5 + transform.f
    (tmp_path / "points.csv").write_text(f"id,easting,northing,height\nA,{east!r},{north!r},0\n")
    (tmp_path / "check.toml").write_text(
        f"[elevation]\npath = '{path}'\ncrs = 'EPSG:25832'\n[points]\npath = 'points.csv'\n"
        "[limits]\nslope_percent = 1e9\nrelief_m = 1e9\n[deliver]\npictures = false\n"
    )
    answer = geoqa("check", str(tmp_path / "check.toml"), "--json")
    assert answer.json["points"][0]["product_m"][2] == pytest.approx(float(values[6, 4]), abs=1e-6)


def test_a_code_that_only_resembles_the_crs_is_not_printed_as_its_code(tmp_path):
    # The file says "UTM Zone 25, Southern Hemisphere" on GRS80 with an unknown datum, never SIRGAS 1995.
    answer = check(tmp_path, "olinda-dem/olinda_dem_utm25s.tif", "290000,9115000,10")
    assert "32000" not in answer.stderr
    assert "UTM Zone 25" in answer.stderr


def test_cells_far_larger_than_the_limit_are_warned_of(tmp_path):
    answer = check(
        tmp_path, "olinda-dem/olinda_dem_utm25s.tif", "290000,9115000,10", "--vertical-limit", "0.05"
    )
    assert any("cannot carry a test" in message for message in answer.json["messages"])


@pytest.mark.parametrize(
    ("name", "point", "height"),
    [
        # The middle of four cells holding 1 to 4, and a cell; as rasterio reads them.
        ("test_esri_wkt.tif", "-14055,2368515,0", 2.5),
        ("float_raster_with_nodata.tif", "6301862.204093784,3313862.2306177607,0", 0.0),
    ],
)
def test_odd_rasters_answer_with_the_height_of_their_cells(tmp_path, name, point, height):
    answer = check(tmp_path, f"raster-oddities/{name}", point)
    assert answer.exit_code == 0, answer.stderr
    assert answer.json["points"][0]["product_m"][2] == pytest.approx(height, abs=1e-6)


def test_south_up_raster_answers_once_its_crs_is_named(tmp_path):
    path = REAL / "raster-oddities" / "float_nan.tif"
    (tmp_path / "points.csv").write_text("id,easting,northing,height\nA,50,150,0\nB,200,50,0\n")
    (tmp_path / "check.toml").write_text(
        f"[elevation]\npath = '{path}'\ncrs = 'EPSG:25832'\n[points]\npath = 'points.csv'\n"
        "[deliver]\npictures = false\n"
    )
    answer = geoqa("check", str(tmp_path / "check.toml"), "--json")
    first, second = answer.json["points"]
    # South-up: the second row of the file, 0.32 −0.23 −1.88, lies to the north of the first.
    assert first["product_m"][2] == pytest.approx(0.32, abs=1e-6)
    assert second["surface"]["status"] == "no data"


def test_picture_of_cells_that_are_no_squares_is_searched(tmp_path):
    # RGB.byte.tif: 300.038 m × 300.042 m, nodata 0; no target is to be seen in it.
    (tmp_path / "points.csv").write_text(
        "id,easting,northing,height\nA,200000,2700000,1\nB,101990,2826900,1\n"
    )
    (tmp_path / "check.toml").write_text(
        f"[orthomosaic]\npath = '{REAL / 'raster-oddities' / 'RGB.byte.tif'}'\n[points]\n"
        "path = 'points.csv'\n[targets]\nsearch_radius_m = 3000\n[deliver]\npictures = false\n"
    )
    answer = geoqa("check", str(tmp_path / "check.toml"), "--json")
    assert answer.exit_code in {0, 3}, answer.stderr
    assert [point["target"]["status"] for point in answer.json["points"]] == ["not found", "not found"]


def test_white_sand_that_is_declared_nodata_is_said_where_no_target_is_found(tmp_path):
    # OSBS_029.tif: nodata 255, bounds 404211.9 3285102.9 404251.9 3285142.9; no target is in it.
    rows = [f"P{i},{404215 + 4 * i},{3285106 + 4 * i},1" for i in range(9)]
    (tmp_path / "points.csv").write_text("\n".join(["id,easting,northing,height", *rows]) + "\n")
    answer = geoqa(
        "check",
        *("--orthomosaic", str(REAL / "neon-osbs-ortho" / "OSBS_029.tif")),
        *("--points", str(tmp_path / "points.csv"), "--out", str(tmp_path / "out"), "--json"),
    )
    assert [point["target"]["status"] for point in answer.json["points"]] == ["not found"] * 9
