"""Open data: published figures of heights, and rasters as they come.

Files of pdal-autzen (PDAL test data, BSD), raster-oddities (rasterio's tests, BSD) and olinda-dem
(Apache-2.0); the notes beside them tell where they are from.
"""

import csv
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from numpy.testing import assert_allclose

from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from geoqa.units import LinearUnit
from tests.readers.raster_files import by_scipy, places, refusal, sample

REAL = Path(__file__).parents[2].parent / "shared" / "real"
pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository"),
]


class TestInfo:
    """What the files say about themselves."""

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


class TestHeights:
    """The figures of pdal-autzen (PDAL test data, BSD; expected.json and the tables of expected samples).

    They were computed apart from this project from the four cell centres, and are printed to four digits.
    """

    autzen = REAL / "pdal-autzen"
    half_digit = 0.00005

    def heights(self, name, east, north):
        info = read_info(str(self.autzen / name))
        t = ~info.transform
        row_col = np.column_stack([t.d * east + t.e * north + t.f, t.a * east + t.b * north + t.c])
        return read_surface(info, row_col, value_unit_m=1.0, sought=np.ones(len(row_col), dtype=bool))

    @pytest.mark.parametrize(
        ("kind", "count", "mean", "spread", "rmse"),
        [("dtm", 40, 0.0297, 0.1245, 0.1265), ("dsm", 26, 5.8922, 16.5088, 17.2272)],
    )
    def test_heights_of_forty_withheld_points(self, kind, count, mean, spread, rmse):
        with (self.autzen / f"expected_{kind}_samples.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        east, north, height, expected = (
            np.array([float(row[name] or "nan") for row in rows])
            for name in ("easting_ft", "northing_ft", "elevation_ft", f"{kind}_bilinear_ft")
        )
        found = self.heights(f"{kind}_3ft_epsg2994_zft.tif", east, north).height_m
        assert_allclose(found, expected, rtol=0, atol=self.half_digit)
        residual = (found - height)[np.isfinite(found)]
        assert len(residual) == count
        figures = [residual.mean(), residual.std(ddof=1), np.sqrt(np.mean(residual**2))]
        assert_allclose(figures, [mean, spread, rmse], rtol=0, atol=self.half_digit)

    def test_rmse_of_the_terrain_in_metres(self):
        table = np.genfromtxt(self.autzen / "checkpoints_epsg2994_ft.csv", delimiter=",", skip_header=1)[
            :, 1:
        ]
        info = read_info(str(self.autzen / "dtm_3ft_epsg2994_zft.tif"))
        t = ~info.transform
        row_col = np.column_stack([t.e * table[:, 1] + t.f, t.a * table[:, 0] + t.c])
        found = read_surface(info, row_col, value_unit_m=0.3048, sought=np.ones(40, dtype=bool))
        residual_m = found.height_m - 0.3048 * table[:, 2]
        assert_allclose(np.sqrt(np.mean(residual_m**2)), 0.0386, rtol=0, atol=self.half_digit)

    def test_ground_that_changed_between_two_flights(self):
        table = np.loadtxt(self.autzen / "track_2023_ground_points.csv", delimiter=",", skiprows=1)
        found = self.heights("track_dtm_2010_1m_xy_m_z_ftUS.tif", table[:, 0], table[:, 1]).height_m
        residual = (found - table[:, 2])[np.isfinite(found)]
        assert len(residual) == 625
        figures = [residual.mean(), np.median(residual), np.sqrt(np.mean(residual**2))]
        assert_allclose(figures, [-1.5483, -1.2038, 2.3162], rtol=0, atol=self.half_digit)

    @pytest.mark.parametrize(
        ("path", "crs"),
        [
            ("olinda-dem/olinda_dem_utm25s.tif", None),
            ("raster-oddities/rotated.tif", "EPSG:25832"),
            ("raster-oddities/float_nan.tif", "EPSG:25832"),
            ("raster-oddities/float_raster_with_nodata.tif", None),
            ("raster-oddities/test_esri_wkt.tif", None),
        ],
    )
    def test_heights_of_odd_rasters(self, path, crs):
        with rasterio.open(REAL / path) as dataset:
            values = np.where(dataset.read_masks(1) > 0, dataset.read(1).astype(float), np.nan)
        row_col = places(200, shape=values.shape)
        found = sample(str(REAL / path), row_col, crs=crs)
        assert_allclose(found.height_m, by_scipy(values, row_col), rtol=0, atol=1e-9)

    def test_place_in_a_turned_raster_goes_through_the_whole_transform(self):
        # rotated.tif counts its cells 0, 1, 2 … row by row; its transform is sheared.
        info = read_info(str(REAL / "raster-oddities" / "rotated.tif"), crs="EPSG:25832")
        t = info.transform
        east, north = t.a * 4.5 + t.b * 7.5 + t.c, t.d * 4.5 + t.e * 7.5 + t.f
        back = ~t
        row_col = np.array(
            [[back.d * east + back.e * north + back.f, back.a * east + back.b * north + back.c]]
        )
        found = read_surface(info, row_col, value_unit_m=1.0, sought=np.ones(1, dtype=bool))
        assert_allclose(found.height_m, [74.0], rtol=0, atol=1e-9)
