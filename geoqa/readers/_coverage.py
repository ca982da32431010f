"""Which parts of a virtual raster its sources fill; GDAL gives 0 for the others."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from lxml import etree

from geoqa.numerics.arrays import BoolArray
from geoqa.numerics.tiling import Window

_SOURCES = ("SimpleSource", "ComplexSource", "AveragedSource", "KernelFilteredSource")


def filled_parts(dataset: Any, band: int) -> tuple[Window, ...] | None:
    """Return the parts of a band of a VRT that sources fill, or None where it is not put together of such.

    Parameters
    ----------
    dataset
        As rasterio opened it.

    References
    ----------
    GDAL, VRT driver: elements `VRTRasterBand`, `SimpleSource`, `DstRect`.
    """
    description = dataset.tags(ns="xml:VRT").get("xml:VRT", "")
    try:
        root = etree.fromstring(description.encode(), etree.XMLParser(resolve_entities=False))
    except etree.XMLSyntaxError:
        return None
    sources = [
        source
        for item in root.iterfind("VRTRasterBand")
        if item.get("band") == str(band) and item.get("subClass") is None
        for source in item
        if source.tag in _SOURCES
    ]
    return tuple(_part(source.find("DstRect"), dataset.shape) for source in sources) or None


def _part(place: Any, shape: tuple[int, int]) -> Window:
    """Return the pixels that a source fills as a whole; without a place it fills the raster."""
    if place is None:
        return Window(0, shape[0], 0, shape[1])
    col, row, cols, rows = (float(place.get(name)) for name in ("xOff", "yOff", "xSize", "ySize"))
    low, high = np.ceil(np.round([row, col], 6)), np.floor(np.round([row + rows, col + cols], 6))
    return Window(int(low[0]), int(high[0]), int(low[1]), int(high[1]))


def covered(window: Window, parts: Sequence[Window]) -> BoolArray | None:
    """Return which pixels of a window lie in one of the parts, or None where all do.

    Examples
    --------
    >>> covered(Window(0, 1, 0, 3), [Window(0, 9, 0, 2)])
    array([[ True,  True, False]])
    """
    found = np.zeros(window.shape, dtype=bool)
    for part in parts:
        rows = slice(max(part.row0 - window.row0, 0), max(part.row1 - window.row0, 0))
        cols = slice(max(part.col0 - window.col0, 0), max(part.col1 - window.col0, 0))
        found[rows, cols] = True
    return None if found.all() else found
