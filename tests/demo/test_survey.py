"""Errors that are put into an invented survey, recovered by independent adjustment."""

import csv
import io
from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose

from geoqa.demo.quenzelau import QUENZELAU
from geoqa.demo.site import ProductErrors, Spot
from geoqa.demo.survey import points_text, survey_of
from geoqa.demo.terrain import Terrain

# Shift, rotation and scale are linear in a similarity transformation; see any text on adjustment.
ERRORS = ProductErrors(shift_m=(0.02, -0.01), rotation_rad=1e-4, scale=2e-4, random_m=0.0)


def test_adjustment_of_a_similarity_recovers_the_systematic_displacement() -> None:
    survey = survey_of(Terrain(replace(QUENZELAU, errors=ERRORS)))
    east, north = (survey.true_m[:, :2] - np.array(QUENZELAU.south_west) - [110.0, 80.0]).T
    one, none = np.ones_like(east), np.zeros_like(east)
    design = np.vstack(
        [np.column_stack([one, none, east, -north]), np.column_stack([none, one, north, east])]
    )
    fitted = np.linalg.lstsq(design, survey.displacement_m.T.ravel(), rcond=None)[0]
    assert_allclose(fitted, [0.02, -0.01, 2e-4, 1e-4], rtol=0, atol=1e-9)


def test_survey_errors_have_the_size_that_the_survey_states() -> None:
    spots = tuple(
        Spot(f"P{number}", (20.0 + number / 4, 40.0), "none", "", fix="float" if number % 2 else "fixed")
        for number in range(400)
    )
    survey = survey_of(Terrain(replace(QUENZELAU, spots=spots)))
    # The millimetre that heights are rounded to adds 1/12 mm².
    variance = survey.sigma_m**2 + 1e-6 / 12
    ratio = (survey.measured_m - survey.true_m) ** 2 / variance
    # The mean of 400 squares of standard normal numbers is 1 ± 0.071.
    assert_allclose(ratio.mean(axis=0), 1.0, rtol=0, atol=0.25)
    assert_allclose(survey.sigma_m[1::2].mean() / survey.sigma_m[::2].mean(), 11.0, rtol=0.1, atol=0)


def test_row_and_column_lead_back_to_the_place_shown() -> None:
    survey = survey_of(Terrain(QUENZELAU))
    west, north, pixel_m = 634210.0, 5342920.0, 0.04
    row, col = survey.row_col.T
    shown = np.column_stack([west + pixel_m * col, north - pixel_m * row])
    assert_allclose(shown, survey.true_m[:, :2] + survey.displacement_m, rtol=0, atol=1e-6)
    transform = QUENZELAU.transform(QUENZELAU.pixel_m)
    assert tuple(transform)[:6] == (pixel_m, 0.0, west, 0.0, -pixel_m, north)


def test_points_file_gives_metres_to_the_millimetre() -> None:
    survey = survey_of(Terrain(QUENZELAU))
    rows = list(csv.DictReader(io.StringIO(points_text(survey))))
    assert len(rows) == len(QUENZELAU.spots)
    measured = [[float(row[name]) for name in ("easting", "northing", "height")] for row in rows]
    assert_allclose(measured, survey.measured_m, rtol=0, atol=1e-6)
    assert all(len(row["height"].split(".")[1]) == 3 for row in rows)
