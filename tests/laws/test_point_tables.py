"""Whatever way a table of points is written down, it comes back exactly."""

import math
import re

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.readers.points import PointsRequest
from geoqa.readers.points.delimited_text import READER

# Blanks around a cell are taken off, and NUL marks a binary file.
words = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12).map(
    str.strip
)
ids = words.filter(bool)
numbers = st.floats(allow_nan=False, allow_infinity=False)
heights = st.one_of(st.none(), numbers)
rows = st.lists(st.tuples(ids, numbers, numbers, heights, words), min_size=1, max_size=12)
HEADER = ("id", "easting", "northing", "height", "description")


def written_cell(value, *, separator, decimal_comma, quote_all):
    """Return a cell as RFC 4180, section 2, rules 5 to 7, wants it; a # is quoted, too.

    A line that begins with a bare # is a remark.
    """
    text = "" if value is None else value if isinstance(value, str) else repr(value)
    if decimal_comma and isinstance(value, float):
        text = text.replace(".", ",")
    if quote_all or any(mark in text for mark in (separator, '"', "\r", "\n", "#")):
        return '"' + text.replace('"', '""') + '"'
    return text


@st.composite
def tables(draw):
    """Draw points, the line on which each begins, and a text that holds them."""
    points = draw(rows)
    separator = draw(st.sampled_from(",;\t"))
    style = {
        "separator": separator,
        "decimal_comma": separator != "," and draw(st.booleans()),
        "quote_all": draw(st.booleans()),
    }
    order = draw(st.permutations(range(5)))
    line_end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    between = st.lists(st.sampled_from(["", "  ", '# remark "', separator * 4]), max_size=2)
    text, lines = "", []
    for point in [HEADER, *points]:
        text += "".join(line + line_end for line in draw(between))
        lines.append(len(re.findall("\r\n|\r|\n", text)) + 1)
        text += separator.join(written_cell(point[column], **style) for column in order) + line_end
    mark = draw(st.sampled_from(["", "\ufeff"]))
    return points, lines[1:], mark + text


@settings(max_examples=150, deadline=None, derandomize=True)
@given(table=tables())
def test_table_comes_back_exactly(tmp_path_factory, table):
    points, lines, text = table
    path = tmp_path_factory.getbasetemp() / "points.csv"
    path.write_bytes(text.encode("utf-8"))
    found = READER.read(path, PointsRequest())
    assert found.ids == tuple(point[0] for point in points)
    expected = [[math.nan if value is None else value for value in point[1:4]] for point in points]
    np.testing.assert_array_equal(found.coordinates, expected)
    np.testing.assert_array_equal(found.lines, lines)
    assert found.attributes["description"] == tuple(point[4] or None for point in points)
