import pytest

from geoqa.accuracy.limits import centimetres, checkpoints, length_options, metres, within_limit
from geoqa.errors import SettingsError


def test_a_figure_is_compared_unrounded():
    """[ASPRS2023]: 0.050049 m prints as 5.0 cm and is not within a 5.0 cm class."""
    assert within_limit(0.05, 0.05)
    assert not within_limit(0.050049, 0.05)
    assert not within_limit(0.0500001, 0.05)


def test_the_noise_of_coordinates_does_not_decide():
    """A double of five million metres steps by a nanometre."""
    assert within_limit((5_000_000.05 - 5_000_000.0), 0.05)
    assert 5_000_000.05 - 5_000_000.0 != 0.05


def test_nothing_is_within_a_limit_that_is_not_known():
    assert not within_limit(float("nan"), 0.05)


def test_a_figure_never_prints_like_a_limit_that_it_misses():
    assert metres(0.0212, 0.05) == "0.021 m"
    assert metres(0.0504, 0.05) == "0.0504 m"
    assert metres(0.050049, 0.05) == "0.05005 m"
    assert metres(0.05, 0.05) == "0.050 m"
    assert centimetres(0.0496, 0.05) == "4.96 cm"


def test_one_checkpoint_is_singular():
    assert (checkpoints(1), checkpoints(14)) == ("1 checkpoint", "14 checkpoints")


@pytest.mark.parametrize("value", [0, -0.1, "5 cm", True, float("inf"), None])
def test_an_option_must_be_a_length(value):
    with pytest.raises(SettingsError, match="limit_m must be a length in metres above 0"):
        length_options("some-standard", {"limit_m": value}, ("limit_m",))


def test_an_unknown_option_is_named_with_the_known_ones():
    with pytest.raises(SettingsError, match=r"some-standard: the option “scale” is not known. Use limit_m."):
        length_options("some-standard", {"scale": 1200}, ("limit_m",))
    with pytest.raises(SettingsError, match=r"“scale” is not known. It has none."):
        length_options("some-standard", {"scale": 1200}, ())
    assert length_options("some-standard", {"limit_m": 1}, ("limit_m",)) == {"limit_m": 1.0}
