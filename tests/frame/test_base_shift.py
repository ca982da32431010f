"""The base correction: its vector, the side that it goes to, and what stops it."""

import re

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError, GeoqaError
from geoqa.frame.base_shift import moves_points, moves_products, products_shift_m, verdict_notes
from geoqa.records.base import AppliedTo
from geoqa.records.settings import Limits
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import EPOCH, FRAME, corrections_of, geographic, table

EXACT = hand.geocentric(hand.PRECISE) - hand.geocentric(hand.ASSUMED)


def projected(place, crs):
    grid = pyproj.CRS(crs)
    to_grid = pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    east, north = to_grid.transform(place[0], place[1])
    return {"easting": east, "northing": north, "height": float(place[2])}


def geocentric(place):
    return dict(zip("xyz", map(float, hand.geocentric(place)), strict=True))


FORMS = {
    "geographic": geographic,
    "geocentric": geocentric,
    "geocentric in a geocentric CRS": lambda place: geocentric(place) | {"crs": "EPSG:9988"},
    # A grid on another realisation would be another frame: this one is on GRS 1980 and named ITRF2020.
    "projected": lambda place: projected(place, ITRF_GRID) | {"crs": ITRF_GRID},
}
ITRF_GRID = pyproj.crs.ProjectedCRS(
    name="ITRF2020 / invented grid",
    conversion=pyproj.crs.coordinate_operation.TransverseMercatorConversion(
        51.0, -114.0, 500_000.0, 0.0, 0.9996
    ),
    geodetic_crs=pyproj.CRS("EPSG:9990"),
).to_wkt()


@pytest.mark.parametrize("assumed", FORMS)
@pytest.mark.parametrize("precise", FORMS)
def test_positions_in_any_numbers_give_the_vector_of_the_worked_example(assumed, precise):
    (found,) = corrections_of(table(FORMS[assumed](hand.ASSUMED), FORMS[precise](hand.PRECISE)))
    assert_allclose(found.shift_m, EXACT, rtol=0, atol=1e-6)
    assert_allclose(found.shift_m, hand.SHIFT_M, rtol=0, atol=5e-6)
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert found.distance_m == pytest.approx(np.sqrt(1.8**2 + 1.2**2 + 3.4**2), abs=1e-6)


def test_height_of_a_position_in_a_grid_of_feet_is_in_feet():
    # Oregon North in international feet, on NAD83(2011) (EPSG:6559: 1 ft = 0.3048 m).
    place = np.array([-122.5, 45.4, 60.96])
    moved = place + np.array([1e-5, 0.0, 0.3048])
    feet = [{**projected(at, "EPSG:6559"), "height": at[2] / 0.3048} for at in (place, moved)]
    (found,) = corrections_of(table(*feet, crs="EPSG:6559", epoch=None))
    assert_allclose(found.shift_enu_m, hand.apart_m(place, moved), rtol=0, atol=1e-6)


def test_covariance_is_that_of_the_precise_position():
    (found,) = corrections_of(table())
    assert_allclose(found.sigma_m, [0.008, 0.008, 0.02], rtol=0, atol=1e-15)
    precise = geographic(hand.PRECISE, sigma_95_m=[0.0196, 0.0196, 0.0392])
    (found,) = corrections_of(table(precise=precise))
    assert_allclose(found.sigma_m, [0.01, 0.01, 0.02], rtol=2e-5, atol=0)
    (found,) = corrections_of(table(precise=geographic(hand.PRECISE)))
    assert found.sigma_m is None


# EPSG dataset, operation 10415 (ITRF2020 to NAD83(CSRS)v8, method 1053, NRCan): metres, milliarcseconds,
# parts per billion, and their yearly rates, at 2010.0.
TRANSLATION, TRANSLATION_RATE = (1.0039, -1.90961, -0.54117), (0.00079, -0.0007, -0.00124)
ROTATION_MAS, ROTATION_RATE_MAS = (-26.78138, 0.42027, -10.93206), (-0.06667, 0.75744, 0.05133)
SCALE_PPB, SCALE_RATE_PPB = -0.05109, -0.07201


def to_csrs_by_hand(xyz, epoch):
    years = epoch - 2010.0
    shift = np.array(TRANSLATION) + years * np.array(TRANSLATION_RATE)
    x, y, z = np.radians((np.array(ROTATION_MAS) + years * np.array(ROTATION_RATE_MAS)) / 3.6e6)
    scale = 1 + 1e-9 * (SCALE_PPB + years * SCALE_RATE_PPB)
    return shift + scale * np.array([[1, -z, y], [z, 1, -x], [-y, x, 1]]) @ xyz


def test_precise_position_of_another_frame_is_brought_into_that_of_the_assumed_one():
    assumed = geographic(hand.ASSUMED, crs="EPSG:10413")
    (found,) = corrections_of(table(assumed))
    expected = to_csrs_by_hand(hand.geocentric(hand.PRECISE), EPOCH) - hand.geocentric(hand.ASSUMED)
    assert_allclose(found.shift_m, expected, rtol=0, atol=2e-4)
    assert "EPSG:10415" in found.source
    assert "at epoch 2026.45" in found.source
    assert found.frame.name == "NAD83(CSRS)v8"
    # Left undone, the difference of the frames would be in it.
    assert np.linalg.norm(found.shift_m - EXACT) > 1.5


def test_two_positions_in_one_ensemble_are_compared_as_they_are():
    (found,) = corrections_of(table(crs="EPSG:4979", epoch=None))
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    (told,) = found.assumptions
    assert "both name WGS 84: they are taken to be in one realisation" in told


def test_via_names_the_frame_where_operations_tie():
    europe = np.array([9.0, 48.0, 500.0])
    tied = table(geographic(europe, crs="EPSG:4937"), geographic(europe))
    with pytest.raises(FrameError, match=r"base\.via"):
        corrections_of(tied)
    (found,) = corrections_of(tied | {"via": "EPSG:7931"})
    assert 0.5 < found.distance_m < 1.2
    assert found.operation_accuracy_m == pytest.approx(0.1)


ON_ANTENNA = {"reference": "antenna reference point", "antenna_height_m": 1.8}


def test_precise_position_of_the_antenna_is_lowered_to_the_mark():
    antenna = geographic(hand.PRECISE + np.array([0.0, 0.0, 1.8]))
    (found,) = corrections_of(table(precise=antenna, **ON_ANTENNA))
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert any("antenna reference point, 1.8 m above the mark" in text for text in found.assumptions)
    # Along the normal of the ellipsoid: longitude and latitude stay.
    assert_allclose(found.precise_m, hand.geocentric(hand.PRECISE), rtol=0, atol=1e-6)


def test_each_position_may_say_for_itself_that_it_is_of_the_antenna():
    up = np.array([0.0, 0.0, 1.8])
    both = table(
        geographic(hand.ASSUMED + up, reference="antenna reference point"), geographic(hand.PRECISE + up)
    )
    (found,) = corrections_of(both | ON_ANTENNA)
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert found.assumptions == ()
    only = table(geographic(hand.ASSUMED + up, reference="antenna reference point"), antenna_height_m=1.8)
    (found,) = corrections_of(only)
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)


def place_of(east, north, up, start=hand.ASSUMED):
    """Longitude, latitude, height of what lies so far from a place."""
    vector = hand.horizon(start).T @ np.array([east, north, up])
    return hand.geographic(hand.geocentric(start) + vector)


REFUSED = {
    "frame missing": (table(crs=None), r"base\.assumed: nothing says in which reference frame"),
    "frame of one missing": (
        table(geographic(hand.ASSUMED, crs=FRAME), crs=None),
        r"base\.precise: nothing says in which reference frame",
    ),
    "epoch missing": (table(epoch=None), r"ITRF2020 is dynamic.*base\.assumed\.epoch"),
    "epochs apart": (
        table(geographic(hand.ASSUMED, epoch=2020.0)),
        "at epoch 2020 and .* at epoch 2026.45: coordinates move with time",
    ),
    "ensemble against realisation": (
        table(geographic(hand.ASSUMED, crs="EPSG:4979")),
        "base.assumed is in WGS 84, which leaves open by more than 0.1 m",
    ),
    "gravity-related height": (
        table(crs="EPSG:22811+6647"),
        "carries gravity-related heights",
    ),
    "no grid": (
        table(projected(hand.ASSUMED, ITRF_GRID)),
        r"base\.assumed\.crs: .* is no grid",
    ),
    "easting in a geocentric CRS": (
        table(projected(hand.ASSUMED, ITRF_GRID) | {"crs": "EPSG:9988"}),
        "has no easting and northing",
    ),
    "not on the Earth": (
        table({"x": 1.0, "y": 2.0, "z": 3.0}),
        "0 km from the middle of the Earth",
    ),
    "outside the grid": (
        table({"easting": 1e30, "northing": 0.0, "height": 0.0}, crs="EPSG:22811"),
        "lies outside what",
    ),
    "unknown code": (table(crs="EPSG:1"), r"base\.assumed\.crs: “EPSG:1” is no coordinate reference system"),
    "no operation": (
        table(geographic(hand.ASSUMED, crs="EPSG:4955")),
        "base.assumed is in NAD83.CSRS., which leaves open",
    ),
    "grads": (
        table(geographic((2.3, 48.8, 0.0)), geographic((2.3, 48.8, 1.0)), crs="EPSG:4807", epoch=None),
        "degrees from Greenwich",
    ),
    "more than 100 m": (
        table(precise=geographic(place_of(90.0, 40.0, 30.0))),
        r"lies 103\.0 m from the assumed one .*limits\.allow_large_base_shift",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_formed_is_refused_with_the_reason(name):
    given, words = REFUSED[name]
    with pytest.raises(GeoqaError, match=words):
        corrections_of(given)


def test_epochs_of_a_few_days_count_as_one():
    (found,) = corrections_of(table(geographic(hand.ASSUMED, epoch=EPOCH - 0.008)))
    assert_allclose(found.shift_enu_m, hand.SHIFT_ENU_M, rtol=0, atol=1e-6)


def test_a_large_correction_may_be_allowed():
    allowed = Limits(allow_large_base_shift=True)
    (found,) = corrections_of(table(precise=geographic(place_of(90.0, 40.0, 30.0))), limits=allowed)
    assert found.distance_m == pytest.approx(np.sqrt(90.0**2 + 40.0**2 + 30.0**2), abs=1e-6)


def test_height_without_a_system_is_taken_to_be_ellipsoidal_and_told():
    (found,) = corrections_of(table(projected(hand.ASSUMED, ITRF_GRID) | {"crs": ITRF_GRID}))
    assert any("above the ellipsoid" in text for text in found.assumptions)
    (found,) = corrections_of(table())
    assert found.assumptions == ()


# Which side lacks the correction, for every combination; the residual that each gives is in the journey.
SIDES = {
    ("assumed", "assumed"): (AppliedTo.NEITHER, "The products, and the points, as delivered lie 4.030 m"),
    ("assumed", "precise"): (AppliedTo.POINTS, None),
    ("assumed", "independent"): (AppliedTo.POINTS, None),
    ("precise", "assumed"): (AppliedTo.PRODUCTS, "The products as delivered lie 4.030 m"),
    ("precise", "precise"): (AppliedTo.NEITHER, None),
    ("precise", "independent"): (AppliedTo.NEITHER, None),
}


@pytest.mark.parametrize("sides", SIDES)
def test_correction_goes_to_the_side_that_lacks_it(sides):
    applied, note = SIDES[sides]
    found = corrections_of(table(points_use=sides[0], products_use=sides[1]))
    assert found[0].applied_to is applied
    assert moves_points(found[0]) == (applied is AppliedTo.POINTS)
    assert moves_products(found) == (applied is AppliedTo.PRODUCTS)
    notes = verdict_notes(found)
    assert [text[: len(note)] for text in notes] == ([] if note is None else [note])
    if note:
        assert "+1.800 m east, −1.200 m north and +3.400 m up" in notes[0]


def of_session(name, enu, points_use, products_use):
    return table(
        precise=geographic(place_of(*enu)), session=name, points_use=points_use, products_use=products_use
    )


def test_several_sessions_meet_in_the_truth():
    found = corrections_of(
        of_session("A", (1.0, 0.0, 0.0), "assumed", "assumed"),
        of_session("B", (0.0, 2.0, 0.0), "assumed", "independent"),
        of_session("C", (0.0, 0.0, 3.0), "precise", "independent"),
    )
    assert [item.applied_to for item in found] == [AppliedTo.BOTH, AppliedTo.POINTS, AppliedTo.NEITHER]
    assert_allclose(products_shift_m(found), found[0].shift_m, rtol=0, atol=0)
    assert moves_products(found)


def test_sessions_that_lack_the_same_as_the_products_are_left_alone():
    same = (1.0, -0.5, 2.0)
    found = corrections_of(
        of_session("A", same, "assumed", "assumed"), of_session("B", same, "assumed", "assumed")
    )
    assert {item.applied_to for item in found} == {AppliedTo.NEITHER}


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (("assumed", "assumed", (1.0, 0.0, 0.0)), ("assumed", "assumed", (1.5, 0.0, 0.0))),
        (("assumed", "assumed", (1.0, 0.0, 0.0)), ("assumed", "precise", (1.0, 0.0, 0.0))),
    ],
)
def test_products_on_two_bases_are_refused(first, second):
    tables = [
        of_session(name, enu, points, products)
        for name, (points, products, enu) in zip("AB", (first, second), strict=True)
    ]
    with pytest.raises(FrameError, match="Products rest on one base"):
        corrections_of(*tables)


VANCOUVER, CALGARY, DENVER, ZURICH = (-123.1, 49.25), (-114.07, 51.04), (-104.99, 39.74), (8.54, 47.38)
SYDNEY = (151.21, -33.87)
# NAD83 minus ITRF2020 at 2025.5, ETRF2000 and GDA2020 minus ITRF2020 at 2026.0, east, north, up: values that
# the operations of the EPSG dataset give, to 1 cm.
FRAME_VECTORS = [
    (VANCOUVER, (1.58, -0.24, 0.26), 2025.5, r"ITRF2020 and .*NAD83\(CSRS\)v8"),
    (CALGARY, (-1.50, 0.46, -0.40), 2025.5, r"ITRF2020 and .*NAD83\(CSRS\)v8"),
    (DENVER, (1.32, -0.52, 0.86), 2025.5, r"ITRF2020 and NAD83\(2011\)"),
    (ZURICH, (-0.70, -0.65, 0.00), 2026.0, "ITRF2020 and ETRF"),
    (SYDNEY, (-0.107, -0.323, 0.0), 2026.0, "ITRF2020 and GDA2020"),
]


@pytest.mark.parametrize(("site", "vector", "epoch", "words"), FRAME_VECTORS)
def test_correction_that_looks_like_the_difference_of_two_frames_is_named(site, vector, epoch, words):
    start = np.array([*site, 100.0])
    near = np.array(vector) + np.array([0.02, -0.02, 0.03])
    (found,) = corrections_of(table(geographic(start), geographic(place_of(*near, start=start)), epoch=epoch))
    told = " ".join(found.messages)
    assert "looks like the difference between" in told
    assert re.search(words, told), told


def test_frames_are_recognised_without_an_epoch_too():
    start = np.array([*DENVER, 1600.0])
    moved = place_of(1.32, -0.52, 0.86, start=start)
    (found,) = corrections_of(table(geographic(start), geographic(moved), crs="EPSG:6319", epoch=None))
    assert "ITRF2020 and NAD83(2011)" in " ".join(found.messages)


@pytest.mark.parametrize(
    ("enu", "words"),
    [
        ((0.01, -0.02, 1.8), "as an antenna stands above its mark"),
        ((0.03, 0.0, -1.1), "as an antenna stands above its mark"),
        ((1.0, -2.0, -17.0), "above the geoid"),
        ((1.8, -1.2, 3.4), None),
        ((0.2, 0.0, 1.8), None),
        ((0.01, 0.0, 2.5), None),
    ],
)
def test_correction_that_looks_like_a_height_is_named(enu, words):
    (found,) = corrections_of(table(precise=geographic(place_of(*enu))))
    if words is None:
        assert found.messages == ()
    else:
        assert len(found.messages) == 1
        assert words in found.messages[0]
