"""Numbers as text."""

import pytest

from geoqa.writers._numbers import GROUP, centimetres, fixed, interval, metres, plain, whole

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0214, "0.021"),
        (-0.0214, "−0.021"),  # U+2212, the minus sign of ISO 80000-2, 2-10.2 (from memory)
        (-0.0004, "0.000"),
        (NAN, "—"),
        (None, "—"),
        (INF, "∞"),
        (-INF, "−∞"),
    ],
)
def test_metres_have_millimetres_a_true_minus_and_a_dash_where_missing(value, text):
    assert metres(value) == text


def test_a_sign_is_written_only_where_it_says_something():
    assert metres(0.0214, signed=True) == "+0.021"
    assert metres(0.0004, signed=True) == "0.000"
    assert fixed(-0.4, 0, signed=True) == "0"


def test_centimetres_are_a_hundred_to_the_metre():
    assert centimetres(0.0214) == "2.1"
    assert centimetres(None) == "—"


def test_digits_stand_in_groups_of_three_with_a_space():
    # ISO 80000-1:2022, 7.3.1 (from memory): groups of three, set apart by a small space.
    assert whole(100_000) == f"100{GROUP}000"
    assert whole(1_234_567) == f"1{GROUP}234{GROUP}567"
    assert whole(1234) == "1234"


def test_limits_keep_their_digits_and_no_more():
    assert [plain(value) for value in (0.05, 0.0305, 20.0, -0.5)] == ["0.05", "0.0305", "20", "−0.5"]
    assert plain(1e-5) == "0.00001"
    assert plain(None) == "—"


def test_an_interval_with_an_open_end_says_so():
    assert interval((0.012, INF)) == "0.012 to ∞"
    assert interval((NAN, NAN)) == "—"
    assert interval(None) == "—"
