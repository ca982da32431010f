"""Products in degrees or in Web Mercator: lengths on the ground, and a grid to measure in."""

import numpy as np
import pyproj
import pytest
from affine import Affine
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.frame.declare import common_frame
from geoqa.frame.ground import coarse_grid, local_grid_at, stretch, why_no_ground_metres
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.frame.rasters import covariance_to_m2, from_pixels, outline_m, to_pixels
from geoqa.frame.transform import marks_to_frame
from geoqa.numerics.cell_shape import cell_stretch
from geoqa.records.points import CommonFrame
from geoqa.records.settings import Points
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, raster_of, settings_of, survey_of
from tests.frame.test_transform import AXIS_M, ECCENTRICITY_2, by_hand, east_north_up, geocentric

CALGARY = (-114.0719, 51.0447)
DISPLAY = ["EPSG:4326", "EPSG:4258", "EPSG:3857", "EPSG:3395"]


def place_in(crs: str, lon_lat=CALGARY):
    return from_geographic(np.array([lon_lat]), pyproj.CRS(crs))[0]


def product_in(crs: str, lon_lat=CALGARY, cell_m=0.05, shape=(400, 400)):
    """Return a raster around a place whose cells are about this long on the ground, north to south."""
    east, north = place_in(crs, lon_lat)
    step = cell_m / 111_000 if pyproj.CRS(crs).is_geographic else cell_m / np.cos(np.radians(lon_lat[1]))
    rows, cols = shape
    transform = Affine(step, 0.0, east - cols / 2 * step, 0.0, -step, north + rows / 2 * step)
    return raster_of(crs, shape=shape, transform=transform)


def frame_of(info):
    return common_frame(None, info, settings_of(), None)


@pytest.mark.parametrize("crs", DISPLAY)
def test_the_frame_is_a_grid_around_the_site_and_it_is_said(crs):
    products = frame_of(product_in(crs))
    assert products.frame.name.startswith("Local transverse Mercator grid at 51.0447° N, 114.0719° W")
    assert products.frame.unit is LinearUnit.METRE
    assert products.frame.crs.to_authority() is None
    assert any("does not count metres on the ground" in said for said in products.frame.assumptions)
    assert products.elevation is not None
    assert any("deliver the product in a survey grid" in note for note in products.elevation.notes)
    assert products.crs.equals(pyproj.CRS(crs))


@pytest.mark.parametrize(
    "crs", ["EPSG:25832", "EPSG:2994", "EPSG:27700", "EPSG:2193", "EPSG:6428", "EPSG:2056"]
)
def test_a_survey_grid_is_its_own_frame(crs):
    area = pyproj.CRS(crs).area_of_use
    place = place_in(crs, ((area.west + area.east) / 2, (area.south + area.north) / 2))
    settings = settings_of(elevation={"unit": "metre"})
    products = common_frame(None, raster_of(crs, origin=tuple(place)), settings, None)
    assert products.frame.crs.equals(pyproj.CRS(crs))
    assert products.elevation.ground_axes_m is None
    assert products.elevation.notes == ()


@pytest.mark.parametrize("crs", DISPLAY)
@pytest.mark.parametrize("lon_lat", [CALGARY, (10.0, 0.001), (151.2, -33.9), (179.9995, -17.0), (25.0, 70.0)])
def test_differences_are_east_and_north_on_the_ground(crs, lon_lat):
    info = product_in(crs, lon_lat)
    frame = frame_of(info).frame
    # A place and another one 0.3 m away, geocentric by EPSG method 9602 and turned to the horizon by 9836.
    start = np.array([[200.0, 200.0]])
    ends = start + np.array([[3.0, 0.0], [0.0, 5.0], [-4.0, 2.0]])
    there = from_pixels(ends, frame, info) - from_pixels(start, frame, info)
    t = info.transform
    plan = [(t.c + t.a * col, t.f + t.e * row) for row, col in np.vstack([start, ends])]
    lon_lats = to_geographic(np.array(plan), pyproj.CRS(crs))
    xyz = np.array([geocentric(lon, lat, 0.0) for lon, lat in lon_lats])
    by_hand = np.array([east_north_up(one - xyz[0], *lon_lats[0]) for one in xyz[1:]])
    assert_allclose(there, by_hand[:, :2], rtol=0, atol=1e-6)


@pytest.mark.parametrize("crs", DISPLAY)
def test_pixels_to_positions_and_back_is_where_one_started(crs):
    info = product_in(crs)
    frame = frame_of(info).frame
    pixels = np.random.default_rng(2).uniform(0, 400, (30, 2))
    # A millionth of a pixel of 5 cm.
    assert_allclose(to_pixels(from_pixels(pixels, frame, info), frame, info), pixels, rtol=0, atol=1e-6)


def radii(latitude=CALGARY[1]):
    """Return the radii of curvature of GRS 1980, east-west and north-south."""
    flat = 1 - ECCENTRICITY_2 * np.sin(np.radians(latitude)) ** 2
    return AXIS_M / np.sqrt(flat), AXIS_M * (1 - ECCENTRICITY_2) / flat**1.5


def test_cells_in_degrees_have_a_size_on_the_ground():
    info = product_in("EPSG:4258")
    assert np.isnan(info.cell_axes_m).all()
    assert np.isnan(info.cell_size_m)
    known = frame_of(info).elevation
    across, along = radii()
    degree = np.radians(info.transform.a)
    east, north = degree * across * np.cos(np.radians(CALGARY[1])), degree * along
    # A thousandth: the turn of the meridians over 10 m.
    assert_allclose(known.cell_axes_m, [[0.0, east], [-north, 0.0]], rtol=1e-6, atol=1e-6 * north)
    assert known.cell_size_m == pytest.approx(np.sqrt(east * north), rel=1e-6)
    # A step of a row is a step along the meridian.
    aspect = (north / east) ** 0.5
    assert_allclose(
        cell_stretch(known.cell_axes_m), [[aspect, 0.0], [0.0, 1.0 / aspect]], rtol=1e-6, atol=1e-6
    )
    assert np.isnan(cell_stretch(info.cell_axes_m)).all()


def test_cells_in_web_mercator_shrink_by_the_cosine_of_the_latitude():
    info = product_in("EPSG:3857")
    known = frame_of(info).elevation
    across, along = radii()
    cell, cosine = info.transform.a, np.cos(np.radians(CALGARY[1]))
    # Method 1024 takes latitudes of the ellipsoid for those of a sphere: 1 / (a cos φ) either way.
    east, north = cell * across * cosine / AXIS_M, cell * along * cosine / AXIS_M
    assert_allclose(known.cell_axes_m, [[0.0, east], [-north, 0.0]], rtol=1e-6, atol=1e-6 * north)
    assert known.cell_size_m == pytest.approx(0.05, rel=0.005)


def test_a_survey_grid_keeps_the_cells_of_its_own_numbers():
    info = raster_of("EPSG:2994", cell=3.0)
    # [NIST SP 811], appendix B.6.
    assert_allclose(info.cell_axes_m, [[0.0, 3 * 0.3048], [-3 * 0.3048, 0.0]], rtol=1e-15, atol=0)
    assert info.cell_size_m == pytest.approx(3 * 0.3048, rel=1e-15)
    assert_allclose(cell_stretch(info.cell_axes_m), np.eye(2), rtol=0, atol=1e-15)


def test_the_other_product_may_bring_the_survey_grid():
    ortho = product_in("EPSG:4258", (9.0, 50.0))
    east, north = place_in("EPSG:25832", (9.0, 50.0))
    surface = raster_of("EPSG:25832", origin=(east, north))
    settings = settings_of(orthomosaic={})
    products = common_frame(ortho, surface, settings, None)
    assert products.frame.crs.equals(pyproj.CRS("EPSG:25832"))
    assert products.orthomosaic.ground_axes_m is not None
    assert products.elevation.ground_axes_m is None
    # 9° is the meridian of zone 32: east is east, and lengths shrink to 0.9996.
    across, along = radii(50.0)
    side = np.radians(ortho.transform.a) * np.sqrt(across * along * np.cos(np.radians(50.0)))
    assert products.orthomosaic.cell_size_m == pytest.approx(0.9996 * side, rel=1e-6)
    marks = survey_of([[9.0, 50.0]], geographic=True, source="marks.csv")
    there = marks_to_frame(marks, products, [Points(path="points.csv")])
    assert_allclose(there.position_m[0, :2], [east, north], rtol=0, atol=1e-6)


def test_points_without_a_crs_are_in_that_of_the_product_and_not_of_the_frame():
    place = place_in("EPSG:3857")
    survey = survey_of([[*place, 10.0]])
    points = brought(survey, "EPSG:3857", place=tuple(place))
    assert any("EPSG:3857" in said and "nothing states the CRS" in said for said in points.assumptions)
    # The raster of 1000 by 1000 cells of 1 m has its corner there, its middle 500 m further: 314.5 m on the
    # ground, a little more or less for the ellipsoid.
    assert_allclose(points.position_m[0, :2], [-314.5, 314.5], rtol=0, atol=4.0)
    assert [step.title for step in points.file_steps[0]] == ["projection change"]


def test_longitude_and_latitude_meet_a_product_in_degrees():
    survey = survey_of([[*CALGARY, 1045.0]], geographic=True)
    points = brought(survey, "EPSG:4326", place=(CALGARY[0] - 0.0005, CALGARY[1] + 0.0005))
    assert_allclose(points.position_m[0], [0.0, 0.0, 1045.0], rtol=0, atol=8.0)


def test_a_datum_is_changed_before_it_comes_into_the_grid_of_the_site():
    # A product labelled WGS 84 in degrees that is really in NAD83(CSRS)v8.
    survey = survey_of([[*CALGARY, 1045.0]], geographic=True)
    given = {"height_system": "ellipsoidal", "frame": "EPSG:10413", "place": CALGARY}
    moved = brought(survey, "EPSG:4326", {"crs": "EPSG:9989", "epoch": 2020.0}, **given)
    stayed = brought(survey, "EPSG:4326", {"crs": "EPSG:10413"}, **given)
    # By the published parameters (EPSG method 1053) and the horizon of the place, on the ellipsoid: a grid
    # counts lengths there, shorter by h / R, 164 parts in a million, than at 1045 m.
    lon, lat, height = by_hand(*CALGARY, 1045.0, 2020.0)
    change = east_north_up(geocentric(lon, lat, 0.0) - geocentric(*CALGARY, 0.0), *CALGARY)
    expected = [[change[0], change[1], height - 1045.0]]
    # The site of the scene is 37 m wide: its north turns by 7 millionths.
    assert_allclose(moved.position_m - stayed.position_m, expected, rtol=0, atol=2e-5)


def test_two_lists_in_degrees_are_compared_in_a_grid_around_the_first_point():
    survey = survey_of([[*CALGARY, 1045.0]], geographic=True)
    settings = settings_of([{"crs": "EPSG:4955"}])
    products = common_frame(None, None, settings, pyproj.CRS("EPSG:4955"), surveys=[survey])
    assert products.frame.name.startswith(
        "Local transverse Mercator grid at 51.0447° N, 114.0719° W (NAD83(CSRS))"
    )
    marks = marks_to_frame(
        survey_of([[CALGARY[0], CALGARY[1] + 1e-6, 1045.0]], geographic=True), products, settings.points
    )
    _, along = radii()
    assert_allclose(marks.position_m[0], [0.0, np.radians(1e-6) * along, 1045.0], rtol=0, atol=1e-6)


def test_covariance_is_that_on_the_ground():
    info = product_in("EPSG:3857")
    frame = frame_of(info).frame
    (metres,) = covariance_to_m2(np.eye(2)[None], frame, info, np.array([[200.0, 200.0]]))
    across, along = radii()
    cell = info.transform.a * np.cos(np.radians(CALGARY[1])) / AXIS_M
    assert_allclose(metres, np.diag([(cell * across) ** 2, (cell * along) ** 2]), rtol=1e-6, atol=1e-9)


def test_the_outline_is_that_on_the_ground():
    info = product_in("EPSG:3857", cell_m=1.0, shape=(100, 200))
    ring = outline_m(info, frame_of(info).frame)
    x, y = ring.T
    area = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    across, along = radii()
    true = 100 * 200 * across * along / AXIS_M**2
    assert area == pytest.approx(true, rel=1e-5)


def test_stretch_of_known_projections():
    # Mercator: 1/cos φ on a sphere. UTM: 0.9996 on its meridian.
    web = stretch(pyproj.CRS("EPSG:3857"), place_in("EPSG:3857", (10.0, 60.0)))
    assert web == pytest.approx(1 / np.cos(np.radians(60.0)) - 1, abs=0.011)
    meridian = stretch(pyproj.CRS("EPSG:25832"), place_in("EPSG:25832", (9.0, 50.0)))
    assert meridian == pytest.approx(-0.0004, abs=1e-8)


def test_a_display_projection_near_the_equator_is_one_all_the_same():
    assert "made for display" in why_no_ground_metres(
        pyproj.CRS("EPSG:3857"), place_in("EPSG:3857", (10.0, 0.5))
    )


def test_a_grid_of_a_continent_stays_and_its_stretch_is_told():
    # ETRS89-LCC Europe: standard parallels 35° and 65°, so that lengths at 50° are short by some per cent.
    crs, place = pyproj.CRS("EPSG:3034"), place_in("EPSG:3034", (10.0, 50.0))
    assert why_no_ground_metres(crs, place) is None
    assert "shorter than on the ground" in coarse_grid(crs, place)
    products = frame_of(raster_of("EPSG:3034", origin=tuple(place)))
    assert products.frame.crs.equals(crs)
    assert any("EPSG:3034 are 3" in note for note in products.elevation.notes)


def test_a_georeference_off_the_earth_is_refused():
    with pytest.raises(FrameError, match=r"surface\.tif: .* is no place on the Earth"):
        frame_of(raster_of("EPSG:4326", origin=(500_000.0, 5_400_000.0)))


def test_the_grid_of_a_site_does_not_change_with_its_last_cell():
    crs = pyproj.CRS("EPSG:4258")
    one = local_grid_at(crs, np.array([10.000021, 50.000012]), "x")
    other = local_grid_at(crs, np.array([10.000022, 50.000011]), "x")
    assert one.equals(other)
    assert isinstance(CommonFrame(one, LinearUnit.METRE, "not stated").name, str)
