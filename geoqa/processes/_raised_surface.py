"""A surface with an offset added to every height; cells without one stay as they are."""

from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from rasterio.enums import MaskFlags, Resampling
from rasterio.windows import Window as RasterWindow

from geoqa.errors import InputError
from geoqa.numerics.arrays import BoolArray
from geoqa.numerics.nodata import equals_nodata
from geoqa.numerics.tiling import Window
from geoqa.readers._dataset import Source, opened_source
from geoqa.records.measurements import RasterInfo

_WHOLE = 1e-6


def raised_copy(info: RasterInfo, target: Path, transform: Affine, offset: float) -> int:
    """Write a GeoTIFF with the heights raised, and return how many cells were.

    Parameters
    ----------
    info
        The surface.
    transform
        Of the copy.
    offset
        Added to each height, in the unit of the heights.

    Raises
    ------
    InputError
        Where the heights are whole numbers that the offset does not fit, or one of them would become the
        number that stands for no data.
    """
    raised = 0
    with opened_source(info, 1) as source, rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        step = _stored(offset / source.scale, info)
        with rasterio.open(target, "w", **_profile(source.dataset, transform)) as copy:
            _describe(source.dataset, copy)
            for _, block in source.dataset.block_windows(1):
                raised += _raise_block(source, copy, block, step)
            if info.overview_factors:
                copy.build_overviews(list(info.overview_factors), Resampling.average)
    return raised


def _stored(step: float, info: RasterInfo) -> float:
    if np.dtype(info.dtype).kind == "f":
        return step
    if abs(step - round(step)) > _WHOLE:
        message = (
            f"{info.path}: the heights are stored as whole numbers ({info.dtype}), and the offset is "
            f"{step:g} of their steps: it cannot be added without rounding every height. Convert the raster "
            "to Float32 first (`gdal_translate -ot Float32 -unscale`)."
        )
        raise InputError(message)
    return round(step)


def _raise_block(source: Source, copy: Any, block: RasterWindow, step: float) -> int:
    row, col = int(block.row_off), int(block.col_off)
    window = Window(row, row + int(block.height), col, col + int(block.width))
    with source.reading():
        values, valid = source.read(window)
    known = ~source.missing(values)
    known = known if valid is None else known & valid
    if valid is None or valid.any():
        copy.write(_raised(values[0], known, step, source)[None], window=block)
    # Otherwise the block was never written, or is hidden as a whole: so it stays.
    if valid is not None and MaskFlags.per_dataset in source.dataset.mask_flag_enums[0]:
        copy.write_mask(np.where(valid, 255, 0).astype("uint8"), window=block)
    return int(known.sum())


def _raised(values: Any, known: BoolArray, step: float, source: Source) -> Any:
    after = values[known].astype(np.float64) + step
    nodata, bounds = source.nodata[0], None
    if values.dtype.kind != "f":
        bounds = np.iinfo(values.dtype)
    new = after.astype(values.dtype)
    beyond = bounds is not None and len(after) and (after.min() < bounds.min or after.max() > bounds.max)
    if beyond or equals_nodata(new, nodata).any():
        message = (
            f"{source.dataset.name}: with the offset a height would become {nodata}, which stands for no "
            f"data, or leave the range of {values.dtype}. Convert the raster to Float32 with another nodata "
            "value first."
        )
        raise InputError(message)
    raised = values.copy()
    raised[known] = new
    return raised


def _profile(dataset: Any, transform: Affine) -> dict[str, Any]:
    kept = ("dtype", "nodata", "width", "height", "crs", "blockxsize", "blockysize", "tiled", "compress")
    profile = {key: dataset.profile[key] for key in kept if key in dataset.profile}
    if not profile.get("tiled"):
        profile.pop("blockxsize", None)
    predictor = dataset.tags(ns="IMAGE_STRUCTURE").get("PREDICTOR")
    further = {} if predictor is None else {"predictor": int(predictor)}
    fixed = {"driver": "GTiff", "count": 1, "transform": transform, "SPARSE_OK": True, "BIGTIFF": "IF_SAFER"}
    return {**profile, **further, **fixed}


def _describe(dataset: Any, copy: Any) -> None:
    """Carry over what the file says of its band."""
    copy.update_tags(**dataset.tags())
    copy.update_tags(1, **{key: text for key, text in dataset.tags(1).items() if "STATISTICS" not in key})
    copy.scales, copy.offsets = dataset.scales[:1], dataset.offsets[:1]
    if dataset.units[0]:
        copy.units = dataset.units[:1]
    if dataset.descriptions[0]:
        copy.descriptions = dataset.descriptions[:1]
