"""Conversions between grids and longitude and latitude of one datum."""

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.frame.projection import convert, from_geographic, to_geographic

# PROJ, test/gie/epsg_no_grid.gie: ETRS89 to ETRS89 / UTM zone 32N, printed to 0.1 mm.
PLACE, GRID = np.array([[12.0, 55.0]]), np.array([[691_875.6321, 6_098_907.8250]])


def test_a_grid_to_longitude_and_latitude_and_back():
    utm = pyproj.CRS("EPSG:25832")
    assert_allclose(from_geographic(PLACE, utm), GRID, rtol=0, atol=5e-5)
    assert_allclose(to_geographic(GRID, utm), PLACE, rtol=0, atol=1e-9)


@pytest.mark.parametrize("code", ["EPSG:2193", "EPSG:31467", "EPSG:3035"])
def test_easting_comes_first_whatever_the_order_of_the_axes(code):
    crs = pyproj.CRS(code)
    assert crs.axis_info[0].direction == "north"
    area = crs.area_of_use
    place = np.array([[(area.west + area.east) / 2, (area.south + area.north) / 2]])
    grid = from_geographic(place, crs)
    further_east = from_geographic(place + np.array([0.01, 0.0]), crs)
    assert abs((further_east - grid)[0, 0]) > 10 * abs((further_east - grid)[0, 1])


def test_no_operation_between_datums_is_ever_used():
    # NAD83(HARN) and NAD83 are half a metre apart in Oregon; a conversion takes one for the other.
    harn, nad83 = pyproj.CRS("EPSG:2994"), pyproj.CRS("EPSG:2992")
    plan = np.array([[636_148.87, 848_981.58]])
    assert_allclose(convert(plan, harn, nad83), plan, rtol=0, atol=1e-6)


def test_degrees_stay_degrees():
    geographic = pyproj.CRS("EPSG:4258")
    assert to_geographic(PLACE, geographic) is PLACE


def test_what_a_grid_cannot_hold_is_not_a_number():
    assert np.isnan(to_geographic(np.array([[np.inf, 0.0]]), pyproj.CRS("EPSG:25832"))).all()
    assert np.isnan(from_geographic(np.array([[12.0, 91.0]]), pyproj.CRS("EPSG:25832"))).all()
