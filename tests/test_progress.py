"""Progress: one line on a terminal for long work, never where a machine reads or nobody asked."""

import io
import itertools
import time

import pytest

from geoqa import progress
from geoqa.errors import InputError
from tests.site import FIXTURE


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def slow(monkeypatch):
    """Let every look at the clock find two seconds gone by."""
    seconds = itertools.count(step=2)
    monkeypatch.setattr(time, "monotonic", lambda: float(next(seconds)))


def said(monkeypatch, tmp_path, *words, stream):
    import sys

    from geoqa.cli import main

    command = ["geoqa", "check", str(FIXTURE / "check.toml"), "--out", str(tmp_path / "out"), *words]
    monkeypatch.setattr(sys, "argv", command)
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    monkeypatch.setattr(sys, "stderr", stream)
    with pytest.raises(SystemExit):
        main()
    return stream.getvalue()


def test_items_pass_and_are_counted(caplog):
    caplog.set_level("DEBUG", progress.LOG.name)
    assert list(progress.counted("ab", 2, "Letters read")) == ["a", "b"]
    assert [record.message for record in caplog.records] == [f"Letters read: {n} of 2" for n in (0, 1, 2)]


def test_long_work_is_told_on_a_terminal_and_erased(monkeypatch, tmp_path, slow):
    text = said(monkeypatch, tmp_path, stream=Terminal())
    assert "\rTargets looked for: 1 of" in text
    assert "\rDeliverables written: 1 of" in text
    # What stays on the terminal is what stands after the last return to the beginning of each line.
    left = "\n".join(line.rpartition("\r")[2] for line in text.split("\n"))
    assert "looked for" not in left
    assert "Results are in" in left


def test_a_mistake_amid_long_work_stands_on_its_own_line(monkeypatch, tmp_path, slow):
    from geoqa import seek

    def fail(*_):
        message = "the target cannot be read."
        raise InputError(message)

    patches = seek.read_patches
    monkeypatch.setattr(seek, "read_patches", lambda *words: itertools.chain(patches(*words), map(fail, [1])))
    assert "\r\x1b[Kgeoqa: the target cannot be read." in said(monkeypatch, tmp_path, stream=Terminal())


def test_short_work_says_nothing(monkeypatch, tmp_path):
    monkeypatch.setattr(time, "monotonic", lambda: 0.0)
    assert "\r" not in said(monkeypatch, tmp_path, stream=Terminal())


@pytest.mark.parametrize("words", [["--json"], ["--quiet"]])
def test_nothing_is_told_where_a_machine_reads(monkeypatch, tmp_path, slow, words):
    assert "\r" not in said(monkeypatch, tmp_path, *words, stream=Terminal())


def test_nothing_is_told_to_a_file(monkeypatch, tmp_path, slow):
    assert "\r" not in said(monkeypatch, tmp_path, stream=io.StringIO())
