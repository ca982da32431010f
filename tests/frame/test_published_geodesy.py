"""Published geodetic examples, by the path that a file of points takes.

Examples between two codes of the EPSG dataset go through `to_frame`; examples of methods whose parameters
belong to no code, or whose codes tie, go through `Leg.apply`, which that path calls for every operation
between datums and heights, and through `from_geocentric`, by which the base correction leads back. What
stands in `test_transform` (methods 9802, 9807 and 1053, ITRF2014 to GDA2020 and to NAD83(2011), GDA94 to
GDA2020), in `test_height_change` (9616, 1046) and in `test_geocentric` (9602, 1031, 9836) is not repeated.
"""

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose
from pyproj.transformer import Transformer

from geoqa.errors import FrameError
from geoqa.frame.datums import geographic, named_frame
from geoqa.frame.geocentric import from_geocentric, to_geocentric
from geoqa.frame.grids import area_around, offered
from geoqa.frame.legs import Leg
from geoqa.frame.operations import Route, apply_operation, choose_operation
from geoqa.records.settings import Limits
from tests.frame.scenes import brought, survey_of
from tests.frame.test_transform import degrees_of


def geocentric_leg(parameters: str) -> Leg:
    return Leg(Transformer.from_pipeline(f"+proj=helmert {parameters}"))


# IOGP 373-7-2, examples of the methods, printed to 1 cm (1033, 1032) and to 1 mm (1056): parameters, epoch,
# before, after, tolerance (half of the last printed digit, doubled where the input is rounded alike).
GEOCENTRIC = {
    "1033 Position Vector, WGS 72 to WGS 84": (
        "+z=4.5 +rz=0.554 +s=0.219 +convention=position_vector",
        None,
        (3657660.66, 255768.55, 5201382.11),
        (3657660.78, 255778.43, 5201387.75),
        0.01,
    ),
    "1032 Coordinate Frame, WGS 72 to WGS 84": (
        "+z=4.5 +rz=-0.554 +s=0.219 +convention=coordinate_frame",
        None,
        (3657660.66, 255768.55, 5201382.11),
        (3657660.78, 255778.43, 5201387.75),
        0.01,
    ),
    "1056 time-dependent Coordinate Frame, ITRF2008 to GDA94": (
        "+x=-0.08468 +y=-0.01942 +z=0.03201 +rx=-0.0004254 +ry=0.0022578 +rz=0.0024015 +s=0.00971 "
        "+dx=0.00142 +dy=0.00134 +dz=0.0009 +drx=0.0015461 +dry=0.001182 +drz=0.0011551 +ds=0.000109 "
        "+t_epoch=1994 +convention=coordinate_frame",
        2013.9,
        (-3789470.710, 4841770.404, -1690893.952),
        (-3789470.004, 4841770.686, -1690895.108),
        0.001,
    ),
    "1031 geocentric translations, WGS 84 to ED50": (
        "+x=84.87 +y=96.49 +z=116.95",
        None,
        (3771793.97, 140253.34, 5124304.35),
        (3771878.84, 140349.83, 5124421.30),
        0.005,
    ),
}


@pytest.mark.parametrize("name", GEOCENTRIC)
def test_examples_of_geocentric_methods(name):
    parameters, epoch, before, after, tolerance = GEOCENTRIC[name]
    found = geocentric_leg(parameters).apply(np.array([before]), epoch)
    assert_allclose(found, [after], rtol=0, atol=tolerance)


def test_the_example_of_1056_is_lost_without_its_epoch():
    parameters, _, before, after, _ = GEOCENTRIC["1056 time-dependent Coordinate Frame, ITRF2008 to GDA94"]
    found = geocentric_leg(parameters).apply(np.array([before]), None)
    # PROJ takes the reference epoch of the operation, 1994: wrong by this much.
    assert_allclose(np.abs(found - [after]), [[0.75, 0.21, 1.14]], rtol=0, atol=0.05)


def wgs72_leg() -> Leg:
    """Return the operation WGS 72 to WGS 84 (2) of the EPSG dataset, whose parameters the example has."""
    source, target = named_frame("EPSG:4322", "x"), named_frame("EPSG:4326", "x")
    group = offered(source, target, area_around(np.array([[4.0, 55.0, 0.0]])))
    (found,) = [item for item in group.transformers if "WGS 72 to WGS 84 (2)" in item.description]
    return Leg(found)


def test_example_of_method_9606_geographic_in_and_out():
    # IOGP 373-7-2: 55° N, 4° E, 0 m becomes 55°00'00.090", 4°00'00.554", 3.22 m.
    found = wgs72_leg().apply(np.array([[4.0, 55.0, 0.0]]), None)[0]
    assert_allclose(found[:2], [4 + 0.554 / 3600, 55 + 0.090 / 3600], rtol=0, atol=0.0005 / 3600 * 1.01)
    assert_allclose(found[2], 3.22, rtol=0, atol=0.005)


def test_the_codes_of_that_example_tie_and_are_refused():
    # Two operations of 2 m between the codes, 4.6 cm apart: PROJ would take the first.
    survey = survey_of([[4.0, 55.0, 0.0]], geographic=True)
    table = {"crs": "EPSG:4322", "epoch": 1985.0, "height_system": "ellipsoidal"}
    wide = Limits(max_operation_accuracy_m=5.0)
    given = {"height_system": "ellipsoidal", "frame": "EPSG:4326", "limits": wide}
    with pytest.raises(
        FrameError, match=r"equally good \(2 m\) and lie up to 4\.\d cm apart.*WGS 72 to WGS 84"
    ):
        brought(survey, "EPSG:32631", table, **given)


@pytest.mark.parametrize(("epoch", "after"), [(2017.0, (3370658.1889, 711877.4237, 5349787.1243))])
def test_itrf2000_to_itrf93_at_onsala(epoch, after):
    # ITRF transformation parameters (ITRF.TP), as reproduced in PROJ test/gie/more_builtins.gie; to 0.1 mm.
    source = named_frame("EPSG:7909", "x")
    start = from_geocentric(np.array([[3370658.378, 711877.314, 5349787.086]]), source)
    survey = survey_of(start, geographic=True)
    points = brought(
        survey,
        "EPSG:32633",
        {"crs": "EPSG:7909", "epoch": epoch},
        height_system="ellipsoidal",
        frame="EPSG:7905",
        epoch=epoch,
    )
    place = [*degrees_of(points.position_m[0], "EPSG:32633"), points.position_m[0, 2]]
    found = to_geocentric(np.array([place]), named_frame("EPSG:7905", "x"))
    assert_allclose(found[0], after, rtol=0, atol=2e-4)


def test_itrf2014_to_itrf2020_by_the_parameters_applied_by_hand():
    # EPSG:9991: 1.4, 0.9, −1.4 mm, 0.42 ppb; rates 0, 0.1, −0.2 mm a year; 2015.0. At 2025.5 by hand.
    before = np.array([-1641000.0, -3668000.0, 4939000.0])
    years = 2025.5 - 2015.0
    shift = np.array([0.0014, 0.0009 + 0.0001 * years, -0.0014 - 0.0002 * years])
    after = before * (1 + 0.42e-9) + shift
    source, target = named_frame("EPSG:7912", "x"), named_frame("EPSG:9989", "x")
    route = Route(source, target, None, 2025.5, 0.15, "points.csv")
    places = from_geocentric(before[None], source)
    moved = apply_operation(choose_operation(route, places), places, 2025.5)
    assert_allclose(to_geocentric(moved, target)[0], after, rtol=0, atol=1e-5)


# IOGP GIGS test 5201 v2.0: geocentric to geographic, WGS 84, as carried in PROJ test/gigs/5201.gie; degrees
# to 1e-8 where not whole, heights to 0.1 mm of coordinates printed to 0.1 mm, tolerance 1 cm.
GIGS_5201 = [
    (-962479.5924, 555687.8517, 6260738.6526, 80.0, 150.0, 1214.137),
    (-962297.0059, 555582.4354, 6259542.961, 80.0, 150.0, 0.0),
    (-1598248.169, 2768777.623, 5501278.468, 60.00475191, 119.99524538, 619.6317),
    (-1598023.169, 2768387.912, 5500499.045, 60.00475258, 119.9952447, -280.3683),
    (2764210.4054, 4787752.865, 3170468.5199, 30.0, 60.0, 189.569),
    (2764128.3196, 4787610.6883, 3170373.7354, 30.0, 60.0, 0.0),
    (6377934.396, -112.0, 434.0, 0.00392509, -0.00100615, -202.5882),
    (6374934.396, -112.0, 434.0, 0.00392695, -0.00100662, -3202.5881),
    (6367934.396, -112.0, 434.0, 0.00393129, -0.00100773, -10202.5881),
    (2764128.3196, -4787610.6883, -3170373.7354, -30.0, -60.0, 0.0),
    (2763900.3489, -4787215.8313, -3170110.4974, -30.0, -60.0, -526.476),
    (2763880.8633, -4787182.0813, -3170087.9974, -30.0, -60.0, -571.476),
    (-1598023.169, -2768611.912, -5499631.045, -59.99934884, -119.99323757, -935.0995),
    (-1597798.169, -2768222.201, -5498851.622, -59.99934874, -119.99323663, -1835.0995),
    (-962297.0059, -555582.4354, -6259542.961, -80.0, -150.0, 0.0),
    (-962150.945, -555498.1071, -6258586.4616, -80.0, -150.0, -971.255),
    (-961798.2951, -555294.5046, -6256277.0874, -80.0, -150.0, -3316.255),
    (-2187336.719, -112.0, 5971017.093, 70.00490733, -179.99706624, -223.6178),
    (-2904698.5551, -2904698.5551, 4862789.0377, 50.0, -135.0, 0.0),
]


def test_gigs_5201_geocentric_to_geographic():
    table = np.array(GIGS_5201)
    found = from_geocentric(table[:, :3], geographic(pyproj.CRS("EPSG:4326"), "x"))
    assert_allclose(found[:, 0], table[:, 4], rtol=0, atol=1e-7)
    assert_allclose(found[:, 1], table[:, 3], rtol=0, atol=1e-7)
    assert_allclose(found[:, 2], table[:, 5], rtol=0, atol=0.01)


# The parameters of EPSG:10415 and EPSG:10334 (ITRF2020 to NAD83(CSRS)v8 and to NAD83(2011)) applied by hand
# by the formula of method 1053 outside geoqa; degrees to 1e-11, heights to 0.01 mm.
SHIFTS = [
    ("EPSG:10413", 2010.0, (51.0447, -114.0719, 1045.0), (51.04469444887, -114.07188246131, 1045.42008)),
    ("EPSG:10413", 2020.0, (51.0447, -114.0719, 1045.0), (51.04469538263, -114.07187990784, 1045.40822)),
    ("EPSG:10413", 2025.5, (51.0447, -114.0719, 1045.0), (51.0446958962, -114.07187850343, 1045.4017)),
    ("EPSG:10413", 2010.0, (44.65, -63.6, 20.0), (44.64998950751, -63.59999905647, 21.15622)),
    ("EPSG:10413", 2020.0, (44.65, -63.6, 20.0), (44.6499885967, -63.59999693389, 21.14959)),
    ("EPSG:10413", 2025.5, (44.65, -63.6, 20.0), (44.64998809575, -63.59999576647, 21.14595)),
    ("EPSG:6319", 2010.0, (39.74, -104.99, 1591.7), (39.73999435433, -104.98998746133, 1592.57512)),
    ("EPSG:6319", 2020.0, (39.74, -104.99, 1591.7), (39.73999496543, -104.98998556976, 1592.56649)),
    ("EPSG:6319", 2025.5, (39.74, -104.99, 1591.7), (39.73999530154, -104.9899845294, 1592.56175)),
    ("EPSG:6319", 2010.0, (29.8, -95.4, 10.0), (29.79999510625, -95.39999117228, 11.30087)),
    ("EPSG:6319", 2020.0, (29.8, -95.4, 10.0), (29.79999536507, -95.39998975985, 11.29564)),
    ("EPSG:6319", 2025.5, (29.8, -95.4, 10.0), (29.79999550742, -95.39998898302, 11.29277)),
]


@pytest.mark.parametrize(("target", "epoch", "before", "after"), SHIFTS)
def test_shifts_of_frames_come_out_of_a_product_in_degrees(target, epoch, before, after):
    survey = survey_of([[before[1], before[0], before[2]]], geographic=True)
    # The product is in degrees: the frame is a grid around it, which leads back to degrees exactly.
    plan = pyproj.CRS(target).to_2d().to_wkt()
    points = brought(
        survey,
        plan,
        {"crs": "EPSG:9989", "epoch": epoch},
        height_system="ellipsoidal",
        place=(before[1], before[0]),
    )
    # The grid around the site by its definition: the middle of 1000 cells of 1e-6 degree, to 4 decimals.
    middle = np.round([before[1] + 0.0005, before[0] - 0.0005], 4)
    grid = f"+proj=tmerc +lat_0={middle[1]:.4f} +lon_0={middle[0]:.4f} +ellps=GRS80 +type=crs"
    lon, lat = degrees_of(points.position_m[0], grid)
    assert_allclose([lat, lon], after[:2], rtol=0, atol=1e-10)
    assert_allclose(points.position_m[0, 2], after[2], rtol=0, atol=1e-5)
