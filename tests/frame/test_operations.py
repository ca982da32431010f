"""The chooser of operations: one for all, known to be good, and not fetched behind one's back."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose
from pyproj.aoi import AreaOfUse

from geoqa.errors import FrameError
from geoqa.frame.datums import named_frame
from geoqa.frame.grids import area_around, covers, network, offered
from geoqa.frame.heights import counting_from, height_system
from geoqa.frame.legs import Leg
from geoqa.frame.operations import Route, apply_operation, change_m, choose_operation, missing_grids

CALGARY = np.array([[-114.0719, 51.0447, 1045.0], [-114.0619, 51.0547, 1060.0]])
HESSE = np.array([[9.0, 50.2, 300.0]])
GERMANY = np.array([[9.0, 48.0, 500.0]])


def route_of(source, target, *, via=None, epoch=None, limit_m=0.15):
    frames = [None if code is None else named_frame(code, "x") for code in (source, target, via)]
    return Route(*frames, epoch=epoch, limit_m=limit_m, where="points.csv")


def test_the_step_of_the_operation_is_named_with_its_code_and_accuracy():
    operation = choose_operation(route_of("EPSG:4283", "EPSG:7844"), np.array([[147.0, -35.0, 100.0]]))
    assert operation.name == "GDA94 to GDA2020 (1) (EPSG:8048)"
    assert operation.accuracy_m == pytest.approx(0.01)  # EPSG dataset, operation 8048


def test_no_accuracy_that_is_unknown_or_too_coarse_is_taken():
    # EPSG dataset: DHDN to ETRS89 (2), operation 1776, 3 m.
    with pytest.raises(FrameError, match=r"good to 0\.15 m here\. There is .*EPSG:1776.* \(3 m\)"):
        choose_operation(route_of("EPSG:4314", "EPSG:4258"), GERMANY)
    coarse = choose_operation(route_of("EPSG:4314", "EPSG:4258", limit_m=5.0), HESSE)
    assert coarse.accuracy_m == pytest.approx(1.0)
    assert any("de_hvbg_hessen_HeTA2010.tif" in sentence for sentence in coarse.better)


def test_an_operation_of_unknown_accuracy_is_not_taken():
    # Parameters that a CRS carries along have no accuracy.
    bound = pyproj.CRS("+proj=longlat +ellps=bessel +towgs84=598.1,73.7,418.2 +type=crs")
    route = Route(bound.to_3d(), named_frame("EPSG:4326", "x"), None, None, 5.0, "points.csv")
    with pytest.raises(FrameError, match="no operation"):
        choose_operation(route, GERMANY)


def test_a_ballpark_offset_is_not_even_offered():
    generic, version_7 = named_frame("EPSG:4617", "x"), named_frame("EPSG:8255", "x")
    assert offered(version_7, generic, area_around(CALGARY)).transformers == []


def test_an_operation_for_elsewhere_is_not_taken():
    # NAD83(CSRS)v8 is defined for Canada; the site lies in Portugal.
    with pytest.raises(FrameError, match="no operation from ITRF2020"):
        choose_operation(route_of("EPSG:9989", "EPSG:10413", epoch=2026.0), np.array([[-8.0, 40.0, 0.0]]))


def test_a_site_half_outside_the_area_of_use_gets_no_operation():
    astride = np.array([[-6.0, 35.0, 0.0], [-17.0, 35.0, 0.0]])
    with pytest.raises(FrameError, match="no operation from ITRF2020"):
        choose_operation(route_of("EPSG:9989", "EPSG:7931", epoch=2026.0), astride)


def test_a_time_dependent_operation_between_plate_fixed_frames_asks_for_the_epoch():
    # From a plate-fixed frame to another through a global one.
    route = route_of("EPSG:7844", "EPSG:4167", via="EPSG:9989")
    with pytest.raises(FrameError, match=r"depends on the coordinate epoch \(\d+\.\d cm a year here\)"):
        choose_operation(route, np.array([[150.0, -34.0, 0.0]]))


def test_the_accuracy_of_two_legs_is_added():
    place = np.array([[147.0, -35.0, 100.0]])
    first, second = (
        choose_operation(route_of(*leg, epoch=2020.0), place).accuracy_m
        for leg in (("EPSG:4283", "EPSG:7844"), ("EPSG:7844", "EPSG:9989"))
    )
    whole = choose_operation(route_of("EPSG:4283", "EPSG:9989", via="EPSG:7844", epoch=2020.0), place)
    assert min(first, second) > 0.0
    assert whole.accuracy_m == pytest.approx(first + second)
    with pytest.raises(FrameError, match=r"only good to|is known that is good to"):
        choose_operation(
            route_of("EPSG:9989", "EPSG:4258", via="EPSG:7931", epoch=2026.0, limit_m=0.0999), GERMANY
        )


def test_there_and_back_is_where_one_started():
    there, back = (
        route_of("EPSG:9989", "EPSG:10413", epoch=2026.45),
        route_of("EPSG:10413", "EPSG:9989", epoch=2026.45),
    )
    moved = apply_operation(choose_operation(there, CALGARY), CALGARY, 2026.45)
    returned = apply_operation(choose_operation(back, moved), moved, 2026.45)
    assert np.linalg.norm(change_m(CALGARY, moved), axis=1).min() > 1.0
    assert_allclose(change_m(CALGARY, returned), 0.0, rtol=0, atol=1e-6)


def test_rows_that_fail_are_marked_and_do_not_take_the_others_along():
    operation = choose_operation(route_of("EPSG:9989", "EPSG:10413", epoch=2026.0), CALGARY)
    moved = apply_operation(operation, np.vstack([CALGARY, [[np.inf, np.inf, 0.0]]]), 2026.0)
    assert np.isfinite(moved[:2]).all()
    assert np.isnan(moved[2]).all()


def test_missing_grids_are_named_with_ways_to_get_them():
    told = missing_grids(
        named_frame("EPSG:4258", "x"), named_frame("EPSG:4277", "x"), np.array([[-1.0, 52.0, 0.0]])
    )
    assert "uk_os_OSTN15_NTv2_OSGBtoETRS.tif" in told
    assert "pyproj sync" in told
    assert "proj-data" in told


def test_change_is_metres_east_north_up():
    start = np.array([[10.0, 60.0, 0.0]])
    # Lengths of a degree at 60° on GRS 1980: 55.80 km of longitude, 111.41 km of latitude (handbook table).
    moved = change_m(start, start + np.array([1e-5, 1e-5, 0.25]))
    assert_allclose(moved, [[0.5580, 1.1141, 0.25]], rtol=0, atol=1e-4)
    across = change_m(np.array([[179.999995, 0.0, 0.0]]), np.array([[-179.999995, 0.0, 0.0]]))
    assert_allclose(across, [[1.1132, 0.0, 0.0]], rtol=0, atol=1e-4)


def test_a_site_across_the_180th_meridian_is_small():
    area = area_around(np.array([[179.99, -17.0], [-179.99, -17.01]]))
    assert area.west_lon_degree > area.east_lon_degree
    fiji = SimpleNamespace(
        area_of_use=AreaOfUse(west=176.8, south=-20.8, east=-178.1, north=-12.4, name="Fiji")
    )
    world = SimpleNamespace(area_of_use=AreaOfUse(west=-180, south=-90, east=180, north=90, name="World"))
    tonga = SimpleNamespace(
        area_of_use=AreaOfUse(west=-179.0, south=-25.7, east=-171.3, north=-14.1, name="Tonga")
    )
    assert [covers(item, area) for item in (fiji, world, tonga)] == [True, True, False]


def test_longitudes_up_to_360_are_the_same_places():
    one, other = (area_around(np.array([[lon, 40.0], [lon + 0.1, 40.1]])) for lon in (-75.0, 285.0))
    assert_allclose(
        [one.west_lon_degree, one.east_lon_degree], [other.west_lon_degree, other.east_lon_degree], atol=1e-9
    )


def test_the_network_is_off_and_left_as_it_was():
    before = pyproj.network.is_network_enabled()
    pyproj.network.set_network_enabled(active=True)
    try:
        with network(active=False):
            assert not pyproj.network.is_network_enabled()
        assert pyproj.network.is_network_enabled()
    finally:
        pyproj.network.set_network_enabled(active=before)


@pytest.mark.parametrize("wanted", [False, True])
def test_the_network_is_on_for_an_operation_only_where_it_is_asked_for(monkeypatch, wanted):
    seen = []

    def watched(*ends):
        seen.append(pyproj.network.is_network_enabled())
        return offered(*ends)

    monkeypatch.setattr("geoqa.frame.operations.offered", watched)
    route = replace(route_of("EPSG:4283", "EPSG:7844"), network=wanted)
    place = np.array([[147.0, -35.0, 100.0]])
    before = pyproj.network.is_network_enabled()
    operation = choose_operation(route, place)
    assert seen == [wanted]
    assert operation.network is wanted
    assert pyproj.network.is_network_enabled() is before


def test_a_height_step_is_told_from_a_change_of_datum():
    # PROJ: what the transformer of a height system contains, and that of a datum does not.
    offset = Leg(pyproj.Transformer.from_pipeline("+proj=vertoffset +lat_0=46 +lon_0=8 +dh=-0.2"))
    helmert = Leg(pyproj.Transformer.from_pipeline("+proj=helmert +x=1"))
    assert offset.changes_heights
    assert not helmert.changes_heights


def test_an_operation_without_a_height_step_is_not_taken_for_one(monkeypatch):
    # Such as PROJ offers where it only bridges the datum: heights would go through unchanged.
    bare = SimpleNamespace(
        accuracy=0.01,
        definition="proj=noop",
        description="Datum alone",
        operations=(),
        area_of_use=None,
        transform=lambda lon, lat, height, *, errcheck: (lon, lat, height),
    )
    monkeypatch.setattr(
        "geoqa.frame.operations.offered",
        lambda *_: SimpleNamespace(transformers=[bare], unavailable_operations=[]),
    )
    source = named_frame("EPSG:4937", "x")
    target = counting_from(source, height_system("EPSG:7837", "x"))
    with pytest.raises(FrameError, match="no operation from ETRS89 with ellipsoidal heights"):
        choose_operation(Route(source, target, None, None, 0.15, "points.csv"), GERMANY)
