"""A table from its header and its rows, whatever file they come from."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.errors import InputError
from geoqa.readers.points._cells import TextTable

_NUMBER = re.compile(r"[+-]?[0-9.]+")


@dataclass(frozen=True)
class RowRule:
    """How the rows of a file are held against its header.

    Attributes
    ----------
    source, row_word
        Name of the file, and what a row is called: "line" or "row".
    decimal_comma
        Whether a comma may stand for the decimal point.
    advice
        What to do with a row that does not fit.
    rest
        The mark that joins what stands behind the last column, where that is free text which may
        hold the separator or be missing; None where every row has as many cells as the header.
    """

    source: str
    row_word: str
    decimal_comma: bool
    advice: str
    rest: str | None = None

    def fitted(self, cells: Sequence[str], count: int, line: int) -> Sequence[str]:
        """Return a row with as many cells as the header, or raise where it does not fit."""
        if len(cells) == count:
            return cells
        if len(cells) > count and not "".join(cells[count:]):
            return cells[:count]
        if self.rest is not None and len(cells) > count and not self._may_be_decimals(cells[count - 1 :]):
            return [*cells[: count - 1], self.rest.join(cells[count - 1 :]).strip()]
        if self.rest is not None and len(cells) == count - 1:
            return [*cells, ""]
        message = (
            f"{self.source}, {self.row_word} {line}: the row has {len(cells)} cells, the header {count}. "
            f"{self.advice}"
        )
        raise InputError(message)

    def _may_be_decimals(self, cells: Sequence[str]) -> bool:
        # A decimal comma among commas would move every later number into the next column.
        return self.rest == ", " and any(_NUMBER.fullmatch(cell) for cell in cells)


def text_table(header: Sequence[str], rows: Iterable[tuple[int, Sequence[str]]], rule: RowRule) -> TextTable:
    """Return the table of a header and the numbered rows below it."""
    numbers: list[int] = []
    fitted: list[Sequence[str]] = []
    for number, cells in rows:
        numbers.append(number)
        fitted.append(rule.fitted(cells, len(header), number))
    columns = zip(*fitted, strict=True) if fitted else [()] * len(header)
    return TextTable(
        source=rule.source,
        row_word=rule.row_word,
        header=tuple(header),
        columns=tuple(tuple(column) for column in columns),
        lines=np.array(numbers, dtype=np.int64),
        decimal_comma=rule.decimal_comma,
    )


def trimmed(header: Sequence[str]) -> list[str]:
    """Return a header without empty names at its end."""
    names = list(header)
    while names and not names[-1]:
        names.pop()
    return names
