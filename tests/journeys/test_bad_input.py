"""Wrong files on purpose: one sentence, status 2, nothing written, no traceback."""

import os
import shutil
from pathlib import Path

import pytest
import rasterio

from tests.site import FIXTURE, geoqa


@pytest.fixture
def site(tmp_path):
    """Return a copy of the fixture that a test may spoil."""
    return Path(shutil.copytree(FIXTURE, tmp_path / "site"))


def put(name, text):
    return lambda site: (site / name).write_text(text)


def remove(name):
    return lambda site: (site / name).unlink()


def swap(name, old, new):
    def spoil(site):
        text = (site / name).read_text()
        assert old in text
        (site / name).write_text(text.replace(old, new, 1))

    return spoil


def cut(name, keep):
    return lambda site: os.truncate(site / name, int((site / name).stat().st_size * keep))


def without_crs(name):
    def spoil(site):
        with rasterio.open(site / name) as source:
            profile, values = source.profile, source.read()
        profile.update(crs=None)
        (site / name).unlink()
        with rasterio.open(site / name, "w", **profile) as target:
            target.write(values)

    return spoil


SPOILED = {
    "points missing": (remove("points.csv"), "points.csv"),
    "points empty": (put("points.csv", ""), "points.csv"),
    "points header only": (put("points.csv", "id,easting,northing,height\n"), "points.csv"),
    "points without a header": (put("points.csv", "1,500000,5400000,1\n2,500001,5400001,2\n"), "points.csv"),
    "points without a usable column": (put("points.csv", "a,b,c\n1,2,3\n"), "points.csv"),
    "cell that is no number": (
        put("points.csv", "id,easting,northing,height\nA,500000,5400000,1\nB,5oo001,5400001,2\n"),
        "line 3",
    ),
    "points that are a picture": (
        lambda site: shutil.copy(site / "orthomosaic.tif", site / "points.csv"),
        "points.csv",
    ),
    "orthomosaic missing": (remove("orthomosaic.tif"), "orthomosaic.tif"),
    "orthomosaic empty": (put("orthomosaic.tif", ""), "orthomosaic.tif"),
    "orthomosaic is text": (put("orthomosaic.tif", "not a raster\n" * 50), "orthomosaic.tif"),
    "orthomosaic cut short": (cut("orthomosaic.tif", 0.5), "orthomosaic.tif"),
    "surface cut short": (cut("surface.tif", 0.6), "surface.tif"),
    "surface without CRS": (without_crs("surface.tif"), "surface.tif"),
    "settings missing": (remove("check.toml"), "check.toml"),
    "settings no TOML": (put("check.toml", "points = [[[\n"), "check.toml"),
    "settings empty": (put("check.toml", ""), "points"),
    "unknown key": (swap("check.toml", "[points]", "[points]\nhight_unit = 'foot'"), "hight_unit"),
    "wrong type": (swap("check.toml", "[points]", "[points]\nepoch = 'today'"), "points.epoch"),
    "unknown CRS": (swap("check.toml", "EPSG:25832", "EPSG:999999"), "EPSG:999999"),
    "target smaller than a pixel": (swap("check.toml", "size_m = 0.6", "size_m = 6e-4"), "targets.size_m"),
    "target larger than a picture": (swap("check.toml", "size_m = 0.6", "size_m = 600"), "targets.size_m"),
    "search without bounds": (
        swap("check.toml", "search_radius_m = 0.5", "search_radius_m = 1e9"),
        "targets.search_radius_m",
    ),
    "unknown target kind": (
        swap("check.toml", '"auto"', '"star"'),
        "star",
    ),
    "unknown standard": (
        lambda site: (site / "check.toml").write_text(
            "[orthomosaic]\npath = 'orthomosaic.tif'\n[points]\npath = 'points.csv'\n"
            "[requirement]\nstandards = ['asprs-1066']\n"
        ),
        "asprs-1066",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_spoiled_input_ends_in_one_sentence(site, name):
    spoil, named = SPOILED[name]
    spoil(site)
    before = sorted(path.name for path in site.iterdir())
    answer = geoqa("check", str(site / "check.toml"), "--quiet")
    assert answer.exit_code == 2, answer.output
    assert named in answer.stderr
    assert "Traceback" not in answer.stderr
    assert "geoqa itself failed" not in answer.stderr
    assert answer.stdout == ""
    assert sorted(path.name for path in site.iterdir()) == before


def test_mistakes_in_settings_are_told_all_at_once(site):
    (site / "check.toml").write_text(
        "[orthomosaic]\npath = 'nowhere.tif'\n[points]\npath = 'points.csv'\nepoch = 'today'\nhight = 1\n"
        "[limits]\nslope_percent = -3\n"
    )
    answer = geoqa("check", str(site / "check.toml"))
    assert answer.exit_code == 2
    for named in ("nowhere.tif", "points.epoch", "points.hight", "limits.slope_percent"):
        assert named in answer.stderr


def test_file_in_place_of_the_folder_is_refused(site):
    (site / "taken").write_text("mine")
    answer = geoqa("check", str(site / "check.toml"), "--out", str(site / "taken"))
    assert answer.exit_code == 2
    assert "taken" in answer.stderr
    assert (site / "taken").read_text() == "mine"


def test_folder_that_cannot_be_made_is_refused(site):
    (site / "taken").write_text("mine")
    answer = geoqa("check", str(site / "check.toml"), "--out", str(site / "taken" / "results"))
    assert answer.exit_code == 2
    assert "cannot be written" in answer.stderr


def test_settings_and_options_together_are_refused(site):
    answer = geoqa("check", str(site / "check.toml"), "--points", str(site / "points.csv"))
    assert answer.exit_code == 2
    assert "--points" in answer.stderr


def test_no_points_are_refused(site):
    answer = geoqa("check", "--orthomosaic", str(site / "orthomosaic.tif"))
    assert answer.exit_code == 2
    assert "--points" in answer.stderr


def test_unknown_option_is_wrong_use():
    answer = geoqa("check", "--ortho", "x.tif")
    assert answer.exit_code == 2
    assert answer.stdout == ""
