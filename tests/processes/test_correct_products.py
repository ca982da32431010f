"""Corrected copies: pixels as they were, the place moved, heights raised, empty cells untouched."""

import hashlib
import json

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose, assert_array_equal

from tests.journeys.base_site import ERROR, LACKING
from tests.journeys.test_base_sides import OFFSETS, runner_in
from tests.readers.raster_files import NORTH_UP, SOUTH_UP, TURNED, ground, write
from tests.site import FIXTURE, geoqa

STAMP = "2026-05-01T10:00:00Z"
TILES = {"tiled": True, "blockxsize": 64, "blockysize": 64}


def corrected(folder, *words):
    answer = geoqa("correct-products", *words, "--out", str(folder / "moved"), "--created", STAMP, "--json")
    assert answer.exit_code == 0, answer.stderr
    return answer.json["products"]


def refused(folder, *words):
    answer = geoqa("correct-products", *words, "--out", str(folder / "moved"))
    assert answer.exit_code == 2
    assert not list((folder / "moved").glob("*")) if (folder / "moved").exists() else True
    return answer.stderr


def moved_by(t, east, north):
    return (t.a, t.b, t.c + east, t.d, t.e, t.f + north, 0, 0, 1)


def differing(first, second):
    """Return the places of the bytes that differ."""
    one, other = (np.frombuffer(path.read_bytes(), dtype="uint8") for path in (first, second))
    assert len(one) == len(other)
    return np.flatnonzero(one != other)


def picture(path, *, transform=NORTH_UP, crs="EPSG:25832", **profile):
    values = np.random.default_rng(5).integers(0, 255, (3, 150, 190), dtype="uint8")
    write(path, values, transform=transform, crs=crs, **profile)
    return path


# The orthomosaic


@pytest.mark.parametrize(
    "profile",
    [
        {},
        {"BIGTIFF": "YES"},
        {"ENDIANNESS": "BIG"},
        {"BIGTIFF": "YES", "ENDIANNESS": "BIG"},
        TILES | {"compress": "jpeg", "photometric": "ycbcr"},
    ],
    ids=["classic", "big", "big-endian", "big and big-endian", "jpeg"],
)
@pytest.mark.parametrize("transform", [NORTH_UP, SOUTH_UP, TURNED], ids=["north up", "south up", "turned"])
def test_only_the_numbers_of_the_place_change(tmp_path, profile, transform):
    source = picture(tmp_path / "ortho.tif", transform=transform, **profile)
    before = hashlib.sha256(source.read_bytes()).hexdigest()
    (done,) = corrected(tmp_path, "--orthomosaic", str(source), "--east", "1.25", "--north", "-0.5")
    target = tmp_path / "moved" / "ortho.tif"
    assert done["changed_bytes"] == 16
    assert len(differing(source, target)) <= 16
    # GDAL, which had no part in the moving, reads the copy.
    with rasterio.open(source) as was, rasterio.open(target) as now:
        assert_allclose(tuple(now.transform), moved_by(was.transform, 1.25, -0.5), atol=1e-9)
        assert_array_equal(now.read(), was.read())
        assert now.crs == was.crs
    assert hashlib.sha256(source.read_bytes()).hexdigest() == before


def test_overviews_and_cloud_layout_stay(tmp_path):
    plain = picture(tmp_path / "plain.tif", **TILES)
    source = tmp_path / "ortho.tif"
    with rasterio.open(plain) as dataset:
        rasterio.shutil.copy(dataset, source, driver="COG", blocksize=128, overview_count=1)
    corrected(tmp_path, "--orthomosaic", str(source), "--east", "1")
    with rasterio.open(source) as was, rasterio.open(tmp_path / "moved" / "ortho.tif") as now:
        assert now.overviews(1) == was.overviews(1)
        assert now.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"


def test_shift_is_metres_where_the_grid_counts_feet(tmp_path):
    source = picture(tmp_path / "ortho.tif", crs="EPSG:2229")
    corrected(tmp_path, "--orthomosaic", str(source), "--east", "1200", "--north", "-1200")
    # The US survey foot is 1200/3937 m.
    with rasterio.open(tmp_path / "moved" / "ortho.tif") as now:
        assert_allclose((now.transform.c, now.transform.f), (512_000 + 3937, 5_403_000 - 3937), atol=1e-6)


# The surface


def surface(path, values=None, **profile):
    values = ground() if values is None else values
    return write(path, values, **{"nodata": -9999.0, "compress": "deflate"} | TILES | profile)


@pytest.mark.parametrize("void", [-9999.0, np.nan], ids=["nodata", "not a number"])
def test_heights_rise_and_empty_cells_stay_what_they_were(tmp_path, void):
    values = ground()
    values[20:40, 30:90] = void
    path = surface(tmp_path / "surface.tif", values)
    (done,) = corrected(tmp_path, "--elevation", path, "--north", "0.2", "--up", "-0.034")
    with rasterio.open(tmp_path / "moved" / "surface.tif") as now:
        after, moved, nodata, blocks = now.read(1), now.transform, now.nodata, now.block_shapes
    hole = np.zeros(values.shape, dtype=bool)
    hole[20:40, 30:90] = True
    assert_array_equal(after[hole], values[hole])
    # Half a step of single precision at 256 m is 0.015 mm.
    assert_allclose(after[~hole], values[~hole].astype(float) - 0.034, rtol=0, atol=2e-5)
    assert (moved.f - NORTH_UP.f, nodata, blocks) == (pytest.approx(0.2), -9999.0, [(64, 64)])
    assert done["raised_cells"] == (~hole).sum()


def test_blocks_that_were_never_written_stay_so(tmp_path):
    path = tmp_path / "surface.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=128, height=64, count=1, dtype="float32", crs="EPSG:25832",
        transform=NORTH_UP, SPARSE_OK=True, **TILES,
    ) as target:  # fmt: skip
        target.write(np.full((1, 64, 64), 200.0, "float32"), window=((0, 64), (0, 64)))
    corrected(tmp_path, "--elevation", str(path), "--up", "1")
    with rasterio.open(tmp_path / "moved" / "surface.tif") as now:
        after = now.read(1)
    assert_array_equal(after[:, :64], 201.0)
    # GDAL reads 0 where nothing was written: not one metre.
    assert_array_equal(after[:, 64:], 0.0)


def test_mask_of_the_surface_stays(tmp_path):
    mask = np.full((150, 190), 255, dtype="uint8")
    mask[10:30, 10:30] = 0
    path = surface(tmp_path / "surface.tif", nodata=None, mask=mask)
    corrected(tmp_path, "--elevation", path, "--up", "0.5")
    with rasterio.open(path) as was, rasterio.open(tmp_path / "moved" / "surface.tif") as now:
        assert_array_equal(now.read_masks(1), mask)
        shown = mask > 0
        assert_allclose(now.read(1)[shown] - was.read(1)[shown], 0.5, rtol=0, atol=4e-5)


def test_offset_is_metres_where_the_heights_are_feet(tmp_path):
    path = surface(tmp_path / "surface.tif", crs="EPSG:2229")
    corrected(tmp_path, "--elevation", path, "--up", "0.3048", "--elevation-unit", "foot")
    with rasterio.open(path) as was, rasterio.open(tmp_path / "moved" / "surface.tif") as now:
        assert_allclose(now.read(1) - was.read(1), 1.0, rtol=0, atol=4e-5)


def test_unit_of_heights_is_asked_for_where_nothing_says_it(tmp_path):
    path = surface(tmp_path / "surface.tif", crs="EPSG:2229")
    assert "--elevation-unit" in refused(tmp_path, "--elevation", path, "--up", "1")


def test_whole_numbers_take_only_an_offset_that_fits(tmp_path):
    heights = np.full((150, 190), 2000, dtype="int16")
    heights[:5] = -9999
    path = surface(tmp_path / "surface.tif", heights)
    assert "without rounding" in refused(tmp_path, "--elevation", path, "--up", "0.4")
    corrected(tmp_path, "--elevation", path, "--up", "3")
    with rasterio.open(tmp_path / "moved" / "surface.tif") as now:
        assert_array_equal(np.unique(now.read(1)), [-9999, 2003])


def test_a_height_never_becomes_the_number_for_no_data(tmp_path):
    path = surface(tmp_path / "surface.tif", np.full((150, 190), 5, dtype="int16"), nodata=0)
    assert "stands for no data" in refused(tmp_path, "--elevation", path, "--up", "-5")


def test_surface_without_an_offset_keeps_every_byte_but_its_place(tmp_path):
    path = surface(tmp_path / "surface.tif")
    (done,) = corrected(tmp_path, "--elevation", path, "--east", "0.5")
    assert (done["changed_bytes"], done["raised_cells"]) == (16, 0)


# Lineage, and what is refused


def test_lineage_names_source_shift_and_reason(tmp_path):
    source = FIXTURE / "orthomosaic.tif"
    (done,) = corrected(tmp_path, "--orthomosaic", str(source), "--east", "0.1")
    told = json.loads((tmp_path / "moved" / "orthomosaic-lineage.json").read_text("utf-8"))
    assert told["source_sha256"] == hashlib.sha256(source.read_bytes()).hexdigest()
    assert told["sha256"] == hashlib.sha256((tmp_path / "moved" / "orthomosaic.tif").read_bytes()).hexdigest()
    assert (told["shift"], told["unit"], told["created"]) == ([0.1, 0.0], "metre", STAMP)
    assert told["reason"] == "shift given on the command line"
    assert done["lineage"].endswith("orthomosaic-lineage.json")


def test_several_tie_points_are_refused(tmp_path):
    path = tmp_path / "ortho.tif"
    points = [rasterio.control.GroundControlPoint(row, col, 5e5 + col, 5e6 - row, 0) for row, col in
              ((0, 0), (0, 99), (99, 0), (99, 99))]  # fmt: skip
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=100,
        height=100,
        count=1,
        dtype="uint8",
        gcps=points,
        crs="EPSG:25832",
    ) as target:
        target.write(np.zeros((1, 100, 100), "uint8"))
    assert "ground control points" in refused(tmp_path, "--orthomosaic", str(path), "--east", "1")


def test_place_beside_the_file_is_refused(tmp_path):
    path = picture(tmp_path / "ortho.tif", PROFILE="BASELINE", TFW="YES")
    assert "stand in the file" in refused(tmp_path, "--orthomosaic", str(path), "--east", "1")


def test_other_formats_are_refused(tmp_path):
    path = tmp_path / "ortho.png"
    picture(tmp_path / "plain.tif")
    with rasterio.open(tmp_path / "plain.tif") as dataset:
        rasterio.shutil.copy(dataset, path, driver="PNG", worldfile="YES")
    assert "no TIFF" in refused(tmp_path, "--orthomosaic", str(path), "--east", "1")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--east", "1"], "Nothing to correct"),
        (["--orthomosaic", "a.tif"], "No shift"),
        (["--orthomosaic", "a.tif", "--east", "1"], "only a file on this disk"),
        (["--results", "x", "--east", "1"], "Leave out"),
    ],
)
def test_unclear_words_are_refused(tmp_path, words, told):
    assert told in refused(tmp_path, *words)


def test_a_product_is_never_overwritten(tmp_path):
    path = picture(tmp_path / "ortho.tif")
    answer = geoqa("correct-products", "--orthomosaic", str(path), "--east", "1", "--out", str(tmp_path))
    assert answer.exit_code == 2
    assert "would overwrite" in answer.stderr


# The base


def test_products_moved_by_the_base_correction_of_a_check_need_it_no_more(tmp_path):
    first = runner_in(tmp_path)("precise", "assumed")
    assert first.exit_code == 0, first.stderr
    (done,) = corrected(tmp_path, "--results", str(tmp_path / "out"))
    # By hand, in closed form: what easting, northing and height on the site lack.
    assert_allclose([*done["shift"], done["height_offset_m"]], LACKING, rtol=0, atol=2e-4)
    assert "results " in done["reason"]
    again = runner_in(tmp_path / "again")
    (tmp_path / "again").mkdir()
    again("precise", "precise")
    job = tmp_path / "again" / "job.toml"
    job.write_text(job.read_text("utf-8").replace('"surface.tif"', '"../moved/surface.tif"'), "utf-8")
    second = geoqa("check", str(job), "--out", str(tmp_path / "again" / "out"), "--json")
    found = [point["residual_m"] for point in second.json["points"]]
    assert_allclose(found, np.tile(ERROR, (len(OFFSETS), 1)), rtol=0, atol=3e-4)
    assert "as delivered lie" in first.json["verdict"]["sentence"]
    assert "as delivered lie" not in second.json["verdict"]["sentence"]


def test_results_that_ask_for_no_correction_are_refused(tmp_path):
    runner_in(tmp_path)("precise", "precise")
    assert "no correction of a base" in refused(tmp_path, "--results", str(tmp_path / "out"))
