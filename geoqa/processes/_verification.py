"""A check made again from its record, and held against it."""

import json
import logging
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from geoqa.assess import assess
from geoqa.deliver import RESULTS, deliver
from geoqa.errors import GeoqaError, InputError
from geoqa.processes._differences import Comparison, Difference, compare
from geoqa.processes._recorded import Located, Record, located, read_record, sha256_of, tampered, with_names
from geoqa.readers.provenance import fingerprint as of_file
from geoqa.readers.settings import read_settings, settings_from
from geoqa.writers._fingerprint import short

# Compared by themselves, or told as a remark.
_APART = ("files", "fingerprint", "geoqa", "provenance")


def verification(folder: Path, inputs: Path | None, settings: Path | None) -> Mapping[str, Any]:
    """Return what differs between a delivered folder and the same check made now.

    Raises
    ------
    InputError
        Where there is nothing to verify, or no inputs to make the check from.
    """
    record = read_record(folder)
    place = located(record, inputs)
    with tempfile.TemporaryDirectory(prefix="geoqa-verify-") as scratch:
        found = list(tampered(record, Path(scratch)))
        changed = list(_changed_inputs(record, place))
        found += changed
        found += _changed_settings(record, settings)
        compared, remarks = Comparison(), []
        try:
            again = _again(record, place, Path(scratch) / "out")
        except GeoqaError as reason:
            if not changed:
                message = f"{folder}: the check cannot be made again. {reason}"
                raise InputError(message) from None
            remarks.append(f"The check cannot be made again from the changed inputs: {reason}")
        else:
            compared = compare(record.document, again, _APART)
            remarks += _remarks(record, again, compared)
            found += compared.differences
            if not found and not remarks:
                found += _changed_files(
                    record, _with_fingerprint(place, again, record), Path(scratch) / "out"
                )
    return {
        "identical": not found,
        "fingerprint": record.fingerprint,
        "differences": [_told(item) for item in found],
        "remarks": remarks,
        "compared": {
            "files": len(record.document["files"]) + 1,
            "inputs": len(record.document["provenance"]["inputs"]),
            "points": len(record.document["points"]),
            "values": compared.values,
        },
        "folder": str(folder),
        "status": int(bool(found)),
    }


def _told(item: Difference) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "where": item.where,
        "recorded": item.recorded,
        "found": item.found,
        "sentence": item.sentence,
    }


def _changed_inputs(record: Record, place: Located) -> Iterator[Difference]:
    now = {then: path for path, then in place.names.items()}
    for item in record.document["provenance"]["inputs"]:
        found = of_file(now.get(item["path"], item["path"]), item["use"])
        for kind, value in (("sha256", found.sha256), ("sample_sha256", found.sample_sha256)):
            if item[kind] is not None and value != item[kind]:
                yield Difference("input", item["path"], item[kind], value)


def _changed_settings(record: Record, settings: Path | None) -> list[Difference]:
    """Return where a settings file is no longer what was recorded."""
    path = settings or _beside(record.folder)
    if path is None:
        return []
    now = read_settings(path, files_needed=False).model_dump(mode="json", exclude_none=True)
    return compare({"settings": record.document["settings"]}, {"settings": now}, ()).differences


def _beside(folder: Path) -> Path | None:
    """Return the settings file that a folder is named after, if there is one."""
    name = folder.resolve().name
    path = folder.resolve().parent / f"{name.removesuffix('-accuracy')}.toml"
    return path if name.endswith("-accuracy") and path.is_file() else None


def _again(record: Record, place: Located, out: Path) -> Mapping[str, Any]:
    """Return the results of the same check made now, with the paths that were recorded."""
    settings = settings_from(place.settings, place.folder, f"the settings in {record.folder / RESULTS}")
    created = record.document["provenance"]["created"]
    cures = [item["cure"] for item in record.document.get("trials", ()) if item["origin"] == "command line"]
    with _quiet():
        deliver(assess(settings, created=created, cures=cures), out)
    found: dict[str, Any] = json.loads(_as_recorded((out / RESULTS).read_bytes(), place))
    return {**found, "settings": with_names(found["settings"], place.recorded)}


def _as_recorded(text: bytes, place: Located) -> bytes:
    for now in sorted(place.names, key=len, reverse=True):
        text = text.replace(now.encode(), place.names[now].encode())
    return text


@contextmanager
def _quiet() -> Iterator[None]:
    """Hold back what the line says about itself: it was said when the record was made."""
    logger = logging.getLogger("geoqa")
    before = logger.level
    logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        logger.setLevel(before)


def _remarks(record: Record, again: Mapping[str, Any], compared: Comparison) -> list[str]:
    then, now = (item["provenance"]["versions"] for item in (record.document, again))
    names = [name for name in dict.fromkeys([*then, *now]) if then.get(name) != now.get(name)]
    told = [f"{name} {then.get(name, 'unknown')} then, {now.get(name, 'absent')} now." for name in names]
    if compared.rounded:
        told.append(f"{compared.rounded} numbers differ in their last digits only and count as equal.")
    return told


def _with_fingerprint(place: Located, again: Mapping[str, Any], record: Record) -> Located:
    """Return where the inputs lie, with the fingerprint among the names: paths go into it."""
    now, then = short(again["fingerprint"]), short(record.document["fingerprint"])
    return place if now == then else replace(place, names={**place.names, now: then})


def _changed_files(record: Record, place: Located, out: Path) -> Iterator[Difference]:
    """Yield delivered files that the same program no longer writes from the same inputs."""
    for item in record.document["files"]:
        if sha256_of(out / item["path"]) == item["sha256"]:
            continue
        if place.names and item["path"].endswith(".gpkg"):
            continue  # Paths lie within it, in pages of fixed length.
        now = _as_recorded((out / item["path"]).read_bytes(), place)
        if now != (record.folder / item["path"]).read_bytes():
            yield Difference("file", item["path"], "as delivered", "not what the recorded inputs give")
