"""Names of points: from their column, or from file and line where no column could hold any."""

from collections.abc import Sequence
from pathlib import PurePath

from geoqa.errors import InputError
from geoqa.numerics.arrays import IntArray
from geoqa.readers.points._cells import TextTable, is_number, required_texts
from geoqa.readers.points._columns import ColumnPlan, shown


def ids_of(table: TextTable, plan: ColumnPlan) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the ids of the points, and sentences for the user on where they come from.

    Raises
    ------
    InputError
        Where an id is missing, or where there is no column of ids but one that could be meant as such.
    """
    if "id" in plan.columns:
        return required_texts(table, plan.columns["id"]), ()
    meant = [name for name, column in plan.others.items() if _may_be_ids(table.columns[column])]
    if meant:
        message = (
            f"{plan.where}: no column holds the ids of the points, found {shown(table.header)}. Name it so "
            f'in the header, or say under [points.columns] which it is (id = "{meant[0]}"), or what '
            f'{shown(meant)} holds instead (description = "{meant[0]}").'
        )
        raise InputError(message)
    ids = line_ids(table.source, table.lines)
    return ids, (
        f"{table.source} has no column of ids: its points are named by file and {table.row_word}, such as "
        f"“{ids[0]}”.",
    )


def line_ids(source: str, lines: IntArray) -> tuple[str, ...]:
    """Return file and line as names, which no point of a file of another name shares.

    Examples
    --------
    >>> line_ids("track.csv", np.array([2, 12]))
    ('track:2', 'track:12')
    """
    stem = PurePath(source).stem
    return tuple([f"{stem}:{line}" for line in lines.tolist()])


def _may_be_ids(cells: Sequence[str]) -> bool:
    """Return whether a column is filled, holds no decimals, and at least half of its cells differ.

    A point that was occupied twice stands twice.
    """
    if "" in cells or 2 * len(set(cells)) < len(cells):
        return False
    return not all(is_number(cell.replace(",", ".")) for cell in cells) or "." not in "".join(cells)
