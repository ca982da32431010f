"""Rasters in other wrappings give what the plain file gives: BigTIFF, COG, VRT, archive."""

import warnings
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose, assert_array_equal
from rasterio.errors import NotGeoreferencedWarning
from rasterio.shutil import copy

from geoqa.errors import InputError
from geoqa.readers.blocks import read_patches
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from geoqa.records.measurements import SurfaceStatus
from tests.readers.raster_files import NORTH_UP, SHAPE, TILED, by_scipy, ground, places, sample, write


def wrapped(folder, kind):
    """Return the path of a surface in this wrapping."""
    plain = write(folder / "surface.tif", ground(), **TILED)
    if kind == "VRT":
        copy(plain, folder / "surface.vrt", driver="VRT")
        return str(folder / "surface.vrt")
    if kind == "COG":
        copy(plain, folder / "cog.tif", driver="COG", BLOCKSIZE=128)
        return str(folder / "cog.tif")
    if kind == "archive":
        with zipfile.ZipFile(folder / "surface.zip", "w") as archive:
            archive.write(plain, "surface.tif")
        return f"/vsizip/{folder / 'surface.zip'}/surface.tif"
    return write(folder / "big.tif", ground(), BIGTIFF="YES", **TILED)


@pytest.mark.parametrize("kind", ["BigTIFF", "COG", "VRT", "archive"])
def test_heights_are_those_of_the_plain_file(tmp_path, kind):
    path = wrapped(tmp_path, kind)
    assert_allclose(sample(path, places()).height_m, by_scipy(ground(), places()), rtol=0, atol=1e-9)


def test_world_file_beside_a_picture_in_an_archive_is_found(tmp_path):
    rows = np.random.default_rng(2).integers(0, 256, (3, 40, 50)).astype("uint8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(
            tmp_path / "ortho.png", "w", driver="PNG", height=40, width=50, count=3, dtype="uint8"
        ) as target:
            target.write(rows)
    with zipfile.ZipFile(tmp_path / "site.zip", "w") as archive:
        archive.write(tmp_path / "ortho.png", "ortho.png")
        archive.writestr("ortho.pgw", "0.2\n0\n0\n-0.2\n512000.1\n5402999.9\n")
    info = read_info(f"/vsizip/{tmp_path / 'site.zip'}/ortho.png", crs="EPSG:25832")
    # A world file gives the centre of the upper-left pixel (common practice).
    assert_allclose([info.transform.c, info.transform.f], [512_000.0, 5_403_000.0], rtol=0, atol=1e-9)


def test_bigtiff_is_one(tmp_path):
    # TIFF 6.0, section 2: the byte order, then 42; BigTIFF has 43 (from memory).
    assert Path(wrapped(tmp_path, "BigTIFF")).read_bytes()[:4] == b"II\x2b\x00"


def mosaic(folder, *, nodata=None):
    """Return a VRT of two sheets with a gap of ten columns between them."""
    rows, cols = SHAPE
    options = {} if nodata is None else {"nodata": nodata}
    write(folder / "west.tif", ground()[:, :80], **options)
    write(folder / "east.tif", ground()[:, 90:], **options)
    sources = "".join(
        f'<SimpleSource><SourceFilename relativeToVRT="1">{name}.tif</SourceFilename>'
        f"<SourceBand>1</SourceBand>"
        f'<SrcRect xOff="0" yOff="0" xSize="{width}" ySize="{rows}"/>'
        f'<DstRect xOff="{first}" yOff="0" xSize="{width}" ySize="{rows}"/></SimpleSource>'
        for name, first, width in (("west", 0, 80), ("east", 90, cols - 90))
    )
    missing = "" if nodata is None else f"<NoDataValue>{nodata}</NoDataValue>"
    (folder / "sheets.vrt").write_text(
        f'<VRTDataset rasterXSize="{cols}" rasterYSize="{rows}"><SRS>EPSG:25832</SRS>'
        f"<GeoTransform>{', '.join(map(str, NORTH_UP.to_gdal()))}</GeoTransform>"
        f'<VRTRasterBand dataType="Float32" band="1">{missing}{sources}</VRTRasterBand></VRTDataset>'
    )
    return str(folder / "sheets.vrt")


@pytest.mark.parametrize("nodata", [None, -9999.0])
def test_gap_between_the_sheets_of_a_mosaic_holds_nothing(tmp_path, nodata):
    path = mosaic(tmp_path, nodata=nodata)
    values = ground()
    values[:, 80:90] = np.nan
    found = sample(path, places())
    assert_allclose(found.height_m, by_scipy(values, places()), rtol=0, atol=1e-9)
    ((_, patch),) = read_patches(read_info(path), np.array([[20, 70, 30, 30]]))
    assert_array_equal(patch.valid, np.isfinite(values[20:50, 70:100]))


def test_sheet_that_is_gone_is_one_sentence(tmp_path):
    path = mosaic(tmp_path)
    (tmp_path / "east.tif").unlink()
    info = read_info(path)
    fine = read_surface(info, np.array([[50.0, 40.0]]), value_unit_m=1.0, sought=np.ones(1, dtype=bool))
    assert fine.statuses == (SurfaceStatus.SAMPLED,)
    with pytest.raises(InputError, match=r"sheets\.vrt: rows .* cannot be decoded \(.*east\.tif"):
        read_surface(info, np.array([[50.0, 140.0]]), value_unit_m=1.0, sought=np.ones(1, dtype=bool))


@pytest.mark.parametrize(
    "dtype", ["uint8", "int8", "uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64"]
)
def test_numbers_of_any_type_and_any_count_of_bands_are_read(tmp_path, dtype):
    values = np.random.default_rng(6).integers(0, 120, (5, 60, 70)).astype(dtype)
    path = write(tmp_path / "many.tif", values, **TILED)
    with rasterio.open(path) as dataset:
        assert (dataset.count, dataset.dtypes[0]) == (5, dtype)
    found = sample(path, places(shape=(60, 70)))
    assert_allclose(found.height_m, by_scipy(values[0], places(shape=(60, 70))), rtol=0, atol=1e-9)
    ((_, patch),) = read_patches(read_info(path), np.array([[3, 4, 30, 20]]))
    assert_array_equal(patch.values, values[:3, 3:33, 4:24])
