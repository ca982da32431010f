"""What a run leaves: whole, the same twice, never half."""

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from geoqa.deliver import deliver
from geoqa.errors import OutputError
from geoqa.processes.check import check
from geoqa.writers import WRITERS
from tests.builders import make_assessment
from tests.site import FIXTURE, geoqa


def contents(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture
def site(tmp_path):
    return Path(shutil.copytree(FIXTURE, tmp_path / "site"))


def test_two_runs_are_byte_identical(site, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767323045")
    answers = [geoqa("check", str(site / "check.toml"), "--out", str(site / name)) for name in "ab"]
    assert {answer.exit_code for answer in answers} <= {0, 1}, answers[0].stderr
    first, second = contents(site / "a"), contents(site / "b")
    assert list(first) == list(second)
    assert [name for name in first if first[name] != second[name]] == []


def test_every_file_of_the_contract_is_there(site):
    geoqa("check", str(site / "check.toml"), "--out", str(site / "out"))
    names = set(contents(site / "out"))
    expected = {
        "results.json",
        "accuracy.gpkg",
        "residual_map.png",
        "residual_map.pgw",
        "residual_map.png.aux.xml",
        "residual_map.pdf",
        "report.html",
        "points.csv",
        "checkpoints.geojson",
    }
    assert expected <= names
    assert any(name.startswith("chips" + os.sep) for name in names)
    assert any(name.startswith("styles" + os.sep) for name in names)


def test_inputs_are_not_written_to(site):
    before = contents(site)
    geoqa("check", str(site / "check.toml"), "--out", str(site.parent / "out"))
    assert contents(site) == before


def test_a_failing_writer_leaves_the_former_result_whole(tmp_path, monkeypatch):
    folder = tmp_path / "out"
    deliver(make_assessment(4, pictures=False), folder)
    before = contents(folder)

    def fail(assessment, staging):
        (staging / "half.txt").write_text("half")
        raise OSError(28, "No space left on device")

    broken = {**WRITERS.all()}
    broken["geopackage"] = type(broken["geopackage"])(
        id="geopackage", title="Broken", media_type="text/plain", write=fail
    )
    monkeypatch.setattr(WRITERS, "_found", broken)
    with pytest.raises(OutputError, match="No space left"):
        deliver(make_assessment(5, pictures=False), folder)
    assert contents(folder) == before


def test_files_of_a_former_run_that_no_longer_belong_are_removed(tmp_path):
    folder = tmp_path / "out"
    deliver(make_assessment(4, pictures=True), folder)
    (folder / "notes.txt").write_text("mine")
    deliver(make_assessment(4, pictures=False), folder)
    names = set(contents(folder))
    assert "notes.txt" in names
    assert "residual_map.png" not in names
    assert not any(name.startswith("chips") for name in names)


@pytest.mark.skipif(os.name != "posix", reason="kills a process by signal")
def test_former_results_that_somebody_indented_anew_are_understood(tmp_path):
    deliver(make_assessment(3, pictures=False), tmp_path)
    document = json.loads((tmp_path / "results.json").read_text("utf-8"))
    document["files"].append({"path": "gone.csv"})
    (tmp_path / "gone.csv").write_text("of a former run")
    # The list of files stands first and the text is cut into other lines.
    (tmp_path / "results.json").write_text(json.dumps(dict(reversed(document.items())), indent=8))
    deliver(make_assessment(3, pictures=False), tmp_path)
    assert not (tmp_path / "gone.csv").exists()


def test_a_kill_at_any_moment_leaves_whole_files_and_the_record_for_last(site):
    """Until files are moved the former result stands; amid the moves each file is of one run or the other."""
    out, later = site / "out", site / "later"

    def command(folder):
        words = ["check", str(site / "check.toml"), "--out", str(folder), "--quiet"]
        return [sys.executable, "-m", "geoqa", *words]

    environment = {**os.environ, "SOURCE_DATE_EPOCH": "1767323045"}
    newer = {**environment, "SOURCE_DATE_EPOCH": "1767323046"}
    started = time.monotonic()
    subprocess.run(command(out), env=environment, check=False)
    duration = time.monotonic() - started
    subprocess.run(command(later), env=newer, check=False)
    before, after = contents(out), contents(later)
    assert set(before) == set(after)
    for share in (0.5, 0.7, 0.8, 0.9, 0.95):
        run = subprocess.Popen(command(out), env=newer)
        time.sleep(share * duration)
        run.send_signal(signal.SIGKILL)
        run.wait()
        left = {name: data for name, data in contents(out).items() if not name.startswith(".geoqa-partial-")}
        assert set(left) == set(before)
        assert all(data in (before[name], after[name]) for name, data in left.items())
        if left["results.json"] == after["results.json"]:
            assert left == after
        with closing(sqlite3.connect(out / "accuracy.gpkg")) as layers:
            assert layers.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    subprocess.run(command(out), env=environment, check=False)
    assert contents(out) == before
    assert not list(out.glob(".geoqa-partial-*"))


def test_outputs_hold_the_results_as_they_were_written(tmp_path):
    outputs = check(settings=str(FIXTURE / "check.toml"), out=str(tmp_path / "out"))
    assert set(outputs) == {"results", "folder", "status"}
    assert len(outputs) == 3
    assert outputs["results"] == json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    assert outputs["folder"] == str(tmp_path / "out")
    # What is kept in brief says of each point what the whole says.
    for brief, point in zip(outputs.in_brief["points"], outputs["results"]["points"], strict=True):
        assert brief["id"] == point["id"]
        assert brief["vertical"].items() <= point["vertical"].items()
        assert brief["target"]["status"] == point["target"]["status"]
