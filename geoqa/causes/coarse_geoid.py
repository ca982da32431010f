"""The separation of the geoid to a few metres, anywhere, where no grid is at hand.

The gravity field EGM96 to degree 12, less the normal field of GRS 1980: enough to say whether a height offset
of tens of metres has the size of the separation at a site, and for nothing else.
"""

import math

import numpy as np

from geoqa.numerics.arrays import FloatArray

# [EGM96], fully normalised coefficients from degree 2 to 12, times 10¹⁰, less those of the normal field
# ([GRS80]: C20, C40, C60); a row a degree, orders from 0. Rounded: 1 makes less than a millimetre.
_COSINE = (
    (14, -2, 24391),
    (9573, 20300, 9046, 7211),
    (-2504, -5363, 3507, 9908, -1886),
    (685, -621, 6524, -4520, -2953, 1750),
    (-1483, -761, 482, 572, -862, -2671, 97),
    (910, 2799, 3297, 2504, -2751, 19, -3589, 11),
    (497, 233, 803, -192, -2446, -255, -657, 673, -1241),
    (277, 1434, 222, -1608, -90, -166, 627, -1184, 1884, -477),
    (526, 835, -942, -69, -841, -493, -376, 81, 405, 1255, 1005),
    (-510, 152, 186, -310, -390, 378, -12, 41, -60, -314, -522, 460),
    (377, -541, 143, 394, -687, 309, 34, -187, -254, 423, -62, 113, -25),
)
_SINE = (
    (0, 12, -14002),
    (0, 2485, -6190, 14144),
    (0, -4734, 6627, -2009, 3089),
    (0, -944, -3233, -2148, 497, -6694),
    (0, 263, -3737, 90, -4714, -5365, -2372),
    (0, 954, 931, -2172, -1238, 177, 1518, 244),
    (0, 590, 654, -863, 700, 891, 3092, 747, 1205),
    (0, 217, -322, -742, 195, -541, 2229, -965, -31, 966),
    (0, -1313, -516, -1538, -793, -505, -796, -34, -919, -377, -240),
    (0, -269, -991, -1481, -637, 495, 345, -898, 244, 418, -183, -697),
    (0, -436, 321, 244, 42, 78, 392, 356, 169, 253, 308, -64, -112),
)
# Radius of the Earth of [EGM96], metres.
_RADIUS_M = 6_378_136.3
# [GRS80]: first eccentricity squared.
_ECCENTRICITY_2 = 0.00669438002290
# Root mean square of what is left out, from degree 13 on: 64 m over the degree by Kaula's rule ([Kaula1966]),
# more in mountains and at trenches.
COARSE_SIGMA_M = 5.0


def coarse_separation_m(longitude_deg: float, latitude_deg: float) -> float:
    """Return the height of the geoid above the ellipsoid, metres, good to a few metres.

    Examples
    --------
    The lowest place of the geoid lies south of Sri Lanka.

    >>> coarse_separation_m(78.5, 2.0) < -90
    True
    """
    latitude = math.atan((1 - _ECCENTRICITY_2) * math.tan(math.radians(latitude_deg)))
    legendre = _legendre(math.sin(latitude), math.cos(latitude), len(_COSINE) + 1)
    order = np.arange(len(_COSINE) + 2)
    cosine, sine = np.cos(order * math.radians(longitude_deg)), np.sin(order * math.radians(longitude_deg))
    total = 0.0
    for degree, (real, imaginary) in enumerate(zip(_COSINE, _SINE, strict=True), start=2):
        kept = slice(0, degree + 1)
        terms = np.array(real) * cosine[kept] + np.array(imaginary) * sine[kept]
        total += float(terms @ legendre[degree, kept])
    return _RADIUS_M * total * 1e-10


def _legendre(t: float, u: float, most: int) -> FloatArray:
    """Return the fully normalised Legendre functions of sin t, cos u, degree by order.

    References
    ----------
    [HolmesFeatherstone2002]_, the standard forward column method.
    """
    p = np.zeros((most + 1, most + 1))
    p[0, 0], p[1, 0], p[1, 1] = 1.0, math.sqrt(3.0) * t, math.sqrt(3.0) * u
    for n in range(2, most + 1):
        p[n, n] = u * math.sqrt((2 * n + 1) / (2 * n)) * p[n - 1, n - 1]
        for m in range(n):
            first = math.sqrt((2 * n - 1) * (2 * n + 1) / ((n - m) * (n + m)))
            second = (2 * n + 1) * (n + m - 1) * (n - m - 1) / ((n - m) * (n + m) * (2 * n - 3))
            p[n, m] = first * t * p[n - 1, m] - math.sqrt(second) * p[n - 2, m]
    return p
