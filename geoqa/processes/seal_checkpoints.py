"""Issue the hash of a file of checkpoints before the products are made."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Output, Process
from geoqa.processes.check import CREATED, POINTS

_FILE = {"type": "string", "format": "uri-reference"}


def seal_checkpoints(*, points: str, out: str | None = None, created: str | None = None) -> Mapping[str, Any]:
    """Return the hash of a file of checkpoints, and the seal file that was written."""
    import json
    from pathlib import Path

    from geoqa.errors import InputError, OutputError
    from geoqa.readers.provenance import time_stamp, whole_sha256

    path = Path(points)
    if not path.is_file():
        message = f"{points}: there is no such file of checkpoints. Check the name."
        raise InputError(message)
    seal = {
        "file": path.name,
        "sha256": whole_sha256(path),
        "size_bytes": path.stat().st_size,
        "issued": time_stamp(created),
    }
    file = Path(out) if out is not None else path.with_name(f"{path.stem}-seal.json")
    if file.exists():
        message = (
            f"{file}: there is a file of this name, and a seal is never replaced. Name another with --out."
        )
        raise InputError(message)
    try:
        file.write_text(json.dumps(seal, indent=2, ensure_ascii=False) + "\n", "utf-8", newline="\n")
    except OSError as reason:
        message = f"{file}: the seal cannot be written ({reason.strerror}). Name another file with --out."
        raise OutputError(message) from reason
    return {**seal, "seal": str(file)}


def summary(outputs: Mapping[str, Any]) -> str:
    """Return the hash and what to do with it."""
    return (
        f"{outputs['file']}: SHA-256 {outputs['sha256']}\n"
        f"Sealed {outputs['issued']} in {outputs['seal']}. Send it to whoever receives the products before "
        "they are made, and keep the points to yourself until they are delivered. Change nothing in the "
        "file: one byte breaks the seal."
    )


PROCESS = Process(
    id="seal-checkpoints",
    version="1.0.0",
    title="Seal checkpoints before the products are made",
    description=(
        "Writes the SHA-256 of a file of checkpoints, which tells nothing of the coordinates. A later check "
        "with `sealed` under [points] says whether the revealed file is the one that was sealed."
    ),
    inputs={
        "points": Input("Surveyed points", POINTS, required=True, position=True, word="POINTS"),
        "out": Input("File for the seal", _FILE, "default <points name>-seal.json"),
        "created": CREATED,
    },
    outputs={
        "file": Output("Name of the sealed file", {"type": "string"}),
        "sha256": Output("SHA-256 of the file", {"type": "string"}),
        "size_bytes": Output("Size of the file", {"type": "integer"}),
        "issued": Output("Time", {"type": "string", "format": "date-time"}),
        "seal": Output("Seal file", _FILE),
    },
    run=seal_checkpoints,
    summary=summary,
)
