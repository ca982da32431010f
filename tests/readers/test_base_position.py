"""Both positions of a base, from the settings and from SINEX files."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError, InputError
from geoqa.frame.base_shift import base_corrections
from geoqa.readers.base_position import given_base, read_bases, sinex_files
from geoqa.records.base import PositionKind
from geoqa.records.base_settings import Base
from geoqa.records.settings import Limits, Settings
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import geographic, table
from tests.frame.test_base_shift import place_of
from tests.readers.sinex_text import COVARIANCE_M2, EPOCH, POSITION_M, SIGMA_M, sinex
from tests.readers.test_sinex import VELOCITY, with_velocity

NEARBY = place_of(-1.8, 1.2, -3.4, start=hand.geographic(np.array(POSITION_M)))


@pytest.fixture
def with_sinex(tmp_path):
    def given(text=None, precise=None, **more):
        (tmp_path / "base.snx").write_text(sinex() if text is None else text)
        position = {"sinex": "base.snx", "site": "BASE"} | (precise or {})
        filled = {"assumed": geographic(NEARBY), "precise": position} | more
        return given_base(Base(**table(**filled)), "base", lambda name: str(tmp_path / name))

    return given


def corrected(base):
    (found,) = base_corrections([base], Limits())
    return found


def test_sinex_gives_position_epoch_and_covariance(with_sinex):
    base = with_sinex(epoch=2025.5)
    assert base.precise.kind is PositionKind.GEOCENTRIC
    assert_allclose(base.precise.numbers, POSITION_M, rtol=0, atol=1e-8)
    # The epoch is that of the estimate; that of the settings is a day off and counts as the same.
    assert base.precise.epoch == pytest.approx(EPOCH)
    found = corrected(base)
    expected = np.array(POSITION_M) - hand.geocentric(NEARBY)
    assert_allclose(found.shift_m, expected, rtol=0, atol=1e-6)
    turn = hand.horizon(hand.geographic(np.array(POSITION_M)))
    assert_allclose(found.covariance_m2, turn @ np.array(COVARIANCE_M2) @ turn.T, rtol=1e-9, atol=0)
    # Printed beside the sample: 5.5, 5.9 and 11.3 mm.
    assert_allclose(1000 * found.sigma_m, [5.5, 5.9, 11.3], rtol=0, atol=0.05)
    assert "base.snx, station BASE A 1" in found.source


def test_frame_is_asked_for_and_never_taken_from_a_remark(with_sinex):
    base = with_sinex(crs=None, assumed=geographic(NEARBY, crs="EPSG:9989"))
    with pytest.raises(FrameError, match=r"base\.precise: nothing says .*remarks “ITRF2020”"):
        corrected(base)


@pytest.mark.parametrize(
    ("remark", "crs", "told"),
    [
        ("ITRF2020", "EPSG:9988", False),
        ("IGS20", "EPSG:9988", False),
        ("ITRF14", "EPSG:9988", True),
        ("IGb14", "EPSG:7789", False),
        ("a frame of our own", "EPSG:9988", False),
    ],
)
def test_remark_that_names_another_frame_is_told(with_sinex, remark, crs, told):
    base = with_sinex(sinex(frame=remark), crs=crs, epoch=2025.5)
    messages = [text for text in corrected(base).messages if "remarks" in text]
    assert bool(messages) == told
    if told:
        assert f"“{remark}”" in messages[0]


def test_velocity_brings_the_position_to_the_epoch_of_the_settings(with_sinex):
    base = with_sinex(sinex(with_velocity(), matrix=[]), epoch=2026.45)
    years = 2026.45 - EPOCH
    assert base.precise.epoch == 2026.45
    assert_allclose(
        base.precise.numbers, np.array(POSITION_M) + years * np.array(VELOCITY), rtol=0, atol=1e-8
    )
    variances = np.square(SIGMA_M) + years**2 * np.square([2e-4, 3e-4, 4e-4])
    assert_allclose(base.precise.covariance_m2, np.diag(variances), rtol=1e-12, atol=1e-20)
    assert "moved from epoch 2025.498 by its velocity" in base.precise.source


def test_without_a_velocity_the_epoch_is_not_changed(with_sinex):
    with pytest.raises(InputError, match=r"at epoch 2025\.498 and no velocity"):
        with_sinex(precise={"epoch": 2026.45})
    with pytest.raises(FrameError, match="coordinates move with time"):
        corrected(with_sinex(epoch=2026.45))


def test_standard_deviations_of_the_settings_stand_before_those_of_the_file(with_sinex):
    base = with_sinex(precise={"sigma_m": [0.01, 0.02, 0.03]}, epoch=2025.5)
    assert_allclose(corrected(base).sigma_m, [0.01, 0.02, 0.03], rtol=1e-12, atol=0)
    assert "standard deviations are those of the settings" in base.precise.source


def test_sinex_gives_the_marker_and_not_the_antenna(with_sinex):
    antenna = {"reference": "antenna reference point", "antenna_height_m": 1.8}
    with pytest.raises(InputError, match=r"position of the marker, 1\.8 m below the antenna"):
        with_sinex(**antenna)
    # Without an eccentricity marker and antenna may be one: then the settings decide.
    base = with_sinex(sinex(up=None), epoch=2025.5, **antenna)
    lowered = hand.geographic(np.array(POSITION_M)) - np.array([0.0, 0.0, 1.8])
    assert_allclose(corrected(base).precise_m, hand.geocentric(lowered), rtol=0, atol=1e-6)


def settings_with(*bases):
    return Settings(
        points={"path": "points.csv"}, targets={"marks": "marks.csv"}, base=bases, folder="/survey"
    )


def test_bases_are_named_by_their_place_in_the_settings():
    one, two = read_bases(settings_with(table(session="A"), table(session="B")))
    assert (one.key, two.precise.key) == ("base[0]", "base[1].precise")
    (alone,) = read_bases(settings_with(table()))
    assert alone.key == "base"
    assert read_bases(settings_with()) == ()


def test_position_takes_crs_and_epoch_of_the_table_unless_it_has_its_own():
    (base,) = read_bases(settings_with(table(geographic(hand.ASSUMED, crs="EPSG:6319", epoch=2010.0))))
    assert (base.assumed.crs, base.assumed.epoch) == ("EPSG:6319", 2010.0)
    assert (base.precise.crs, base.precise.epoch) == ("EPSG:9989", 2026.45)


def test_sinex_files_are_named_once():
    twice = (
        table(precise={"sinex": "base.snx"}, session="A"),
        table(precise={"sinex": "base.snx"}, session="B"),
    )
    assert list(sinex_files(settings_with(*twice))) == ["/survey/base.snx"]
