"""The files of the invented site: what is drawn and written is what the truth says."""

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose
from rasterio.windows import Window
from scipy import ndimage, signal

from geoqa.demo import scenario
from geoqa.demo.fixture import write_fixture
from geoqa.demo.scenario import FILES, write_scenario
from geoqa.errors import OutputError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.settings import Settings


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_scenario(tmp_path_factory.mktemp("site")).parent


def _table(path: Path) -> dict[str, dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def _centre_of_symmetry(grey: FloatArray) -> FloatArray:
    """Return row and column about which a picture is most like itself turned by 180°.

    The peak of the correlation of the picture with its own mirror lies at twice the centre.
    """
    flat = ndimage.gaussian_filter(grey - np.median(grey), 0.8)
    peak = signal.fftconvolve(flat, flat)
    row, col = np.unravel_index(np.argmax(peak), peak.shape)
    near = peak[row - 1 : row + 2, col - 1 : col + 2]
    along = [near[:, 1], near[1, :]]
    offset = [(line[0] - line[2]) / (2 * (line[0] - 2 * line[1] + line[2])) for line in along]
    return (np.array([row, col]) + offset) / 2 + 0.5


def test_targets_lie_where_the_truth_says(site: Path) -> None:
    half = 14
    with rasterio.open(site / "orthomosaic.tif") as dataset:
        for name, row in _table(site / "truth.csv").items():
            if row["laid"] == "no":
                assert row["row"] == row["col"] == row["displacement_east_m"] == ""
                continue
            place = np.array([float(row["row"]), float(row["col"])])
            first = np.floor(place).astype(int) - half
            window = Window(int(first[1]), int(first[0]), 2 * half + 1, 2 * half + 1)
            grey = dataset.read(window=window).mean(axis=0)
            found = _centre_of_symmetry(grey) + first
            assert_allclose(found, place, rtol=0, atol=0.15, err_msg=name)
            shown = np.array(dataset.xy(place[0] - 0.5, place[1] - 0.5))
            true = np.array([float(row["easting"]), float(row["northing"])])
            moved = [float(row["displacement_east_m"]), float(row["displacement_north_m"])]
            # Row and column are written to a ten-thousandth of a pixel: 4 µm here.
            assert_allclose(shown - true, moved, rtol=0, atol=2e-5)


def test_missing_target_leaves_bare_ground(site: Path) -> None:
    truth, points = _table(site / "truth.csv"), _table(site / "points.csv")
    gone = [name for name in truth if truth[name]["laid"] == "no" and points[name]["target"] != "none"]
    assert gone == ["CP17"]
    with rasterio.open(site / "orthomosaic.tif") as dataset:
        easting, northing = float(truth["CP17"]["easting"]), float(truth["CP17"]["northing"])
        row, col = dataset.index(easting, northing)
        patch = dataset.read(window=Window(col - 20, row - 20, 41, 41))
    assert patch.std(axis=(1, 2)).max() < 20


def _plane(heights: FloatArray, cell_m: float) -> tuple[float, float]:
    """Return slope in percent and largest deviation of the plane through square heights."""
    rows, cols = np.mgrid[: heights.shape[0], : heights.shape[1]] * cell_m
    design = np.column_stack([rows.ravel(), cols.ravel(), np.ones(rows.size)])
    fitted = np.linalg.lstsq(design, heights.ravel(), rcond=None)[0]
    return 100 * float(np.hypot(*fitted[:2])), float(np.abs(heights.ravel() - design @ fitted).max())


def test_heights_are_truth_plus_the_stated_error_and_only_the_ramp_is_steep(site: Path) -> None:
    steep = []
    with rasterio.open(site / "surface.tif") as dataset:
        surface = dataset.read(1).astype(float)
        for name, row in _table(site / "truth.csv").items():
            col = (float(row["easting"]) - dataset.bounds.left) / 0.2
            line = (dataset.bounds.top - float(row["northing"])) / 0.2
            top, left = int(np.floor(line - 0.5)), int(np.floor(col - 0.5))
            down, across = line - 0.5 - top, col - 0.5 - left
            cells = surface[top : top + 2, left : left + 2]
            height = np.array([1 - down, down]) @ cells @ np.array([1 - across, across])
            expected = float(row["height"]) + float(row["height_error_m"])
            assert_allclose(height, expected, rtol=0, atol=2e-5, err_msg=name)
            slope, relief = _plane(surface[int(line) - 2 : int(line) + 3, int(col) - 2 : int(col) + 3], 0.2)
            steep += [name] if slope > 10 else []
            assert relief < 0.1
    assert steep == ["CP15"]


def test_height_errors_are_small_except_in_the_tall_grass(site: Path) -> None:
    truth, points = _table(site / "truth.csv"), _table(site / "points.csv")
    errors = {name: float(row["height_error_m"]) for name, row in truth.items()}
    covered = [name for name in points if points[name]["cover"] == "vegetated"]
    assert covered == ["CP16"]
    assert errors.pop("CP16") > 0.1
    assert_allclose(np.mean(list(errors.values())), 0.015, rtol=0, atol=0.006)
    assert np.std(list(errors.values())) < 0.012


def test_rasters_are_tiled_masked_and_small(site: Path) -> None:
    with rasterio.open(site / "orthomosaic.tif") as ortho, rasterio.open(site / "surface.tif") as surface:
        assert ortho.shape == (4000, 5500)
        assert ortho.crs.to_epsg() == surface.crs.to_epsg() == 25832
        assert ortho.bounds == surface.bounds
        assert ortho.overviews(1) == [2, 4, 8, 16]
        assert surface.res == (0.2, 0.2)
        assert surface.dtypes == ("float32",)
        outside = ortho.read_masks(1, out_shape=(400, 550)) == 0
        empty = surface.read(1) == surface.nodata
        assert 0.01 < outside.mean() < 0.15
        assert 0.01 < empty.mean() < 0.15
    assert sum(path.stat().st_size for path in site.iterdir()) < 15e6


def test_settings_are_valid_and_name_the_files(site: Path) -> None:
    text = (site / "check.toml").read_text(encoding="utf-8")
    settings = Settings.model_validate(tomllib.loads(text))
    assert settings.requirement.horizontal_rmse_m == settings.requirement.vertical_rmse_m == 0.05
    assert [choice.id for choice in settings.requirement.standards] == ["asprs-2023", "nssda-1998"]
    assert settings.elevation is not None
    assert settings.elevation.height_system == settings.points[0].height_system == "EPSG:7837"
    for name in (settings.orthomosaic.path, settings.elevation.path, settings.points[0].path):
        assert (site / name).is_file()


def test_everything_is_marked_as_invented(site: Path) -> None:
    text = (site / "README.txt").read_text(encoding="utf-8")
    assert len(text.splitlines()) == 2
    assert "invented" in text
    assert "invented" in (site / "check.toml").read_text(encoding="utf-8")


def test_two_runs_leave_the_same_bytes(tmp_path: Path) -> None:
    first, second = (write_fixture(tmp_path / name).parent for name in ("one", "two"))
    assert sorted(path.name for path in first.iterdir()) == sorted(FILES)
    for name in FILES:
        assert (first / name).read_bytes() == (second / name).read_bytes()


def test_folder_that_is_a_file_is_refused_in_a_sentence(tmp_path: Path) -> None:
    taken = tmp_path / "site"
    taken.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="Name another folder"):
        write_fixture(taken)
    assert taken.read_text(encoding="utf-8") == "mine"


def test_files_from_elsewhere_are_not_replaced(tmp_path: Path) -> None:
    own = tmp_path / "points.csv"
    own.write_text("id,easting,northing\n", encoding="utf-8")
    with pytest.raises(OutputError, match=r"points\.csv that geoqa did not write"):
        write_fixture(tmp_path)
    assert own.read_text(encoding="utf-8") == "id,easting,northing\n"


def test_run_that_fails_leaves_the_earlier_site_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_fixture(tmp_path)
    before = {name: (tmp_path / name).read_bytes() for name in FILES}

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(scenario, "write_surface", fail)
    with pytest.raises(OutputError, match="No space left on device"):
        write_fixture(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
