"""What a raster file says about itself, and whether it can serve as a map product."""

import re
from contextlib import suppress
from pathlib import PurePath

import numpy as np
import pyproj
import rasterio.shutil
from affine import Affine
from rasterio.enums import ColorInterp
from rasterio.errors import CRSError
from rasterio.io import MemoryFile

from geoqa.errors import FrameError, InputError
from geoqa.frame.axes import crs_name, equal_crs, parse_crs, parts, plan_unit
from geoqa.readers._dataset import Dataset, described, opened
from geoqa.readers._gdal import GDAL_ERRORS
from geoqa.readers._raster_notes import band_unit, notes, unknown_unit
from geoqa.records.measurements import RasterInfo
from geoqa.units import LinearUnit, unit_of_length

# A block is decoded as a whole; one above this size would take the memory that everything else needs.
_LARGEST_BLOCK_BYTES = 512 << 20


def read_info(path: str, *, crs: str | None = None) -> RasterInfo:
    """Return what a raster file says about itself.

    Parameters
    ----------
    path
        A file, a URL, or anything else that GDAL opens.
    crs
        Overrides or completes the CRS of the file; a vertical CRS of the file stays where this names none.

    Returns
    -------
    RasterInfo
        Its `crs` is the plan part of a compound CRS. A CRS with ellipsoidal height stays three-dimensional.

    Raises
    ------
    InputError
        Where there is no such raster, it is damaged, has no CRS or no georeference, or cannot serve as a
        map: one pixel, complex numbers, colours by number.
    """
    try:
        with opened(path) as dataset, described(path):
            return _info(path, dataset, crs)
    except FrameError as reason:
        raise InputError(str(reason)) from None


def _info(path: str, dataset: Dataset, crs: str | None) -> RasterInfo:
    _check_values(path, dataset)
    _check_place(path, dataset)
    remarks: list[str] = []
    plan, vertical = _reference_system(path, dataset, crs, remarks)
    structure = dataset.tags(ns="IMAGE_STRUCTURE")
    return RasterInfo(
        path=path,
        shape=dataset.shape,
        bands=dataset.count,
        dtype=dataset.dtypes[0],
        transform=dataset.transform,
        crs=plan,
        vertical=vertical,
        unit=plan_unit(plan, path),
        value_unit=_value_unit(path, dataset, vertical),
        nodata=dataset.nodata,
        block_shape=dataset.block_shapes[0],
        overview_factors=tuple(dataset.overviews(1)),
        luma="JPEG" in structure.get("COMPRESSION", "") and structure.get("SOURCE_COLOR_SPACE") == "YCbCr",
        epoch=_epoch(dataset),
        notes=(*remarks, *notes(PurePath(path).name, dataset)),
        unknown_unit=unknown_unit(dataset),
    )


def _check_values(path: str, dataset: Dataset) -> None:
    """Raise `InputError` where the values cannot be those of a map."""
    if not dataset.count:
        within = ", ".join(dataset.subdatasets[:3])
        found = f"but several: {within}. Name one of them" if within else "and cannot serve as a map"
        message = f"{path} holds no raster of its own, {found}."
        raise InputError(message)
    if dataset.width * dataset.height == 1:
        message = f"{path}: the raster is a single pixel. Name the raster of the whole site."
        raise InputError(message)
    if dataset.dtypes[0].startswith("complex"):
        message = f"{path}: the values are complex numbers. Name an orthomosaic or a raster of heights."
        raise InputError(message)
    if ColorInterp.palette in dataset.colorinterp:
        message = (
            f"{path}: the values are numbers of a colour table, which cannot be averaged or interpolated. "
            "Convert the raster to RGB (`gdal_translate -expand rgb`)."
        )
        raise InputError(message)
    rows, cols = dataset.block_shapes[0]
    size = rows * cols * np.dtype(dataset.dtypes[0]).itemsize
    if size > _LARGEST_BLOCK_BYTES:
        message = (
            f"{path}: one block of the file is {rows} × {cols} pixels, {size >> 20} MB, and has to be "
            "decoded as a whole. Write the raster in tiles (`gdal_translate -co TILED=YES`)."
        )
        raise InputError(message)


def _check_place(path: str, dataset: Dataset) -> None:
    """Raise `InputError` where rows and columns have no place on the ground."""
    transform = dataset.transform
    if transform == Affine.identity():
        if dataset.gcps[0]:
            found = f"only {len(dataset.gcps[0])} ground control points tie it to the ground"
        elif dataset.rpcs is not None:
            found = "only rational polynomial coefficients tie it to the ground"
        else:
            found = "nothing says where its pixels lie"
        message = (
            f"{path}: the raster is not georeferenced, {found}. Export it as a georeferenced map (GeoTIFF, "
            "or with a world file), or rectify it."
        )
        raise InputError(message)
    sides = transform.a * transform.e - transform.b * transform.d
    if not np.isfinite(tuple(transform)).all() or sides == 0:
        numbers = ", ".join(f"{number:g}" for number in transform[:6])
        message = f"{path}: the georeference ({numbers}) gives the pixels no area. Export the raster again."
        raise InputError(message)


def _reference_system(
    path: str, dataset: Dataset, asked: str | None, remarks: list[str]
) -> tuple[pyproj.CRS, pyproj.CRS | None]:
    """Return the plan and the vertical CRS; add to the remarks where the file is overridden."""
    stated = _crs_of_file(path, dataset) if dataset.crs else None
    if asked is None:
        if stated is None:
            message = (
                f"{path}: the raster names no CRS. Name it in the settings with `crs` in the table of this "
                'raster, such as crs = "EPSG:25833".'
            )
            raise InputError(message)
        return stated
    setting = _split(parse_crs(asked, f"{path}, crs in the settings"), path)
    if stated is None:
        return setting
    if not equal_crs(stated[0], setting[0]):
        remarks.append(
            f"{PurePath(path).name} is taken to be in {crs_name(setting[0])} as the settings say, not in "
            f"{crs_name(stated[0])} as the file says."
        )
    return setting[0], setting[1] or stated[1]


def _crs_of_file(path: str, dataset: Dataset) -> tuple[pyproj.CRS, pyproj.CRS | None]:
    try:
        text = dataset.crs.to_wkt(version="WKT2_2019")
    except CRSError:
        text = dataset.crs.to_wkt()
    return _split(parse_crs(text, path), path)


def _split(crs: pyproj.CRS, path: str) -> tuple[pyproj.CRS, pyproj.CRS | None]:
    """Return plan and vertical CRS; parameters of a transformation that came along are left out."""
    taken_apart = parts(crs, path)
    if taken_apart.ellipsoidal:
        bare = crs.source_crs if crs.is_bound and crs.source_crs is not None else crs
        return bare, None
    return taken_apart.horizontal, taken_apart.vertical


def _value_unit(path: str, dataset: Dataset, vertical: pyproj.CRS | None) -> LinearUnit | None:
    """Return the unit of the heights by the vertical CRS or the band; the two must not contradict."""
    of_band = band_unit(dataset)
    if vertical is None:
        return of_band
    of_axis = unit_of_length(vertical.axis_info[0].unit_conversion_factor)
    if of_band is not None and of_axis is not None and of_band is not of_axis:
        message = (
            f"{path}: the vertical CRS {crs_name(vertical)} counts in {of_axis}, the unit of the band says "
            f"{of_band}. Mend the one that is wrong."
        )
        raise InputError(message)
    return of_axis


def _epoch(dataset: Dataset) -> float | None:
    """Return the coordinate epoch, which rasterio does not tell but GDAL writes into a description."""
    with suppress(*GDAL_ERRORS), MemoryFile(ext=".vrt") as description:
        rasterio.shutil.copy(dataset, description.name, driver="VRT")
        text = bytes(description.read()).decode("utf-8", errors="replace")
        found = re.search(r'<SRS[^>]*\bcoordinateEpoch="([0-9.]+)"', text)
        return float(found[1]) if found else None
    return None
