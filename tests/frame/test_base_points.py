"""Points move with the base that they were measured from, in their own CRS and height system."""

from dataclasses import replace

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.records.geoid import GeoidGrid
from geoqa.records.settings import SiteGrid
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import (
    EPOCH,
    FRAME,
    brought_with_base,
    geographic,
    table,
    without_heights,
    worked_survey,
)
from tests.frame.scenes import survey_of
from tests.frame.test_base_shift import ITRF_GRID, place_of

POINTS = {"crs": FRAME, "epoch": EPOCH, "height_system": "ellipsoidal"}
ELEVATION = {"frame": FRAME, "epoch": EPOCH, "height_system": "ellipsoidal"}
UTM = "EPSG:32611"
AFTER = np.array(list(hand.AFTER.values()))
# A fiftieth of a millimetre, in degrees of latitude and in metres.
FIFTIETH_M = 2e-5


def places_of(points, crs=UTM):
    """Longitude, latitude, height of points in a grid, by PROJ's projection alone."""
    grid = pyproj.CRS(crs)
    back = pyproj.Transformer.from_crs(grid, grid.geodetic_crs, always_xy=True)
    lon, lat = back.transform(points.position_m[:, 0], points.position_m[:, 1])
    return np.column_stack([lon, lat, points.position_m[:, 2]])


def assert_in_place(points, expected, atol=FIFTIETH_M, crs=UTM):
    for found, wanted in zip(places_of(points, crs), expected, strict=True):
        assert_allclose(hand.apart_m(wanted, found), 0.0, rtol=0, atol=atol)


def in_grid(places, crs):
    grid = pyproj.CRS(crs)
    forward = pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    east, north = forward.transform(places[:, 0], places[:, 1])
    return np.column_stack([east, north, places[:, 2]])


def test_worked_example_by_longitude_and_latitude():
    assert_in_place(brought_with_base(worked_survey(), UTM, POINTS, table(), **ELEVATION), AFTER)


def test_worked_example_by_easting_and_northing():
    places = np.array(list(hand.BEFORE.values()))
    survey = survey_of(in_grid(places, ITRF_GRID))
    points = brought_with_base(survey, UTM, POINTS | {"crs": ITRF_GRID}, table(), **ELEVATION)
    assert_in_place(points, AFTER)


def test_worked_example_in_feet():
    feet = pyproj.crs.coordinate_system.Cartesian2DCS(
        axis=pyproj.crs.enums.Cartesian2DCSAxis.EASTING_NORTHING_FT
    )
    grid = pyproj.CRS(ITRF_GRID)
    in_feet = pyproj.crs.ProjectedCRS(
        name="ITRF2020 / invented grid (ft)",
        conversion=grid.coordinate_operation,
        geodetic_crs=grid.geodetic_crs,
        cartesian_cs=feet,
    ).to_wkt()
    places = in_grid(np.array(list(hand.BEFORE.values())), in_feet)
    assert_allclose(places[0, 0] * 0.3048, in_grid(np.array([hand.BEFORE["P1"]]), ITRF_GRID)[0, 0], atol=1e-6)
    places[:, 2] /= 0.3048
    table_in_feet = POINTS | {"crs": in_feet, "unit": "foot", "height_unit": "foot"}
    points = brought_with_base(survey_of(places), UTM, table_in_feet, table(), **ELEVATION)
    assert_in_place(points, AFTER)


def test_correction_precedes_the_change_of_datum():
    # The shift is formed and applied in ITRF2020; only then the points go to NAD83(CSRS)v8.
    points = brought_with_base(worked_survey(), "EPSG:22811", POINTS, table(), height_system="ellipsoidal")
    titles = [step.title for step in points.file_steps[0]]
    assert titles == ["base correction", "datum", "projection change"]
    alone = survey_of(AFTER, geographic=True)
    expected = brought_with_base(
        alone, "EPSG:22811", POINTS, table(points_use="precise"), height_system="ellipsoidal"
    )
    assert_allclose(points.position_m, expected.position_m, rtol=0, atol=FIFTIETH_M)


def test_step_tells_what_it_did_to_each_point():
    points = brought_with_base(worked_survey(), UTM, POINTS, table(), **ELEVATION)
    step = points.file_steps[0][0]
    assert "EPSG method 1031" in step.operation
    assert "0.39094, -3.53793, 1.88951 m" in step.operation
    assert "51.044700000°, -114.071900000°, 1045.0000 m in ITRF2020 at epoch 2026.45" in step.operation
    assert step.accuracy_m == pytest.approx(0.02)
    for name, change in zip(hand.BEFORE, step.change_m, strict=True):
        expected = hand.apart_m(hand.BEFORE[name], hand.AFTER[name])
        assert_allclose(change, expected, rtol=0, atol=FIFTIETH_M)
    # Not the same east, north, up everywhere: 3 km away the horizon is another.
    assert np.abs(step.change_m[2] - hand.SHIFT_ENU_M).max() > 0.001


def test_point_without_a_height_is_moved_in_plan():
    points = brought_with_base(without_heights(worked_survey()), UTM, POINTS, table(), **ELEVATION)
    assert np.isnan(points.position_m[:, 2]).all()
    flat = np.column_stack([AFTER[:, :2], [1045.0] * 3])
    expected = np.column_stack([places_of(points)[:, :2], [1045.0] * 3])
    for found, wanted in zip(expected, flat, strict=True):
        # 42 m above the base a shift of 2 m turns by 0.014 mm less.
        assert_allclose(hand.apart_m(wanted, found), 0.0, rtol=0, atol=2e-5)
    assert_allclose(points.file_steps[0][0].change_m[:, 2], 0.0, atol=0)


GRAVITY = {"height_system": "EPSG:5703"}


def heights_above_the_geoid(separation):
    places = np.array(list(hand.BEFORE.values()))
    places[:, 2] -= separation(places)
    return survey_of(places, geographic=True)


def test_gravity_related_heights_are_moved_as_well_as_without_a_geoid_can_be():
    survey = heights_above_the_geoid(lambda places: -17.0)
    points = brought_with_base(survey, UTM, POINTS | GRAVITY, table(), **(ELEVATION | GRAVITY))
    level = AFTER + np.array([0.0, 0.0, 17.0])
    # 17 m of separation turn 2.2 m of shift by 6 µm.
    assert_in_place(points, level, atol=FIFTIETH_M)
    (told,) = [text for text in points.messages if "are not known to count from the ellipsoid" in text]
    assert "exact to 0.3 mm only" in told


def test_gravity_related_heights_and_metres_of_shift_are_refused():
    survey = heights_above_the_geoid(lambda places: -17.0)
    far = table(precise=geographic(place_of(9.0, 0.0, 0.0)))
    with pytest.raises(FrameError, match=r"moves by 9\.0 m in plan.*up to 1\.1 mm.*geoid\.grid"):
        brought_with_base(survey, UTM, POINTS | GRAVITY, far, **(ELEVATION | GRAVITY))
    ellipsoidal = brought_with_base(worked_survey(), UTM, POINTS, far, **ELEVATION)
    assert np.isfinite(ellipsoidal.position_m).all()


def sloping(places):
    """A geoid as low as any on Earth, that falls by 100 mm a kilometre towards north."""
    return -107.0 - 0.1 * (places[:, 1] - 51.0) * 111.2


def test_a_geoid_grid_makes_gravity_related_heights_exact(tmp_path):
    grid = written_grid(tmp_path)
    survey = heights_above_the_geoid(sloping)
    points = brought_with_base(survey, UTM, POINTS | GRAVITY, table(), geoid=grid, **(ELEVATION | GRAVITY))
    level = AFTER.copy()
    level[:, 2] -= sloping(AFTER)
    assert_in_place(points, level)
    assert not [text for text in points.messages if "not known to count" in text]
    # The slope alone makes 0.12 mm over the 1.2 m that the points go south.
    without = brought_with_base(survey, UTM, POINTS | GRAVITY, table(), **(ELEVATION | GRAVITY))
    apart = without.position_m[:, 2] - points.position_m[:, 2]
    assert_allclose(apart, 0.1 * 1.2e-3, rtol=0, atol=2e-5)


def written_grid(folder):
    """A GTX file of the sloping geoid: header and rows from south to north, as PROJ documents it."""
    south, west, step, rows, columns = 50.9, -114.3, 0.02, 11, 21
    latitudes = south + step * np.arange(rows)
    nodes = np.repeat(sloping(np.column_stack([latitudes, latitudes]))[:, None], columns, axis=1)
    header = np.array([south, west, step, step], dtype=">f8").tobytes()
    header += np.array([rows, columns], dtype=">i4").tobytes()
    path = folder / "invented.gtx"
    path.write_bytes(header + nodes.astype(">f4").tobytes())
    return GeoidGrid(
        file=str(path),
        path=str(path),
        crs=None,
        vertical=None,
        nodes=nodes[::-1].astype("float32"),
        first_deg=(west, float(latitudes[-1])),
        step_deg=(step, step),
        area_deg=(west, south, west + step * (columns - 1), float(latitudes[-1])),
    )


def of_sessions(*sessions):
    return worked_survey(sessions=sessions)


def two_bases():
    first = table(session="A", products_use="independent")
    second = table(precise=geographic(place_of(-0.5, 0.25, 1.0)), session="B", products_use="independent")
    return first, second


def test_each_point_moves_with_the_base_of_its_session():
    points = brought_with_base(of_sessions("A", "B", "B"), UTM, POINTS, *two_bases(), **ELEVATION)
    second = hand.horizon(hand.ASSUMED).T @ np.array([-0.5, 0.25, 1.0])
    expected = AFTER.copy()
    for row, name in ((1, "P2"), (2, "P3")):
        expected[row] = hand.geographic(hand.geocentric(hand.BEFORE[name]) + second)
    assert_in_place(points, expected)
    step = points.file_steps[0][0]
    assert "session A: " in step.operation
    assert "session B: " in step.operation


@pytest.mark.parametrize(
    ("session", "words"), [(None, "has no session"), ("C", "is of session “C”"), ("a", "is of session “a”")]
)
def test_point_of_no_base_is_refused(session, words):
    survey = of_sessions("A", session, "B")
    with pytest.raises(FrameError, match=rf"points\.csv, line 3: point “P2” {words}.*“A”, “B”"):
        brought_with_base(survey, UTM, POINTS, *two_bases(), **ELEVATION)


def test_one_base_without_a_session_serves_all():
    points = brought_with_base(of_sessions("A", None, "B"), UTM, POINTS, table(), **ELEVATION)
    assert_in_place(points, AFTER)


def test_one_base_with_a_session_serves_that_one_only():
    with pytest.raises(FrameError, match="is of session “B”"):
        brought_with_base(of_sessions("A", "A", "B"), UTM, POINTS, table(session="A"), **ELEVATION)


def test_published_positions_of_marks_rest_on_no_base():
    points = brought_with_base(
        worked_survey(), UTM, POINTS | {"known": True}, table(session="A"), **ELEVATION
    )
    assert_in_place(points, np.array(list(hand.BEFORE.values())))


def test_points_in_a_local_grid_are_refused():
    survey = survey_of([[100.0, 200.0, 10.0]])
    with pytest.raises(FrameError, match="tied to no datum"):
        brought_with_base(survey, None, {"unit": "metre"}, table())


def test_moved_points_are_told():
    points = brought_with_base(worked_survey(), UTM, POINTS, table(), **ELEVATION)
    assert (
        "points.csv: 3 points rest on the assumed position of the base and moved with it: +1.800 m east, "
        "−1.200 m north, +3.400 m up."
    ) in points.messages


def test_error_that_a_far_base_leaves_in_the_vectors_is_told():
    far = table(precise=geographic(place_of(12.0, 9.0, 20.0)))
    points = brought_with_base(worked_survey(), UTM, POINTS, far, **ELEVATION)
    (told,) = [text for text in points.messages if "The vectors themselves" in text]
    # 1e-7 times 25 m times the distance to P3, 2.97 km.
    distance = np.linalg.norm(hand.geocentric(hand.BEFORE["P3"]) - hand.geocentric(hand.PRECISE))
    assert f"up to {1e-4 * 25.0 * distance:.1f} mm more error" in told
    near = brought_with_base(worked_survey(), UTM, POINTS, table(), **ELEVATION)
    assert not [text for text in near.messages if "The vectors themselves" in text]


def test_base_in_another_frame_than_the_points_is_told():
    points = brought_with_base(
        worked_survey(),
        "EPSG:22811",
        {"crs": "EPSG:10413", "height_system": "ellipsoidal"},
        table(),
        height_system="ellipsoidal",
    )
    (told,) = [text for text in points.messages if "the correction is applied as it is" in text]
    assert "points.csv is in NAD83(CSRS)v8 and the positions of the base are in ITRF2020" in told
    # The vector is the same in either frame to a micrometre: their axes are a ten-millionth apart.
    assert_in_place(points, AFTER, crs="EPSG:22811")


def test_base_and_points_at_two_epochs_are_refused():
    with pytest.raises(FrameError, match=r"points\.csv is at epoch 2020 and the base at 2026\.45"):
        brought_with_base(
            worked_survey(), UTM, POINTS | {"epoch": 2020.0}, table(), **(ELEVATION | {"epoch": 2020.0})
        )


@pytest.mark.parametrize("applies_to", [("points",), ("points", "products")])
def test_points_in_coordinates_of_a_site_move_as_in_the_grid(applies_to):
    site = SiteGrid(scale=1.000_2, origin_m=(0.0, 0.0), offset_m=(-100_000.0, 5_000.0), applies_to=applies_to)
    places = np.array(list(hand.BEFORE.values()))
    local = in_grid(places, UTM)
    local[:, :2] = site.scale * local[:, :2] + np.array(site.offset_m)
    same = {"crs": UTM, "frame": FRAME, "epoch": EPOCH, "height_system": "ellipsoidal"}
    points = brought_with_base(survey_of(local), UTM, same, table(), site_grid=site, **ELEVATION)
    found = np.array(points.position_m)
    if "products" in applies_to:
        found[:, :2] = (found[:, :2] - np.array(site.offset_m)) / site.scale
    assert_in_place(replace(points, position_m=found), AFTER)
