"""A sealed file of checkpoints is told from any other, and what a seal is not ends with a sentence."""

import hashlib
import json
import shutil

import pytest

from tests.site import FIXTURE, geoqa

STAMP = "2026-04-01T08:00:00Z"


@pytest.fixture
def site(tmp_path):
    return shutil.copytree(FIXTURE, tmp_path / "site")


def seal(site):
    answer = geoqa("seal-checkpoints", str(site / "points.csv"), "--created", STAMP, "--json", "--quiet")
    assert answer.exit_code == 0, answer.stderr
    return answer.json


def check(site, sealed):
    settings = (site / "check.toml").read_text("utf-8")
    settings = settings.replace('path = "points.csv"', f'path = "points.csv"\nsealed = "{sealed}"')
    (site / "sealed.toml").write_text(settings, "utf-8")
    return geoqa("check", str(site / "sealed.toml"), "--json", "--created", "2026-05-01T10:00:00Z")


def test_seal_is_the_hash_of_the_file_and_tells_nothing_of_the_coordinates(site):
    issued = seal(site)
    assert issued["sha256"] == hashlib.sha256((site / "points.csv").read_bytes()).hexdigest()
    text = (site / "points-seal.json").read_text("utf-8")
    assert json.loads(text)["issued"] == STAMP
    assert "571305" not in text


@pytest.mark.parametrize("by", ["hash", "file"])
def test_revealed_file_matches_its_seal(site, by):
    issued = seal(site)
    answer = check(site, issued["sha256"].upper() if by == "hash" else "points-seal.json")
    assert answer.exit_code == 0, answer.stderr
    (found,) = answer.json["seals"]
    assert (found["verdict"], found["issued"]) == ("matches", STAMP if by == "file" else None)
    assert found["sentence"] in answer.json["messages"]
    report = (site / "sealed-accuracy" / "report.html").read_text("utf-8")
    assert "byte for byte the file that was sealed" in report


def test_one_changed_byte_breaks_the_seal_and_the_verdict_says_so(site):
    issued = seal(site)
    points = site / "points.csv"
    points.write_bytes(points.read_bytes().replace(b"571305.137", b"571305.136"))
    answer = check(site, issued["sha256"])
    (found,) = answer.json["seals"]
    assert found["verdict"] == "differs"
    assert found["sealed_sha256"] == issued["sha256"] != found["sha256"]
    assert "is not the file that was sealed" in answer.json["verdict"]["sentence"]


def test_a_seal_is_never_replaced(site):
    seal(site)
    answer = geoqa("seal-checkpoints", str(site / "points.csv"))
    assert answer.exit_code == 2
    assert "never replaced" in answer.stderr


def test_checkpoints_that_are_not_there_cannot_be_sealed(tmp_path):
    answer = geoqa("seal-checkpoints", str(tmp_path / "none.csv"))
    assert answer.exit_code == 2
    assert "no such file of checkpoints" in answer.stderr


def test_a_file_that_is_no_seal_is_refused(site):
    (site / "other.json").write_text('{"sha256": 5}')
    answer = check(site, "other.json")
    assert answer.exit_code == 2
    assert "neither a SHA-256" in answer.stderr


def test_a_hash_with_a_digit_missing_is_no_hash_and_no_file(site):
    answer = check(site, "0" * 63)
    assert answer.exit_code == 2
    assert "there is no file" in answer.stderr


def test_verifying_includes_the_seal(site):
    check(site, seal(site)["sha256"])
    assert geoqa("verify", str(site / "sealed-accuracy"), "--quiet").exit_code == 0
    results = site / "sealed-accuracy" / "results.json"
    results.write_bytes(results.read_bytes().replace(b'"verdict": "matches"', b'"verdict": "differs"'))
    assert geoqa("verify", str(site / "sealed-accuracy"), "--quiet").exit_code == 1
