"""Heights led from one surface to another: by which way, in which order, and when not at all."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.geoid import GeoidGrid
from geoqa.records.settings import Limits
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, survey_of
from tests.frame.test_transform import by_hand
from tests.geoid_files import grids_in, own_grid, plane, write_official

# EPSG dataset: CGVD2013a(2010) height, and the grid of NAD83(CSRS)v8 to it (operation 10117's kin), which
# stands here for an invented plane.
CGVD2013A, OFFICIAL = "EPSG:9245", "ca_nrc_CGG2013an83.tif"
FIRST, STEP, SHAPE = (-115.0, 52.0), 0.05, (40, 50)
CALGARY = np.array([[-114.0719, 51.0447, 1045.0], [-114.0619, 51.0407, 1060.0], [-114.0669, 51.0437, 1050.0]])
ELLIPSOIDAL = {"crs": "EPSG:10413", "height_system": "ellipsoidal"}
UTM11 = "EPSG:22811"


def separation(lon_lat: FloatArray) -> FloatArray:
    """Return the separation of the plane in `tests.geoid_files`, by its definition."""
    return -17.0 + 0.5 * (lon_lat[:, 0] - FIRST[0]) - 0.3 * (lon_lat[:, 1] - FIRST[1])


def grid_in(folder, **words: str) -> GeoidGrid:
    return own_grid(folder / "own.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE), **words)


def calgary(**fields):
    return survey_of(CALGARY, geographic=True, **fields)


def titles(points):
    return [step.title for step in points.file_steps[0]]


# The grid of the settings


def test_a_height_above_the_ellipsoid_is_lowered_by_the_separation(tmp_path):
    points = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    # H = h − N (definition; EPSG method 9664 and its kin).
    expected = CALGARY[:, 2] - separation(CALGARY)
    assert_allclose(points.position_m[:, 2], expected, rtol=0, atol=1e-5)
    assert titles(points) == ["geoid", "projection change"]
    step = points.file_steps[0][0]
    assert step.operation == "height minus separation of the geoid: grid own.gtx"
    assert step.grids == ("own.gtx",)
    assert step.accuracy_m is None
    assert not step.exact
    assert_allclose(step.change_m[:, 2], -separation(CALGARY), rtol=0, atol=1e-5)


def test_a_height_above_the_geoid_is_raised_by_it(tmp_path):
    table = {"crs": "EPSG:10414", "height_system": CGVD2013A}
    points = brought(calgary(), UTM11, table, geoid=grid_in(tmp_path), height_system="ellipsoidal")
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] + separation(CALGARY), rtol=0, atol=1e-5)
    assert "plus separation" in points.file_steps[0][0].operation


def test_there_and_back_is_where_one_started(tmp_path):
    grid = grid_in(tmp_path)
    down = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid, height_system=CGVD2013A)
    table = {"crs": UTM11, "height_system": CGVD2013A}
    back = brought(survey_of(down.position_m), UTM11, table, geoid=grid, height_system="ellipsoidal")
    assert_allclose(back.position_m[:, 2], CALGARY[:, 2], rtol=0, atol=1e-6)


def test_datum_and_geoid_are_both_applied(tmp_path):
    # ITRF2020 to NAD83(CSRS)v8 raises heights by 0.40 m at Calgary: left out, the geoid alone is wrong by it.
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(calgary(), UTM11, table, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    csrs = np.array([by_hand(*place, 2026.45) for place in CALGARY])
    assert_allclose(points.position_m[:, 2], csrs[:, 2] - separation(csrs), rtol=0, atol=2e-4)
    assert titles(points) == ["datum", "geoid", "projection change"]


def test_the_grid_counts_from_the_side_with_gravity_related_heights(tmp_path):
    # Towards the ellipsoid the separation is added on the datum of the points, and then the datum changes.
    table = {"crs": "EPSG:9990", "epoch": 2026.45, "height_system": CGVD2013A}
    points = brought(calgary(), UTM11, table, geoid=grid_in(tmp_path), height_system="ellipsoidal")
    above = CALGARY[:, 2] + separation(CALGARY)
    expected = [by_hand(*place[:2], h, 2026.45)[2] for place, h in zip(CALGARY, above, strict=True)]
    assert_allclose(points.position_m[:, 2], expected, rtol=0, atol=2e-4)
    assert titles(points) == ["geoid", "datum", "projection change"]


def test_a_grid_that_names_its_datum_is_applied_on_it(tmp_path):
    # A grid over ITRF2020: the separation comes off before the datum changes, which leaves heights alone.
    grid = grid_in(tmp_path, crs="EPSG:9990")
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(calgary(), UTM11, table, geoid=grid, height_system=CGVD2013A)
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] - separation(CALGARY), rtol=0, atol=1e-5)
    assert titles(points) == ["geoid", "datum", "projection change"]


def test_a_grid_over_a_third_datum_is_told(tmp_path):
    grid = grid_in(tmp_path, crs="EPSG:6318")
    points = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid, height_system=CGVD2013A)
    assert any("ellipsoid of NAD83(2011) by its own words" in said for said in points.messages)


def test_a_grid_of_another_height_system_is_refused(tmp_path):
    grid = grid_in(tmp_path, vertical="EPSG:5773")
    with pytest.raises(
        FrameError, match=r"own\.gtx leads to heights in EPSG:5773 .*stated to be in EPSG:9245"
    ):
        brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid, height_system=CGVD2013A)


def test_what_the_grid_is_taken_for_is_said_unless_the_file_says_it(tmp_path):
    silent = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    assert any(
        "own.gtx are taken to lead from the ellipsoid of NAD83(CSRS)v8" in said for said in silent.assumptions
    )
    words = {"crs": "EPSG:10414", "vertical": CGVD2013A}
    clear = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path, **words), height_system=CGVD2013A)
    assert not any("own.gtx" in said for said in clear.assumptions)


def test_a_realisation_of_the_ensemble_is_its_datum(tmp_path):
    # As with the grid of the Netherlands: nodes in ETRF2000, heights of points in ETRS89.
    grid = own_grid(
        tmp_path / "own.gtx",
        (5.0, 53.0),
        STEP,
        plane((5.0, 53.0), STEP, SHAPE),
        crs="EPSG:9067",
        vertical="EPSG:5709",
    )
    survey = survey_of([[5.5, 52.5, 60.0]], geographic=True)
    points = brought(survey, "EPSG:25831", {"crs": "EPSG:4937"}, geoid=grid, height_system="EPSG:5709")
    assert points.messages == ()
    assert not any("own.gtx" in said for said in points.assumptions)


def test_the_grid_goes_before_the_operation_of_proj(tmp_path):
    with official(tmp_path, n0=-20.0):
        points = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] - separation(CALGARY), rtol=0, atol=1e-5)


def test_points_without_heights_need_no_grid(tmp_path):
    survey = survey_of(CALGARY[:, :2], geographic=True)
    points = brought(survey, UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    assert np.isnan(points.position_m[:, 2]).all()
    assert titles(points) == ["projection change"]


def test_a_point_without_a_height_may_lie_beyond_the_grid(tmp_path):
    places = np.vstack([CALGARY, [[-110.5, 49.5, np.nan]]])
    survey = survey_of(places, geographic=True)
    points = brought(survey, UTM11, ELLIPSOIDAL, geoid=grid_in(tmp_path), height_system=CGVD2013A)
    assert np.isfinite(points.position_m[:3, 2]).all()
    assert np.isnan(points.position_m[3, 2])
    assert np.isfinite(points.position_m[3, :2]).all()


# The operation of PROJ


def official(folder, **words):
    """Let PROJ find an invented geoid under the name of the official one."""
    place = folder / "proj"
    place.mkdir(exist_ok=True)
    write_official(place / OFFICIAL, FIRST, STEP, plane(FIRST, STEP, SHAPE, **words), crs="EPSG:10413")
    return grids_in(place)


def test_proj_leads_over_datum_and_heights_in_one_operation(tmp_path):
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    with official(tmp_path):
        points = brought(calgary(), UTM11, table, height_system=CGVD2013A)
    csrs = np.array([by_hand(*place, 2026.45) for place in CALGARY])
    assert_allclose(points.position_m[:, 2], csrs[:, 2] - separation(csrs), rtol=0, atol=2e-4)
    step, _ = points.file_steps[0]
    assert step.title == "datum and height system"
    assert "NAD83(CSRS)v8 to CGVD2013a(2010) height (1)" in step.operation
    assert OFFICIAL in step.operation
    assert [grid.endswith(OFFICIAL) for grid in step.grids] == [True]
    # EPSG dataset: accuracy 0.03 m of that operation, 0 of ITRF2020 to NAD83(CSRS)v8.
    assert step.accuracy_m == pytest.approx(0.03)


def test_proj_leads_over_heights_alone_where_the_datum_is_one(tmp_path):
    with official(tmp_path):
        points = brought(calgary(), UTM11, ELLIPSOIDAL, height_system=CGVD2013A)
        back = brought(
            survey_of(points.position_m),
            UTM11,
            {"crs": UTM11, "height_system": CGVD2013A},
            height_system="ellipsoidal",
        )
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] - separation(CALGARY), rtol=0, atol=1e-5)
    assert titles(points) == ["height system", "projection change"]
    assert_allclose(back.position_m[:, 2], CALGARY[:, 2], rtol=0, atol=1e-6)


def test_heights_of_a_vertical_crs_in_feet_come_out_in_metres(tmp_path):
    # EPSG:6360 is NAVD88 in US survey feet, EPSG:5703 in metres: one datum, so one operation.
    survey = survey_of([[-75.0, 40.0, 328.0833333]], geographic=True)
    table = {"crs": "EPSG:6318", "height_system": "EPSG:6360"}
    first = (-76.0, 41.0)
    nodes = plane(first, STEP, SHAPE, n0=-30.0, east=0.0, north=0.0)
    (tmp_path / "proj").mkdir()
    write_official(tmp_path / "proj" / "us_noaa_g2018u0.tif", first, STEP, nodes, crs="EPSG:6319")
    with grids_in(tmp_path / "proj"):
        up = brought(survey, "EPSG:6347", table, height_system="ellipsoidal")
        height = [[-75.0, 40.0, 70.0]]
        down = brought(
            survey_of(height, geographic=True),
            "EPSG:6347",
            {"crs": "EPSG:6319", "height_unit": "metre"},
            height_system="EPSG:6360",
        )
    # [NIST SP 811], appendix B.6: 328.0833333 US survey feet are 100 m.
    assert_allclose(up.position_m[0, 2], 100.0 - 30.0, rtol=0, atol=1e-5)
    assert_allclose(down.position_m[0, 2], 100.0, rtol=0, atol=1e-5)


@pytest.mark.parametrize(
    ("table", "target", "grid"),
    [
        ({"crs": "EPSG:9989", "epoch": 2026.45}, CGVD2013A, OFFICIAL),
        (ELLIPSOIDAL, CGVD2013A, OFFICIAL),
        ({"crs": "EPSG:10414", "height_system": CGVD2013A}, "ellipsoidal", OFFICIAL),
    ],
)
def test_without_a_grid_the_one_wanted_is_named_with_three_ways_to_supply_it(table, target, grid):
    with pytest.raises(FrameError) as caught:
        brought(calgary(), UTM11, table, height_system=target)
    for words in (
        "points.csv: the height system of the points is",
        "that of the products",
        grid,
        "pyproj sync",
        "geoid.grid",
        "geoid.separation_m",
        "column “separation”",
    ):
        assert words in str(caught.value)


def test_a_point_beyond_the_grid_of_proj_is_refused_by_its_line(tmp_path):
    places = np.vstack([CALGARY, [[-110.0, 51.0, 800.0]]])
    with (
        official(tmp_path),
        pytest.raises(FrameError, match=f"gives no result at some of the points|{OFFICIAL}"),
    ):
        brought(survey_of(places, geographic=True), UTM11, ELLIPSOIDAL, height_system=CGVD2013A)


# Separations that come with the points, or one for the site


def test_separations_of_the_column_are_taken_off_on_the_datum_of_the_points():
    survey = calgary(attributes={"separation": ("-16.83", "−16,80", "-16.81")})
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(survey, UTM11, table, height_system=CGVD2013A)
    assert_allclose(points.position_m[:, 2], [1061.83, 1076.80, 1066.81], rtol=0, atol=1e-9)
    assert titles(points) == ["geoid", "datum", "projection change"]
    assert any("column separation) are taken to be those of EPSG:9245" in said for said in points.assumptions)
    assert any(OFFICIAL in said for said in points.messages)


def test_separations_of_the_column_are_added_towards_the_ellipsoid():
    survey = calgary(attributes={"separation": ("-16.83", "-16.80", "-16.81")})
    table = {"crs": "EPSG:10414", "height_system": CGVD2013A}
    points = brought(survey, UTM11, table, height_system="ellipsoidal")
    assert_allclose(points.position_m[:, 2], [1028.17, 1043.20, 1033.19], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (("-16.8", None, "-16.8"), r"points\.csv, line 3: point “P02” has no separation"),
        (("-16.8", "-16.8", "about 17"), r"points\.csv, line 4: point “P03” has the separation “about 17”"),
    ],
)
def test_a_point_without_a_separation_is_refused_by_its_line(texts, words):
    with pytest.raises(FrameError, match=words):
        brought(calgary(attributes={"separation": texts}), UTM11, ELLIPSOIDAL, height_system=CGVD2013A)


def test_a_column_with_one_number_is_told_like_one_number():
    survey = calgary(attributes={"separation": ("-16.8",) * 3})
    points = brought(survey, UTM11, ELLIPSOIDAL, height_system=CGVD2013A)
    assert any("-16.8 m for every point" in said and "80 mm a kilometre" in said for said in points.messages)


def test_one_separation_serves_a_small_site_with_what_it_hides():
    points = brought(calgary(), UTM11, ELLIPSOIDAL, geoid=-16.8, height_system=CGVD2013A)
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] + 16.8, rtol=0, atol=1e-9)
    # The box is 0.010° by 0.004°, 0.70 km by 0.44 km at 51° (lengths of a degree: 70.2 and 111.2 km).
    (told,) = [said for said in points.messages if "kilometre" in said]
    assert "8 to 66 mm" in told
    assert "0.83 km" in told
    step = points.file_steps[0][0]
    # Half of 80 mm a kilometre over the site.
    assert step.accuracy_m == pytest.approx(0.033, abs=0.001)
    assert step.operation.endswith("geoid.separation_m")


def test_one_separation_counts_on_the_side_with_gravity_related_heights():
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(calgary(), UTM11, table, geoid=-16.8, height_system=CGVD2013A)
    expected = [by_hand(*place, 2026.45)[2] + 16.8 for place in CALGARY]
    assert_allclose(points.position_m[:, 2], expected, rtol=0, atol=2e-4)


@pytest.mark.parametrize("far", [(-114.04, 51.0447), (-114.0719, 51.0627)])
def test_one_separation_does_not_serve_a_site_of_more_than_two_kilometres(far):
    places = np.vstack([CALGARY[:1], [[*far, 1000.0]]])
    with pytest.raises(
        FrameError, match=r"2\.\d km apart, and geoid\.separation_m is one number.*geoid\.grid"
    ):
        brought(survey_of(places, geographic=True), UTM11, ELLIPSOIDAL, geoid=-16.8, height_system=CGVD2013A)


def test_the_column_goes_before_the_one_number():
    survey = calgary(attributes={"separation": ("-16.83", "-16.80", "-16.81")})
    points = brought(survey, UTM11, ELLIPSOIDAL, geoid=-20.0, height_system=CGVD2013A)
    assert_allclose(points.position_m[0, 2], 1061.83, rtol=0, atol=1e-9)


def test_an_operation_of_proj_goes_before_separations_and_the_difference_is_told(tmp_path):
    survey = calgary(attributes={"separation": ("-16.83", "-16.80", "-16.81")})
    with official(tmp_path):
        points = brought(survey, UTM11, ELLIPSOIDAL, geoid=-20.0, height_system=CGVD2013A)
    assert_allclose(points.position_m[:, 2], CALGARY[:, 2] - separation(CALGARY), rtol=0, atol=1e-5)
    told = [said for said in points.messages if "is not used" in said]
    assert ["geoid.separation_m (-20.000 m)" in said for said in told] == [True, False]
    assert "the column separation (-16.810 m)" in told[1]
    # The plane at the middle point.
    assert f"amounts to {np.median(separation(CALGARY)):.3f} m" in told[0]


def test_a_local_grid_takes_a_separation_and_no_grid(tmp_path):
    local = 'LOCAL_CS["some plane",UNIT["metre",1]]'
    table = {"height_system": "ellipsoidal"}
    survey = survey_of([[10.0, 20.0, 100.0], [110.0, 20.0, 100.0]])
    points = brought(survey, local, table, geoid=30.0, height_system="EPSG:7837")
    assert_allclose(points.position_m, [[10, 20, 70], [110, 20, 70]], rtol=0, atol=1e-9)
    with pytest.raises(FrameError, match="tied to no datum"):
        brought(survey, local, table, geoid=grid_in(tmp_path), height_system="EPSG:7837")
    with pytest.raises(FrameError, match=r"geoid\.separation_m"):
        brought(survey, local, table, height_system="EPSG:7837")


# Between two vertical CRSs


def test_two_gravity_related_systems_by_an_operation_of_the_epsg_dataset():
    # IOGP 373-7-2, example of method 1046: LN02 to EVRF2000 at 47°20' N, 9°40' E, printed to 1 mm.
    survey = survey_of([[9 + 40 / 60, 47 + 20 / 60, 473.0]], geographic=True)
    table = {"crs": "EPSG:4258", "height_system": "EPSG:5728"}
    points = brought(survey, "EPSG:25832", table, height_system="EPSG:5730")
    assert_allclose(points.position_m[0, 2], 472.69, rtol=0, atol=0.001)
    # To more digits by the formula of that method: offset −0.245 m, slopes −0.210" and −0.032" from 46°55' N,
    # 8°11' E, radii of GRS 1980.
    sine = np.sin(np.radians(46 + 55 / 60))
    flat = 1 - 0.00669438002290 * sine**2
    along, across = 6_378_137 * (1 - 0.00669438002290) / flat**1.5, 6_378_137 / np.sqrt(flat)
    offset = (
        -0.245
        + np.radians(-0.210 / 3600) * along * np.radians(25 / 60)
        + np.radians(-0.032 / 3600) * across * np.radians(89 / 60) * np.cos(np.radians(47 + 20 / 60))
    )
    assert_allclose(points.position_m[0, 2], 473.0 + offset, rtol=0, atol=1e-6)
    assert any("only good to 0.1 m" in said for said in points.messages)
    step = points.file_steps[0][0]
    assert (step.title, step.operation) == ("height system", "LN02 height to EVRF2000 height (1)")
    assert_allclose(step.change_m[0], [0.0, 0.0, offset], rtol=0, atol=1e-6)


def test_a_vertical_offset_by_an_operation_of_the_epsg_dataset():
    # IOGP 373-7-2, example of method 9616: Baltic 2.55 m is 2.95 m above the Black Sea (dataset 9.8.2).
    survey = survey_of([[42.5, 42.5, 2.55]], geographic=True)
    table = {"crs": "EPSG:4284", "height_system": "EPSG:5705"}
    points = brought(survey, "EPSG:28408", table, height_system="EPSG:5735")
    assert_allclose(points.position_m[0, 2], 2.95, rtol=0, atol=1e-9)


def test_two_geoids_are_not_bridged_by_one(tmp_path):
    table = {"crs": "EPSG:10414", "height_system": "EPSG:5713"}
    for geoid in (grid_in(tmp_path), -16.8):
        with pytest.raises(FrameError, match=r"EPSG:5713.*EPSG:9245.*Convert one side"):
            brought(calgary(), UTM11, table, geoid=geoid, height_system=CGVD2013A)


def test_an_operation_too_coarse_is_named_with_its_accuracy():
    # EPSG dataset: DHHN92 to DHHN2016 through EVRF2007, 0.2 m.
    survey = survey_of([[8.05, 48.05, 100.0]], geographic=True)
    table = {"crs": "EPSG:4258", "height_system": "EPSG:5783"}
    with pytest.raises(FrameError, match=r"DHHN92 height to EVRF2007.*\(0\.2 m\).*raise limits"):
        brought(survey, "EPSG:25832", table, height_system="EPSG:7837")
    wide = Limits(max_operation_accuracy_m=0.25)
    points = brought(survey, "EPSG:25832", table, limits=wide, height_system="EPSG:7837")
    assert 0.0 < abs(points.position_m[0, 2] - 100.0) < 0.05


# No step at all


def test_one_height_system_needs_no_geoid_and_it_is_said(tmp_path):
    table = {"crs": UTM11, "height_system": CGVD2013A}
    survey = survey_of([[705_000.0, 5_659_000.0, 1045.0]])
    for geoid, words in ((None, "no geoid is applied."), (grid_in(tmp_path), "[geoid] is not used.")):
        points = brought(survey, UTM11, table, geoid=geoid, height_system=CGVD2013A)
        assert points.position_m[0, 2] == 1045.0
        assert points.file_steps == ((),)
        (told,) = points.messages
        assert "both in EPSG:9245" in told
        assert told.endswith(words)


def test_one_datum_in_two_units_is_one_height_system():
    survey = survey_of([[500_000.0, 4_400_000.0, 100.0]], height_unit=LinearUnit.METRE)
    points = brought(
        survey, "EPSG:6340", {"crs": "EPSG:6340", "height_system": "EPSG:5703"}, height_system="EPSG:6360"
    )
    assert points.position_m[0, 2] == 100.0
    assert any("no geoid is applied" in said for said in points.messages)


@pytest.mark.parametrize(
    ("table", "elevation", "key"),
    [
        (ELLIPSOIDAL, {}, r"without elevation\.height_system"),
        ({"crs": "EPSG:10414"}, {"height_system": CGVD2013A}, r"without points\.height_system"),
        ({"crs": "EPSG:10414"}, {}, r"without points\.height_system and elevation\.height_system"),
    ],
)
def test_a_geoid_that_would_silently_not_be_applied_is_refused(tmp_path, table, elevation, key):
    for geoid in (grid_in(tmp_path), -16.8):
        with pytest.raises(FrameError, match=key):
            brought(calgary(), UTM11, table, geoid=geoid, **elevation)


def test_the_own_bilinear_interpolation_and_that_of_proj_agree(tmp_path):
    # Formula of bilinear interpolation, written out, on rough ground.
    rng = np.random.default_rng(11)
    nodes = rng.uniform(-60.0, 60.0, SHAPE)
    grid = own_grid(tmp_path / "rough.gtx", FIRST, STEP, nodes)
    places = np.column_stack(
        [rng.uniform(-114.9, -112.7, 200), rng.uniform(50.2, 51.9, 200), np.full(200, 1000.0)]
    )
    points = brought(
        survey_of(places, geographic=True), UTM11, ELLIPSOIDAL, geoid=grid, height_system=CGVD2013A
    )
    col, row = (places[:, 0] - FIRST[0]) / STEP, (FIRST[1] - places[:, 1]) / STEP
    i, j = np.floor(row).astype(int), np.floor(col).astype(int)
    v, u = row - i, col - j
    by_formula = (
        nodes[i, j] * (1 - u) * (1 - v)
        + nodes[i, j + 1] * u * (1 - v)
        + nodes[i + 1, j] * (1 - u) * v
        + nodes[i + 1, j + 1] * u * v
    )
    assert_allclose(1000.0 - points.position_m[:, 2], by_formula, rtol=0, atol=5e-6)
