"""On which line of a TOML file each key stands."""

import tomllib
from collections.abc import Iterator
from typing import Any, TypeAlias

KeyPath: TypeAlias = tuple[str | int, ...]


def lines_of_keys(text: str) -> dict[KeyPath, int]:
    """Return key path → line, counted from 1, of a text that is valid TOML.

    What stands inside a value of several lines has the line on which that value begins. Tables in a
    list (`[[base]]`) are counted from 0.

    Examples
    --------
    >>> lines_of_keys("[points]\\npath = 'a.csv'\\n")
    {('points',): 1, ('points', 'path'): 2}
    >>> lines_of_keys("")
    {}
    """
    found: dict[KeyPath, int] = {}
    last_of: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for line, statement in _statements(text):
        values = tomllib.loads(statement)
        if statement.lstrip().startswith("["):
            table = _table(values, last_of)
            found.setdefault(table, line)
        else:
            for path in _paths(values):
                found.setdefault(table + path, line)
    return found


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Yield first line and text of each statement: the fewest lines that are TOML by themselves."""
    pending, first = "", 1
    for line, words in enumerate(text.split("\n"), start=1):
        if not pending:
            first = line
        pending += words + "\n"
        try:
            tomllib.loads(pending)
        except tomllib.TOMLDecodeError:
            continue
        yield first, pending
        pending = ""


def _table(values: dict[str, Any], last_of: dict[KeyPath, int]) -> KeyPath:
    """Return the path of the table that a header opens; `last_of` counts the tables of each list."""
    path: KeyPath = ()
    here: Any = values
    while here:
        (key, here), *_ = here.items()
        path = (*path, key)
        if isinstance(here, list):
            last_of[path] = last_of.get(path, -1) + 1
            here = here[0]
        if path in last_of:
            path = (*path, last_of[path])
    return path


def _paths(values: Any, start: KeyPath = ()) -> Iterator[KeyPath]:
    if start:
        yield start
    entries = (
        values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    )
    for key, value in entries:
        yield from _paths(value, (*start, key))
