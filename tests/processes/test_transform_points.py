"""A table in, a table out: the same points in another frame or height system, every step told."""

import csv
import hashlib
import json

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError, GeoqaError, InputError, OutputError
from geoqa.processes.transform_points import PROCESS, summary, transform_points
from tests.frame.test_transform import by_hand
from tests.geoid_files import grids_in, plane, write_gtx, write_official

CALGARY = (-114.0719, 51.0447, 1045.0)
FIRST, STEP, SHAPE = (-115.0, 52.0), 0.05, (40, 50)
OFFICIAL = "ca_nrc_CGG2013an83.tif"


def written(folder, text, name="points.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def degrees(folder):
    return written(
        folder,
        "id,latitude,longitude,height,role,fix,sd_east,sd_north,sd_up,description,crew\n"
        '001,51.0447,-114.0719,1045.0,check,fixed,0.01,0.01,0.02,"nail, in kerb",A\n'
        "NA,51.0457,-114.0709,,control,,,,,,B\n",
    )


def rows(answer):
    with open(answer["file"], encoding="utf-8", newline="") as stream:  # noqa: PTH123
        return list(csv.DictReader(stream))


def test_degrees_of_a_global_frame_become_a_grid_of_a_national_one(tmp_path):
    answer = transform_points(
        points=degrees(tmp_path),
        points_crs="EPSG:9989",
        points_epoch=2026.45,
        target_crs="EPSG:22811",
        out=str(tmp_path / "utm.csv"),
    )
    first, second = rows(answer)
    lon, lat, height = by_hand(*CALGARY, 2026.45)
    grid = pyproj.Transformer.from_crs("EPSG:10414", "EPSG:22811", always_xy=True)
    east, north = grid.transform(lon, lat)
    assert_allclose([float(first["easting"]), float(first["northing"])], [east, north], rtol=0, atol=1.5e-4)
    assert_allclose(float(first["height"]), height, rtol=0, atol=1.5e-4)
    assert second["height"] == ""
    assert [first["id"], second["id"]] == ["001", "NA"]
    assert first["description"] == "nail, in kerb"
    assert [first["crew"], second["crew"]] == ["A", "B"]
    assert (first["role"], first["fix"], first["sd_up"]) == ("check", "fixed", "0.0200")
    assert answer["count"] == 2
    assert answer["height_system"] == "ellipsoidal"
    (datum, projection) = answer["steps"]
    assert "EPSG:10415" in datum["operation"]
    assert datum["accuracy_m"] == 0.0
    assert projection["title"] == "projection change"
    assert "EPSG:10415" in summary(answer)
    assert json.loads(json.dumps(answer)) == answer


def test_there_and_back_is_the_same_table(tmp_path):
    there = transform_points(
        points=degrees(tmp_path),
        points_crs="EPSG:9989",
        points_epoch=2026.45,
        target_crs="EPSG:22811",
        out=str(tmp_path / "there.csv"),
    )
    back = transform_points(
        points=there["file"],
        points_crs="EPSG:22811",
        points_height_system="ellipsoidal",
        target_crs="EPSG:9989",
        target_epoch=2026.45,
        out=str(tmp_path / "back.csv"),
    )
    first, _ = rows(back)
    # Written to 0.1 mm, which is 1e-9 degree.
    assert_allclose([float(first["longitude"]), float(first["latitude"])], CALGARY[:2], rtol=0, atol=3e-9)
    assert_allclose(float(first["height"]), 1045.0, rtol=0, atol=2e-4)
    assert list(first)[:4] == ["id", "latitude", "longitude", "height"]


def test_feet_are_named_in_the_heading_and_read_again(tmp_path):
    source = written(tmp_path, "id,easting,northing,height\nA,500000,4400000,100\n")
    words = {"points_crs": "EPSG:6342", "points_height_system": "EPSG:5703"}
    feet = transform_points(
        points=source,
        **words,
        target_crs="EPSG:6428+6360",
        out=str(tmp_path / "feet.csv"),
    )
    (row,) = rows(feet)
    # [NIST SP 811], appendix B.6: 3937/1200 US survey feet a metre.
    assert_allclose(float(row["height_ftUS"]), 100 * 3937 / 1200, rtol=0, atol=5e-5)
    assert "easting_ftUS" in row
    back = transform_points(
        points=feet["file"],
        points_crs="EPSG:6428",
        points_height_system="EPSG:5703",
        target_crs="EPSG:6342+5703",
        out=str(tmp_path / "back.csv"),
    )
    (row,) = rows(back)
    found = [float(row[name]) for name in ("easting", "northing", "height")]
    assert_allclose(found, [500_000.0, 4_400_000.0, 100.0], rtol=0, atol=1e-4)


def test_heights_by_a_grid_of_the_user(tmp_path):
    grid = write_gtx(tmp_path / "own grid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    answer = transform_points(
        points=degrees(tmp_path),
        points_crs="EPSG:10413",
        target_crs="EPSG:22811",
        target_height_system="EPSG:9245",
        geoid_grid=str(grid),
        out=str(tmp_path / "out.csv"),
    )
    separation = -17.0 + 0.5 * (CALGARY[0] - FIRST[0]) - 0.3 * (CALGARY[1] - FIRST[1])
    assert_allclose(float(rows(answer)[0]["height"]), 1045.0 - separation, rtol=0, atol=1e-4)
    (used,) = answer["grids"]
    assert used["path"] == str(grid)
    assert used["sha256"] == hashlib.sha256(grid.read_bytes()).hexdigest()
    assert used["size_bytes"] == grid.stat().st_size


def test_heights_by_a_grid_that_proj_finds(tmp_path):
    (tmp_path / "proj").mkdir()
    nodes = plane(FIRST, STEP, SHAPE)
    path = write_official(tmp_path / "proj" / OFFICIAL, FIRST, STEP, nodes, crs="EPSG:10413")
    words = {"points": degrees(tmp_path), "points_crs": "EPSG:10413", "target_crs": "EPSG:22811+9245"}
    with grids_in(tmp_path / "proj"):
        answer = transform_points(**words, out=str(tmp_path / "out.csv"))
    separation = -17.0 + 0.5 * (CALGARY[0] - FIRST[0]) - 0.3 * (CALGARY[1] - FIRST[1])
    assert_allclose(float(rows(answer)[0]["height"]), 1045.0 - separation, rtol=0, atol=1e-4)
    (used,) = answer["grids"]
    assert used["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    # PROJ leaves a node without a value out and takes the mean of the others.
    nodes[19, 18] = np.nan
    write_official(path, FIRST, STEP, nodes, crs="EPSG:10413", nodata=-88.8888)
    with (
        grids_in(tmp_path / "proj"),
        pytest.raises(FrameError, match="“001” lies beside a node without a value"),
    ):
        transform_points(**words, out=str(tmp_path / "out.csv"))


def test_one_separation(tmp_path):
    answer = transform_points(
        points=degrees(tmp_path),
        points_crs="EPSG:10413",
        target_crs="EPSG:22811+9245",
        separation_m=-16.8,
        out=str(tmp_path / "out.csv"),
    )
    assert float(rows(answer)[0]["height"]) == pytest.approx(1061.8, abs=1e-4)
    assert any("kilometre" in said for said in answer["messages"])


def test_the_height_of_a_target_stays_a_column(tmp_path):
    source = written(tmp_path, "id,easting,northing,height,target_height\nA,500000,5400000,100,0.3\n")
    answer = transform_points(
        points=source, points_crs="EPSG:25832", target_crs="EPSG:25833", out=str(tmp_path / "out.csv")
    )
    (row,) = rows(answer)
    assert (row["height"], row["target_height"]) == ("100.0000", "0.3000")


def test_repeated_ids_keep_their_rows(tmp_path):
    source = written(tmp_path, "id,easting,northing\nA,500000,5400000\nA,500000.01,5400000\n")
    answer = transform_points(
        points=source, points_crs="EPSG:25832", target_crs="EPSG:25833", out=str(tmp_path / "out.csv")
    )
    assert [row["id"] for row in rows(answer)] == ["A", "A"]


def test_points_of_the_whole_world_go_from_degrees_to_degrees(tmp_path):
    lines = [f"P{lon},{lat},{lon},10" for lon in range(-180, 181, 60) for lat in (-60, 0, 60)]
    source = written(tmp_path, "id,latitude,longitude,height\n" + "\n".join(lines) + "\n")
    answer = transform_points(
        points=source,
        points_crs="EPSG:7912",
        points_epoch=2020.0,
        target_crs="EPSG:9989",
        target_epoch=2020.0,
        out=str(tmp_path / "out.csv"),
    )
    found = rows(answer)
    # ITRF2014 to ITRF2020: millimetres (EPSG:9991).
    for line, row in zip(lines, found, strict=True):
        _, lat, lon, _ = line.split(",")
        apart = (float(row["longitude"]) - float(lon) + 180) % 360 - 180
        assert abs(apart) < 1e-7
        assert abs(float(row["latitude"]) - float(lat)) < 1e-7


REFUSED = {
    "no crs of the points": (
        {"target_crs": "EPSG:22811"},
        InputError,
        r"points\.csv: nothing states the CRS of the points\. Name it with --points-crs",
    ),
    "a generic name": (
        {"points_crs": "EPSG:4979", "target_crs": "EPSG:22811"},
        FrameError,
        "WGS 84 leaves open",
    ),
    "no epoch": ({"points_crs": "EPSG:9989", "target_crs": "EPSG:22811"}, FrameError, "is dynamic"),
    "no epoch of the target": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:9989"},
        FrameError,
        r"the datum of the target, is dynamic.*Set target_epoch to",
    ),
    "no geoid": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:22811+9245"},
        FrameError,
        r"ca_nrc_CGG2013an83\.tif.*geoid\.grid",
    ),
    "heights of no system": (
        {"points_crs": "EPSG:9990", "points_epoch": 2026.45, "target_crs": "EPSG:22811"},
        FrameError,
        "ellipsoidal heights change by 0.40 m.*points.height_system",
    ),
    "a target that is none": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:99999"},
        InputError,
        "target_crs: “EPSG:99999” is no coordinate reference system",
    ),
    "a target in depth": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:22811", "target_height_system": "EPSG:5715"},
        FrameError,
        "downwards",
    ),
    "two height systems": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:22811+9245", "target_height_system": "ellipsoidal"},
        FrameError,
        "Leave one of them out",
    ),
    "two units of height": (
        {
            "points_crs": "EPSG:6319",
            "target_crs": "EPSG:6342+6360",
            "target_height_unit": "metre",
        },
        FrameError,
        "counts in us-survey-foot",
    ),
    "an epoch out of any sense": (
        {"points_crs": "EPSG:9989", "points_epoch": 26.45, "target_crs": "EPSG:22811"},
        GeoqaError,
        r"command line, points\.epoch: must be at least 1900",
    ),
    "a missing grid file": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:22811", "geoid_grid": "nowhere.gtx"},
        GeoqaError,
        r"geoid\.grid: there is no file .*nowhere\.gtx",
    ),
    "grid and number": (
        {"points_crs": "EPSG:10413", "target_crs": "EPSG:22811", "geoid_grid": "a.gtx", "separation_m": 1.0},
        GeoqaError,
        "exactly one of grid and separation_m",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_done_is_refused_and_nothing_is_written(tmp_path, name):
    words, error, sentence = REFUSED[name]
    out = tmp_path / "out.csv"
    with pytest.raises(error, match=sentence):
        transform_points(points=degrees(tmp_path), out=str(out), **words)
    assert not out.exists()


def test_the_points_are_never_overwritten(tmp_path):
    source = degrees(tmp_path)
    with pytest.raises(InputError, match="would overwrite the points"):
        transform_points(points=source, points_crs="EPSG:10413", target_crs="EPSG:22811", out=source)


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(OutputError, match=r"nowhere.*--out"):
        transform_points(
            points=degrees(tmp_path),
            points_crs="EPSG:10413",
            target_crs="EPSG:22811",
            out=str(tmp_path / "nowhere" / "out.csv"),
        )
    assert list(tmp_path.iterdir()) == [tmp_path / "points.csv"]


def test_the_default_name_stands_beside_the_points(tmp_path):
    answer = transform_points(points=degrees(tmp_path), points_crs="EPSG:10413", target_crs="EPSG:22811")
    assert answer["file"] == str(tmp_path / "points-transformed.csv")


def test_the_description_names_what_the_function_takes():
    assert PROCESS.id == "transform-points"
    assert [name for name, item in PROCESS.inputs.items() if item.required] == ["points", "target_crs"]
