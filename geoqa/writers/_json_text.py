"""JSON of long lists: columns become the text of one object a row, without an object in between."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice, takewhile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Texts = list[str]

# Entries that are read together, so that they share the names of their members.
_TOGETHER = 2000


def write_json(path: Path, document: Mapping[str, Any], long_list: str, entries: Iterable[str]) -> None:
    """Write a document with the member `long_list` filled by entries that are JSON text, one a line.

    Raises
    ------
    ValueError
        Where a number is NaN or infinite: missing numbers must be None before they come here.
    """
    with path.open("w", encoding="utf-8", newline="\n") as file:
        separator = "{\n "
        for key, value in document.items():
            file.write(f"{separator}{encoded(key)}: ")
            separator = ",\n "
            if key == long_list:
                _write_list(file.write, entries)
            else:
                indented = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)
                file.write(indented.replace("\n", "\n "))
        file.write("\n}\n")


def _write_list(write: Any, entries: Iterable[str]) -> None:
    separator = "["
    for entry in entries:
        write(f"{separator}\n  {entry}")
        separator = ","
    write("\n ]" if separator == "," else "[]")


def read_json(path: Path, long_list: str, keep: Callable[[Any], Any] | None = None) -> dict[str, Any]:
    """Return a document that `write_json` wrote, without holding its text as a whole.

    `keep` says what is kept of each entry of the long list; None keeps all of it.
    """
    opening = f" {encoded(long_list)}: [\n"
    entries: list[Any] = []
    with path.open(encoding="utf-8") as file:
        before = "".join(takewhile(lambda line: line != opening, file))
        lines = takewhile(lambda line: line.startswith("  "), file)
        while some := "".join(islice(lines, _TOGETHER)):
            read = json.loads(f"[{some.rstrip().rstrip(',')}]")
            entries += read if keep is None else map(keep, read)
        after = file.read()
    if not entries:
        return dict(json.loads(before))
    more = "" if after.strip() == "}" else ","
    document: dict[str, Any] = json.loads(f"{before}{opening}]{more}{after}")
    document[long_list] = entries
    return document


def encoded(value: Any) -> str:
    """Return a value as JSON on one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def numbers(values: NDArray[Any]) -> Texts:
    """Return one number, or one array of numbers, a row; null for NaN and infinity.

    Examples
    --------
    >>> numbers(np.array([[0.5, np.nan]]))
    ['[0.5, null]']
    """
    if values.ndim > 1:
        parts = [numbers(values[:, place]) for place in range(values.shape[1])]
        return filled("[" + ", ".join(["%s"] * len(parts)) + "]", parts)
    finite = np.isfinite(values)
    if not finite.any():
        return ["null"] * len(values)
    listed = list(map(repr, values.tolist()))
    for place in np.flatnonzero(~finite).tolist():
        listed[place] = "null"
    return listed


def words(values: Sequence[Any]) -> Texts:
    """Return the JSON of texts, whole numbers, truth values, lists of texts, or null."""
    known: dict[Any, str] = {}
    for value in values:
        if value not in known:
            known[value] = encoded(value)
    return [known[value] for value in values]


def flags(values: NDArray[np.bool_]) -> Texts:
    """Return true or false."""
    return ["true" if value else "false" for value in values.tolist()]


def objects(members: Mapping[str, Texts]) -> Texts:
    """Return one object a row from the texts of its members."""
    return filled("{" + ", ".join(f"{encoded(name)}: %s" for name in members) + "}", list(members.values()))


def filled(template: str, columns: Sequence[Texts]) -> Texts:
    """Return the template with its `%s` replaced by the texts of each row."""
    return [template % row for row in zip(*columns, strict=True)]
