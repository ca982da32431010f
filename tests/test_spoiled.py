"""A share of the spoiled inputs; `python -m tests.spoiled --all` runs them all."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest, read_points
from tests.spoiled import cases, run
from tests.spoiled.points import WHOLE, unspoiled

SHARE = 15

EVERY = cases()


def test_there_are_at_least_300_and_each_has_a_name_of_its_own():
    assert len({case.name for case in EVERY}) == len(EVERY) >= 300


@pytest.mark.parametrize("case", list(unspoiled()), ids=lambda case: case.name)
def test_every_format_is_read_before_it_is_spoiled(case, tmp_path):
    assert run(case, tmp_path) == (0, [])


@pytest.mark.parametrize("case", EVERY[::SHARE], ids=lambda case: case.name)
def test_spoiled_input_ends_as_it_must(case, tmp_path):
    _, wrong = run(case, tmp_path)
    assert not wrong


def test_mutations_are_the_same_each_time(tmp_path):
    case = next(case for case in EVERY if case.name == "points, points.gpkg, 3")
    contents = []
    for folder in (tmp_path / "one", tmp_path / "other"):
        folder.mkdir()
        case.spoil(folder)
        contents.append((folder / "points.gpkg").read_bytes())
    assert contents[0] == contents[1]


cells = st.one_of(
    st.text(max_size=8),
    st.floats().map(repr),
    st.sampled_from(["", "571310", "5713160,25", "51 33 54.1 N", "check", "fixed", "-", '"', "\0", "\n"]),
)
names = st.sampled_from(
    [
        "id",
        "easting",
        "northing",
        "height",
        "latitude",
        "longitude",
        "sd_up",
        "role",
        "fix",
        "E [ft]",
        "x",
        "",
    ]
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    header=st.lists(names, max_size=7),
    rows=st.lists(st.lists(cells, max_size=7), max_size=6),
    separator=st.sampled_from(",;\t| "),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
)
def test_any_table_gives_points_or_a_sentence(tmp_path_factory, header, rows, separator, encoding):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    text = "\n".join(separator.join(row) for row in [header, *rows])
    path.write_bytes(text.encode(encoding, errors="replace"))
    message = ""
    try:
        found = read_points(str(path), PointsRequest())
    except InputError as refusal:
        message = str(refusal)
    else:
        assert len(found) == len(found.coordinates) > 0
    assert not message or ("any.csv" in message and "\n" not in message)


def test_whole_tables_are_told_apart():
    assert len(set(WHOLE.values())) == len(WHOLE)
