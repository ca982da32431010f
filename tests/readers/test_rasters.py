"""What a raster file says about itself."""

import re
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from numpy.testing import assert_allclose
from rasterio.enums import Resampling
from rasterio.io import MemoryFile

from geoqa.readers import _raster_notes
from geoqa.readers.rasters import read_info
from geoqa.units import LinearUnit
from tests.readers.raster_files import NORTH_UP, SOUTH_UP, TILED, TURNED, ground, with_band_unit, write


def rgb(rows=40, cols=50):
    return np.random.default_rng(9).integers(0, 256, (3, rows, cols)).astype("uint8")


def test_raster_says_shape_place_and_layout(tmp_path):
    path = write(tmp_path / "surface.tif", ground(), nodata=-9999.0, **TILED)
    info = read_info(path)
    assert (info.path, info.shape, info.bands, info.dtype) == (path, (150, 190), 1, "float32")
    assert info.transform == NORTH_UP
    assert info.crs.equals(pyproj.CRS("EPSG:25832"))
    assert (info.vertical, info.unit, info.value_unit) == (None, LinearUnit.METRE, None)
    assert (info.nodata, info.block_shape, info.overview_factors) == (-9999.0, (64, 64), ())
    assert (info.luma, info.epoch, info.notes) == (False, None, ())


@pytest.mark.parametrize("transform", [SOUTH_UP, TURNED])
def test_transform_is_kept_as_it_is(tmp_path, transform):
    info = read_info(write(tmp_path / "surface.tif", ground(), transform=transform))
    assert_allclose(tuple(info.transform), tuple(transform), rtol=0, atol=0)


def test_compound_crs_is_split_and_its_vertical_unit_is_that_of_the_heights(tmp_path):
    # EPSG: 6340 is NAD83(2011) / UTM zone 11N in metres, 6360 is NAVD88 height in US survey feet.
    info = read_info(write(tmp_path / "surface.tif", ground(), crs="EPSG:6340+6360"))
    assert info.crs.equals(pyproj.CRS("EPSG:6340"))
    assert info.vertical.equals(pyproj.CRS("EPSG:6360"))
    assert (info.unit, info.value_unit) == (LinearUnit.METRE, LinearUnit.US_SURVEY_FOOT)


def test_crs_with_ellipsoidal_height_keeps_its_third_axis(tmp_path):
    crs = pyproj.CRS("EPSG:6340").to_3d()
    info = read_info(write(tmp_path / "surface.tif", ground(), crs=crs.to_wkt()))
    assert len(info.crs.axis_info) == 3
    assert info.vertical is None


@pytest.mark.parametrize(
    ("crs", "unit"),
    # EPSG: 2994 counts in feet, 2225 in US survey feet, 4326 in degrees.
    [("EPSG:2994", LinearUnit.FOOT), ("EPSG:2225", LinearUnit.US_SURVEY_FOOT), ("EPSG:4326", None)],
)
def test_unit_of_the_crs(tmp_path, crs, unit):
    assert read_info(write(tmp_path / "surface.tif", ground(), crs=crs)).unit is unit


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("metre", LinearUnit.METRE),
        ("m", LinearUnit.METRE),
        ("Meters", LinearUnit.METRE),
        ("ft", LinearUnit.FOOT),
        ("foot", LinearUnit.FOOT),
        ("US survey foot", LinearUnit.US_SURVEY_FOOT),
        ("", None),
    ],
)
def test_unit_of_the_band(tmp_path, text, unit):
    info = read_info(with_band_unit(write(tmp_path / "surface.tif", ground()), text))
    assert info.value_unit is unit
    assert info.notes == ()


def test_unknown_unit_of_the_band_is_kept_as_it_is_written(tmp_path):
    info = read_info(with_band_unit(write(tmp_path / "surface.tif", ground()), "cm"))
    assert (info.value_unit, info.unknown_unit) == (None, "cm")
    assert read_info(with_band_unit(write(tmp_path / "metres.tif", ground()), "m")).unknown_unit is None


def test_crs_in_the_settings_completes_a_file_without(tmp_path):
    path = write(tmp_path / "surface.tif", ground(), crs=None)
    info = read_info(path, crs="EPSG:25833+7837")
    assert info.crs.equals(pyproj.CRS("EPSG:25833"))
    assert info.vertical.equals(pyproj.CRS("EPSG:7837"))
    assert info.notes == ()


def test_crs_in_the_settings_overrides_the_file_and_that_is_said(tmp_path):
    path = write(tmp_path / "surface.tif", ground(), crs="EPSG:25832+7837")
    info = read_info(path, crs="EPSG:25833")
    assert info.crs.equals(pyproj.CRS("EPSG:25833"))
    assert info.vertical.equals(pyproj.CRS("EPSG:7837"))
    assert [note for note in info.notes if "EPSG:25833" in note and "EPSG:25832" in note]
    assert read_info(path, crs="EPSG:25832").notes == ()


def test_side_file_names_the_crs(tmp_path):
    # GDAL writes what a format cannot hold into a file beside it, PAM: .aux.xml.
    path = str(tmp_path / "surface.tif")
    write(path, ground(), crs=None)
    wkt = pyproj.CRS("EPSG:25832").to_wkt()
    Path(path + ".aux.xml").write_text(f"<PAMDataset><SRS>{wkt}</SRS></PAMDataset>", encoding="utf-8")
    assert read_info(path).crs.equals(pyproj.CRS("EPSG:25832"))


def test_coordinate_epoch_of_the_file(tmp_path):
    # OGC GeoTIFF, CoordinateEpochGeoKey; written by GDAL from the attribute of its virtual format.
    description = (
        '<VRTDataset rasterXSize="4" rasterYSize="4"><SRS dataAxisToSRSAxisMapping="1,2" '
        'coordinateEpoch="2026.25">EPSG:32632</SRS><GeoTransform>512000,1,0,5403000,0,-1</GeoTransform>'
        '<VRTRasterBand dataType="Float32" band="1"/></VRTDataset>'
    )
    path = tmp_path / "surface.tif"
    with MemoryFile(description.encode(), ext=".vrt") as memory, memory.open() as virtual:
        rasterio.shutil.copy(virtual, path, driver="GTiff")
    assert read_info(str(path)).epoch == 2026.25


def test_picture_stored_as_luma_and_chroma(tmp_path):
    jpeg = write(tmp_path / "ycc.tif", rgb(64, 64), compress="jpeg", photometric="ycbcr", **TILED)
    plain = write(tmp_path / "rgb.tif", rgb(64, 64), compress="jpeg", photometric="rgb", **TILED)
    assert read_info(jpeg).luma
    assert not read_info(plain).luma


def test_overview_factors(tmp_path):
    path = write(tmp_path / "ortho.tif", rgb(300, 300), **TILED)
    with rasterio.open(path, "r+") as dataset:
        dataset.build_overviews([2, 4], Resampling.average)
    assert read_info(path).overview_factors == (2, 4)


def test_point_tag_is_reported_and_moves_nothing(tmp_path):
    # OGC GeoTIFF 1.1, GTRasterTypeGeoKey; rasterio's transform is for corners whatever it says.
    path = write(tmp_path / "surface.tif", ground())
    with rasterio.open(path, "r+") as dataset:
        dataset.update_tags(AREA_OR_POINT="Point")
    with rasterio.open(path) as dataset:
        given = dataset.transform
    info = read_info(path)
    assert info.transform == given
    assert [note for note in info.notes if "AREA_OR_POINT=Point" in note]


def test_large_picture_in_strips_without_overviews_is_remarked_on(tmp_path, monkeypatch):
    monkeypatch.setattr(_raster_notes, "LARGE_PX", 1000)
    photo = {"photometric": "rgb"}
    strips = read_info(write(tmp_path / "strips.tif", rgb(), blockysize=2, **photo)).notes
    tiles = read_info(write(tmp_path / "tiles.tif", rgb(100, 100), **TILED, **photo)).notes
    surface = read_info(write(tmp_path / "surface.tif", ground(), **TILED)).notes
    assert [bool(re.search(word, " ".join(strips))) for word in ("strips", "overviews")] == [True, True]
    assert [bool(re.search(word, " ".join(tiles))) for word in ("strips of", "overviews")] == [False, True]
    assert surface == ()
