"""The outputs of a check, read back from its folder when they are asked for."""

from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from geoqa.writers.results_json import read_results

_USES = ("horizontal", "vertical")
_MEASURED = ("target", "surface")


class Delivered(Mapping[str, Any]):
    """`results`, `folder` and `status`. With many points the results are large, and few read them all.

    Attributes
    ----------
    in_brief
        The results as `read_in_brief` returns them.
    """

    def __init__(self, folder: Path, in_brief: Mapping[str, Any], status: int) -> None:
        self.in_brief = in_brief
        self._folder = folder
        self._others = {"folder": str(folder), "status": status}

    def __getitem__(self, name: str) -> Any:
        """Return an output."""
        return self._results if name == "results" else self._others[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names of the outputs."""
        yield from ("results", *self._others)

    def __len__(self) -> int:
        """Return the number of outputs."""
        return 1 + len(self._others)

    @cached_property
    def _results(self) -> dict[str, Any]:
        return read_results(self._folder)


def read_in_brief(folder: Path) -> dict[str, Any]:
    """Return the results in a folder, of each point only its id, its uses and how it was measured."""
    shared: dict[tuple[object, ...], dict[str, Any]] = {}

    def keep(point: Mapping[str, Any]) -> dict[str, Any]:
        uses = {name: {key: point[name][key] for key in ("used", "reason")} for name in _USES}
        measured = {name: {"status": point[name]["status"]} for name in _MEASURED}
        # Most points are alike in these: they share the values.
        alike = tuple(value for part in (uses | measured).values() for value in part.values())
        return {"id": point["id"], **shared.setdefault(alike, uses | measured)}

    return read_results(folder, keep)
