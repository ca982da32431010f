"""Coordinate epochs: what is asked for, what is told, what is refused."""

import pytest

from geoqa.errors import FrameError
from tests.frame.scenes import brought, survey_of

CALGARY = (-114.0719, 51.0447, 1045.0)
GRID = survey_of([[705_247.0, 5_658_875.0, 1045.0]])
DEGREES = survey_of([CALGARY], geographic=True)
ELLIPSOIDAL = {"height_system": "ellipsoidal"}


@pytest.mark.parametrize(("apart", "told"), [(16.0, True), (5.5, True), (4.5, False), (0.0, False)])
def test_plate_fixed_coordinates_years_apart_are_told(apart, told):
    points = brought(GRID, "EPSG:22811", {"crs": "EPSG:22811", "epoch": 2010.0 + apart}, epoch=2010.0)
    assert any("motion inside the plate" in said for said in points.messages) is told


def test_a_global_epoch_far_from_that_of_a_plate_fixed_map_is_told():
    # The change of datum is done at the epoch of the points; what moved inside the plate since 2010 is left.
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(DEGREES, "EPSG:22811", table, epoch=2010.0, **ELLIPSOIDAL)
    assert any("points at epoch 2026.45 and products at 2010" in said for said in points.messages)
    assert "at epoch 2026.45" in points.file_steps[0][0].operation


def test_one_moving_datum_and_one_epoch_missing_is_told():
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(DEGREES, "EPSG:32611", {**table, **ELLIPSOIDAL}, frame="EPSG:9989", **ELLIPSOIDAL)
    assert any(said.startswith("The products: no epoch is stated") for said in points.messages)
    other = brought(
        DEGREES, "EPSG:32611", {"crs": "EPSG:9989"}, frame="EPSG:9989", epoch=2026.45, **ELLIPSOIDAL
    )
    assert any(said.startswith("points.csv: no epoch is stated") for said in other.messages)


def test_one_moving_datum_at_one_epoch_needs_no_word():
    table = {"crs": "EPSG:9989", "epoch": 2026.45}
    points = brought(DEGREES, "EPSG:32611", table, frame="EPSG:9989", epoch=2026.45, **ELLIPSOIDAL)
    assert not any("epoch" in said for said in points.messages)


@pytest.mark.parametrize(
    ("table", "crs", "elevation", "words"),
    [
        ({"crs": "EPSG:9989"}, "EPSG:22811", {}, r"ITRF2020, the datum of the points.*points\.epoch"),
        (
            {"crs": "EPSG:10413"},
            "EPSG:32611",
            {"frame": "EPSG:9989"},
            r"datum of the products.*elevation\.epoch",
        ),
        (
            {"crs": "EPSG:9989", "epoch": 2026.45},
            "EPSG:32611",
            {"frame": "EPSG:9989", "epoch": 2020.0},
            "no velocity model is applied",
        ),
    ],
)
def test_a_moving_datum_without_its_epoch_is_refused(table, crs, elevation, words):
    with pytest.raises(FrameError, match=words):
        brought(DEGREES, crs, table, **ELLIPSOIDAL, **elevation)
