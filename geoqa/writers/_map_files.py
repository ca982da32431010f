"""The map picture in each format, at the size that was asked for; equal results are equal bytes."""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
from affine import Affine
from numpy.typing import NDArray

from geoqa.writers._georeference import aux_xml, world_file
from geoqa.writers._map_page import HEIGHT_IN, WIDTH_IN

if TYPE_CHECKING:
    from geoqa.writers._map_figure import MapFigure

# The layout is that of A4; each step of the A series is larger by the square root of two (ISO 216).
SCALES = {"A5": 0.5**0.5, "A4": 1.0, "A3": 2**0.5, "A2": 2.0}
_MM_PER_INCH = 25.4
# The page is so many tenths of an inch wide and high.
_WHOLE_DPI = 10
_SALT = "geoqa"


def whole_dpi(dpi: float) -> int:
    """Return the nearest resolution at which the page has whole pixels, so that its place is exact."""
    return max(_WHOLE_DPI, _WHOLE_DPI * round(dpi / _WHOLE_DPI))


def pixels(drawn: "MapFigure", dpi: float) -> NDArray[np.uint8]:
    """Return the figure as red, green, blue, shape (rows, cols, 3)."""
    drawn.page.figure.set_dpi(dpi)
    drawn.page.canvas.draw()  # type: ignore[no-untyped-call]
    seen = np.asarray(drawn.page.canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    return np.ascontiguousarray(seen[..., :3])


def write_png(
    picture: NDArray[np.uint8], path: Path, transform: Affine, crs: pyproj.CRS, dpi: float
) -> list[Path]:
    """Write the picture with its place in a world file and, with the CRS, in a `.aux.xml` file."""
    from PIL import Image

    Image.fromarray(picture).save(path, format="PNG", dpi=(dpi, dpi), compress_level=3)
    world, side_file = path.with_suffix(".pgw"), path.with_suffix(".png.aux.xml")
    world.write_text(world_file(transform), "ascii", newline="\n")
    side_file.write_text(aux_xml(transform, crs), "utf-8", newline="\n")
    return [path, world, side_file]


def write_tif(picture: NDArray[np.uint8], path: Path, transform: Affine, crs: pyproj.CRS) -> list[Path]:
    """Write the picture as GeoTIFF; a local grid has no place on the Earth, so its CRS is left out."""
    import rasterio

    rows, cols, bands = picture.shape
    known = {} if crs.is_engineering else {"crs": rasterio.CRS.from_wkt(crs.to_wkt())}
    shape = {"height": rows, "width": cols, "count": bands, "dtype": "uint8", "transform": transform}
    layout = {
        "photometric": "RGB",
        "compress": "deflate",
        "predictor": 2,
        "interleave": "pixel",
        "tiled": True,
    }
    with rasterio.open(path, "w", driver="GTiff", **shape, **layout, **known) as target:
        target.write(np.moveaxis(picture, -1, 0))
    return [path]


def write_pdf(drawn: "MapFigure", path: Path, title: str, scale: float) -> list[Path]:
    """Write the figure as PDF, enlarged by the scale."""
    from matplotlib.backends import backend_mixed, backend_pdf

    mixed: Any = backend_mixed
    pdf: Any = backend_pdf
    # No date and no version, so that equal results are equal files.
    metadata = {"CreationDate": None, "Producer": None, "Creator": None, "Title": title}
    figure, inch = drawn.page.figure, 72
    figure.set_dpi(inch)
    file = pdf.PdfFile(path, metadata)
    try:
        file.newPage(WIDTH_IN * scale, HEIGHT_IN * scale)
        if scale != 1.0:
            file.output(scale, 0, 0, scale, 0, 0, pdf.Op.concat_matrix)
        vector = pdf.RendererPdf(file, inch, HEIGHT_IN, WIDTH_IN)
        renderer = mixed.MixedModeRenderer(figure, WIDTH_IN, HEIGHT_IN, inch, vector)
        figure.draw(renderer)
        renderer.finalize()
        file.finalize()
    finally:
        file.close()
    return [path]


def write_svg(drawn: "MapFigure", path: Path, title: str, scale: float) -> list[Path]:
    """Write the figure as SVG, enlarged by the scale; letters are outlines, so that no font is needed."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    with mpl.rc_context({"svg.hashsalt": _SALT, "svg.fonttype": "path"}):
        canvas: Any = FigureCanvasSVG(drawn.page.figure)
        canvas.print_svg(path, metadata={"Date": None, "Creator": None, "Title": title})
    text = path.read_text("utf-8")
    for name, inches in (("width", WIDTH_IN), ("height", HEIGHT_IN)):
        size = f'{name}="{inches * scale * _MM_PER_INCH:.2f}mm"'
        text = re.sub(rf'(<svg [^>]*?)\b{name}="[^"]*"', rf"\g<1>{size}", text, count=1)
    path.write_text(text, "utf-8", newline="\n")
    return [path]
