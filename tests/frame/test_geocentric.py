"""Geocentric conversions and translations, against the examples of the EPSG methods.

Examples: IOGP Publication 373-7-2 (EPSG Guidance Note 7-2), as they stand in the EPSG dataset.
"""

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.frame.geocentric import from_geocentric, to_geocentric, to_horizon, translated, turned
from tests.frame import ecef_by_hand as hand

WGS84, ED50 = pyproj.CRS("EPSG:4979"), pyproj.CRS("EPSG:4230").to_3d()
NORTH_SEA = np.array([[2 + 7 / 60 + 46.38 / 3600, 53 + 48 / 60 + 33.82 / 3600, 73.0]])
GRS80 = pyproj.CRS("EPSG:9989")


def test_example_of_method_9602_forward():
    # Printed to 0.01 m.
    expected = [[3771793.97, 140253.34, 5124304.35]]
    assert_allclose(to_geocentric(NORTH_SEA, WGS84), expected, rtol=0, atol=0.006)


def test_example_of_method_9602_reverse_on_international_1924():
    found = from_geocentric(np.array([[3771878.84, 140349.83, 5124421.30]]), ED50)
    # 53° 48′ 36.565″ N, 2° 07′ 51.477″ E, 28.02 m.
    expected = [2 + 7 / 60 + 51.477 / 3600, 53 + 48 / 60 + 36.565 / 3600]
    assert_allclose(found[0, :2], expected, rtol=0, atol=2e-7)
    assert_allclose(found[0, 2], 28.02, rtol=0, atol=0.01)


def test_example_of_method_1031():
    before = from_geocentric(np.array([[3771793.97, 140253.34, 5124304.35]]), WGS84)
    after = translated(before, np.array([84.87, 96.49, 116.95]), WGS84)
    assert_allclose(to_geocentric(after, WGS84), [[3771878.84, 140349.83, 5124421.30]], rtol=0, atol=1e-6)


def test_example_of_method_9836():
    origin = np.array([[3652755.3058, 319574.6799, 5201547.3536]])
    place = from_geocentric(origin, WGS84)
    point = np.array([3771793.968, 140253.342, 5124304.349])
    found = to_horizon(place)[0] @ (point - origin[0])
    assert_allclose(found, [-189013.869, -128642.040, -4220.171], rtol=0, atol=0.002)


def test_ngs_data_sheet_of_a_reference_station():
    # NGS data sheet, PID DI2263, NAD83(2011), printed to 1 mm.
    place = np.array([[-104.68510965555556, 47.11670691944445, 668.45]])
    expected = [[-1102409.924, -4206590.343, 4651093.534]]
    assert_allclose(to_geocentric(place, pyproj.CRS("EPSG:6319")), expected, rtol=0, atol=0.001)


@pytest.mark.parametrize("name", hand.BEFORE)
def test_worked_base_example_to_a_fiftieth_of_a_millimetre(name):
    shift = hand.geocentric(hand.PRECISE) - hand.geocentric(hand.ASSUMED)
    assert_allclose(shift, hand.SHIFT_M, rtol=0, atol=5e-6)
    before = np.array([hand.BEFORE[name]])
    after = translated(before, shift, GRS80)[0]
    by_formula = hand.geographic(hand.geocentric(before[0]) + shift)
    assert_allclose(hand.apart_m(by_formula, after), 0.0, rtol=0, atol=1e-6)
    assert_allclose(hand.apart_m(hand.AFTER[name], after), 0.0, rtol=0, atol=2e-5)


def test_a_longitude_beyond_180_degrees_keeps_its_count():
    places = np.array([[245.9281, 51.0447, 1045.0], [-114.0719, 51.0447, 1045.0], [180.0, -41.0, 0.0]])
    moved = translated(places, np.array([0.4, -3.5, 1.9]), GRS80)
    assert_allclose(moved[0, 0] - moved[1, 0], 360.0, rtol=0, atol=1e-12)
    assert np.abs(moved[:, 0] - places[:, 0]).max() < 1e-3


def test_covariance_turns_like_the_axes():
    at_greenwich = np.array([0.0, 0.0, 0.0])
    # At longitude 0 on the equator up is X, east is Y, north is Z.
    assert_allclose(turned(np.diag([1.0, 4.0, 9.0]), at_greenwich), np.diag([4.0, 9.0, 1.0]), atol=1e-12)
    rng = np.random.default_rng(3)
    factor = rng.normal(0, 0.01, (3, 3))
    covariance = factor @ factor.T
    turn = hand.horizon(hand.ASSUMED)
    assert_allclose(turned(covariance, hand.ASSUMED), turn @ covariance @ turn.T, rtol=1e-12, atol=0)
