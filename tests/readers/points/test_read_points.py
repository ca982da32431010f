"""The format of a file is found by its name; a file that cannot be had is one sentence."""

from pathlib import Path

import numpy as np
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import READERS, PointReader, PointsRequest, read_points

TABLE = "id,easting,northing\nA,1,2\n"


def message(path):
    with pytest.raises(InputError) as caught:
        read_points(str(path), PointsRequest())
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("name", ["points.csv", "POINTS.CSV", "points.txt", "points.tsv"])
def test_table_is_read_whatever_the_case_of_its_name(tmp_path, name):
    (tmp_path / name).write_text(TABLE)
    points = read_points(str(tmp_path / name), PointsRequest(columns={"id": "id"}))
    np.testing.assert_array_equal(points.coordinates[0, :2], [1, 2])


@pytest.mark.parametrize("name", [name for name, reader in READERS.all().items() if reader.example_is_file])
def test_example_of_every_format_of_text_is_read_by_that_format(tmp_path, name):
    reader = READERS.get(name)
    path = tmp_path / f"example{reader.suffixes[0]}"
    path.write_text(reader.example, encoding="utf-8")
    assert len(read_points(str(path), PointsRequest())) >= 3
    assert [other.id for other in READERS.all().values() if other.can_read(path)] == [name]


@pytest.mark.parametrize("name", sorted(READERS.all()))
def test_example_for_the_help_page_has_five_lines(name):
    assert len(READERS.get(name).example.splitlines()) == 5


@pytest.mark.parametrize("name", sorted(READERS.all()))
def test_each_file_name_belongs_to_one_format(tmp_path, name):
    for suffix in READERS.get(name).suffixes:
        path = tmp_path / f"points{suffix.upper()}"
        path.write_text("LandXML" if name == "landxml" else "$GNGGA," if name == "nmea" else "id")
        assert [other.id for other in READERS.all().values() if other.can_read(path)] == [name]


def test_huge_file_is_refused_before_it_is_read(tmp_path):
    for suffix in (".csv", ".xlsx", ".xml", ".dxf", ".nmea"):
        path = tmp_path / f"points{suffix}"
        with path.open("wb") as file:
            file.write(b"<LandXML")
            file.truncate(300_000_000)
        assert "300 MB" in message(path)


def test_unknown_kind_of_file_names_the_formats(tmp_path):
    (tmp_path / "points.dwg").write_bytes(b"AC1032")
    found = message(tmp_path / "points.dwg")
    assert "points.dwg" in found
    assert ".csv" in found
    assert ".gpkg" in found


def test_guest_joins(tmp_path, monkeypatch):
    (tmp_path / "points.pts").write_text(TABLE)
    known = READERS.all()
    guest = PointReader(
        id="guest",
        title="Guest",
        suffixes=(".pts",),
        example="",
        can_read=lambda path: path.suffix == ".pts",
        read=known["delimited-text"].read,
    )
    monkeypatch.setattr(READERS, "_found", {**known, "guest": guest})
    assert read_points(str(tmp_path / "points.pts"), PointsRequest()).ids == ("A",)


@pytest.mark.parametrize("suffix", [".csv", ".gpkg", ".dwg"])
def test_missing_empty_and_folder_are_told_apart(tmp_path, suffix):
    assert "there is no such file" in message(tmp_path / f"none{suffix}")
    (tmp_path / f"folder{suffix}").mkdir()
    assert "is a folder" in message(tmp_path / f"folder{suffix}")
    (tmp_path / f"empty{suffix}").touch()
    assert "is empty" in message(tmp_path / f"empty{suffix}")
    (tmp_path / f"link{suffix}").symlink_to("nowhere")
    assert "the link leads nowhere" in message(tmp_path / f"link{suffix}")


def test_name_too_long_for_a_disk_is_one_sentence():
    assert "cannot be opened" in message(f"{'x' * 5000}.csv")


def test_file_that_may_not_be_read_is_one_sentence(tmp_path, monkeypatch):
    (tmp_path / "points.csv").write_text(TABLE)

    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert "Permission denied" in message(tmp_path / "points.csv")


@pytest.mark.parametrize("path", ["https://example.org/points.csv", "/vsizip/points.zip/points.csv"])
def test_remote_file_is_refused(path):
    assert "on this computer" in message(path)
