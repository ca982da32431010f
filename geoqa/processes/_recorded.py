"""The record of a check that was made before: read, whole, and where its inputs lie now."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from geoqa.deliver import RESULTS
from geoqa.errors import InputError
from geoqa.processes._differences import Difference
from geoqa.readers.provenance import whole_sha256
from geoqa.readers.settings import named_files
from geoqa.records.settings import is_remote
from geoqa.writers._fingerprint import fingerprint_of
from geoqa.writers._json_text import encoded, write_json
from geoqa.writers.results_json import SCHEMA


@dataclass(frozen=True, eq=False)
class Record:
    """The results that lie in a folder, as text and as values."""

    folder: Path
    text: bytes
    document: Mapping[str, Any]

    @property
    def fingerprint(self) -> str:
        """Return the fingerprint over what the results say now."""
        return fingerprint_of(self.document, map(encoded, self.document["points"]))


def read_record(folder: Path) -> Record:
    """Return the results in a folder.

    Raises
    ------
    InputError
        Where there are none, or none that can be verified.
    """
    path = folder / RESULTS
    try:
        text = path.read_bytes()
        document = json.loads(text)
    except FileNotFoundError:
        message = f"{folder}: there is no {RESULTS} in it. Name the folder that a check left."
        raise InputError(message) from None
    except (OSError, ValueError) as reason:
        message = f"{path}: the results cannot be read ({reason}). Ask for an undamaged copy of the folder."
        raise InputError(message) from None
    _refuse_strange(path, document)
    return Record(folder, text, document)


def _refuse_strange(path: Path, document: Any) -> None:
    found = document.get("schema") if isinstance(document, dict) else None
    if found != SCHEMA:
        message = (
            f"{path}: the results are of schema {found}, this version of geoqa verifies {SCHEMA}. Verify "
            "with the version that wrote them."
        )
        raise InputError(message)
    missing = [
        key for key in ("points", "settings", "provenance", "files", "fingerprint") if key not in document
    ]
    if missing:
        message = f"{path}: {', '.join(missing)} missing, which verifying needs. Run the check again."
        raise InputError(message)


def tampered(record: Record, scratch: Path) -> Iterator[Difference]:
    """Yield where the delivered files are no longer those that were written."""
    told = record.document["fingerprint"]
    if told != record.fingerprint:
        yield Difference("fingerprint", RESULTS, told, record.fingerprint)
    again = scratch / "again.json"
    document = dict(record.document)
    write_json(again, document, "points", map(encoded, document["points"]))
    if again.read_bytes() != record.text:
        yield Difference("file", RESULTS, "as geoqa writes it", "other bytes")
    for item in record.document["files"]:
        found = sha256_of(record.folder / item["path"])
        if found != item["sha256"]:
            yield Difference("file", item["path"], item["sha256"], found)


def sha256_of(path: Path) -> str | None:
    """Return the SHA-256 of a file, or None where there is none."""
    return whole_sha256(path) if path.is_file() else None


@dataclass(frozen=True)
class Located:
    """Where the inputs lie now.

    Attributes
    ----------
    folder
        Paths of the settings count from here.
    settings
        The recorded settings, with other paths where the files lie elsewhere.
    names
        Path as it is now → path as recorded.
    recorded
        Place in the settings → name of the file as recorded there.
    """

    folder: Path
    settings: Mapping[str, Any]
    names: Mapping[str, str]
    recorded: Mapping[Any, str]


def located(record: Record, inputs: Path | None) -> Located:
    """Return where the inputs of a record lie.

    They are sought in `inputs` if given; else beside the folder of the results, then where the record says.

    Raises
    ------
    InputError
        Where some of them are nowhere.
    """
    named = [(place, str(name)) for place, name in named_files(record.document["settings"])]
    local = [(place, name) for place, name in named if not is_remote(name)]
    folders = [inputs] if inputs is not None else [_beside(record.folder), _recorded_folder(record, local)]
    for folder in folders:
        found = {name: _within(folder, name) for _, name in local}
        if None not in found.values():
            return _located(record, folder, local, {key: str(value) for key, value in found.items()})
    absent = sorted({name for _, name in local if _within(folders[0], name) is None})
    message = (
        f"{record.folder}: the inputs {', '.join(absent)} are not in {', '.join(map(str, folders))}. "
        "Name the folder that holds them with --inputs."
    )
    raise InputError(message)


def _beside(folder: Path) -> Path:
    """Return the folder that a folder lies in, also where it is named “.” or “..”."""
    return folder.parent if folder.name not in {"", ".."} else folder.resolve().parent


def _within(folder: Path, name: str) -> str | None:
    """Return a path as the settings would name it from a folder: as recorded, or the bare name."""
    return next((path for path in (name, PurePath(name).name) if (folder / path).is_file()), None)


def _recorded_folder(record: Record, local: list[tuple[Any, str]]) -> Path:
    """Return the folder that the recorded paths of the inputs count from."""
    recorded = [PurePath(item["path"]) for item in record.document["provenance"]["inputs"]]
    for _, name in local:
        parts = PurePath(name).parts
        for path in recorded:
            if path.parts[-len(parts) :] == parts and not PurePath(name).is_absolute():
                return Path(*path.parts[: -len(parts)])
    return Path()


def _located(record: Record, folder: Path, local: list[tuple[Any, str]], found: Mapping[str, str]) -> Located:
    before = _recorded_folder(record, local)
    if any(str(folder / found[name]) != str(before / name) for _, name in local):
        # A whole path is found in a text without being taken for the end of another.
        folder = folder.resolve()
    names = {str(folder / found[name]): str(before / name) for _, name in local}
    return Located(
        folder,
        with_names(record.document["settings"], {place: found[name] for place, name in local}),
        {now: then for now, then in names.items() if now != then},
        dict(local),
    )


def with_names(settings: Mapping[str, Any], names: Mapping[Any, str]) -> dict[str, Any]:
    """Return a copy of settings with other names of files, by their place in it."""
    copied: dict[str, Any] = json.loads(json.dumps(settings))
    for place, name in names.items():
        table: Any = copied
        for key in place[:-1]:
            table = table[key]
        table[place[-1]] = name
    return copied
