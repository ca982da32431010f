"""Make a check again from its record, and say whether it comes out the same."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Output, Process

_FILE = {"type": "string", "format": "uri-reference"}
_MOST_SHOWN = 12


def verify(*, folder: str, inputs: str | None = None, settings: str | None = None) -> Mapping[str, Any]:
    """Return whether a folder holds what its recorded inputs and settings give, and what differs."""
    from pathlib import Path

    from geoqa.processes._verification import verification

    return verification(
        Path(folder),
        None if inputs is None else Path(inputs),
        None if settings is None else Path(settings),
    )


def summary(outputs: Mapping[str, Any]) -> str:
    """Return the answer first, then each difference on a line."""
    from geoqa.writers._fingerprint import short

    counts = outputs["compared"]
    found = outputs["differences"]
    if outputs["identical"]:
        head = (
            f"Identical: {counts['files']} files, {counts['inputs']} inputs, {counts['points']} points and "
            f"{counts['values']} values are what the record says."
        )
    else:
        head = f"Different: {len(found)} difference{'' if len(found) == 1 else 's'} from the record."
    lines = [head, *(f"  {item['sentence']}" for item in found[:_MOST_SHOWN])]
    if len(found) > _MOST_SHOWN:
        lines.append(f"  and {len(found) - _MOST_SHOWN} more; --json lists all of them.")
    lines += [f"Note: {sentence}" for sentence in outputs["remarks"]]
    lines.append(
        f"Fingerprint of the results: {short(outputs['fingerprint'])}. Compare it with the report's."
    )
    return "\n".join(lines)


PROCESS = Process(
    id="verify",
    version="1.0.0",
    title="Verify a delivered folder",
    description=(
        "Hashes the delivered files and the inputs, makes the check again from the recorded settings, and "
        "compares every point, statistic, statement and verdict with the record. Nothing is written.\n\n"
        "Exit status: 0 identical, 1 different, 2 it cannot be verified."
    ),
    inputs={
        "folder": Input(
            "Folder that a check left",
            _FILE,
            "with results.json",
            required=True,
            position=True,
            word="FOLDER",
        ),
        "inputs": Input(
            "Folder of the inputs",
            _FILE,
            "default beside the folder of the results, then where the record says",
            word="FOLDER",
        ),
        "settings": Input(
            "Settings file to hold against the recorded settings",
            _FILE,
            "default the one that FOLDER is named after, if it is there",
            word="SETTINGS.toml",
        ),
    },
    outputs={
        "identical": Output("Whether nothing differs", {"type": "boolean"}),
        "fingerprint": Output("Fingerprint of what the results say now", {"type": "string"}),
        "differences": Output(
            "Differences",
            {"type": "array", "items": {"type": "object"}},
            "kind, where, recorded, found and a sentence",
        ),
        "remarks": Output(
            "What a reader should know", {"type": "array", "items": {"type": "string"}}, "other versions"
        ),
        "compared": Output("How many files, inputs, points and values were compared", {"type": "object"}),
        "folder": Output("Folder that was verified", _FILE),
        "status": Output("Status", {"type": "integer", "enum": [0, 1]}, "0 identical, 1 different"),
    },
    run=verify,
    summary=summary,
    exit_status=lambda outputs: int(outputs["status"]),
)
