"""Open a raster and read windows of it; whatever GDAL says of a damaged file becomes an `InputError`."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.enums import ColorInterp, MaskFlags

from geoqa.errors import InputError
from geoqa.numerics.arrays import BoolArray
from geoqa.numerics.nodata import equals_nodata
from geoqa.numerics.tiling import Window
from geoqa.readers._coverage import covered, filled_parts
from geoqa.readers._gdal import GDAL_ERRORS, LEAST_CACHE_BYTES, listening, over_network, quiet_gdal
from geoqa.records.measurements import RasterInfo
from geoqa.records.settings import is_remote

# Decoders report these as warnings and go on with made-up pixels. Stray bytes between two JPEG markers
# are common and harmless, so they are not among them.
_SIGNS_OF_DAMAGE = ("premature end of", "bad huffman code", "discarding")
_HALF_OPAQUE = 127

# Strips and small tiles are read several at a time: a call of the library costs more than one of them.
LEAST_SIDE = 64
# A strip serves several windows, and where the bands of a block are stored together it is decoded once
# for each that finds no room: what is read together has room twice.
_TIMES_IN_CACHE = 2

Dataset = Any
Pixels = NDArray[Any]


@contextmanager
def opened(path: str) -> Iterator[Dataset]:
    """Yield the raster of a file, open for reading.

    Raises
    ------
    InputError
        Where there is no such file, or none that GDAL can open.
    """
    try:
        with quiet_gdal(path):
            dataset = rasterio.open(path)
    except (*GDAL_ERRORS, OSError) as reason:
        raise InputError(_why_not_opened(path, reason)) from None
    with dataset:
        yield dataset


@contextmanager
def described(path: str) -> Iterator[None]:
    """Turn what GDAL says while a raster is asked about itself into an `InputError`."""
    try:
        with quiet_gdal(path):
            yield
    except GDAL_ERRORS as reason:
        message = f"{path}: the raster is damaged ({in_words(reason, path)}). Copy or export it again."
        raise InputError(message) from None


def _why_not_opened(path: str, reason: Exception) -> str:
    if is_remote(path):
        return _why_not_opened_from_afar(path, in_words(reason, path))
    file = Path(path)
    if file.is_dir():
        return f"{path} is a folder. Name the raster file in it."
    if not file.exists():
        return f"{path}: there is no such raster file. Check name and folder."
    if file.stat().st_size == 0:
        return f"{path}: the raster file is empty. Export it again."
    return (
        f"{path}: GDAL cannot open it as a raster ({in_words(reason, path)}). Name a GeoTIFF or another "
        "raster; where it is one, it was cut short or damaged: copy or export it again."
    )


def _why_not_opened_from_afar(path: str, said: str) -> str:
    if "range downloading" in said.lower():
        return (
            f"{path}: the server hands out whole files only, so that a window of the raster cannot be had. "
            "Fetch the file, or put it on a server that answers range requests."
        )
    return f"{path}: the raster cannot be opened ({said}). Check the address."


def in_words(reason: BaseException, path: str) -> str:
    """Return GDAL's own words on one line, without the path that the message names already."""
    said = str(reason.__cause__ or reason)
    return _one_line(said.replace(f"'{path}'", "the file").replace(path, "the file"))


def _one_line(said: str) -> str:
    return " ".join(said.split()).rstrip(".")


def is_picture(dataset: Dataset) -> bool:
    """Return whether the file says that its bands are red, green and blue."""
    return {ColorInterp.red, ColorInterp.green, ColorInterp.blue} <= set(dataset.colorinterp)


def alpha_band(dataset: Dataset) -> int | None:
    """Return the number of the band that holds transparency, or None."""
    meanings = zip(dataset.indexes, dataset.colorinterp, strict=True)
    return next((band for band, meaning in meanings if meaning is ColorInterp.alpha), None)


def value_bands(dataset: Dataset) -> tuple[int, ...]:
    """Return the numbers of red, green and blue, or of the first three bands that are not transparency."""
    meaning = dict(zip(dataset.indexes, dataset.colorinterp, strict=True))
    if is_picture(dataset):
        colours = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)
        return tuple(next(band for band in meaning if meaning[band] is colour) for colour in colours)
    return tuple(band for band in meaning if meaning[band] is not ColorInterp.alpha)[:3]


class Source:
    """An open raster: the bands that carry its values, and what it says about missing ones.

    Attributes
    ----------
    dataset
        As rasterio opened it.
    bands
        Numbers of the bands that are read.
    nodata
        Declared nodata value of each of them.
    scale, offset
        Of the first of them: value = number × scale + offset.
    picture
        True where the file says that its bands are red, green and blue.
    """

    def __init__(self, dataset: Dataset, bands: tuple[int, ...]) -> None:
        self.dataset = dataset
        self.bands = bands
        self.nodata: tuple[float | None, ...] = tuple(dataset.nodatavals[band - 1] for band in bands)
        self.scale, self.offset = dataset.scales[bands[0] - 1], dataset.offsets[bands[0] - 1]
        self.picture = is_picture(dataset)
        self._messages: list[str] = []
        self._masked = MaskFlags.per_dataset in dataset.mask_flag_enums[0]
        # A nodata value hides the transparency from GDAL's mask.
        self._alpha = None if self._masked else alpha_band(dataset)
        self._cache_bytes = max(LEAST_CACHE_BYTES, _TIMES_IN_CACHE * _bytes_together(dataset))
        # GDAL fills what was never written with nodata, or with 0 where there is none.
        silent = dataset.nodata is None and not self._masked
        self._sparse = silent and dataset.driver == "GTiff"
        self._parts = filled_parts(dataset, bands[0]) if silent and dataset.driver == "VRT" else None

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Set GDAL up for any number of readings; a generator must not yield inside."""
        with quiet_gdal(self.dataset.name, self._cache_bytes) as self._messages:
            yield

    @contextmanager
    def reading_beside(self) -> Iterator[None]:
        """Set GDAL up for readings in a thread of their own, while another source is `reading`."""
        with listening(self.dataset.name) as self._messages:
            yield

    def read(self, window: Window, **sampling: Any) -> tuple[Pixels, BoolArray | None]:
        """Return the file's own numbers, shape (bands, rows, cols), and which are there.

        To be called inside `reading`.

        The nodata value is left to `missing`. None instead of the second array: nothing is said against
        any of the numbers. `sampling` goes to rasterio: `out_shape` (rows, cols) and `resampling`.

        Raises
        ------
        InputError
            Where the file cannot be decoded there.
        """
        path = self.dataset.name
        whole = {key: value for key, value in sampling.items() if key != "out_shape"}
        if "out_shape" in sampling:
            whole["out_shape"] = (len(self.bands), *sampling["out_shape"])
        self._messages.clear()
        try:
            values = self.dataset.read(list(self.bands), window=_ranges(window), **whole)
            valid = self._valid(window, sampling)
        except GDAL_ERRORS as reason:
            raise InputError(_damaged(path, window, in_words(reason, path))) from None
        signs = [said for said in self._messages if any(sign in said.lower() for sign in _SIGNS_OF_DAMAGE)]
        if signs:
            raise InputError(_damaged(path, window, _one_line(signs[0])))
        return values, valid

    def read_valid(self, window: Window, **sampling: Any) -> tuple[Pixels, BoolArray]:
        """Return the file's own numbers, and where they are neither nodata nor missing; NaN becomes 0."""
        values, valid = self.read(window, **sampling)
        there = ~self.missing(values)
        if values.dtype.kind == "f":
            values[np.isnan(values)] = 0.0
        return values, there if valid is None else there & valid

    def missing(self, values: Pixels) -> BoolArray:
        """Return where values, shape (bands, rows, cols), are NaN, or nodata in every band."""
        equal = [equals_nodata(band, number) for band, number in zip(values, self.nodata, strict=True)]
        missing: BoolArray = np.logical_and.reduce(equal)
        return missing | np.isnan(values).any(axis=0) if values.dtype.kind == "f" else missing

    def _valid(self, window: Window, sampling: dict[str, Any]) -> BoolArray | None:
        if self._masked:
            mask = self.dataset.read_masks(1, window=_ranges(window), **sampling)
            return np.asarray(mask > _HALF_OPAQUE)
        if self._alpha is not None:
            alpha = self.dataset.read(self._alpha, window=_ranges(window), **sampling)
            return np.asarray(alpha > (_HALF_OPAQUE if alpha.dtype == np.uint8 else 0))
        if self._parts is not None and not sampling:
            return covered(window, self._parts)
        return self._written(window) if self._sparse and not sampling else None

    def _written(self, window: Window) -> BoolArray | None:
        height, width = self.dataset.block_shapes[0]
        written = np.ones(window.shape, dtype=bool)
        for block_row in range(window.row0 // height, -(-window.row1 // height)):
            for block_col in range(window.col0 // width, -(-window.col1 // width)):
                item = f"BLOCK_OFFSET_{block_col}_{block_row}"
                if self.dataset.get_tag_item(item, "TIFF", bidx=1) is None:
                    top, left = block_row * height - window.row0, block_col * width - window.col0
                    written[max(top, 0) : top + height, max(left, 0) : left + width] = False
        return None if written.all() else written


@contextmanager
def opened_source(info: RasterInfo, most_bands: int = 3) -> Iterator[Source]:
    """Yield the raster that was described before, open for reading its values.

    Raises
    ------
    InputError
        Where it cannot be opened, or is no longer what was described.
    """
    with opened(info.path) as dataset:
        if dataset.shape != info.shape or dataset.dtypes[0] != info.dtype:
            message = f"{info.path}: the raster was replaced while it was being read. Run again."
            raise InputError(message)
        with described(info.path):
            source = Source(dataset, value_bands(dataset)[:most_bands])
        yield source


def _bytes_together(dataset: Dataset) -> int:
    """Return the size of the blocks that are read together, one above the other, all bands, decoded."""
    sizes = [rows * -(-LEAST_SIDE // rows) * cols for rows, cols in dataset.block_shapes]
    return sum(size * np.dtype(dtype).itemsize for size, dtype in zip(sizes, dataset.dtypes, strict=True))


def _ranges(window: Window) -> tuple[tuple[int, int], tuple[int, int]]:
    return (window.row0, window.row1), (window.col0, window.col1)


def _damaged(path: str, window: Window, reason: str) -> str:
    place = f"rows {window.row0} to {window.row1 - 1}, columns {window.col0} to {window.col1 - 1}"
    advice = "The file is cut short or damaged: copy or export it again."
    if over_network(path):
        advice = "The connection broke off, or the file is damaged: run again, or fetch the file."
    return f"{path}: {place} cannot be decoded ({reason}). {advice}"
