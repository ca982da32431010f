"""The coarse geoid against separations that NGA publishes for testing its own programs."""

import numpy as np
import pytest

from geoqa.causes.coarse_geoid import COARSE_SIGMA_M, _legendre, coarse_separation_m

# NGA, test points of the programs for EGM96 and for EGM2008: latitude, longitude, separation in metres.
EGM96 = (
    (38.628155, 269.779155, -31.628),
    (-14.621217, 305.021114, -2.969),
    (46.874319, 102.448729, -43.575),
    (-23.617446, 133.874712, 15.871),
    (38.625473, 359.9995, 50.066),
    (-0.466744, 0.0023, 17.329),
)
EGM2008 = (
    (37.0, 241.0, -26.151),
    (-36.0, -119.0, -11.877),
    (-36.0, 119.0, -38.295),
    (36.0, 119.0, 1.457),
    (-35.0, -5.0, 17.893),
    (35.0, -5.0, 44.366),
    (90.0, 0.0, 14.899),
)


@pytest.mark.parametrize(("latitude", "longitude", "separation_m"), EGM96 + EGM2008)
def test_published_separations_lie_within_three_sigma(latitude, longitude, separation_m):
    assert coarse_separation_m(longitude, latitude) == pytest.approx(separation_m, abs=3 * COARSE_SIGMA_M)


def test_the_stated_sigma_is_that_of_the_published_separations():
    apart = [coarse_separation_m(lon, lat) - separation for lat, lon, separation in EGM96 + EGM2008]
    assert 0.4 * COARSE_SIGMA_M < np.sqrt(np.mean(np.square(apart))) < 1.3 * COARSE_SIGMA_M


def test_legendre_functions_are_the_closed_forms():
    t, u = np.sin(0.7), np.cos(0.7)
    p = _legendre(t, u, 4)
    # Heiskanen and Moritz, Physical Geodesy, sections 1-11 and 1-14 (from memory), times the norm.
    assert p[2, 0] == pytest.approx(np.sqrt(5) * (3 * t**2 - 1) / 2)
    assert p[2, 1] == pytest.approx(np.sqrt(5 / 3) * 3 * t * u)
    assert p[2, 2] == pytest.approx(np.sqrt(5 / 12) * 3 * u**2)
    assert p[3, 3] == pytest.approx(np.sqrt(7 / 360) * 15 * u**3)


def test_the_date_line_is_no_edge():
    assert coarse_separation_m(180.0, 10.0) == pytest.approx(coarse_separation_m(-180.0, 10.0))
