"""Spoiled inputs, made from a small sound site in the same way each time; nothing is kept as a file.

A case spoils one file of the site. However it is spoiled, the check must end in time with exit status
0, 1, 2 or 3, without a traceback, without half a result, and without harm to inputs and former results.
`python -m tests.spoiled --all` runs every case; the tests run a share.
"""

import hashlib
import json
import shutil
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.site import FIXTURE, geoqa

# Of the processor, whatever else the computer does; and by the clock, for what waits for ever.
MOST_SECONDS, MOST_WAITING_SECONDS = 40, 600
FORMER = {"results.json": '{"files": [{"path": "report.html"}]}', "report.html": "a former report"}


@dataclass(frozen=True)
class Case:
    """One spoiled input.

    Attributes
    ----------
    name
        Tells the cases apart and says what was spoiled how.
    spoil
        Given a folder with a copy of the sound site, spoils it.
    """

    name: str
    spoil: Callable[[Path], None]


def cases() -> list[Case]:
    """Return all cases, in the same order each time."""
    from tests.spoiled import points, rasters, settings

    return [*points.cases(), *settings.cases(), *rasters.cases()]


class OutOfTime(BaseException):
    """A case took too long; no handler for mistakes must catch it."""


def run(case: Case, folder: Path) -> tuple[int, list[str]]:
    """Run one case in an empty folder and return the exit status and all that is wrong with its end."""
    site, out = folder / "site", folder / "out"
    shutil.copytree(FIXTURE, site)
    case.spoil(site)
    out.mkdir()
    for name, text in FORMER.items():
        (out / name).write_text(text)
    before, former = prints(site), prints(out)
    try:
        with _limited():
            answer = geoqa("check", str(site / "check.toml"), "--out", str(out), "--quiet")
    except OutOfTime:
        return -1, [f"took more than {MOST_SECONDS} s, or waited for more than {MOST_WAITING_SECONDS} s"]
    wrong = list(_wrong_words(answer))
    if prints(site) != before:
        wrong.append("an input was changed, or a file left beside it")
    if answer.exit_code == 2 and prints(out) != former:
        wrong.append("refused, yet the former results are not as they were")
    if answer.exit_code != 2:
        wrong += _half_done(out)
    return answer.exit_code, wrong


def _wrong_words(answer) -> Iterator[str]:
    said = answer.stderr.strip()
    if answer.exit_code not in {0, 1, 2, 3}:
        yield f"exit status {answer.exit_code}"
    if "Traceback" in said or "geoqa itself failed" in said:
        yield said
    if answer.stdout:
        yield f"wrote to standard output: {answer.stdout[:200]}"
    if answer.exit_code == 2 and not said.endswith((".", "?")):
        yield f"no sentence: {said[-200:]!r}"
    if answer.exit_code != 2 and said:
        yield f"spoke although it was to be quiet: {said[:300]!r}"


def _half_done(out: Path) -> Iterator[str]:
    """Yield what is wrong with results that were delivered."""
    try:
        listed = json.loads((out / "results.json").read_text("utf-8"), parse_constant=_refuse)["files"]
    except (OSError, ValueError, KeyError) as reason:
        yield f"results.json cannot be read: {reason}"
        return
    expected = {item["path"]: item["sha256"] for item in listed if "sha256" in item}
    found = prints(out)
    found.pop("results.json", None)
    if found != expected:
        yield f"listed and delivered files differ: {sorted(set(found.items()) ^ set(expected.items()))}"


def _refuse(constant: str) -> None:
    message = f"{constant} is no JSON"
    raise ValueError(message)


def prints(folder: Path) -> dict[str, str]:
    """Return path of each file in a folder → hash of its content."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@contextmanager
def _limited() -> Iterator[None]:
    """Raise `OutOfTime` where the block takes too long and the system can tell."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(*_: object) -> None:
        raise OutOfTime

    timers = (
        (signal.SIGPROF, signal.ITIMER_PROF, MOST_SECONDS),
        (signal.SIGALRM, signal.ITIMER_REAL, MOST_WAITING_SECONDS),
    )
    before = [signal.signal(number, stop) for number, _, _ in timers]
    for _, timer, seconds in timers:
        signal.setitimer(timer, seconds)
    try:
        yield
    finally:
        for (number, timer, _), handler in zip(timers, before, strict=True):
            signal.setitimer(timer, 0)
            signal.signal(number, handler)


def settings_text(*, points: str = "points.csv", about_points: str = "", more: str = "") -> str:
    """Return settings of the site; without pictures, which cost time and change nothing here."""
    return (
        'title = "Spoiled on purpose"\n[orthomosaic]\npath = "orthomosaic.tif"\n'
        '[elevation]\npath = "surface.tif"\nheight_system = "EPSG:7837"\nunit = "metre"\n'
        f'[points]\npath = "{points}"\n{about_points}'
        '[targets]\nkind = "quadrant-panel"\nsize_m = 0.6\n'
        "[requirement]\nhorizontal_rmse_m = 0.05\nvertical_rmse_m = 0.05\n"
        f'standards = ["asprs-2023"]\n[deliver]\npictures = false\n{more}'
    )
