"""Rasters over a network: a server of this computer answers range requests, and counts them."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from rasterio.shutil import copy

from geoqa.errors import InputError
from geoqa.readers import _handles
from geoqa.readers.blocks import read_patches
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from tests.range_server import Conduct, serving
from tests.readers.raster_files import ground, refusal, write
from tests.site import geoqa

SIDE = 2048
TARGETS = 12
# The design of the project allows two requests a target and five more.
MOST_REQUESTS = 2 * TARGETS + 5


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch):
    for name in ("no_proxy", "NO_PROXY"):
        monkeypatch.setenv(name, "127.0.0.1")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with an orthomosaic and a surface as cloud-optimised GeoTIFF, and one in strips."""
    made = tmp_path_factory.mktemp("served")
    rng = np.random.default_rng(8)
    colours = rng.integers(0, 256, (3, SIDE, SIDE)).astype("uint8")
    for name, values in (("ortho", colours), ("surface", ground(SIDE, SIDE))):
        plain = write(made / f"{name}_plain.tif", values, tiled=True)
        copy(plain, made / f"{name}.tif", driver="COG", COMPRESS="DEFLATE", BLOCKSIZE=256)
    write(made / "strips.tif", ground(SIDE, SIDE), tiled=False, blockysize=1)
    return made


def spread():
    """Return places all over the raster."""
    return np.random.default_rng(4).uniform(100, SIDE - 100, (TARGETS, 2))


def windows():
    corners = np.floor(spread()).astype(int) - 40
    return np.hstack([corners, np.full_like(corners, 81)])


def patches(path):
    return dict(read_patches(read_info(path), windows()))


def surface(path):
    return read_surface(read_info(path), spread(), value_unit_m=1.0, sought=np.ones(TARGETS, dtype=bool))


def assert_same_patches(found, expected):
    assert found.keys() == expected.keys()
    for index, patch in expected.items():
        assert_array_equal(found[index].values, patch.values)
        assert_array_equal(found[index].valid, patch.valid)


def test_windows_from_afar_are_those_of_the_file_with_few_requests(folder):
    with serving(folder) as log:
        assert_same_patches(patches(f"{log.address}/ortho.tif"), patches(str(folder / "ortho.tif")))
    assert 1 < len(log.requests) <= MOST_REQUESTS


def test_heights_from_afar_are_those_of_the_file_with_few_requests(folder):
    with serving(folder) as log:
        found = surface(f"{log.address}/surface.tif")
    assert_array_equal(found.height_m, surface(str(folder / "surface.tif")).height_m)
    assert np.isfinite(found.height_m).all()
    assert len(log.requests) <= MOST_REQUESTS


def test_nothing_is_asked_for_beside_the_file(folder):
    with serving(folder) as log:
        patches(f"{log.address}/ortho.tif")
    assert {path for _, path, _ in log.requests} == {"/ortho.tif"}


def test_several_requests_are_under_way_at_one_time_and_change_nothing(folder, monkeypatch):
    with serving(folder, delay_s=0.02) as log:
        several = patches(f"{log.address}/ortho.tif")
    assert log.most_at_once > 1
    monkeypatch.setattr(_handles, "_REMOTE_HANDLES", 1)
    with serving(folder, delay_s=0.02) as log:
        assert_same_patches(several, patches(f"{log.address}/ortho.tif"))
    assert log.most_at_once == 1


def test_server_that_hands_out_whole_files_only_is_refused(folder):
    with serving(folder, Conduct.WHOLE) as log:
        message = refusal(f"{log.address}/ortho.tif")
    assert "range requests" in message


def test_file_that_the_server_does_not_have_is_refused(folder):
    with serving(folder) as log:
        message = refusal(f"{log.address}/nowhere.tif")
    assert "404" in message


@pytest.mark.parametrize(("name", "read"), [("ortho.tif", patches), ("surface.tif", surface)])
def test_connection_that_breaks_off_is_one_sentence(folder, name, read, capfd):
    with serving(folder, Conduct.BROKEN) as log, pytest.raises(InputError) as caught:
        read(f"{log.address}/{name}")
    assert "connection broke off" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert capfd.readouterr() == ("", "")


def test_strips_over_a_network_are_warned_of(folder):
    with serving(folder) as log:
        (note,) = read_info(f"{log.address}/strips.tif").notes
    assert "COG" in note
    assert not read_info(str(folder / "strips.tif")).notes


def test_check_from_afar_gives_what_the_files_give(folder, tmp_path):
    easting = 512_000.0 + 0.2 * spread()[:, 1]
    northing = 5_403_000.0 - 0.2 * spread()[:, 0]
    rows = [f"P{i},{e:.3f},{n:.3f},240" for i, (e, n) in enumerate(zip(easting, northing, strict=True))]
    points = tmp_path / "points.csv"
    points.write_text("\n".join(["id,easting,northing,height", *rows]) + "\n")

    def check(place):
        words = ["--orthomosaic", f"{place}/ortho.tif", "--elevation", f"{place}/surface.tif"]
        answer = geoqa(
            "check", *words, "--points", str(points), "--out", str(tmp_path / "out"), "--json", "--quiet"
        )
        assert answer.exit_code == 0, answer.stderr
        return answer.json["points"]

    with serving(folder) as log:
        assert check(log.address) == check(folder)


@pytest.mark.parametrize("conduct", [Conduct.WHOLE, Conduct.BROKEN])
def test_check_that_the_server_fails_leaves_nothing(folder, tmp_path, conduct):
    (tmp_path / "points.csv").write_text("id,easting,northing,height\nA,512200,5402800,240\n")
    with serving(folder, conduct) as log:
        words = ["--orthomosaic", f"{log.address}/ortho.tif", "--points", str(tmp_path / "points.csv")]
        answer = geoqa("check", *words, "--out", str(tmp_path / "out"), "--quiet")
    assert answer.exit_code == 2
    assert answer.stdout == ""
    assert answer.stderr.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["points.csv"]
