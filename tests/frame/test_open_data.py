"""Open data with known positions, brought in by the path of a user's file.

Origin and licence of each set stand in the SOURCE.md beside it; the sets are no part of the repository.
"""

import csv
from pathlib import Path

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError, InputError
from geoqa.frame.bring import Given, bring
from geoqa.frame.geocentric import to_geocentric
from geoqa.frame.grids import area_around
from geoqa.frame.target_frame import TargetFrame, target_products
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.geoid_grid import opened_geoid, read_geoid
from geoqa.records.settings import Limits, Points
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, survey_of
from tests.geoid_files import grids_in

REAL = Path(__file__).parents[2].parent / "shared" / "real"
METRE, FOOT, US_SURVEY_FOOT = LinearUnit

pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.is_dir(), reason="the open data is not beside the repository"),
]


def columns(path: str, *names: str) -> FloatArray:
    """Return columns of a file with a header, shape (n, names)."""
    with (REAL / path).open(encoding="utf-8", newline="") as stream:
        return np.array([[float(row[name]) for name in names] for row in csv.DictReader(stream)])


def cells(path: str) -> list[list[str]]:
    """Return the cells of a file without a header."""
    with (REAL / path).open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def three_crs() -> FloatArray:
    return columns(
        "pdal-autzen/same_1065_points_three_crs.csv",
        *("x_epsg2994_ft", "y_epsg2994_ft", "z_ft"),
        *("x_epsg26910_m", "y_epsg26910_m", "z_m"),
        *("lon_deg", "lat_deg"),
    )


def test_feet_in_oregon_lambert_become_metres_in_utm():
    table = three_crs()
    survey = survey_of(table[:, :3], unit=FOOT, height_unit=FOOT)
    points = brought(survey, "EPSG:26910", {"crs": "EPSG:2992"})
    difference = points.position_m - table[:, 3:6]
    # The table was converted by others and rounded thrice: to 0.01 ft, to 1e-7 degree (11 mm), to 0.01 m.
    assert_allclose(difference[:, :2].mean(axis=0), 0.0, rtol=0, atol=2e-4)
    assert_allclose(difference[:, :2], 0.0, rtol=0, atol=0.0115)
    assert_allclose(difference[:, 2], 0.0, rtol=0, atol=0.0016)


def test_degrees_in_oregon_become_metres_in_utm():
    table = three_crs()
    points = brought(survey_of(table[:, 6:], geographic=True), "EPSG:26910")
    # Printed to 0.01 m.
    assert_allclose(points.position_m[:, :2], table[:, 3:5], rtol=0, atol=0.005)


@pytest.mark.parametrize(("table", "elevation"), [({}, {}), ({"frame": "EPSG:4152"}, {"frame": "EPSG:4269"})])
def test_harn_does_not_silently_become_nad83(table, elevation):
    # PROJ left alone goes through WGS 84 and lands 1.137 m east, 0.600 m north of the null shift (measured).
    survey = survey_of(three_crs()[:, :3], unit=FOOT, height_unit=FOOT)
    with pytest.raises(FrameError, match=r"us_noaa_nadcon5_nad83_1986_nad83_harn_conus\.tif.*pyproj sync"):
        brought(survey, "EPSG:26910", {"crs": "EPSG:2994", **table}, **elevation)


def test_checkpoints_in_metres_lie_on_the_same_checkpoints_in_feet():
    feet = columns("pdal-autzen/checkpoints_epsg2994_ft.csv", "easting_ft", "northing_ft", "elevation_ft")
    metres = columns("pdal-autzen/checkpoints_epsg3740_m.csv", "easting_m", "northing_m", "elevation_m")
    survey = survey_of(metres, unit=METRE, height_unit=METRE)
    in_metres = brought(survey, "EPSG:2994", {"crs": "EPSG:3740"}, unit="foot")
    in_feet = brought(survey_of(feet, unit=FOOT, height_unit=FOOT), "EPSG:2994", unit="foot")
    # Metres printed to 0.1 mm, feet to 0.01 ft as surveyed: half of 0.1 mm in each axis, turned by the grids.
    assert_allclose(in_metres.position_m[:, :2], in_feet.position_m[:, :2], rtol=0, atol=2e-4)
    assert_allclose(in_metres.position_m[:, 2], in_feet.position_m[:, 2], rtol=0, atol=5e-5)
    assert [step.title for step in in_metres.file_steps[0]] == ["projection change"]


def test_metres_in_plan_and_us_survey_feet_in_height():
    track = columns("pdal-autzen/track_2010_ground_points.csv", "easting_m", "northing_m", "height_ftUS")
    survey = survey_of(track, unit=METRE, height_unit=US_SURVEY_FOOT)
    points = brought(survey, "EPSG:2991+6360")
    assert_allclose(points.position_m[:, :2], track[:, :2], rtol=0, atol=0)
    # [NIST SP 811], appendix B.6.
    assert_allclose(points.position_m[:, 2], track[:, 2] * 1200 / 3937, rtol=1e-15, atol=0)
    assert points.file_steps[0][0].title == "unit"


def degrees(text: str) -> float:
    """Return degrees of an angle written D.MMSSsss."""
    sign = -1.0 if text.startswith("-") else 1.0
    whole, part = text.lstrip("-").split(".")
    return sign * (int(whole) + int(part[:2]) / 60 + float(f"{part[2:4]}.{part[4:]}") / 3600)


def test_australian_stations_come_into_the_zones_of_the_map_grid():
    places = {
        name: (degrees(lon), degrees(lat))
        for name, lat, lon in cells("gda-mga-points/Test_Conversion_Geo.csv")
    }
    grid = cells("gda-mga-points/Test_Conversion_Grid.csv")
    zones = {zone for _, zone, _, _ in grid}
    assert len(grid) == len(places) == 128
    for zone in zones:
        rows = [row for row in grid if row[1] == zone]
        survey = survey_of([places[name] for name, *_ in rows], geographic=True)
        points = brought(survey, f"EPSG:78{zone}", {"crs": "EPSG:7844"})
        published = np.array([[float(east), float(north)] for _, _, east, north in rows])
        # Printed to 1 mm.
        assert_allclose(points.position_m[:, :2], published, rtol=0, atol=5.1e-4)


def test_a_grid_that_is_installed_is_used_and_named():
    folder = REAL / "os-ostn15-osgm15"
    given = columns(
        "os-ostn15-osgm15/OSTN15_OSGM15_TestInput_ETRStoOSGB.txt", "ETRS Longitude", "ETRS89 Latitude"
    )
    # Ordnance Survey's own test points of OSTN15, printed to 1 mm.
    published = columns("os-ostn15-osgm15/OSTN15_OSGM15_TestOutput_ETRStoOSGB.txt", "OSGBEast", "OSGBNorth")
    survey = survey_of(given, geographic=True)
    with grids_in(folder):
        points = brought(survey, "EPSG:27700", {"crs": "EPSG:4258"})
    # The grid is a resampled one: millimetres.
    assert_allclose(points.position_m[:, :2], published, rtol=0, atol=0.008)
    assert "grid uk_os_OSTN15_NTv2_OSGBtoETRS.tif" in points.file_steps[0][0].operation
    with pytest.raises(FrameError, match=r"uk_os_OSTN15_NTv2_OSGBtoETRS\.tif"):
        brought(survey, "EPSG:27700", {"crs": "EPSG:4258"})


# Heights


def ordnance_survey() -> tuple[FloatArray, FloatArray, list[str]]:
    """Return longitude, latitude, height; easting, northing, height; and the flag of the height datum."""
    folder = "os-ostn15-osgm15"
    given = columns(
        f"{folder}/OSTN15_OSGM15_TestInput_ETRStoOSGB.txt", "ETRS Longitude", "ETRS89 Latitude", "ETRS Height"
    )
    out = f"{folder}/OSTN15_OSGM15_TestOutput_ETRStoOSGB.txt"
    published = columns(out, "OSGBEast", "OSGBNorth", "ODNHeight", "OSGBDatumFlag")
    return given, published[:, :3], [f"{flag:.0f}" for flag in published[:, 3]]


# Flags of the height datum in Ordnance Survey's list, and the vertical CRS of the EPSG dataset that it means:
# mainland (ODN), St. Marys, Isle of Man (Douglas), Stornoway, Lerwick, Orkney.
DATUMS = {
    "1": "EPSG:5701",
    "2": "EPSG:5749",
    "3": "EPSG:5750",
    "4": "EPSG:5746",
    "6": "EPSG:5742",
    "7": "EPSG:5740",
}


def test_official_heights_of_the_mainland_and_of_the_islands_each_on_its_own_datum():
    given, published, flags = ordnance_survey()
    compared = 0
    for flag, vertical in DATUMS.items():
        rows = [row for row, own in enumerate(flags) if own == flag]
        survey = survey_of(given[rows], geographic=True)
        with grids_in(REAL / "os-ostn15-osgm15"):
            points = brought(survey, "EPSG:27700", {"crs": "EPSG:4937"}, height_system=vertical)
        difference = points.position_m - published[rows]
        # The grids are resampled ones: SOURCE.md beside them, 3.8, 7.4 and 2.0 mm.
        assert_allclose(difference[:, 0], 0.0, rtol=0, atol=0.0039)
        assert_allclose(difference[:, 1], 0.0, rtol=0, atol=0.0075)
        assert_allclose(difference[:, 2], 0.0, rtol=0, atol=0.0021)
        step = points.file_steps[0][0]
        assert step.title == "datum and height system"
        assert "uk_os_OSGM15_GB.tif" in step.operation
        assert len(step.grids) == 2
        compared += len(rows)
    assert compared == 34


def test_all_forty_official_points_by_the_grid_that_the_settings_name():
    given, published, _ = ordnance_survey()
    path = REAL / "os-ostn15-osgm15" / "uk_os_OSGM15_GB.tif"
    survey = survey_of(given, geographic=True)
    area = area_around(given)
    with opened_geoid(str(path), area) as grid, grids_in(path.parent):
        points = brought(survey, "EPSG:27700", {"crs": "EPSG:4937"}, geoid=grid, height_system="EPSG:5701")
    # The grid names ETRS89, so that the separation comes off before the datum changes, where it was made for.
    assert [step.title for step in points.file_steps[0]] == ["geoid", "datum", "projection change"]
    assert_allclose(points.position_m[:, 2], published[:, 2], rtol=0, atol=0.0021)
    assert_allclose(points.position_m[:, :2], published[:, :2], rtol=0, atol=0.0075)


def test_without_the_grids_official_heights_are_refused_naming_them():
    given, _, _ = ordnance_survey()
    survey = survey_of(given[1:20], geographic=True)
    with pytest.raises(FrameError, match=r"uk_os_OSGM15_GB\.tif.*uk_os_OSTN15_NTv2_OSGBtoETRS\.tif"):
        brought(survey, "EPSG:27700", {"crs": "EPSG:4937"}, height_system="EPSG:5701")


# NGA's own check values of EGM96 (F477, OUTPUT.DAT), from memory: latitude, longitude, separation. A 15' grid
# with bilinear interpolation meets them to 0.06 m; two of them lie beside longitude 0.
EGM96 = np.array(
    [
        (38.628155, 269.779155, -31.628),
        (-14.621217, 305.021114, -2.969),
        (46.874319, 102.448729, -43.575),
        (-23.617446, 133.874712, 15.871),
        (38.625473, 359.9995, 50.066),
        (-0.466744, 0.0023, 17.329),
    ]
)


@pytest.mark.parametrize("row", range(len(EGM96)))
def test_egm96_at_the_points_of_nga(row):
    latitude, longitude, expected = EGM96[row]
    survey = survey_of([[longitude, latitude, 100.0]], geographic=True)
    short = (longitude + 180.0) % 360.0 - 180.0
    zone = f"EPSG:32{6 if latitude > 0 else 7}{int((short + 180) // 6) + 1:02d}"
    table = {"crs": "EPSG:4979"}
    path = REAL / "geoid-grids" / "us_nga_egm96_15.tif"
    with opened_geoid(str(path), area_around(np.array([[short, latitude]]))) as grid:
        own = brought(survey, zone, table, geoid=grid, height_system="EPSG:5773")
    assert_allclose(100.0 - own.position_m[0, 2], expected, rtol=0, atol=0.07)
    # EPSG dataset: WGS 84 to EGM96 height (1), 1 m; by default too coarse.
    with grids_in(path.parent):
        with pytest.raises(FrameError, match=r"WGS 84 to EGM96 height \(1\).*\(1 m\)"):
            brought(survey, zone, table, height_system="EPSG:5773")
        limits = Limits(max_operation_accuracy_m=1.0)
        official = brought(survey, zone, table, limits=limits, height_system="EPSG:5773")
    assert_allclose(official.position_m[0, 2], own.position_m[0, 2], rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "place", "crs", "vertical", "grid_crs", "accuracy_m"),
    [
        # EPSG dataset: accuracies of the operations that read these grids.
        ("us_noaa_g2018p0.tif", (-66.3, 18.2), "EPSG:6319", "EPSG:6641", "EPSG:6566", 0.015),
        ("nl_nsgi_nlgeo2018.tif", (5.2, 52.1), "EPSG:4937", "EPSG:5709", "EPSG:25831", 0.001),
    ],
)
def test_national_grids_are_used_by_proj_and_by_name_alike(name, place, crs, vertical, grid_crs, accuracy_m):
    survey = survey_of([[*place, 100.0], [place[0] + 0.01, place[1] + 0.01, 80.0]], geographic=True)
    path = REAL / "geoid-grids" / name
    with grids_in(path.parent):
        by_proj = brought(survey, grid_crs, {"crs": crs}, height_system=vertical)
    with opened_geoid(str(path), area_around(survey.coordinates)) as grid:
        by_name = brought(survey, grid_crs, {"crs": crs}, geoid=grid, height_system=vertical)
    assert_allclose(by_proj.position_m, by_name.position_m, rtol=0, atol=1e-6)
    assert by_proj.file_steps[0][0].accuracy_m == pytest.approx(accuracy_m)
    assert by_proj.file_steps[0][0].grids == (str(path),)
    assert by_name.messages == ()


def test_a_national_grid_is_not_taken_for_another_height_system():
    path = REAL / "geoid-grids" / "at_bev_GEOID_GRS80_Oesterreich.tif"
    survey = survey_of([[14.2, 47.5, 700.0]], geographic=True)
    with opened_geoid(str(path), area_around(survey.coordinates)) as grid:
        # It leads to EVRF2000 Austria height, EPSG:9274, not to that of the Trieste datum.
        with pytest.raises(FrameError, match=r"leads to heights in EPSG:9274.*stated to be in EPSG:5778"):
            brought(survey, "EPSG:25833", {"crs": "EPSG:4937"}, geoid=grid, height_system="EPSG:5778")
        points = brought(survey, "EPSG:25833", {"crs": "EPSG:4937"}, geoid=grid, height_system="EPSG:9274")
    assert 45.0 < 700.0 - points.position_m[0, 2] < 51.0


def test_a_point_beside_the_hole_of_a_national_grid_is_refused():
    path = REAL / "geoid-grids" / "at_bev_GEOID_GRS80_Oesterreich.tif"
    # The grid of Austria ends at the border; nodes beyond hold nothing.
    survey = survey_of([[12.5, 48.9, 400.0]], geographic=True)
    grid = read_geoid(str(path), area_around(survey.coordinates))
    with pytest.raises(FrameError, match="beside a node without a value"):
        brought(survey, "EPSG:25833", {"crs": "EPSG:4937"}, geoid=grid, height_system="EPSG:9274")


def test_a_grid_of_shifts_in_plan_is_no_geoid():
    with pytest.raises(InputError, match="4 bands"):
        read_geoid(
            str(REAL / "geoid-grids" / "nl_nsgi_rdtrans2018.tif"), area_around(np.array([[5.2, 52.1]]))
        )


def australian() -> tuple[list[str], FloatArray]:
    names = ("lon_deg", "lat_deg", "h_m", "H_m", "easting_m", "northing_m", "X_m", "Y_m", "Z_m")
    with (REAL / "ga-rvs-gda2020/rvs_stations_parsed.csv").open(encoding="utf-8", newline="") as stream:
        zones = [row["zone"] for row in csv.DictReader(stream)]
    return zones, columns("ga-rvs-gda2020/rvs_stations_parsed.csv", *names)


def test_australian_reference_stations_in_plan_and_height():
    zones, table = australian()
    assert len(table) == 109
    for zone in sorted(set(zones)):
        rows = [row for row, own in enumerate(zones) if own == zone]
        survey = survey_of(table[rows, :3], geographic=True)
        points = brought(survey, f"EPSG:78{zone}", {"crs": "EPSG:7843"}, height_system="ellipsoidal")
        # Printed to 0.1 mm; degrees carry 0.3 mm.
        assert_allclose(points.position_m[:, :2], table[rows, 4:6], rtol=0, atol=4.5e-4)
        assert_allclose(points.position_m[:, 2], table[rows, 2], rtol=0, atol=0)


def test_australian_reference_stations_geocentric():
    _, table = australian()
    found = to_geocentric(table[:, :3], pyproj.CRS("EPSG:7843"))
    assert_allclose(found, table[:, 6:9], rtol=0, atol=2.5e-4)


def test_australian_heights_by_the_separation_of_each_station():
    zones, table = australian()
    texts = tuple(f"{h - H:.4f}" for h, H in table[:, 2:4])
    separation = table[:, 2] - table[:, 3]
    assert (separation.min(), separation.max()) == pytest.approx((-33.063, 71.613), abs=5e-4)
    rows = [row for row, own in enumerate(zones) if own == "55"]
    survey = survey_of(
        table[rows, :3],
        geographic=True,
        attributes={"separation": tuple(texts[row] for row in rows)},
    )
    points = brought(survey, "EPSG:7855", {"crs": "EPSG:7843"}, height_system="EPSG:5711")
    assert_allclose(points.position_m[:, 2], table[rows, 3], rtol=0, atol=1e-4)
    with pytest.raises(FrameError, match=r"au_ga_AUSGeoid2020_\d+\.tif"):
        brought(
            survey_of(table[rows, :3], geographic=True),
            "EPSG:7855",
            {"crs": "EPSG:7843"},
            height_system="EPSG:5711",
        )


def test_egm96_is_the_wrong_model_for_the_australian_height_datum():
    _, table = australian()
    path = REAL / "geoid-grids" / "us_nga_egm96_15.tif"
    survey = survey_of(table[:, :3], geographic=True)
    with opened_geoid(str(path), area_around(table)) as grid:
        with pytest.raises(FrameError, match=r"leads to heights in EPSG:5773.*stated to be in EPSG:5711"):
            brought(survey, "EPSG:7855", {"crs": "EPSG:7843"}, geoid=grid, height_system="EPSG:5711")
        points = brought(
            survey,
            "EPSG:7844",
            {"crs": "EPSG:7843"},
            geoid=grid,
            height_system="EPSG:5773",
            place=(134.0, -25.0),
        )
    # Separation of the stations minus EGM96 (SOURCE.md): mean 0.573, deviation 0.509, from −0.323 to 3.433.
    difference = points.position_m[:, 2] - table[:, 3]
    assert difference.mean() == pytest.approx(0.573, abs=5e-4)
    assert difference.std(ddof=1) == pytest.approx(0.509, abs=3e-3)
    assert (difference.min(), difference.max()) == pytest.approx((-0.323, 3.433), abs=5e-4)


def test_stations_of_several_zones_come_into_one_frame_and_are_never_one_projected_crs():
    places = {
        name: (degrees(lon), degrees(lat))
        for name, lat, lon in cells("gda-mga-points/Test_Conversion_Geo.csv")
    }
    grid = cells("gda-mga-points/Test_Conversion_Grid.csv")
    zones = sorted({zone for _, zone, _, _ in grid})
    assert len(zones) > 5
    by_zone = {zone: [row for row in grid if row[1] == zone] for zone in zones}
    surveys = [
        survey_of(
            [[float(east), float(north)] for _, _, east, north in rows],
            ids=tuple(name for name, *_ in rows),
            source=f"zone_{zone}.csv",
        )
        for zone, rows in by_zone.items()
    ]
    tables = [
        Points(path=survey.source, crs=f"EPSG:78{zone}") for survey, zone in zip(surveys, zones, strict=True)
    ]
    target = target_products(TargetFrame("EPSG:7844"))
    for survey, table in zip(surveys, tables, strict=True):
        brought_points = bring(survey, table, target, Given(Limits()))
        expected = np.array([places[name] for name in survey.ids])
        # Eastings and northings are printed to 1 mm, which is 1e-8 degree.
        assert_allclose(brought_points.plan, expected, rtol=0, atol=1e-8)
    # Taken for one zone they would lie hundreds of kilometres off: nothing hides that in the coordinates.
    one_zone = bring(surveys[0], tables[-1], target, Given(Limits())).plan
    assert np.abs(one_zone - [places[name] for name in surveys[0].ids]).max() > 5.0
