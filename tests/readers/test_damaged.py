"""Damaged files: one sentence or an answer, never another error, nothing on the terminal."""

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.shutil import copy

from geoqa.errors import InputError
from geoqa.readers.backdrop import read_backdrop
from geoqa.readers.blocks import read_patches
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from tests.builders import make_frame
from tests.readers.raster_files import LAYOUTS, TILED, ground, write

WINDOWS = np.array([[0, 0, 60, 60], [70, 90, 60, 60], [120, 150, 60, 60]])


def colours():
    return np.random.default_rng(3).integers(0, 256, (3, 150, 190)).astype("uint8")


def files(folder):
    """Return a raster of each kind that is damaged in turn."""
    made = {
        name: write(folder / f"{name.replace(' ', '_')}.tif", ground(), nodata=-9999.0, **layout)
        for name, layout in LAYOUTS.items()
    }
    made["plain"] = write(folder / "plain.tif", ground(), **TILED)
    made["jpeg"] = write(folder / "jpeg.tif", colours(), compress="jpeg", photometric="ycbcr", **TILED)
    copy(made["tiles"], folder / "cog.tif", driver="COG", compress="DEFLATE", blocksize=128)
    return made | {"cog": str(folder / "cog.tif")}


def read_all(path):
    """Ask each reader for what it can get of a raster, whichever kind it is."""
    info = read_info(path)
    if info.bands == 1:
        row_col = np.random.default_rng(1).uniform(0, 150, (60, 2))
        read_surface(info, row_col, value_unit_m=1.0, sought=np.ones(60, dtype=bool))
    list(read_patches(info, WINDOWS))
    read_backdrop(info, (511_000.0, 5_402_000.0, 513_000.0, 5_404_000.0), make_frame())


def outcome(path, content):
    """Return the message of the refusal of a file with this content, or None where it could be read."""
    path.write_bytes(content)
    try:
        read_all(str(path))
    except InputError as refusal:
        message = str(refusal)
        assert path.name in message
        assert message.endswith(".")
        assert "\n" not in message
        return message
    return None


@pytest.mark.parametrize("keep", [0.02, 0.3, 0.6, 0.9])
def test_file_cut_short_is_refused(tmp_path, keep, capfd, caplog):
    for name, path in files(tmp_path).items():
        content = Path(path).read_bytes()
        message = outcome(tmp_path / "damaged.tif", content[: int(len(content) * keep)])
        assert message is not None, name
    assert not caplog.records
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("seed", range(4))
def test_changed_bytes_end_in_a_sentence_or_an_answer(tmp_path, seed, capfd):
    rng = np.random.default_rng(seed)
    for path in files(tmp_path).values():
        content = bytearray(Path(path).read_bytes())
        # Directories and tags stand at the beginning or the end, where changes do most harm.
        head, tail = rng.integers(0, 1200, 3), len(content) - 1 - rng.integers(0, 1200, 3)
        for place in (*head, *tail, *rng.integers(0, len(content), 3)):
            changed = bytearray(content)
            changed[min(place, len(content) - 1)] = int(rng.integers(256))
            outcome(tmp_path / "damaged.tif", bytes(changed))
    assert capfd.readouterr() == ("", "")


def test_message_names_the_block_that_cannot_be_decoded(tmp_path):
    path = Path(write(tmp_path / "surface.tif", ground(), **LAYOUTS["tiles"]))
    with rasterio.open(path) as dataset:
        start = int(dataset.get_tag_item("BLOCK_OFFSET_1_1", "TIFF", bidx=1))
    content = bytearray(path.read_bytes())
    content[start : start + 60] = b"\xff" * 60
    path.write_bytes(content)
    info = read_info(str(path))
    fine = read_surface(info, np.array([[30.0, 30.0]]), value_unit_m=1.0, sought=np.ones(1, dtype=bool))
    assert np.isfinite(fine.height_m).all()
    with pytest.raises(InputError, match="rows 98 to 102, columns 98 to 102"):
        read_surface(info, np.array([[100.5, 100.5]]), value_unit_m=1.0, sought=np.ones(1, dtype=bool))


def test_picture_data_that_end_early_are_refused_though_the_decoder_goes_on(tmp_path):
    path = Path(write(tmp_path / "ortho.tif", colours(), compress="jpeg", photometric="ycbcr", **TILED))
    with rasterio.open(path) as dataset:
        start, size = (
            int(dataset.get_tag_item(f"BLOCK_{what}_0_0", "TIFF", bidx=1)) for what in ("OFFSET", "SIZE")
        )
    content = bytearray(path.read_bytes())
    # The marker “end of image” (ISO/IEC 10918-1, table B.1) in the middle of the first tile.
    content[start + size // 2 : start + size // 2 + 2] = b"\xff\xd9"
    assert "cannot be decoded" in outcome(tmp_path / "damaged.tif", bytes(content))
