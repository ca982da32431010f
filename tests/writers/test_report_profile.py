"""The drawing of height profiles, its places worked by hand."""

import re

import numpy as np
import pytest

from geoqa.writers._report_profile import BOTTOM, LEFT, RIGHT, TOP, profile_drawing
from geoqa.writers.report import render
from geoqa.writers.results_json import results
from tests.builders import make_assessment


def entry(to_east, to_north, *, step_m=1.0, surveyed_m=100.0):
    profile = {"step_m": step_m, "west_east_m": to_east, "south_north_m": to_north}
    return {"survey_m": [0.0, 0.0, surveyed_m], "surface": {"profile": profile}}


def places(path):
    return [(float(x), float(y)) for x, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", path)]


def test_lines_run_over_the_whole_frame_and_the_mark_stands_at_the_survey():
    # From 1 m below the survey to 1 m above it: 8 % of 2 m are left free on either side.
    drawn = profile_drawing(entry([99.0, 100.0, 101.0], [100.0, 100.0, 100.0]))
    middle = (0.5 * (LEFT + RIGHT), 0.5 * (TOP + BOTTOM))
    air = 0.16 / 2.32 * (BOTTOM - TOP)
    assert places(drawn.west_east) == pytest.approx(
        np.array([(LEFT, BOTTOM - air), middle, (RIGHT, TOP + air)]), abs=0.06
    )
    assert {y for _, y in places(drawn.south_north)} == {95.0}
    assert drawn.mark == pytest.approx(middle)
    # 146 units are 2.32 m of height, 276 units 2 m of distance.
    assert drawn.enlarged == "0.46"
    assert drawn.up[0][1] == "−1.0"
    assert [words for _, words in drawn.along] == ["−1.0", "−0.5", "0.0", "0.5", "1.0"]


def test_hole_breaks_the_line_and_is_told():
    drawn = profile_drawing(entry([100.0, 100.01, None, 100.03, 100.04], [None] * 5))
    assert [part[0] for part in drawn.west_east.split(" ")[::2]] == ["M", "L", "M", "L"]
    assert len(places(drawn.west_east)) == 4
    assert drawn.south_north == ""
    assert drawn.words == (
        "Surface minus surveyed height within 2 m: west to east +0.000 to +0.040 m, 1 of 5 heights missing; "
        "south to north no data."
    ).replace("+0.000", "0.000")


def test_level_ground_is_drawn_level_and_its_noise_small():
    drawn = profile_drawing(entry([100.0, 100.001, 100.0], [100.0, 100.001, 100.0]))
    low, high = drawn.up[0][0], drawn.up[-1][0]
    assert low - high <= BOTTOM - TOP
    # A millimetre of 10 cm.
    heights = [y for _, y in places(drawn.west_east)]
    assert max(heights) - min(heights) == pytest.approx(0.01 * (BOTTOM - TOP), abs=0.1)


def test_point_without_profile_or_height_has_no_drawing():
    assert profile_drawing({"survey_m": [0.0, 0.0, 1.0], "surface": {"profile": None}}) is None
    assert profile_drawing(entry([1.0, 1.0, 1.0], [1.0, 1.0, 1.0], surveyed_m=None)) is None


def test_report_draws_what_the_results_hold(tmp_path):
    assessment = make_assessment(16)
    page = render(assessment, tmp_path)
    held = [point for point in results(assessment)["points"] if point["surface"]["profile"]]
    assert 0 < len(held) < 16
    assert page.count('<figure class="profile">') == len(held)
    assert profile_drawing(held[0]).west_east in page
    assert '<figure class="profile">' not in render(make_assessment(16, pictures=False), tmp_path)
