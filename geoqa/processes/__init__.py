"""Steps that are useful alone, one file each, described as OGC API – Processes process descriptions.

A module in this folder defines `PROCESS`. Modules stay light: they import their work inside the
function, so that listing them costs nothing.

References
----------
OGC 18-062r2, OGC API – Processes – Part 1: Core, requirements class "OGC Process Description".
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from geoqa.registry import Registry


@dataclass(frozen=True)
class Input:
    """One input of a process.

    Attributes
    ----------
    schema
        JSON Schema of the value. A length carries `x-ogc-unit`; a default stands here and in the
        signature of the function, and a test holds them together.
    required
        False gives `minOccurs` 0.
    position
        True where the command line takes the value as a word without an option name.
    word
        What stands for the value in the help: FILE, FOLDER; derived from the schema if empty.
    """

    title: str
    schema: Mapping[str, Any]
    description: str = ""
    required: bool = False
    position: bool = False
    word: str = ""


@dataclass(frozen=True)
class Output:
    """One output of a process."""

    title: str
    schema: Mapping[str, Any]
    description: str = ""


@dataclass(frozen=True)
class Process:
    """A step that describes itself.

    Attributes
    ----------
    run
        Keyword arguments named as the inputs → mapping named as the outputs.
    summary
        Text for a person, from the outputs; None prints nothing.
    exit_status
        Exit status of the command line, from the outputs.
    document
        Name of the output that `--json` prints; None prints all outputs.
    """

    id: str
    version: str
    title: str
    description: str
    inputs: Mapping[str, Input]
    outputs: Mapping[str, Output]
    run: Callable[..., Mapping[str, Any]]
    summary: Callable[[Mapping[str, Any]], str] | None = None
    exit_status: Callable[[Mapping[str, Any]], int] = field(default=lambda outputs: 0)
    document: str | None = None

    def describe(self) -> dict[str, Any]:
        """Return the process description as a JSON-able mapping."""
        return {
            "id": self.id,
            "version": self.version,
            "title": self.title,
            "description": self.description,
            "jobControlOptions": ["sync-execute"],
            "inputs": {name: _described_input(item) for name, item in self.inputs.items()},
            "outputs": {
                name: _without_blanks(
                    {"title": item.title, "description": item.description, "schema": dict(item.schema)}
                )
                for name, item in self.outputs.items()
            },
        }


def _described_input(item: Input) -> dict[str, Any]:
    return _without_blanks(
        {
            "title": item.title,
            "description": item.description,
            "minOccurs": int(item.required),
            "maxOccurs": 1,
            "schema": dict(item.schema),
        }
    )


def _without_blanks(mapping: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in mapping.items() if value != ""}


PROCESSES = Registry("geoqa.processes", "PROCESS", Process)
