"""What a raster file says about itself, and files that cannot serve as a map."""

import re
import warnings
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from numpy.testing import assert_allclose
from rasterio.control import GroundControlPoint
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile
from rasterio.rpc import RPC

from geoqa.errors import InputError
from geoqa.readers import _raster_notes, rasters
from geoqa.readers.rasters import read_info
from geoqa.units import LinearUnit
from tests.readers.raster_files import NORTH_UP, SOUTH_UP, TILED, TURNED, ground, write

REAL = Path(__file__).parents[2].parent / "shared" / "real"
on_open_data = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository"),
]


def rgb(rows=40, cols=50):
    return np.random.default_rng(9).integers(0, 256, (3, rows, cols)).astype("uint8")


def refusal(path, **options):
    """Return the message of the refusal, which names the file."""
    with pytest.raises(InputError) as caught:
        read_info(str(path), **options)
    message = str(caught.value)
    assert Path(path).name in message
    assert message.endswith(".")
    assert "\n" not in message
    return message


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


def with_band_unit(path, text):
    with rasterio.open(path, "r+") as dataset:
        dataset.units = [text] * dataset.count
    return path


def test_unknown_unit_of_the_band_is_reported(tmp_path):
    info = read_info(with_band_unit(write(tmp_path / "surface.tif", ground()), "cm"))
    assert info.value_unit is None
    assert [note for note in info.notes if "“cm”" in note and "elevation.unit" in note]


def test_unit_of_the_band_against_that_of_the_vertical_crs_is_refused(tmp_path):
    path = write(tmp_path / "surface.tif", ground(), crs="EPSG:6340+6360")
    with_band_unit(path, "metre")
    message = refusal(path)
    assert "us-survey-foot" in message
    assert "metre" in message


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
        # EPSG: 4807 counts in grads from Paris, 3167 in British chains (Sears 1922 truncated), 2193 has a
        # datum; 5703 alone is a vertical CRS.
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


class TestOpenData:
    """Files of raster-oddities (rasterio's tests, BSD), olinda-dem and pdal-autzen; see their sources."""

    pytestmark = on_open_data

    def test_compound_crs_in_metres_and_feet(self):
        info = read_info(str(REAL / "pdal-autzen" / "track_dtm_2010_1m_xy_m_z_ftUS.tif"))
        assert info.crs.equals(pyproj.CRS("EPSG:2991"))
        assert (info.unit, info.value_unit) == (LinearUnit.METRE, LinearUnit.US_SURVEY_FOOT)

    def test_feet_without_a_vertical_crs_leave_the_unit_of_heights_open(self):
        info = read_info(str(REAL / "pdal-autzen" / "dtm_3ft_epsg2994_zft.tif"))
        assert (info.unit, info.value_unit, info.vertical) == (LinearUnit.FOOT, None, None)

    def test_picture_with_a_world_file_names_no_crs(self):
        path = str(REAL / "pdal-autzen" / "autzen.jpg")
        assert "no CRS" in refusal(path)
        info = read_info(path, crs="EPSG:2994")
        # The world file gives the centre of the upper-left pixel; half a pixel further lies its corner.
        assert_allclose(info.transform.c, 635615.4278659122, rtol=0, atol=1e-6)
        assert info.luma

    def test_unknown_datum_is_not_guessed(self):
        info = read_info(str(REAL / "olinda-dem" / "olinda_dem_utm25s.tif"))
        assert not info.crs.is_bound
        assert "unknown" in info.crs.datum.name.lower()

    @pytest.mark.parametrize("name", ["rotated", "float_nan"])
    def test_files_without_crs_are_refused(self, name):
        refusal(REAL / "raster-oddities" / f"{name}.tif")

    def test_crs_of_another_authority(self):
        info = read_info(str(REAL / "raster-oddities" / "test_esri_wkt.tif"))
        assert info.crs.to_authority() == ("ESRI", "102039")
