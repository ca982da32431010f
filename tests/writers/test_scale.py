"""Round lengths and coordinates."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.writers._scale import length_text, round_below, tick_label, ticks


@given(st.floats(1e-4, 1e6))
def test_a_round_length_is_the_next_lower_of_one_two_five(length):
    found = round_below(length)
    digit = found / 10.0 ** np.floor(np.log10(found * 1.0000001))
    assert min(abs(digit - known) for known in (1, 2, 5)) < 1e-6
    # The steps between 1, 2, 5 and 10 are at most 2.5.
    assert length / 2.5 * (1 - 1e-9) <= found <= length * (1 + 1e-9)


@given(st.floats(-1e6, 1e7), st.floats(0.5, 1e5), st.integers(2, 8))
def test_ticks_are_multiples_of_their_step_inside_the_range(low, width, most):
    found, step = ticks(low, low + width, most)
    assert len(found) <= most
    assert ((found >= low - 1e-6) & (found <= low + width + 1e-6)).all()
    assert np.abs(found / step - np.round(found / step)).max(initial=0.0) < 1e-6


def test_a_tick_has_the_decimals_of_its_step():
    assert tick_label(512100.0, 100.0) == "512100"
    assert tick_label(512100.25, 0.05) == "512100.25"
    assert tick_label(-20.0, 10.0) == "−20"


@pytest.mark.parametrize(
    ("metres", "text"),
    [(5000, "5 km"), (200, "200 m"), (1, "1 m"), (0.5, "50 cm"), (0.0305, "3.05 cm"), (0.005, "5 mm")],
)
def test_a_length_is_written_in_the_unit_that_keeps_it_short(metres, text):
    assert length_text(metres) == text
