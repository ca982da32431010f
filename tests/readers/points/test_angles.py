"""Angles as people write them. Expected values are worked out beside each; forms are common practice."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.readers.points._angles import degrees, is_parted, packed_degrees

# 51° + 2/60 + 40.92/3600 = 51.0447° exactly: 2 · 60 s + 40.92 s = 160.92 s = 0.0447°.
SAME = [
    *("51.0447", "+51.0447", "51.0447 N", "N51.0447", "51.0447°", "51.0447° n"),
    *("51 02 40.92", "51 2 40.92 N", "N 51 02 40.92", "51°02'40.92\"N", "51° 02′ 40.92″", "51º 02’ 40.92”"),
    *("51:02:40.92", "51-02-40.92N", "51d02'40.92\"", "51°02'40.92''N", "51 02.682", "51°02.682' N"),
]


@pytest.mark.parametrize("cell", SAME)
def test_forms_of_one_latitude_are_one_number(cell):
    assert degrees(cell, "NS") == pytest.approx(51.0447, rel=0, abs=1e-12)


@pytest.mark.parametrize(
    "cell", ["-0 30 36", "−0°30′36″", "0 30 36 W", "w 0 30 36", "-0:30:36", "-0.51", "0.51W"]
)
def test_west_and_minus_are_negative_below_one_degree_too(cell):
    assert degrees(cell, "EW") == pytest.approx(-0.51, rel=0, abs=1e-12)


def test_letter_s_behind_seconds_means_south():
    # 33° 51' 36" = 33.86°.
    assert degrees("33 51 36 S", "NS") == pytest.approx(-33.86, rel=0, abs=1e-12)
    assert degrees("33 51 36s", "NS") == pytest.approx(-33.86, rel=0, abs=1e-12)


@pytest.mark.parametrize(
    "cell",
    [
        *("", "N", "north", "51 60 00", "51 02 60", "51 -02 40", "51.5 02 40", "51 2.5 40", "51 02 40 E"),
        *("-51 02 40 S", "N 51 02 40 N", "51 02 40 10", "51,0447", "5e1", "51 02 40 O", "1;2", "51'02"),
    ],
)
def test_what_is_no_latitude_has_no_value(cell):
    assert degrees(cell, "NS") is None


def test_only_minutes_of_their_own_part_an_angle():
    assert is_parted("51 02 40 N")
    assert is_parted("51°02'")
    assert not is_parted("51.0240 N")


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("51.024092", 51.0447),  # 51° 02' 40.92"
        ("-0.3036", -0.51),
        ("0.30", 0.5),
        ("151.3", 151.5),  # a spreadsheet drops the last 0 of 151.30
        ("12", 12.0),
        ("51.60", None),
        ("51.0060", None),
        ("51 02", None),
        ("x", None),
    ],
)
def test_packed_angle_holds_minutes_and_seconds_behind_the_point(cell, expected):
    found = packed_degrees(cell)
    assert found is None if expected is None else found == pytest.approx(expected, rel=0, abs=1e-12)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    sign=st.sampled_from(["", "-"]),
    whole=st.integers(0, 179),
    minutes=st.integers(0, 59),
    milliseconds=st.integers(0, 59_999),
)
def test_parted_and_packed_angles_agree(sign, whole, minutes, milliseconds):
    seconds = f"{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
    parted = degrees(f"{sign}{whole} {minutes:02d} {seconds}", "EW")
    packed = packed_degrees(f"{sign}{whole}.{minutes:02d}{seconds.replace('.', '')}")
    expected = whole + minutes / 60 + milliseconds / 3_600_000
    assert parted == packed
    assert abs(parted) == pytest.approx(expected, rel=0, abs=1e-11)
    assert math.copysign(1, parted) == (-1 if sign else 1)
