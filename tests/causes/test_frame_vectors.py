"""Differences of reference frames against parameters worked by hand."""

import numpy as np
import pytest

from geoqa.causes.frame_vectors import frame_vectors
from tests.frame import ecef_by_hand as hand

# EUREF Technical Note 1, table of parameters ITRF2014 → ETRF2000 at 2010.0 (from memory): millimetres,
# 1e-9, milliarcseconds, and their rates a year. ITRF2020 differs from ITRF2014 by less than 3 mm.
SHIFT_MM, SHIFT_RATE = np.array([54.7, 52.2, -74.1]), np.array([0.1, 0.1, -1.9])
SCALE, SCALE_RATE = 2.12, 0.11
TURN_MAS, TURN_RATE = np.array([1.701, 10.290, -16.632]), np.array([0.081, 0.490, -0.792])


def etrf2000_minus_itrf(xyz, epoch):
    years = epoch - 2010.0
    shift = (SHIFT_MM + SHIFT_RATE * years) / 1000
    scale = (SCALE + SCALE_RATE * years) * 1e-9
    turn = np.radians((TURN_MAS + TURN_RATE * years) / 1000 / 3600)
    r1, r2, r3 = turn
    matrix = np.array([[scale, -r3, r2], [r3, scale, -r1], [-r2, r1, scale]])
    return shift + matrix @ xyz


@pytest.mark.parametrize("place", [(8.54, 47.38, 450.0), (24.9, 60.2, 30.0), (-3.7, 40.4, 700.0)])
@pytest.mark.parametrize("epoch", [2015.0, 2026.0])
def test_etrs89_against_itrf_is_that_of_the_published_parameters(place, epoch):
    expected = hand.horizon(np.array(place)) @ etrf2000_minus_itrf(hand.geocentric(np.array(place)), epoch)
    vectors = {item.second: item for item in frame_vectors(np.array(place), epoch)}
    found = vectors["ETRF2000 (ETRS89)"]
    np.testing.assert_allclose(found.vector_m, expected, rtol=0, atol=0.006)


def test_plate_carries_europe_north_east_by_two_to_three_centimetres_a_year():
    (vector,) = (
        item for item in frame_vectors(np.array([8.54, 47.38, 450.0]), 2025.0) if "ETRS89" in item.second
    )
    east, north, up = np.array(vector.per_year_m) * 1000
    # Coordinates in the plate-fixed frame stay behind those in the global one.
    assert -23 < east < -17
    assert -19 < north < -13
    assert abs(up) < 2


# GDA2020 Technical Manual (ICSM), 7 parameters GDA94 → GDA2020, coordinate frame rotation (from memory):
# metres, parts per million, seconds of arc.
AUSTRALIA_M, AUSTRALIA_PPM = np.array([0.06155, -0.01087, -0.04019]), -0.009994
AUSTRALIA_SEC = np.array([-0.0394924, -0.0327221, -0.0328979])


@pytest.mark.parametrize("place", [(149.1, -35.3, 600.0), (115.9, -31.9, 20.0), (130.8, -12.5, 30.0)])
def test_gda94_against_gda2020_is_that_of_the_published_parameters(place):
    xyz = hand.geocentric(np.array(place))
    r1, r2, r3 = np.radians(AUSTRALIA_SEC / 3600)
    turned = np.array([[1, r3, -r2], [-r3, 1, r1], [r2, -r1, 1]]) @ xyz
    expected = AUSTRALIA_M + (1 + AUSTRALIA_PPM * 1e-6) * turned - xyz
    vectors = {item.second: item for item in frame_vectors(np.array(place), 2020.0)}
    np.testing.assert_allclose(
        vectors["GDA94"].vector_m, -hand.horizon(np.array(place)) @ expected, rtol=0, atol=0.003
    )


def test_no_frame_of_a_region_is_offered_in_the_middle_of_an_ocean():
    assert frame_vectors(np.array([-25.0, -20.0, 0.0]), 2025.0) == ()
