import pytest

from geoqa.accuracy.options import Option, read_options
from geoqa.errors import SettingsError
from geoqa.records.settings import Requirement
from geoqa.standards import check_options

LENGTH = Option("limit_m", "A limit", "m")
SCALE = Option("scale", "Scale number of the map", required=True)
LEVEL = Option("level", "A level", choices=("QL1", "QL2"))
CLASS = Option("class", "A class", choices=(1, 2, 3))


@pytest.mark.parametrize("value", [0, -0.1, "5 cm", True, float("inf"), None, [1]])
def test_a_length_is_a_number_above_zero(value):
    with pytest.raises(SettingsError, match="limit_m must be a length in metres above 0"):
        read_options("some-standard", {"limit_m": value}, (LENGTH,))


@pytest.mark.parametrize(
    ("option", "value"), [(LEVEL, "ql1"), (LEVEL, 1), (CLASS, 4), (CLASS, True), (CLASS, "1")]
)
def test_a_choice_is_one_of_its_values(option, value):
    with pytest.raises(SettingsError, match=f"{option.name} must be one of"):
        read_options("some-standard", {option.name: value}, (option,))


def test_an_unknown_option_is_named_with_the_known_ones():
    with pytest.raises(
        SettingsError, match=r"some-standard: the option “size” is not known. Use limit_m or level."
    ):
        read_options("some-standard", {"size": 1200}, (LENGTH, LEVEL))
    with pytest.raises(SettingsError, match=r"“scale” is not known. It has none."):
        read_options("some-standard", {"scale": 1200}, ())


def test_a_missing_option_is_named_with_its_meaning():
    with pytest.raises(
        SettingsError, match=r"scale is missing. It is a number above 0: Scale number of the map."
    ):
        read_options("some-standard", {}, (SCALE,))


def test_all_mistakes_come_at_once():
    with pytest.raises(SettingsError) as caught:
        read_options("some-standard", {"limit_m": -1, "size": 2}, (LENGTH, SCALE))
    assert len(str(caught.value).splitlines()) == 3


def test_values_come_out_in_their_type():
    given = {"limit_m": 1, "scale": 500, "level": "QL2", "class": 2.0}
    found = read_options("some-standard", given, (LENGTH, SCALE, LEVEL, CLASS))
    assert found == {"limit_m": 1.0, "scale": 500.0, "level": "QL2", "class": 2}


def test_options_are_checked_before_anything_is_measured():
    with pytest.raises(SettingsError, match="nmas-1947: scale is missing"):
        check_options(Requirement(standards=("asprs-2023", "nmas-1947")))
    check_options(Requirement(standards=({"id": "nmas-1947", "scale": 1200},)))
