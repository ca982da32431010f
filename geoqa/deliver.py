"""Write all deliverables of an assessment into a folder, as a whole or not at all."""

import json
import os
import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from geoqa.errors import OutputError
from geoqa.progress import counted
from geoqa.records.assessment import Assessment
from geoqa.writers import WRITERS

RESULTS = "results.json"
# How the results end: about 120 bytes a file, at most some hundreds of files.
_LAST_MEMBER, _END_BYTES = b'\n "files": ', 1 << 20
_STAGING = ".geoqa-partial-"


def deliver(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write every deliverable and return the paths, relative to the folder.

    All files are first written into a hidden folder inside `folder`, then moved into place one by
    one, the results last. A run that fails before that leaves the former results whole; files of
    a former run that no longer belong are removed.

    Raises
    ------
    OutputError
        When the folder cannot be made or written to.
    """
    with _output_errors(folder), _staging(folder) as staging:
        pictures = assessment.settings.deliver.pictures
        writers = [writer for writer in WRITERS.all().values() if pictures or not writer.picture]
        writers.sort(key=lambda item: (item.order, item.id))
        for writer in counted(writers, len(writers), "Deliverables written"):
            writer.write(assessment, staging)
        return _move_into_place(staging, folder)


@contextmanager
def _output_errors(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as mistake:
        place = mistake.filename or folder
        message = (
            f"{folder}: the results cannot be written ({mistake.strerror or mistake}: {place}). "
            "Name another folder with --out, or make room and grant write permission."
        )
        raise OutputError(message) from mistake


@contextmanager
def _staging(folder: Path) -> Iterator[Path]:
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    _sweep(folder)
    staging = folder / f"{_STAGING}{os.getpid()}"
    staging.mkdir()
    try:
        yield staging
    except BaseException:
        shutil.rmtree(staging, ignore_errors=True)
        if made:
            with suppress(OSError):
                folder.rmdir()
        raise
    shutil.rmtree(staging)


def _sweep(folder: Path) -> None:
    """Remove what a run that was killed left behind."""
    for left in folder.glob(f"{_STAGING}*"):
        if not _is_running(left.name.removeprefix(_STAGING)):
            shutil.rmtree(left, ignore_errors=True)


def _is_running(process: str) -> bool:
    if os.name != "posix":  # elsewhere signal 0 is no harmless question
        return True
    try:
        os.kill(int(process), 0)
    except (ValueError, ProcessLookupError):
        return False
    except PermissionError:
        return True
    return int(process) != os.getpid()


def _move_into_place(staging: Path, folder: Path) -> tuple[Path, ...]:
    files = [path.relative_to(staging) for path in sorted(staging.rglob("*")) if path.is_file()]
    files.sort(key=lambda path: path.name == RESULTS)
    former = _former_files(folder)
    for parent in sorted({path.parent for path in files}):
        (folder / parent).mkdir(parents=True, exist_ok=True)
    with _undisturbed():
        for path in files:
            (staging / path).replace(folder / path)
        for path in former - set(files):
            (folder / path).unlink(missing_ok=True)
    return tuple(files)


def _former_files(folder: Path) -> set[Path]:
    """Return the files that a former run lists in its results and that lie inside the folder."""
    try:
        paths = {Path(item["path"]) for item in _listed(folder / RESULTS)}
    except (OSError, ValueError, KeyError, TypeError):
        return set()
    return {path for path in paths if not path.is_absolute() and ".." not in path.parts}


def _listed(results: Path) -> list[dict[str, str]]:
    """Return the member `files`, which stands last; with many points the rest is large."""
    with results.open("rb") as stream:
        stream.seek(max(0, results.stat().st_size - _END_BYTES))
        _, found, end = stream.read().rpartition(_LAST_MEMBER)
    document = json.loads(b"{" + found + end if found else results.read_bytes())
    listed: list[dict[str, str]] = document["files"]
    return listed


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back an interrupt until the files are in place."""
    wanted = {signal.SIGINT, signal.SIGTERM}
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, wanted)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
