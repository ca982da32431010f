"""Points come into the common frame exactly, or not at all."""

from collections.abc import Sequence

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.frame.transform import marks_to_frame, to_frame
from geoqa.numerics.arrays import FloatArray
from geoqa.records.settings import Limits, Points
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, in_unit, products_of, raster_of, survey_of

CALGARY = (-114.0719, 51.0447, 1045.0)
# GRS 1980: semi-major axis and inverse flattening, as EPSG ellipsoid 7019 gives them.
AXIS_M, FLATTENING = 6_378_137.0, 1 / 298.257222101
ECCENTRICITY_2 = FLATTENING * (2 - FLATTENING)


def geocentric(lon: float, lat: float, height: float) -> FloatArray:
    """EPSG method 9602, IOGP 373-7-2."""
    phi, lam = np.radians([lat, lon])
    across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
    plane = (across + height) * np.cos(phi)
    return np.array(
        [plane * np.cos(lam), plane * np.sin(lam), (across * (1 - ECCENTRICITY_2) + height) * np.sin(phi)]
    )


def geographic(xyz: FloatArray) -> tuple[float, float, float]:
    """EPSG method 9602 backwards, by iteration."""
    plane = float(np.hypot(xyz[0], xyz[1]))
    phi = np.arctan2(xyz[2], plane * (1 - ECCENTRICITY_2))
    for _ in range(20):
        across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
        phi = np.arctan2(xyz[2] + ECCENTRICITY_2 * across * np.sin(phi), plane)
    across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
    return (
        float(np.degrees(np.arctan2(xyz[1], xyz[0]))),
        float(np.degrees(phi)),
        float(plane / np.cos(phi) - across),
    )


def east_north_up(change: FloatArray, lon: float, lat: float) -> FloatArray:
    """EPSG method 9836: geocentric difference turned to the horizon."""
    phi, lam = np.radians([lat, lon])
    turn = np.array(
        [
            [-np.sin(lam), np.cos(lam), 0.0],
            [-np.sin(phi) * np.cos(lam), -np.sin(phi) * np.sin(lam), np.cos(phi)],
            [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)],
        ]
    )
    return turn @ change


def degrees_of(position_m: FloatArray, crs: str) -> FloatArray:
    """Grid to longitude and latitude by PROJ's projection alone."""
    grid = pyproj.CRS(crs)
    back = pyproj.Transformer.from_crs(grid, grid.geodetic_crs, always_xy=True)
    return np.array(back.transform(position_m[0], position_m[1]))


@pytest.mark.parametrize(
    ("geographic_crs", "grid", "lon_lat", "expected", "unit", "tolerance"),
    [
        # IOGP 373-7-2, example of method 9807 (OSGB 1936 / British National Grid), printed to 0.01 m.
        # Parameters as rounded there, from memory: scale 0.9996013, where EPSG:27700 has 0.9996012717.
        (
            "same as products",
            "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996013 +x_0=4e5 +y_0=-1e5 +a=6377563.396 +rf=299.32496",
            (0.5, 50.5),
            (577274.99, 69740.50),
            LinearUnit.METRE,
            0.005,
        ),
        # IOGP 373-7-2, example of method 9802 (NAD27 / Texas South Central), printed to 0.01 US survey foot.
        ("EPSG:4267", "EPSG:32040", (-96.0, 28.5), (2963503.91, 254759.80), LinearUnit.US_SURVEY_FOOT, 0.005),
        # PROJ, test/gie/epsg_no_grid.gie (ETRS89 / UTM zone 32N), printed to 0.1 mm.
        ("EPSG:4258", "EPSG:25832", (12.0, 55.0), (691875.6321, 6098907.8250), LinearUnit.METRE, 0.00005),
    ],
)
def test_published_projection_examples(geographic_crs, grid, lon_lat, expected, unit, tolerance):
    survey = survey_of([lon_lat], geographic=True)
    points = brought(survey, grid, {"crs": geographic_crs}, unit="metre")
    assert_allclose(in_unit(points.position_m[0, :2], unit), expected, rtol=0, atol=tolerance)


# EPSG dataset, operation 10415 (ITRF2020 to NAD83(CSRS)v8, method 1053, NRCan): metres, milliarcseconds,
# parts per billion, and their yearly rates, at 2010.0.
TRANSLATION, TRANSLATION_RATE = (1.0039, -1.90961, -0.54117), (0.00079, -0.0007, -0.00124)
ROTATION_MAS, ROTATION_RATE_MAS = (-26.78138, 0.42027, -10.93206), (-0.06667, 0.75744, 0.05133)
SCALE_PPB, SCALE_RATE_PPB = -0.05109, -0.07201


def by_hand(lon: float, lat: float, height: float, epoch: float) -> tuple[float, float, float]:
    """EPSG method 1053, time-dependent Position Vector transformation, IOGP 373-7-2."""
    years = epoch - 2010.0
    shift = np.array(TRANSLATION) + years * np.array(TRANSLATION_RATE)
    mas = np.radians((np.array(ROTATION_MAS) + years * np.array(ROTATION_RATE_MAS)) / 3.6e6)
    scale = 1 + 1e-9 * (SCALE_PPB + years * SCALE_RATE_PPB)
    x, y, z = mas
    turn = np.array([[1, -z, y], [z, 1, -x], [-y, x, 1]])
    return geographic(shift + scale * turn @ geocentric(lon, lat, height))


@pytest.mark.parametrize("epoch", [2010.0, 2020.0, 2026.45])
def test_itrf2020_to_csrs_at_an_epoch_equals_the_published_parameters_applied_by_hand(epoch):
    survey = survey_of([CALGARY], geographic=True)
    points = brought(survey, "EPSG:22811", {"crs": "EPSG:9989", "epoch": epoch}, height_system="ellipsoidal")
    lon, lat, height = by_hand(*CALGARY, epoch)
    # 1e-9 degree is 0.1 mm.
    assert_allclose(degrees_of(points.position_m[0], "EPSG:22811"), [lon, lat], rtol=0, atol=1e-9)
    assert_allclose(points.position_m[0, 2], height, rtol=0, atol=1e-4)
    step = points.file_steps[0][0]
    assert step.title == "datum"
    assert "EPSG:10415" in step.operation
    moved = geocentric(lon, lat, height) - geocentric(*CALGARY)
    assert_allclose(step.change_m[0], east_north_up(moved, *CALGARY[:2]), rtol=0, atol=2e-4)


def test_itrf2014_to_gda2020_at_alice_springs():
    # ICSM, GDA2020 Technical Manual v1.0, station ALIC, ITRF2014 at 2018.0 to GDA2020, as reproduced in
    # PROJ test/gie/GDA.gie; printed to 0.1 mm.
    before = np.array([-4052052.6588, 4212835.9938, -2545104.6946])
    after = np.array([-4052052.7373, 4212835.9835, -2545104.5867])
    survey = survey_of([geographic(before)], geographic=True)
    points = brought(survey, "EPSG:7853", {"crs": "EPSG:7912", "epoch": 2018.0}, height_system="ellipsoidal")
    lon, lat, height = geographic(after)
    assert_allclose(degrees_of(points.position_m[0], "EPSG:7853"), [lon, lat], rtol=0, atol=2e-9)
    assert_allclose(points.position_m[0, 2], height, rtol=0, atol=2e-4)


def test_itrf2014_to_nad83_2011_at_an_ngs_station():
    # NGS coordinate file ttcd_14.coord.txt: ITRF2014 and NAD 83 (2011), both at 2010.00, printed to 1 mm;
    # X, Y and latitude of the latter.
    survey = survey_of([geographic(np.array([1097053.130, -4897222.404, 3923142.590]))], geographic=True)
    points = brought(survey, "EPSG:6347", {"crs": "EPSG:7912", "epoch": 2010.0}, height_system="ellipsoidal")
    lon, lat = degrees_of(points.position_m[0], "EPSG:6347")
    x, y, _ = geocentric(lon, lat, points.position_m[0, 2])
    assert_allclose([x, y], [1097053.884, -4897223.864], rtol=0, atol=0.0015)
    assert_allclose(lat, 38.20236263333, rtol=0, atol=2e-8)


def test_gda94_to_gda2020_at_alice_springs():
    # ICSM, GDA2020 Technical Manual v1.0, as reproduced in PROJ test/gie/GDA.gie; printed to 0.1 mm.
    before = np.array([-4052051.7643, 4212836.2017, -2545106.0245])
    after = np.array([-4052052.7379, 4212835.9897, -2545104.5898])
    survey = survey_of([geographic(before)], geographic=True)
    points = brought(survey, "EPSG:7853", {"crs": "EPSG:4939"}, height_system="ellipsoidal")
    lon, lat, height = geographic(after)
    assert_allclose(degrees_of(points.position_m[0], "EPSG:7853"), [lon, lat], rtol=0, atol=2e-9)
    assert_allclose(points.position_m[0, 2], height, rtol=0, atol=2e-4)


def test_heights_above_the_geoid_stay_when_the_datum_changes():
    survey = survey_of([CALGARY], geographic=True)
    table = {"crs": "EPSG:9989", "epoch": 2026.45, "height_system": "EPSG:5713"}
    points = brought(survey, "EPSG:22811", table, height_system="EPSG:5713")
    assert points.position_m[0, 2] == CALGARY[2]
    assert points.file_steps[0][0].change_m[0, 2] == 0.0


def test_a_plan_only_point_keeps_no_height():
    points = brought(
        survey_of([CALGARY[:2]], geographic=True), "EPSG:22811", {"crs": "EPSG:9989", "epoch": 2026.0}
    )
    assert np.isnan(points.position_m[0, 2])
    assert np.isfinite(points.position_m[0, :2]).all()


@pytest.mark.parametrize("grid", ["EPSG:32611", "EPSG:32733", "EPSG:25832", "EPSG:25833"])
def test_points_without_settings_are_taken_as_they_are_and_it_is_said(grid):
    survey = survey_of([[500123.4, 5400567.8, 231.0]])
    points = brought(survey, grid)
    assert_allclose(points.position_m, survey.coordinates, rtol=0, atol=0)
    assert points.file_steps == ((),)
    assert any("nothing states the CRS of the points" in sentence for sentence in points.assumptions)


@pytest.mark.parametrize(
    ("points_crs", "grid"),
    [("EPSG:32632", "EPSG:32633"), ("EPSG:25832", "EPSG:25833"), ("EPSG:4326", "EPSG:32633")],
)
def test_one_declared_datum_on_both_sides_is_converted_and_it_is_said(points_crs, grid):
    survey = survey_of([[13.0, 52.0] if points_crs == "EPSG:4326" else [774_000.0, 5_767_000.0]])
    if points_crs == "EPSG:4326":
        survey = survey_of([[13.0, 52.0]], geographic=True)
    points = brought(survey, grid, {"crs": points_crs})
    assert [step.title for step in points.file_steps[0]] == ["projection change"]
    assert any("taken to be in one realisation" in sentence for sentence in points.assumptions)


def test_the_steps_name_what_was_done():
    wkt = pyproj.CRS("EPSG:2994").to_wkt("WKT1_GDAL")
    survey = survey_of([[500_000.0, 4_877_000.0, 100.0]], height_unit=LinearUnit.FOOT)
    points = brought(survey, wkt, {"crs": "EPSG:3740"}, unit="foot")
    assert [(step.title, step.operation, step.accuracy_m) for step in points.file_steps[0]] == [
        ("unit", "heights from foot, to metre", None),
        (
            "projection change",
            "EPSG:3740 to EPSG:2994: inverse of UTM zone 10N, Lambert Conic Conformal (2SP)",
            None,
        ),
    ]
    assert all(np.isnan(step.change_m).all() for step in points.file_steps[0])


def test_the_height_of_the_target_is_taken_off():
    survey = survey_of([[1.0, 2.0, 10.0], [1.0, 2.0, 10.0]], target_height_m=np.array([0.0, 0.25]))
    points = brought(survey, "EPSG:25832")
    assert_allclose(points.position_m[:, 2], [10.0, 9.75], rtol=0, atol=1e-12)
    (step,) = points.file_steps[0]
    assert step.title == "height of the target"
    assert_allclose(step.change_m, [[0, 0, 0], [0, 0, -0.25]], rtol=0, atol=0)


def test_files_are_joined_in_order_and_each_point_knows_its_line():
    first = survey_of([[1.0, 2.0], [3.0, 4.0]], ids=("A", "B"), source="a.csv", sigma_m=np.full((2, 3), 0.01))
    second = survey_of([[9.842519685, 0.0]], ids=("C",), source="b.csv", unit=LinearUnit.FOOT)
    products = products_of("EPSG:25832", points=({}, {}))
    points = to_frame([first, second], [Points(path="a.csv"), Points(path="b.csv")], products, Limits())
    assert points.ids == ("A", "B", "C")
    assert_allclose(points.position_m[:, 0], [1.0, 3.0, 3.0], rtol=0, atol=1e-9)
    assert points.origin(2) == "b.csv, line 2"
    assert_allclose(points.sigma_m[:2], 0.01, rtol=0, atol=0)
    assert [step.title for step, _ in points.steps(2)] == ["unit"]
    assert list(points.steps(0)) == []


def test_no_points_are_no_points():
    points = brought(survey_of(np.empty((0, 3))), "EPSG:25832", {"crs": "EPSG:25833"})
    assert len(points) == 0
    assert points.position_m.shape == (0, 3)


@pytest.mark.parametrize("column", [0, 1])
@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan])
def test_a_coordinate_out_of_any_sense_is_refused_with_file_and_line(column, value):
    coordinates = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    coordinates[1, column] = value
    with pytest.raises(FrameError, match=r"points\.csv, line 3: point “P02”"):
        brought(survey_of(coordinates), "EPSG:25832")


def test_a_position_beyond_the_projection_is_refused_with_file_and_line():
    survey = survey_of([[500_000.0, 5_000_000.0], [9e15, 9e15]])
    with pytest.raises(FrameError, match=r"points\.csv, line 3: .* lies outside what EPSG:25832 can hold"):
        brought(survey, "EPSG:25833", {"crs": "EPSG:25832"})


def test_easting_and_northing_under_latitude_and_longitude_are_refused():
    survey = survey_of([[500_000.0, 5_400_000.0]], geographic=True)
    with pytest.raises(FrameError, match="no longitude and latitude in degrees"):
        brought(survey, "EPSG:25832")


# PROJ before 9.4 knows no way at all from ITRF2020 to the ensemble ETRS89.
TIE_OR_NONE = r"(4 operations .* 8\.\d cm apart .*ETRF2000|no operation from ITRF2020).*points\.via"


def refusals() -> Sequence[tuple[str, str, dict[str, object], tuple[float, float], str]]:
    """Source, target, settings of the points, place, words of the refusal: geodesy of silent choices.

    The pairs are those for which PROJ 9.5.1 without grids falls back to a ballpark offset, a null
    transformation of 1 to 3 m, or the first of several (measured with pyproj 3.7.2).
    """
    calgary, oregon, germany, sweden, sydney = (
        (-114.07, 51.04),
        (-123.07, 44.05),
        (9.0, 48.0),
        (17.0, 59.0),
        (147.0, -35.0),
    )
    at = {"epoch": 2026.45}
    return [
        ("EPSG:9989", "EPSG:2955", at, calgary, r"NAD83\(CSRS\) leaves open .* elevation\.frame"),
        ("EPSG:8254", "EPSG:2955", {}, calgary, r"NAD83\(CSRS\) leaves open"),
        ("EPSG:4979", "EPSG:6340", {}, oregon, r"WGS 84 leaves open .* points\.frame"),
        ("EPSG:4326", "EPSG:25833", {}, germany, "WGS 84 leaves open"),
        ("EPSG:4326", "EPSG:7855", {}, sydney, "WGS 84 leaves open"),
        ("EPSG:9989", "EPSG:32611", at, oregon, r"WGS 84 leaves open .* elevation\.frame"),
        ("EPSG:4326", "EPSG:26910", {}, oregon, r"WGS 84 and NAD83 .* points\.frame and elevation\.frame"),
        ("EPSG:9989", "EPSG:25832", at, germany, TIE_OR_NONE),
        ("EPSG:9989", "EPSG:25833", at, sweden, r"no operation .* eur_nkg_nkgrf17vel\.tif"),
        ("EPSG:6319", "EPSG:26910", {}, oregon, r"us_noaa_nadcon5_nad83_1986_nad83_harn_conus\.tif"),
        ("EPSG:9989", "EPSG:22811", {}, calgary, r"dynamic: .* points\.epoch"),
        ("EPSG:4258", "EPSG:27700", {}, (-1.0, 52.0), r"uk_os_OSTN15_NTv2_OSGBtoETRS\.tif.*pyproj sync"),
        ("EPSG:4314", "EPSG:25832", {}, germany, r"DHDN to ETRS89 \(2\) \(EPSG:1776\)” \(3 m\)"),
        ("EPSG:4807", "EPSG:25831", {}, (2.0, 48.0), "grad"),
    ]


@pytest.mark.parametrize(("source", "target", "table", "place", "words"), refusals())
def test_what_is_not_exact_is_refused_with_the_reason(source, target, table, place, words):
    survey = survey_of([[*place, 100.0]], geographic=True)
    with pytest.raises(FrameError, match=words):
        brought(
            survey,
            target,
            {"crs": source, "height_system": "ellipsoidal", **table},
            height_system="ellipsoidal",
        )


def test_via_names_the_frame_where_operations_tie():
    survey = survey_of([[9.0, 48.0, 500.0]], geographic=True)
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    routes = {
        via: brought(survey, "EPSG:25832", {**table, "via": via}, height_system="ellipsoidal").position_m
        for via in ("EPSG:7931", "EPSG:8403")
    }
    # The same as saying that the products are really in that realisation: ETRS89 is a null step from it.
    framed = brought(survey, "EPSG:25832", table, height_system="ellipsoidal", frame="EPSG:7931")
    assert_allclose(routes["EPSG:7931"], framed.position_m, rtol=0, atol=1e-6)
    # ETRF2000 and ETRF2014 are centimetres apart.
    assert 0.05 < np.linalg.norm(routes["EPSG:7931"] - routes["EPSG:8403"]) < 0.12


def test_a_coarse_operation_is_used_below_the_limit_and_told():
    survey = survey_of([[9.0, 48.0, 500.0]], geographic=True)
    table = {"crs": "EPSG:9989", "epoch": 2026.45, "via": "EPSG:7931"}
    points = brought(survey, "EPSG:25832", table, height_system="ellipsoidal")
    assert any("only good to 0.1" in sentence for sentence in points.messages)
    with pytest.raises(FrameError, match=r"good to 0\.05 m here"):
        brought(
            survey,
            "EPSG:25832",
            table,
            limits=Limits(max_operation_accuracy_m=0.05),
            height_system="ellipsoidal",
        )


def test_frame_replaces_the_datum_and_keeps_the_projection():
    # A map labelled WGS 84 that was made from a base in NAD83(2011): the label changes nothing.
    survey = survey_of([[-118.0, 34.0, 50.0]], geographic=True)
    table = {"crs": "EPSG:6319"}
    labelled = brought(survey, "EPSG:32611", table, height_system="ellipsoidal", frame="EPSG:6319")
    plain = brought(survey, "EPSG:6340", table, height_system="ellipsoidal")
    assert_allclose(labelled.position_m, plain.position_m, rtol=0, atol=2e-4)
    assert [step.title for step in labelled.file_steps[0]] == ["projection change"]


def test_frame_of_a_label_is_transformed_from_its_true_realisation():
    survey = survey_of([[705_247.46, 5_658_875.69, 1045.0]])
    table = {"crs": "EPSG:32611", "frame": "EPSG:9989", "epoch": 2026.45, "height_system": "ellipsoidal"}
    points = brought(survey, "EPSG:22811", table, height_system="ellipsoidal")
    lon, lat = degrees_of(survey.coordinates[0], "EPSG:32611")
    expected = by_hand(float(lon), float(lat), 1045.0, 2026.45)
    assert_allclose(degrees_of(points.position_m[0], "EPSG:22811"), expected[:2], rtol=0, atol=2e-9)
    assert_allclose(points.position_m[0, 2], expected[2], rtol=0, atol=2e-4)


def test_frame_same_as_products_is_the_users_statement():
    survey = survey_of([[-123.0, 44.0, 50.0]], geographic=True)
    table = {"crs": "EPSG:6319", "frame": "same as products"}
    points = brought(survey, "EPSG:26910", table, height_system="ellipsoidal")
    assert [step.title for step in points.file_steps[0]] == ["projection change"]
    assert any("points.frame says" in sentence for sentence in points.assumptions)


def test_frame_may_name_an_ensemble():
    survey = survey_of([[9.0, 48.0, 50.0]], geographic=True)
    table = {"crs": "EPSG:4326", "frame": "EPSG:4258"}
    points = brought(survey, "EPSG:25832", table, height_system="ellipsoidal")
    assert [step.title for step in points.file_steps[0]] == ["projection change"]


def test_frame_on_another_ellipsoid_is_refused():
    survey = survey_of([[0.5, 50.5]], geographic=True)
    with pytest.raises(FrameError, match="cannot be the realisation of EPSG:4277"):
        brought(survey, "EPSG:27700", {"crs": "EPSG:4277", "frame": "EPSG:7931"})


def test_two_epochs_of_a_moving_frame_are_refused():
    survey = survey_of([[9.0, 48.0, 50.0]], geographic=True)
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    with pytest.raises(FrameError, match=r"at epoch 2026\.45 and the products at 2020"):
        brought(survey, "EPSG:32632", table, height_system="ellipsoidal", frame="EPSG:9989", epoch=2020.0)


def test_epochs_years_apart_in_a_plate_fixed_frame_are_told():
    survey = survey_of([[705_247.0, 5_658_875.0, 1045.0]])
    points = brought(survey, "EPSG:22811", {"crs": "EPSG:22811", "epoch": 2026.0}, epoch=2010.0)
    assert any("motion inside the plate" in sentence for sentence in points.messages)
    near = brought(survey, "EPSG:22811", {"crs": "EPSG:22811", "epoch": 2012.0}, epoch=2010.0)
    assert near.messages == ()


def test_the_epoch_of_the_products_counts_where_only_they_move():
    survey = survey_of([CALGARY], geographic=True)
    # The reference epoch of the plate-fixed frame plays no part.
    table = {"crs": "EPSG:10413", "height_system": "ellipsoidal", "epoch": 2010.0}
    given = {"height_system": "ellipsoidal", "frame": "EPSG:9989"}
    points = brought(survey, "EPSG:32611", table, epoch=2020.0, **given)
    lon, lat = degrees_of(points.position_m[0], "EPSG:32611")
    back = by_hand(float(lon), float(lat), points.position_m[0, 2], 2020.0)
    assert_allclose(back, CALGARY, rtol=0, atol=1e-4)
    with pytest.raises(FrameError, match=r"Set elevation\.epoch"):
        brought(survey, "EPSG:32611", table, **given)


def test_heights_of_an_unknown_system_stop_a_change_of_datum():
    survey = survey_of([CALGARY], geographic=True)
    table = {"crs": "EPSG:9990", "epoch": 2026.0}
    with pytest.raises(FrameError, match=r"ellipsoidal heights change by 0\.40 m"):
        brought(survey, "EPSG:22811", table)


def test_marks_are_in_the_frame_of_the_orthomosaic():
    products = products_of("EPSG:25832")
    with_ortho = type(products)(
        frame=products.frame,
        orthomosaic=raster_of("EPSG:25832"),
        elevation=None,
        heights=products.heights,
        height_unit=products.height_unit,
    )
    marks = survey_of([[500_000.0, 5_400_000.0]], source="marks.csv")
    declared = [Points(path="points.csv", crs="EPSG:25833")]
    assert_allclose(
        marks_to_frame(marks, with_ortho, declared).position_m[:, :2],
        marks.coordinates[:, :2],
        rtol=0,
        atol=0,
    )
    in_points_frame = marks_to_frame(marks, products, declared)
    assert [step.title for step in in_points_frame.file_steps[0]] == ["projection change"]


def test_a_hundred_thousand_points_take_one_operation():
    rng = np.random.default_rng(5)
    lon_lat = np.array(CALGARY[:2]) + rng.uniform(-0.005, 0.005, (100_000, 2))
    survey = survey_of(np.column_stack([lon_lat, np.full(100_000, 1045.0)]), geographic=True)
    points = brought(
        survey, "EPSG:22811", {"crs": "EPSG:9989", "epoch": 2026.45}, height_system="ellipsoidal"
    )
    assert np.isfinite(points.position_m).all()
    assert len(points.file_steps[0]) == 2
