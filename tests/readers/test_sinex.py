"""Positions out of SINEX: by the columns of the format, and refused by line where they are not kept."""

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import InputError
from geoqa.readers.sinex import read_sinex
from tests.readers.sinex_text import (
    COVARIANCE_M2,
    EPOCH,
    POSITION_M,
    SIGMA_M,
    element,
    estimate,
    estimates,
    lower,
    sinex,
    upper,
)


@pytest.fixture
def read(tmp_path):
    def reader(text=None, site=None):
        path = tmp_path / "base.snx"
        path.write_text(sinex() if text is None else text)
        return read_sinex(path, site)

    return reader


def test_position_epoch_and_covariance_come_out_as_written(read):
    station = read()
    assert station.key == ("BASE", "A", "1")
    assert station.name == "BASE A 1"
    assert_allclose(station.position_m, POSITION_M, rtol=0, atol=1e-8)
    assert_allclose(station.covariance_m2, COVARIANCE_M2, rtol=1e-15, atol=0)
    assert station.epoch == pytest.approx(EPOCH, abs=1e-12)
    assert station.reference_frame == "ITRF2020"
    assert station.antenna_up_m == 1.8
    assert station.velocity_m is None
    assert station.notes == ()


def test_exponents_may_be_written_with_d(read):
    station = read(sinex().replace("E+06", "D+06").replace("E-05", "d-05"))
    assert_allclose(station.position_m, POSITION_M, rtol=0, atol=1e-8)
    assert_allclose(station.covariance_m2, COVARIANCE_M2, rtol=1e-15, atol=0)


def test_upper_triangle_is_the_same_matrix(read):
    station = read(sinex(matrix=upper(COVARIANCE_M2), title="SOLUTION/MATRIX_ESTIMATE U COVA"))
    assert_allclose(station.covariance_m2, COVARIANCE_M2, rtol=1e-15, atol=0)


@pytest.mark.parametrize("on_diagonal", ["ones", "standard deviations"])
def test_correlations_take_their_standard_deviations_from_the_estimates(read, on_diagonal):
    sigma = np.array(SIGMA_M)
    matrix = np.array(COVARIANCE_M2) / np.outer(sigma, sigma)
    if on_diagonal == "standard deviations":
        np.fill_diagonal(matrix, sigma)
    station = read(sinex(matrix=lower(matrix.tolist()), title="SOLUTION/MATRIX_ESTIMATE L CORR"))
    assert_allclose(station.covariance_m2, COVARIANCE_M2, rtol=1e-10, atol=0)


def test_normal_equations_are_inverted_as_a_whole(read):
    # A troposphere parameter is correlated with the position: left out before, the inverse would be wrong.
    whole = np.zeros((4, 4))
    whole[:3, :3] = COVARIANCE_M2
    whole[3, 3] = 1e-4
    whole[3, :3] = whole[:3, 3] = [1e-5, -2e-5, 3e-5]
    lines = [*estimates(), estimate(4, "TROTOT", 2.3, 0.01)]
    normal = np.linalg.inv(whole).tolist()
    station = read(sinex(lines, lower(normal), "SOLUTION/MATRIX_ESTIMATE L INFO"))
    assert_allclose(station.covariance_m2, COVARIANCE_M2, rtol=1e-9, atol=0)


def test_without_a_matrix_the_axes_are_taken_to_be_uncorrelated_and_told(read):
    station = read(sinex(matrix=[]))
    assert_allclose(station.covariance_m2, np.diag(np.square(SIGMA_M)), rtol=1e-15, atol=0)
    assert "no matrix" in station.notes[0]


def test_elements_that_are_not_written_are_zero(read):
    # Stated by the format for the matrix of the estimate: missing elements are zero.
    lines = [element(row, row, COVARIANCE_M2[row - 1][row - 1]) for row in (1, 2, 3)]
    station = read(sinex(matrix=lines))
    assert_allclose(station.covariance_m2, np.diag(np.diagonal(COVARIANCE_M2)), rtol=1e-15, atol=0)


VELOCITY = (-0.0155, -0.0012, -0.0049)


def with_velocity():
    kinds = ("VELX", "VELY", "VELZ")
    return [*estimates(), *estimates(VELOCITY, (2e-4, 3e-4, 4e-4), start=4, kinds=kinds)]


def test_velocity_leads_to_another_epoch_with_its_covariance(read):
    rng = np.random.default_rng(8)
    factor = rng.normal(0.0, 1e-3, (6, 6))
    whole = factor @ factor.T
    station = read(sinex(with_velocity(), lower(whole.tolist())))
    position, covariance = station.at(EPOCH + 1.5)
    assert_allclose(position, np.array(POSITION_M) + 1.5 * np.array(VELOCITY), rtol=0, atol=1e-8)
    expected = whole[:3, :3] + 1.5 * (whole[:3, 3:] + whole[3:, :3]) + 2.25 * whole[3:, 3:]
    assert_allclose(covariance, expected, rtol=1e-12, atol=0)


SECOND = ("BASE", "A", "2")


def two_solutions():
    later = estimates(start=4, key=SECOND, epoch="26:001:00000")
    other = estimates(start=7, key=("MARK", "A", "1"))
    return sinex([*estimates(), *later, *other], matrix=[])


@pytest.mark.parametrize("site", ["BASE A 2", "base a 2"])
def test_the_solution_asked_for_is_taken(read, site):
    station = read(two_solutions(), site)
    assert station.key == SECOND
    assert station.epoch == 2026.0
    assert read(two_solutions(), "MARK").key == ("MARK", "A", "1")


@pytest.mark.parametrize(
    ("site", "words"),
    [
        (None, "3 solutions fit.*“BASE A 1” at 2025.498; “BASE A 2” at 2026.000; “MARK A 1”"),
        ("BASE", "2 solutions fit.*“BASE A 1” at 2025.498; “BASE A 2” at 2026.000"),
        ("ROVR", "there is no station “ROVR”.*“BASE A 1”"),
    ],
)
def test_several_solutions_are_listed_and_none_is_guessed(read, site, words):
    with pytest.raises(InputError, match=words):
        read(two_solutions(), site)


def replaced(old, new, count=1):
    text = sinex()
    assert old in text
    return text.replace(old, new, count)


X_LINE = estimates()[0]
SPOILED = {
    "no SINEX": ("id,easting\nA,1\n", "line 1: a SINEX file of version 2 begins with"),
    "empty": ("", "line 1: .* the file is empty"),
    "version 1": (replaced("SNX 2.02", "SNX 1.00"), "line 1: .*SNX 1.00"),
    "cut short": (
        sinex()[: sinex().index("-SOLUTION/MATRIX")],
        r"line 20: the block SOLUTION/MATRIX_ESTIMATE L",
    ),
    "cut between": (replaced("-SITE/ID\n", ""), "line 6: the block SITE/ID has no end"),
    "end without begin": (replaced("+SITE/ID\n", ""), "line 8: “-SITE/ID” ends a block that did not begin"),
    "columns shifted": (
        replaced(X_LINE, X_LINE.replace("STAX ", "STAX  ")),
        "line 16: .* does not keep the columns",
    ),
    "tabs": (replaced(X_LINE, X_LINE.replace("STAX  ", "STAX\t")), "line 16: .* does not keep the columns"),
    "value no number": (
        replaced(f"{POSITION_M[0]: 21.14E}", "-1.63901781O3000E+06 "),
        "line 16: .* is no number",
    ),
    "value missing": (replaced(f"{POSITION_M[0]: 21.14E}", " " * 21), "line 16: “” is no number"),
    "value infinite": (replaced(f"{POSITION_M[0]: 21.14E}", f"{'inf':>21}"), "line 16: “inf” is no number"),
    "sigma missing": (replaced(f" {SIGMA_M[1]:11.5E}", ""), "line 17: “” is no number"),
    "other unit": (replaced("64800 m  ", "64800 mm "), "line 16: STAX is given in “mm”, not in m"),
    "no epoch": (replaced("25:182:64800 m", "00:000:00000 m"), "line 16: “00:000:00000” is no epoch"),
    "epoch spoiled": (replaced("25:182:64800 m", "25/182/64800 m"), "line 16: “25/182/64800” is no epoch"),
    "axis missing": (sinex(estimates()[:2], matrix=[]), "BASE A 1 has no STAZ"),
    "axis twice": (
        sinex([*estimates(), estimates()[0]], matrix=[]),
        "line 19: STAX of BASE A 1 stands twice",
    ),
    "axes of two epochs": (
        sinex([*estimates()[:2], estimate(3, "STAZ", POSITION_M[2], 0.01, epoch="25:183:00000")], matrix=[]),
        "has coordinates of several epochs",
    ),
    "no position": (sinex([estimate(1, "TROTOT", 2.3, 0.01)], matrix=[]), "no position is estimated"),
    "unknown matrix": (
        sinex(title="SOLUTION/MATRIX_ESTIMATE L WHAT"),
        "“SOLUTION/MATRIX_ESTIMATE L WHAT” is no matrix",
    ),
    "matrix no number": (
        replaced(f"{COVARIANCE_M2[1][0]: 21.14E}", " 1.55062O00000000E-05"),
        "line 23: .* is no number",
    ),
    "matrix row no number": (
        replaced("     2     1 ", "     x     1 "),
        "line 23: “x” is no number of a parameter",
    ),
    "variance missing": (sinex(matrix=lower(COVARIANCE_M2)[:2]), "no covariance"),
    "correlation beyond 1": (
        sinex(matrix=lower([[1e-4, 0, 0], [2e-4, 1e-4, 0], [0, 0, 1e-4]])),
        "no covariance",
    ),
    "normal equations singular": (
        sinex(
            matrix=lower([[1.0, 0, 0], [1.0, 1.0, 0], [0, 0, 1.0]]), title="SOLUTION/MATRIX_ESTIMATE L INFO"
        ),
        "cannot be inverted",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_spoiled_file_is_refused_by_its_line(read, name):
    text, words = SPOILED[name]
    with pytest.raises(InputError, match=words) as refusal:
        read(text)
    assert str(refusal.value).startswith("base.snx")
    assert re.search(r"\.$|\)$", str(refusal.value))


def test_two_digits_of_a_year_above_50_are_of_the_last_century(read):
    assert read(sinex(estimates(epoch="97:001:00000"))).epoch == 1997.0
    assert read(sinex(estimates(epoch="00:001:43200"))).epoch == pytest.approx(2000 + 0.5 / 366)


def test_eccentricity_of_another_solution_is_not_taken(read):
    assert read(sinex().replace(" BASE  A    1 P", " BASE  A    9 P")).antenna_up_m is None
    assert read(sinex().replace(" BASE  A    1 P", " BASE  A ---- P")).antenna_up_m == 1.8
