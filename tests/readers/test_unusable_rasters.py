"""Rasters that cannot serve as a map, each refused in one sentence that names the file."""

import warnings

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.control import GroundControlPoint
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning
from rasterio.rpc import RPC

from geoqa.readers import rasters
from tests.readers.raster_files import TILED, ground, refusal, with_band_unit, write


def test_missing_file_is_refused(tmp_path):
    assert "no such raster file" in refusal(tmp_path / "nowhere.tif")


def test_folder_is_refused(tmp_path):
    assert "folder" in refusal(tmp_path)


def test_empty_file_is_refused(tmp_path):
    (tmp_path / "empty.tif").touch()
    assert "empty" in refusal(tmp_path / "empty.tif")


def test_text_is_refused(tmp_path):
    (tmp_path / "text.tif").write_text("not a raster\n" * 100)
    assert "cannot open it as a raster" in refusal(tmp_path / "text.tif")


def test_address_without_an_answer_is_refused():
    # Port 9 of this computer, “discard” in the registry of IANA, has no service.
    assert "Check the address" in refusal("http://127.0.0.1:9/ortho.tif")


def test_raster_without_crs_is_refused_with_the_key_that_names_it(tmp_path):
    message = refusal(write(tmp_path / "surface.tif", ground(), crs=None))
    assert "no CRS" in message
    assert "crs = " in message


def write_picture(path, *, driver="GTiff", **ties):
    """Write a picture that no transform ties to the ground, only what is named."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(
            path, "w", driver=driver, height=9, width=9, count=1, dtype="uint8", **ties
        ) as target:
            target.write(np.ones((1, 9, 9), dtype="uint8"))
    return path


def test_raster_without_georeference_is_refused(tmp_path, recwarn):
    path = write_picture(tmp_path / "picture.png", driver="PNG")
    assert "not georeferenced" in refusal(path, crs="EPSG:25832")
    assert not recwarn.list


def test_raster_tied_by_ground_control_points_only_is_refused(tmp_path):
    ties = ((0, 0), (0, 9), (9, 0))
    points = [GroundControlPoint(row, col, 512_000 + col, 5_403_000 - row) for row, col in ties]
    path = write_picture(tmp_path / "photo.tif", gcps=points, crs="EPSG:25832")
    assert "3 ground control points" in refusal(path)


def test_raster_tied_by_rational_polynomials_only_is_refused(tmp_path):
    names = [
        f"{name}_{part}" for name in ("height", "lat", "long", "line", "samp") for part in ("off", "scale")
    ]
    polynomials = {f"{name}_coeff": [1.0] * 20 for name in ("line_num", "line_den", "samp_num", "samp_den")}
    rpcs = RPC(**polynomials, **dict.fromkeys(names, 1.0), err_bias=None, err_rand=None)
    assert "rational polynomial" in refusal(write_picture(tmp_path / "scene.tif", rpcs=rpcs))


def test_cells_without_area_are_refused(tmp_path):
    flat = Affine(0.2, 0.4, 512_000.0, 0.1, 0.2, 5_403_000.0)
    assert "no area" in refusal(write(tmp_path / "flat.tif", ground(), transform=flat))


def test_single_pixel_is_refused(tmp_path):
    assert "single pixel" in refusal(write(tmp_path / "one.tif", ground(1, 1)))


def test_complex_numbers_are_refused(tmp_path):
    assert "complex" in refusal(write(tmp_path / "radar.tif", ground().astype("complex64")))


def test_colour_table_is_refused(tmp_path):
    path = tmp_path / "palette.tif"
    write(path, np.ones((20, 20), dtype="uint8"), photometric="palette")
    with rasterio.open(path, "r+") as dataset:
        dataset.write_colormap(1, {number: (number, 0, 0, 255) for number in range(256)})
        assert dataset.colorinterp == (ColorInterp.palette,)
    assert "RGB" in refusal(path)


@pytest.mark.parametrize(
    ("crs", "found"),
    [
        # EPSG: 4807 counts in grads from Paris, 3167 in British chains, 5703 is a vertical CRS.
        ("EPSG:4807", "grad"),
        ("EPSG:3167", "chain"),
        ("EPSG:5703", "vertical"),
    ],
)
def test_crs_in_other_units_is_refused(tmp_path, crs, found):
    path = write(tmp_path / "surface.tif", ground(), crs=None)
    assert found in refusal(path, crs=crs)


def test_block_that_takes_all_memory_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(rasters, "_LARGEST_BLOCK_BYTES", 1000)
    assert "tiles" in refusal(write(tmp_path / "surface.tif", ground(), **TILED))


def test_container_of_several_rasters_is_refused_with_their_names(tmp_path):
    path = tmp_path / "site.gpkg"
    for name in ("ortho", "surface"):
        options = {"RASTER_TABLE": name, "APPEND_SUBDATASET": "YES"}
        write(path, np.ones((64, 64), dtype="uint8"), crs="EPSG:3857", driver="GPKG", **options)
    message = refusal(path)
    assert "no raster of its own" in message
    assert "surface" in message


def test_unit_of_the_band_against_that_of_the_vertical_crs_is_refused(tmp_path):
    path = write(tmp_path / "surface.tif", ground(), crs="EPSG:6340+6360")
    with_band_unit(path, "metre")
    message = refusal(path)
    assert "us-survey-foot" in message
    assert "metre" in message
