"""What tells an input from any other: hashes, and a stamp that can be fixed."""

import hashlib

import pytest

from geoqa.errors import InputError
from geoqa.readers.provenance import fingerprint, provenance

LARGE = 65 << 20


def test_small_file_is_hashed_whole(tmp_path):
    (tmp_path / "points.csv").write_bytes(b"abc")
    found = fingerprint(str(tmp_path / "points.csv"), "points")
    # FIPS 180-4, the one-block message "abc".
    assert found.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert (found.size_bytes, found.sample_sha256) == (3, None)


def test_large_file_is_told_apart_by_a_sample(tmp_path):
    path = tmp_path / "ortho.tif"
    with path.open("wb") as stream:
        stream.truncate(LARGE)
    first = fingerprint(str(path), "orthomosaic")
    assert first.sha256 is None
    assert first.sample_sha256 != hashlib.sha256().hexdigest()
    with path.open("r+b") as stream:
        stream.seek(LARGE - 1)
        stream.write(b"x")
    assert fingerprint(str(path), "orthomosaic").sample_sha256 != first.sample_sha256
    with path.open("r+b") as stream:
        stream.write(b"x")
        stream.truncate(LARGE + 1)
    assert fingerprint(str(path), "orthomosaic").sample_sha256 != first.sample_sha256


def test_remote_file_has_no_hash():
    assert fingerprint("https://maps.invalid/ortho.tif", "orthomosaic").sha256 is None


def test_time_is_the_option_or_the_environment(monkeypatch):
    assert provenance([], created="2026-05-01T12:00:00+02:00").created == "2026-05-01T10:00:00Z"
    # POSIX time 0 is 1970-01-01T00:00:00Z.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert provenance([], created=None).created == "1970-01-01T00:00:00Z"


@pytest.mark.parametrize("stamp", ["yesterday", "2026-13-01", "12:00"])
def test_stamp_that_is_no_time_is_refused(stamp):
    with pytest.raises(InputError, match="ISO 8601"):
        provenance([], created=stamp)


def test_epoch_that_is_no_number_is_refused(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "soon")
    with pytest.raises(InputError, match="SOURCE_DATE_EPOCH"):
        provenance([], created=None)
