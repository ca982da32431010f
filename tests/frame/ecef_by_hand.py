"""Geocentric coordinates in closed form, apart from PROJ, and the worked base example.

EPSG methods 9602 and 9836, as IOGP 373-7-2 gives them, on GRS 1980 (EPSG ellipsoid 7019).
"""

import numpy as np

AXIS_M, FLATTENING = 6_378_137.0, 1 / 298.257222101
ECCENTRICITY_2 = FLATTENING * (2 - FLATTENING)


def geocentric(place):
    """Longitude, latitude, height to X, Y, Z."""
    lam, phi, height = np.radians(place[0]), np.radians(place[1]), place[2]
    across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
    plane = (across + height) * np.cos(phi)
    return np.array(
        [plane * np.cos(lam), plane * np.sin(lam), (across * (1 - ECCENTRICITY_2) + height) * np.sin(phi)]
    )


def geographic(xyz):
    """X, Y, Z to longitude, latitude, height, by iteration."""
    plane = float(np.hypot(xyz[0], xyz[1]))
    phi = np.arctan2(xyz[2], plane * (1 - ECCENTRICITY_2))
    for _ in range(20):
        across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
        phi = np.arctan2(xyz[2] + ECCENTRICITY_2 * across * np.sin(phi), plane)
    across = AXIS_M / np.sqrt(1 - ECCENTRICITY_2 * np.sin(phi) ** 2)
    height = plane * np.cos(phi) + xyz[2] * np.sin(phi) - AXIS_M**2 / across
    return np.array([np.degrees(np.arctan2(xyz[1], xyz[0])), np.degrees(phi), height])


def horizon(place):
    """Matrix from geocentric to east, north, up."""
    lam, phi = np.radians(place[:2])
    return np.array(
        [
            [-np.sin(lam), np.cos(lam), 0.0],
            [-np.sin(phi) * np.cos(lam), -np.sin(phi) * np.sin(lam), np.cos(phi)],
            [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)],
        ]
    )


def apart_m(first, second):
    """East, north, up in metres from one place to another near it."""
    return horizon(first) @ (geocentric(second) - geocentric(first))


# An invented base, worked by three independent computations that agree to a thousandth of a millimetre: own
# formulae, PROJ's cart and helmert steps, and Karney's geocentric conversion. Longitude, latitude, height.
ASSUMED = np.array([-114.0719, 51.0447, 1045.0])
PRECISE = np.array([-114.07187433767, 51.04468921517, 1048.4])
SHIFT_M = np.array([0.39094, -3.53793, 1.88951])
SHIFT_ENU_M = np.array([1.8, -1.2, 3.4])
BEFORE = {
    "P1": (-114.07068813343, 51.04595822477, 1041.5021),
    "P2": (-114.08073977218, 51.04748574337, 1053.03761),
    "P3": (-114.03769534245, 51.02896719347, 1086.69074),
}
AFTER = {
    "P1": (-114.07066247131, 51.045947439, 1044.9021),
    "P2": (-114.08071410159, 51.04747495902, 1056.43737),
    "P3": (-114.03766971511, 51.02895640957, 1090.09175),
}
