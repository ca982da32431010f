"""Cures tried dry: arithmetic by hand, labels, and what is refused."""

import numpy as np
import pytest

from geoqa.causes.cures import tried
from geoqa.errors import InputError
from tests.builders import make_residuals

DELTA = np.array([[0.1, 0.0, 0.2], [0.1, 0.0, 0.4], [0.1, 0.0, 0.3], [0.1, 0.0, 0.1]])
FLAT = np.zeros((4, 2))


def one(cure, delta=DELTA, gradient=FLAT):
    (trial,) = tried([cure], make_residuals(delta_m=delta), None, gradient=gradient)
    return trial


def test_a_vector_moves_the_product():
    trial = one("vector -0.1 0 -0.25")
    assert trial.after.horizontal.rmse_m == pytest.approx(0.0, abs=1e-12)
    assert trial.after.up.mean_m == pytest.approx(0.0, abs=1e-12)
    assert trial.before.up.mean_m == pytest.approx(0.25)
    assert not trial.makes_control
    assert trial.leave_one_out_rmse_m == {}
    assert "−0.100 m east" in trial.sentence
    assert trial.sentence.startswith("Exploration")


def test_a_vector_reads_the_surface_beside_the_place():
    # Moved 2 m east on a slope of 1 %, the surface at a place is what lay 2 m west: 20 mm lower.
    trial = one("vector 2 0 0", gradient=np.tile([0.01, 0.0], (4, 1)))
    assert trial.after.up.mean_m == pytest.approx(0.25 - 0.02)


def test_a_shift_onto_the_points_is_labelled_with_its_honest_figure():
    trial = one("shift")
    assert trial.makes_control
    assert trial.after.up.mean_m == pytest.approx(0.0, abs=1e-12)
    # Each of four left out in turn: residuals from the mean times 4/3.
    left = (DELTA[:, 2] - 0.25) * 4 / 3
    assert trial.leave_one_out_rmse_m["vertical"] == pytest.approx(np.sqrt((left**2).mean()))
    assert "become control" in trial.sentence


def test_points_left_out_do_not_count():
    trial = one("without LK02")
    assert (trial.before.up.count, trial.after.up.count) == (4, 3)
    assert trial.after.up.mean_m == pytest.approx(0.2)
    assert trial.point_ids == ("LK02",)


def test_exchanged_names_take_off_what_they_made():
    residuals = make_residuals(delta_m=np.zeros((6, 3)))
    wrong = np.array(residuals.product_m)
    wrong[[1, 4]] = wrong[[4, 1]]
    from dataclasses import replace

    spoiled = replace(residuals, product_m=wrong, delta_m=wrong - residuals.survey_m)
    (trial,) = tried(["swap LK02 LK05"], spoiled, None, gradient=np.zeros((6, 2)))
    assert trial.before.horizontal.rmse_m > 10
    assert trial.after.horizontal.rmse_m == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("cure", "told"),
    [
        ("hammer", "is no cure that can be tried"),
        ("vector 1 2", "is no cure that can be tried"),
        ("vector a b c", "needs three numbers"),
        ("without LK99", "no point “LK99”"),
        ("swap LK01 LK99", "no point “LK99”"),
        ("shift 3", "is no cure that can be tried"),
        ("tilt", "is no cure that can be tried"),
    ],
)
def test_what_cannot_be_tried_is_refused(cure, told):
    with pytest.raises(InputError, match=told):
        one(cure)
