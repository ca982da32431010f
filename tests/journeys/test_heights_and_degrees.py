"""Heights, coordinates of a site and products in degrees, through the command line to the deliverables."""

import hashlib
import json
import sqlite3

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from numpy.testing import assert_allclose

from tests.frame.test_transform import by_hand
from tests.geoid_files import plane, write_gtx
from tests.site import geoqa

CALGARY = np.array([[-114.0719, 51.0447, 1045.0], [-114.0714, 51.0445, 1046.0], [-114.0716, 51.0449, 1045.5]])
FIRST, STEP, SHAPE = (-115.0, 52.0), 0.05, (40, 50)
UTM = "EPSG:22811"
TO_UTM = pyproj.Transformer.from_crs("EPSG:10414", UTM, always_xy=True)


def separation(lon, lat):
    return -17.0 + 0.5 * (lon - FIRST[0]) - 0.3 * (lat - FIRST[1])


def write_surface(path, heights, *, crs=UTM, corner, cell):
    """Write an elevation raster of one height everywhere, or of a plane rising to the north."""
    rows, cols = 240, 240
    values = np.full((rows, cols), heights, dtype="float32")
    profile = {"driver": "GTiff", "width": cols, "height": rows, "count": 1, "dtype": "float32", "crs": crs}
    with rasterio.open(
        path, "w", transform=Affine(cell, 0, corner[0], 0, -cell, corner[1]), **profile
    ) as target:
        target.write(values, 1)


def write_degrees(path, places=CALGARY):
    lines = [f"P{row + 1},{lat:.11f},{lon:.11f},{height}" for row, (lon, lat, height) in enumerate(places)]
    path.write_text("id,latitude,longitude,height\n" + "\n".join(lines) + "\n")


def run(folder, settings, *words):
    (folder / "check.toml").write_text(settings)
    return geoqa("check", str(folder / "check.toml"), "--out", str(folder / "out"), "--json", *words)


HEIGHTS = """
[elevation]
path = "surface.tif"
height_system = "EPSG:9245"

[points]
path = "points.csv"
crs = "EPSG:9989"
epoch = 2026.45
height_system = "ellipsoidal"
{more}
[deliver]
pictures = false
"""


def heights_site(folder):
    csrs = np.array([by_hand(*place, 2026.45) for place in CALGARY])
    east, north = TO_UTM.transform(csrs[:, 0], csrs[:, 1])
    write_surface(folder / "surface.tif", 1062.0, corner=(east.min() - 50, north.max() + 50), cell=1.0)
    write_degrees(folder / "points.csv")
    return csrs, east, north


def test_ellipsoidal_heights_of_a_global_frame_meet_a_map_above_the_geoid(tmp_path):
    csrs, east, north = heights_site(tmp_path)
    grid = write_gtx(tmp_path / "own, grid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    answer = run(tmp_path, HEIGHTS.format(more='[geoid]\ngrid = "own, grid.gtx"\n'))
    assert answer.exit_code == 0, answer.stderr
    height = csrs[:, 2] - separation(csrs[:, 0], csrs[:, 1])
    found = np.array([point["survey_m"] for point in answer.json["points"]])
    assert_allclose(found, np.column_stack([east, north, height]), rtol=0, atol=5e-4)
    up = np.array([point["residual_m"][2] for point in answer.json["points"]])
    assert_allclose(up, 1062.0 - height, rtol=0, atol=5e-4)
    # A stranger can follow the first point by hand.
    steps = answer.json["points"][0]["steps"]
    assert [step["title"] for step in steps] == ["datum", "geoid", "projection change"]
    assert "EPSG:10415" in steps[0]["operation"]
    assert "own, grid.gtx" in steps[1]["operation"]
    changed = CALGARY[0, 2] + steps[0]["change_m"][2] + steps[1]["change_m"][2]
    assert changed == pytest.approx(height[0], abs=5e-4)
    (used,) = answer.json["provenance"]["grids"]
    assert used["sha256"] == hashlib.sha256(grid.read_bytes()).hexdigest()
    assert used["size_bytes"] == grid.stat().st_size
    assert used["path"].endswith("own, grid.gtx")
    assert "own, grid.gtx" in (tmp_path / "out" / "report.html").read_text("utf-8")


def test_without_any_geoid_nothing_is_written(tmp_path):
    heights_site(tmp_path)
    answer = run(tmp_path, HEIGHTS.format(more=""))
    assert answer.exit_code == 2
    for words in ("ca_nrc_CGG2013an83.tif", "geoid.grid", "geoid.separation_m", "pyproj sync"):
        assert words in answer.stderr
    assert "Traceback" not in answer.stderr
    assert not (tmp_path / "out").exists()


def test_the_network_is_told(tmp_path):
    heights_site(tmp_path)
    more = "[geoid]\nseparation_m = -16.83\n[limits]\nnetwork = true\n"
    before = pyproj.network.is_network_enabled()
    # Where the server cannot be reached PROJ says so as if the grid were not there.
    answer = run(tmp_path, HEIGHTS.format(more=more))
    assert pyproj.network.is_network_enabled() is before
    assert "network was on for this run" in answer.stderr or answer.exit_code == 2


DEGREES = """
[elevation]
path = "surface.tif"
crs = "{crs}"

[points]
path = "points.csv"

[targets]
marks = "marks.csv"

[deliver]
pictures = true
"""


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857"])
def test_a_product_in_degrees_or_web_mercator_is_measured_on_the_ground(tmp_path, crs):
    to_product = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    west, north = to_product.transform(CALGARY[:, 0].min() - 0.0003, CALGARY[:, 1].max() + 0.0003)
    cell = 5e-6 if crs == "EPSG:4326" else 0.5
    write_surface(tmp_path / "surface.tif", 1045.25, crs=crs, corner=(west, north), cell=cell)
    write_degrees(tmp_path / "points.csv")
    moved = np.add(CALGARY, [1e-6, 1e-6, 0.0])
    write_degrees(tmp_path / "marks.csv", moved)
    answer = run(tmp_path, DEGREES.format(crs=crs))
    assert answer.exit_code == 0, answer.stderr
    assert "deliver the product in a survey grid" in answer.stderr
    assert "local transverse Mercator grid" in answer.stderr
    # A millionth of a degree at 51.04° N: 0.0702 m east and 0.1113 m north (lengths of a degree on GRS 1980,
    # 70.19 km and 111.26 km).
    for point in answer.json["points"]:
        assert_allclose(point["residual_m"][:2], [0.0702, 0.1113], rtol=0, atol=1e-4)
    assert answer.json["points"][0]["residual_m"][2] == pytest.approx(0.25, abs=1e-4)
    assert answer.json["points"][0]["surface"]["slope_deg"] == pytest.approx(0.0, abs=1e-6)
    web = json.loads((tmp_path / "out" / "checkpoints.geojson").read_text("utf-8"))
    places = [feature["geometry"]["coordinates"] for feature in web["features"]]
    assert_allclose(places, CALGARY[:, :2], rtol=0, atol=2e-9)
    with sqlite3.connect(tmp_path / "out" / "accuracy.gpkg") as layers:
        (definition,) = layers.execute(
            "SELECT s.definition FROM gpkg_geometry_columns g JOIN gpkg_spatial_ref_sys s USING (srs_id) "
            "WHERE g.table_name = 'checkpoints'"
        ).fetchone()
    layers.close()
    assert "Transverse_Mercator" in definition
    side_file = (tmp_path / "out" / "residual_map.png.aux.xml").read_text("utf-8")
    assert "Transverse Mercator" in side_file


SITE = """
[elevation]
path = "surface.tif"
unit = "metre"

[points]
path = "points.csv"
crs = "EPSG:22811"

[site_grid]
scale = 1.0005
origin_m = [705000.0, 5658000.0]
offset_m = [-700000.0, -5600000.0]
applies_to = [{sides}]

[deliver]
pictures = false
"""


@pytest.mark.parametrize("sides", ['"points"', '"products"', '"points", "products"'])
def test_coordinates_of_a_site_meet_the_map_on_whichever_side_they_are(tmp_path, sides):
    east, north = TO_UTM.transform(CALGARY[:, 0], CALGARY[:, 1])
    local = np.column_stack(
        [705_000 + 1.0005 * (east - 705_000) - 700_000, 5_658_000 + 1.0005 * (north - 5_658_000) - 5_600_000]
    )
    grid = np.column_stack([east, north])
    points, product = (local if side in sides else grid for side in ("points", "products"))
    corner = (product[:, 0].min() - 50, product[:, 1].max() + 50)
    write_surface(tmp_path / "surface.tif", 1045.0, corner=corner, cell=1.0)
    lines = [f"P{row + 1},{e:.5f},{n:.5f},1045.0" for row, (e, n) in enumerate(points)]
    (tmp_path / "points.csv").write_text("id,easting,northing,height\n" + "\n".join(lines) + "\n")
    answer = run(tmp_path, SITE.format(sides=sides))
    assert answer.exit_code == 0, answer.stderr
    found = np.array([point["survey_m"][:2] for point in answer.json["points"]])
    assert_allclose(found, product, rtol=0, atol=2e-5)
    assert {point["surface"]["status"] for point in answer.json["points"]} == {"sampled"}
    web = json.loads((tmp_path / "out" / "checkpoints.geojson").read_text("utf-8"))
    places = [feature["geometry"]["coordinates"] for feature in web["features"]]
    # Displayed in WGS 84 by an operation of metre accuracy: on the place all the same, not 1000 km off.
    assert_allclose(places, CALGARY[:, :2], rtol=0, atol=5e-5)
