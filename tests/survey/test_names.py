"""Ids that nearly match; invented names."""

import pytest

from geoqa.survey.names import alike


@pytest.mark.parametrize(
    "other", ["CP3", "cp3", "CP-3", "CP 3", "CP_3", "cp03", "Cp.003", "CP\u00a03", "ＣＰ３"]
)
def test_case_blanks_marks_and_leading_zeros_do_not_tell_ids_apart(other):
    assert alike(["CP3" if other != "CP3" else "CP-3", "CP4", other]) == ((0, 2),)


@pytest.mark.parametrize(
    "pair",
    [
        ("CP3", "CP30"),
        ("1-1", "11"),
        ("1.1", "11"),
        ("1_1", "11"),
        ("CP3", "GCP3"),
        ("3", "30"),
        ("0", "00a"),
    ],
)
def test_other_ids_are_other_ids(pair):
    assert alike(pair) == ()


def test_numbers_parted_differently_are_alike():
    assert alike(["1-1", "1.1", "01_01"]) == ((0, 1, 2),)


def test_ids_of_marks_only_are_not_compared():
    assert alike(["*", "**", "-"]) == ()


def test_line_ends_inside_an_id_do_no_harm():
    assert alike(["CP\n1", "CP2", "cp1"]) == ((0, 2),)
