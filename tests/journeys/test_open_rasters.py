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
