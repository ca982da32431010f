"""What a column and a table of the deliverables are."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class ColumnType(StrEnum):
    """Type of the values of a column."""

    TEXT = "text"
    REAL = "real"
    INTEGER = "integer"
    BOOLEAN = "boolean"


@dataclass(frozen=True)
class Column:
    """One column: its unit is None for text, counts and ratios."""

    name: str
    type: ColumnType
    unit: str | None
    meaning: str

    @property
    def title(self) -> str:
        """Return the name as a heading: `residual_east_m` becomes `Residual east [m]`."""
        words = self.name
        for suffix in _SUFFIXES if self.unit else ():
            words = words.removesuffix(suffix)
        heading = words.replace("_", " ")
        heading = heading[:1].upper() + heading[1:]
        return f"{heading} [{self.unit}]" if self.unit else heading


@dataclass(frozen=True)
class Table:
    """A layer, or a table without geometry where `geometry` is None."""

    name: str
    title: str
    geometry: Literal["Point Z", "Point", "LineString", "Polygon"] | None
    meaning: str
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """Return one column by its name; `KeyError` where there is none."""
        return {column.name: column for column in self.columns}[name]


_SUFFIXES = ("_m2", "_m", "_px", "_deg", "_percent", "_year")
