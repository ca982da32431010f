"""The list of delivered columns keeps its own rules."""

import re

import pytest

from geoqa.records.columns import Column, ColumnType
from geoqa.records.tables import BY_NAME, CHECKPOINTS, LAYERS, TABLES

UNIT_ENDINGS = {"m": "_m", "px": "_px", "deg": "_deg", "percent": "_percent", "m²": "_m2", "year": "_year"}


def test_tables_are_those_that_were_promised():
    assert [table.name for table in LAYERS] == [
        "checkpoints",
        "residual_vectors",
        "error_ellipses",
        "found_targets",
        "tested_area",
        "support",
        "next_points",
    ]
    assert [table.name for table in TABLES if table.geometry is None] == [
        "statistics",
        "judgements",
        "evidence",
        "findings",
        "provenance",
    ]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_names_are_lower_case_and_unique(table):
    names = [table.name, *(column.name for column in table.columns)]
    # OGC 12-128, clause 1: names of tables and columns are lower case.
    assert all(re.fullmatch(r"[a-z][a-z0-9_]*", name) for name in names)
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_length_carries_its_unit_in_its_name_and_nothing_else_does(table):
    for column in table.columns:
        if column.unit is not None:
            assert column.name.endswith(UNIT_ENDINGS[column.unit]), column.name
        else:
            assert not column.name.endswith(("_m", "_px", "_deg", "_m2")), column.name


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_says_what_it_means(table):
    assert table.meaning.endswith(".")
    assert all(column.meaning.endswith(".") for column in table.columns)


def test_heading_of_a_length_names_its_unit():
    assert CHECKPOINTS.column("residual_east_m").title == "Residual east [m]"
    assert CHECKPOINTS.column("target_flags").title == "Target flags"
    assert Column("area_m2", ColumnType.REAL, "m²", ".").title == "Area [m²]"


def test_unknown_column_is_an_error():
    with pytest.raises(KeyError):
        BY_NAME["statistics"].column("residual_east_m")
