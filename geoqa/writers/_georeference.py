"""The place of a picture on the ground, as GIS programs read it from files beside the picture."""

from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import pyproj
from affine import Affine

from geoqa.writers._map_page import DPI, HEIGHT_IN, WIDTH_IN

if TYPE_CHECKING:
    from geoqa.writers._map_figure import MapFigure


def figure_transform(drawn: "MapFigure", unit_m: float, size_px: tuple[int, int] | None = None) -> Affine:
    """Return the transform from column, row of the whole picture to easting, northing in the CRS's unit.

    It refers to the corners of the pixels: column 0, row 0 is the upper left corner of the picture.

    Parameters
    ----------
    size_px
        Width and height of the picture, if not as it is drawn by default.
    """
    width, height = size_px or (round(WIDTH_IN * DPI), round(HEIGHT_IN * DPI))
    page = drawn.page.figure.bbox
    ends = [(0.0, page.height), (page.width, 0.0)]
    corners = drawn.axes.transData.inverted().transform(ends) / unit_m
    (west, north), (east, south) = corners
    return Affine((east - west) / width, 0.0, west, 0.0, (south - north) / height, north)


def world_file(transform: Affine) -> str:
    """Return the six lines of a world file, which refers to the centre of the upper left pixel.

    Examples
    --------
    >>> world_file(Affine(0.5, 0.0, 100.0, 0.0, -0.5, 200.0)).split()
    ['0.5', '0.0', '0.0', '-0.5', '100.25', '199.75']
    """
    t = transform
    east, north = t.c + (t.a + t.b) / 2, t.f + (t.d + t.e) / 2
    return "".join(f"{float(value)!r}\n" for value in (t.a, t.d, t.b, t.e, east, north))


def aux_xml(transform: Affine, crs: pyproj.CRS) -> str:
    """Return the side file that GDAL reads: CRS and transform, which refers to pixel corners.

    A local grid has no place on the Earth and is left out.
    """
    t = transform
    numbers = ", ".join(f"{float(value):.16e}" for value in (t.c, t.a, t.b, t.f, t.d, t.e))
    return f"<PAMDataset>\n{_srs(crs)}  <GeoTransform> {numbers}</GeoTransform>\n</PAMDataset>\n"


def _srs(crs: pyproj.CRS) -> str:
    if crs.is_engineering:
        return ""
    return f"  <SRS>{escape(crs.to_wkt(pyproj.enums.WktVersion.WKT2_2019))}</SRS>\n"
