"""The committed fixture against the same scene drawn anew."""

import csv
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose

from geoqa.demo.fixture import write_fixture
from geoqa.demo.scenario import FILES
from geoqa.numerics.arrays import FloatArray

COMMITTED = Path(__file__).parents[2] / "fixtures" / "quarry-corner"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_fixture(tmp_path_factory.mktemp("quarry-corner")).parent


def _rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def _pixels(path: Path) -> FloatArray:
    with rasterio.open(path) as dataset:
        return dataset.read().astype(float)


@pytest.mark.parametrize("name", ["points.csv", "truth.csv"])
def test_tables_agree_to_a_tenth_of_a_millimetre_or_a_pixel_in_a_hundred(fresh: Path, name: str) -> None:
    old, new = _rows(COMMITTED / name), _rows(fresh / name)
    assert old[0] == new[0]
    for old_row, new_row in zip(old[1:], new[1:], strict=True):
        for column, was, now in zip(old[0], old_row, new_row, strict=True):
            try:
                # Libraries may round the last digit of a sum otherwise: points are in millimetres.
                tolerance = 0.0011 if name == "points.csv" else 0.01 if column in ("row", "col") else 1e-4
                assert_allclose(float(now), float(was), rtol=0, atol=tolerance, err_msg=column)
            except ValueError:
                assert now == was


@pytest.mark.parametrize("name", ["README.txt", "check.toml"])
def test_texts_are_the_same(fresh: Path, name: str) -> None:
    assert (COMMITTED / name).read_text(encoding="utf-8") == (fresh / name).read_text(encoding="utf-8")


def test_pictures_agree(fresh: Path) -> None:
    old, new = (_pixels(folder / "orthomosaic.tif") for folder in (COMMITTED, fresh))
    assert old.shape == new.shape == (3, 500, 700)
    assert np.abs(old - new).mean() < 0.5
    assert np.abs(old - new).max() < 16


def test_heights_agree_to_the_step_of_their_rounding(fresh: Path) -> None:
    old, new = (_pixels(folder / "surface.tif") for folder in (COMMITTED, fresh))
    assert_allclose(new, old, rtol=0, atol=0.0011)


def test_fixture_is_whole_small_and_described() -> None:
    assert sorted(path.name for path in COMMITTED.iterdir()) == sorted(FILES)
    assert sum(path.stat().st_size for path in COMMITTED.iterdir()) < 600_000
    text = (COMMITTED.parent / "README.md").read_text(encoding="utf-8")
    assert COMMITTED.name in text
    assert "Licence" in text
    assert "invented" in text
