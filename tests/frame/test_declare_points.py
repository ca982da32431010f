"""What is declared for a file of points: settings, the file itself, the products, in this order."""

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.records.settings import Limits
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, products_of, survey_of

METRE, FOOT, US_SURVEY_FOOT = LinearUnit
MILLION = survey_of([[2_000_000.0, 1_000_000.0, 100.0]])
# [NIST SP 811] appendix B.6: the international foot in metres, and the US survey foot.
FOOT_M, US_FOOT_M = 0.3048, 1200 / 3937


def in_feet(**fields):
    return survey_of([[2_000_000.0, 1_000_000.0, 100.0]], **fields)


@pytest.mark.parametrize(
    ("survey", "crs", "table", "plan_m", "height_m"),
    [
        # Nothing stated: the unit of the products, in plan and in height.
        (in_feet(), "EPSG:6428", {}, US_FOOT_M, US_FOOT_M),
        (in_feet(), "EPSG:25833", {}, 1.0, 1.0),
        # `unit` serves for heights too, `height_unit` for them alone.
        (in_feet(), "EPSG:25833", {"unit": "foot"}, FOOT_M, FOOT_M),
        (in_feet(), "EPSG:25833", {"unit": "foot", "height_unit": "metre"}, FOOT_M, 1.0),
        (in_feet(), "EPSG:25833", {"height_unit": "us-survey-foot"}, 1.0, US_FOOT_M),
        # A header states units.
        (in_feet(unit=US_SURVEY_FOOT, height_unit=METRE), "EPSG:25833", {}, US_FOOT_M, 1.0),
        (in_feet(height_unit=FOOT), "EPSG:25833", {}, 1.0, FOOT_M),
        (in_feet(unit=METRE, height_unit=METRE), "EPSG:6428", {}, 1.0, 1.0),
        # The “ft” of a header is the foot that the settings name.
        (in_feet(unit=FOOT, height_unit=FOOT), "EPSG:6428", {"unit": "us-survey-foot"}, US_FOOT_M, FOOT_M),
        # The unit of a declared CRS.
        (in_feet(), "EPSG:6428", {"crs": "EPSG:6428"}, US_FOOT_M, US_FOOT_M),
        # The height system counts in feet.
        (in_feet(), "EPSG:25833", {"height_system": "EPSG:8228"}, 1.0, FOOT_M),
    ],
)
def test_units_by_setting_then_header_then_crs_then_products(survey, crs, table, plan_m, height_m):
    unit = "us-survey-foot" if crs == "EPSG:6428" else "metre"
    points = brought(survey, crs, table, unit=unit)
    expected = [2_000_000.0 * plan_m, 1_000_000.0 * plan_m, 100.0 * height_m]
    assert_allclose(points.position_m[0], expected, rtol=1e-15, atol=1e-9)
    titles = [step.title for step in points.file_steps[0]]
    assert titles == ([] if plan_m == height_m == 1.0 else ["unit"])


@pytest.mark.parametrize(
    ("survey", "crs", "table", "words"),
    [
        (
            in_feet(unit=METRE),
            "EPSG:25833",
            {"unit": "foot"},
            r"foot by points\.unit and metre by points\.csv",
        ),
        (in_feet(unit=US_SURVEY_FOOT), "EPSG:25833", {"unit": "foot"}, r"foot by points\.unit and us-survey"),
        (
            in_feet(),
            "EPSG:6428",
            {"crs": "EPSG:6428", "unit": "metre"},
            "metre by .* us-survey-foot by EPSG:6428",
        ),
        (
            in_feet(unit=FOOT),
            "EPSG:6428",
            {"crs": "EPSG:6428"},
            r"foot by points\.csv and us-survey-foot by EPSG",
        ),
        (in_feet(unit=FOOT), "EPSG:6428", {}, r"2 millionths apart.*points\.unit"),
        (
            in_feet(height_unit=METRE),
            "EPSG:25833",
            {"height_unit": "foot"},
            r"heights in points\.csv is foot by",
        ),
        (in_feet(unit=METRE), "EPSG:6428", {}, r"nothing states the unit of the points' heights"),
        (in_feet(), "EPSG:6428", {"crs": "EPSG:6427"}, r"nothing states the unit of the points' heights"),
    ],
)
def test_two_statements_on_the_unit_that_contradict_are_refused(survey, crs, table, words):
    unit = "us-survey-foot" if crs == "EPSG:6428" else "metre"
    with pytest.raises(FrameError, match=words):
        brought(survey, crs, table, unit=unit)


def test_the_crs_of_a_vector_file_counts_as_declared():
    survey = survey_of([[13.0, 52.0]], geographic=True, crs=pyproj.CRS("EPSG:4258"), source="points.gpkg")
    points = brought(survey, "EPSG:25833")
    assert any("points.gpkg (EPSG:4258)" in said for said in points.assumptions)
    assert [step.title for step in points.file_steps[0]] == ["projection change"]


@pytest.mark.parametrize("crs", ["EPSG:25832", "same as products"])
def test_a_setting_against_the_crs_of_a_vector_file_is_refused(crs):
    survey = survey_of([[500_000.0, 5_400_000.0]], crs=pyproj.CRS("EPSG:25833"), source="points.gpkg")
    with pytest.raises(FrameError, match=r"points\.gpkg carries EPSG:25833 .* points\.crs says EPSG:25832"):
        brought(survey, "EPSG:25832", {"crs": crs})


def test_a_vector_file_in_some_plane_says_nothing():
    plane = pyproj.CRS('LOCAL_CS["Undefined Cartesian SRS",UNIT["metre",1]]')
    survey = survey_of([[500_000.0, 5_400_000.0]], crs=plane, unit=METRE)
    points = brought(survey, "EPSG:25832")
    assert any("nothing states the CRS" in said for said in points.assumptions)


def test_wgs84_of_geojson_needs_its_true_frame():
    survey = survey_of([[13.0, 52.0]], geographic=True, crs=pyproj.CRS("OGC:CRS84"), source="points.geojson")
    with pytest.raises(FrameError, match=r"points\.geojson is in WGS 84 .* points\.frame"):
        brought(survey, "EPSG:25833")
    points = brought(survey, "EPSG:25833", {"frame": "same as products"})
    assert [step.title for step in points.file_steps[0]] == ["projection change"]


def test_longitude_and_latitude_are_on_the_datum_of_the_declared_grid():
    survey = survey_of([[12.0, 55.0]], geographic=True)
    declared = brought(survey, "EPSG:25832", {"crs": "EPSG:25833"})
    # PROJ, test/gie/epsg_no_grid.gie.
    assert_allclose(declared.position_m[0, :2], [691875.6321, 6098907.8250], rtol=0, atol=5e-5)
    assert any(
        "longitude and latitude: they are taken to be on ETRS89" in said for said in declared.assumptions
    )
    undeclared = brought(survey, "EPSG:25832")
    assert_allclose(undeclared.position_m, declared.position_m, rtol=0, atol=0)


def test_easting_and_northing_of_a_geographic_crs_are_refused():
    with pytest.raises(FrameError, match="holds easting and northing, and its CRS EPSG:4258"):
        brought(MILLION, "EPSG:25833", {"crs": "EPSG:4258"})


@pytest.mark.parametrize(
    ("table", "elevation"),
    [
        ({"height_system": "ellipsoidal"}, {"height_system": "EPSG:7837"}),
        ({"height_system": "EPSG:7837"}, {"height_system": "ellipsoidal"}),
        ({"height_system": "EPSG:5783"}, {"height_system": "EPSG:7837"}),
        ({"crs": "EPSG:25833+5783"}, {"height_system": "EPSG:7837"}),
    ],
)
def test_heights_of_two_systems_are_refused_naming_both(table, elevation):
    with pytest.raises(
        FrameError, match=r"height system of the points is .*, that of the products .*(Convert|Name a geoid)"
    ):
        brought(MILLION, "EPSG:25833", table, **elevation)


def log_of_a_receiver(height=340.0):
    """Return one point whose format says that its height counts from the ellipsoid."""
    return survey_of([[15.0, 52.0, height]], geographic=True, height_unit=METRE, ellipsoidal=True)


@pytest.mark.parametrize("table", [{"height_system": "EPSG:7837"}, {"crs": "EPSG:4258+7837"}])
def test_a_format_of_ellipsoidal_heights_is_refused_another_system(table):
    with pytest.raises(FrameError, match=r"ellipsoidal heights by its format, and .* says EPSG:7837"):
        brought(log_of_a_receiver(), "EPSG:25833", table)


@pytest.mark.parametrize("table", [{}, {"height_system": "ellipsoidal"}, {"crs": "EPSG:4258"}])
def test_ellipsoidal_heights_of_a_format_need_a_geoid_where_the_surface_counts_from_one(table):
    with pytest.raises(FrameError, match="height system of the points is ellipsoidal"):
        brought(log_of_a_receiver(), "EPSG:25833", table, height_system="EPSG:7837")
    # Height above the geoid = height above the ellipsoid − separation (handbook formula h = H + N).
    above = brought(log_of_a_receiver(), "EPSG:25833", table, height_system="EPSG:7837", geoid=40.0)
    assert_allclose(above.position_m[0, 2], 300.0, rtol=0, atol=1e-9)


def test_ellipsoidal_heights_of_a_format_are_told_where_the_surface_states_none():
    found = brought(log_of_a_receiver(), "EPSG:25833")
    assert any("in ellipsoidal like points.csv" in sentence for sentence in found.assumptions)


def test_plan_only_points_have_no_height_system():
    survey = survey_of([[1.0, 2.0]])
    points = brought(survey, "EPSG:25833", {"height_system": "ellipsoidal"}, height_system="EPSG:7837")
    assert np.isnan(points.position_m[0, 2])


def test_navd88_in_metres_and_in_feet_is_one_system():
    survey = survey_of([[1.0, 2.0, 100.0]], height_unit=METRE)
    points = brought(survey, "EPSG:2991+6360", {"height_system": "EPSG:5703"})
    assert points.position_m[0, 2] == 100.0
    feet = brought(
        survey_of([[1.0, 2.0, 100.0]]),
        "EPSG:25833",
        {"height_system": "EPSG:6360"},
        height_system="EPSG:5703",
    )
    assert_allclose(feet.position_m[0, 2], 100.0 * US_FOOT_M, rtol=1e-15, atol=0)


def test_a_compound_crs_against_the_height_system_is_refused():
    with pytest.raises(FrameError, match="Leave one of them out"):
        brought(MILLION, "EPSG:25833", {"crs": "EPSG:25833+7837", "height_system": "EPSG:5783"})


def test_a_three_dimensional_crs_states_ellipsoidal_heights_unless_the_settings_do():
    survey = survey_of([[13.0, 52.0, 100.0]], geographic=True)
    with pytest.raises(FrameError, match="height system of the points is ellipsoidal"):
        brought(survey, "EPSG:25833", {"crs": "EPSG:4937"}, height_system="EPSG:7837")
    table = {"crs": "EPSG:4937", "height_system": "EPSG:7837"}
    assert brought(survey, "EPSG:25833", table, height_system="EPSG:7837").position_m[0, 2] == 100.0


def test_points_of_a_vector_file_carry_their_height_system():
    crs = pyproj.CRS("EPSG:25833+5783")
    survey = survey_of([[5e5, 5.4e6, 100.0]], crs=crs, unit=METRE, height_unit=METRE)
    with pytest.raises(FrameError, match="height system of the points is EPSG:5783"):
        brought(survey, "EPSG:25833", height_system="EPSG:7837")
    assert any("like points.csv" in said for said in brought(survey, "EPSG:25833").assumptions)


def test_points_tied_to_the_earth_do_not_come_into_a_local_grid():
    with pytest.raises(FrameError, match="tied to no datum"):
        brought(MILLION, 'LOCAL_CS["some plane",UNIT["metre",1]]', {"crs": "EPSG:25833"})
    local = brought(MILLION, 'LOCAL_CS["some plane",UNIT["metre",1]]')
    assert_allclose(local.position_m, MILLION.coordinates, rtol=0, atol=0)


def test_two_lists_without_a_raster_share_unit_and_height_unit():
    products = products_of(points=[{"unit": "foot"}])
    assert products.height_unit is FOOT
    assert brought(MILLION, None, {"unit": "foot"}, limits=Limits()).position_m[0, 2] == pytest.approx(30.48)
