"""Which shots belong together: rules of common practice, ISO 8601 for the times."""

import pytest

from geoqa.survey.occupations import Partition, Shot, instant, partition

GAP = 30.0


def numbers(*shots):
    return partition([Shot(*shot) for shot in shots], GAP).numbers


def at(*times):
    return partition([Shot(None, None, time) for time in times], GAP)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("2026-04-18T10:12:30Z", "zoned"),
        ("2026-04-18T10:12:30.25+02:00", "zoned"),
        ("20260418T101230Z", "zoned"),
        ("2026-04-18 10:12", "local"),
        ("2026-04-18", "date"),
        ("10:12", "clock"),
        ("9:05:07.5", "clock"),
        (" 10:12:30Z ", "clock"),
    ],
)
def test_times_of_iso_8601_and_of_the_day_are_read(text, kind):
    assert instant(text).kind == kind


@pytest.mark.parametrize("text", ["18.04.2026 10:12", "10.12", "24:10", "10:61", "noon", "", "1012", "2026"])
def test_anything_else_is_no_time(text):
    assert instant(text) is None


def test_time_zones_are_taken_into_account():
    first, second = instant("2026-04-18T10:00:00+02:00"), instant("2026-04-18T09:00:00Z")
    assert second.minutes - first.minutes == 60


def test_a_longer_pause_begins_a_new_occupation():
    assert at("10:00", "10:30", "11:00:01").numbers == (0, 0, 1)
    assert at("2026-04-18T10:00Z", "2026-04-19T10:00Z").numbers == (0, 1)
    assert at("2026-04-18", "2026-04-18", "2026-04-19").numbers == (0, 0, 1)


def test_the_gap_is_counted_from_shot_to_shot():
    assert at(*(f"10:{minute:02d}" for minute in range(0, 60, 20)), "11:00", "11:20").numbers == (0,) * 5


def test_the_order_of_the_rows_does_not_matter():
    assert at("12:00", "10:00", "12:01", "10:01").numbers == (0, 1, 0, 1)


def test_times_of_the_day_go_round_the_clock():
    assert at("23:55", "00:05").numbers == (0, 0)
    assert at("23:55", "12:00", "00:05").numbers == (0, 1, 0)
    assert at("23:20", "00:05").numbers == (0, 1)


@pytest.mark.parametrize(
    "times",
    [
        ("10:00", None),
        ("10:00", "2026-04-18T15:00"),
        ("2026-04-18T10:00", "2026-04-18T15:00Z"),
        ("10:00", "a quarter past three"),
        (None, None),
    ],
)
def test_what_cannot_be_compared_is_one_occupation_not_told_apart(times):
    assert at(*times) == Partition((0, 0), told_apart=False)


def test_the_column_goes_before_the_time():
    assert numbers((None, "1", "10:00"), (None, "1", "15:00"), (None, "2", "15:01")) == (0, 0, 1)


def test_a_column_with_an_empty_cell_gives_way_to_the_time():
    assert numbers((None, "1", "10:00"), (None, None, "10:01"), (None, "1", "15:00")) == (0, 0, 1)


def test_a_different_session_is_a_different_occupation():
    assert numbers(("A", "1", "10:00"), ("B", "1", "10:00"), ("A", "1", "10:01")) == (0, 1, 0)
    assert partition([Shot("A", None, None), Shot("B", None, None)], GAP) == Partition(
        (0, 1), told_apart=True
    )


def test_shots_within_a_session_need_their_own_evidence():
    shots = [Shot("A", None, None), Shot("A", None, None), Shot("B", None, None)]
    assert partition(shots, GAP) == Partition((0, 0, 1), told_apart=False)


def test_a_shot_without_a_session_is_no_further_occupation():
    assert numbers(("A", None, "10:00"), (None, None, "10:05"), ("B", None, "10:05")) == (0, 0, 1)


def test_one_shot_is_one_occupation():
    assert at(None) == Partition((0,), told_apart=True)
