"""The map picture: residual vectors and height residuals over the pale orthomosaic, in its place in a GIS."""

from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer

if TYPE_CHECKING:
    from geoqa.writers._map_figure import MapFigure

PNG, PDF = Path("residual_map.png"), Path("residual_map.pdf")


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write the picture as PNG with its place on the ground, and as PDF; return the paths.

    The place of the whole picture, frame and key included, stands in a world file and, with the
    CRS, in a `.aux.xml` file, which GDAL and what builds on it read.
    """
    from geoqa.writers._georeference import aux_xml, figure_transform, world_file
    from geoqa.writers._map_figure import map_figure

    drawn = map_figure(assessment)
    transform = figure_transform(drawn, assessment.frame.unit.metres)
    _write_png(drawn, folder / PNG)
    _write_pdf(drawn, folder / PDF, assessment.title)
    world, side_file = PNG.with_suffix(".pgw"), PNG.with_suffix(".png.aux.xml")
    (folder / world).write_text(world_file(transform), "ascii", newline="\n")
    (folder / side_file).write_text(aux_xml(transform, assessment.frame.crs), "utf-8", newline="\n")
    return (PNG, world, side_file, PDF)


def _write_png(drawn: "MapFigure", path: Path) -> None:
    import numpy as np
    from PIL import Image

    drawn.page.canvas.draw()  # type: ignore[no-untyped-call]
    picture = np.asarray(drawn.page.canvas.buffer_rgba())[..., :3]  # type: ignore[no-untyped-call]
    Image.fromarray(np.ascontiguousarray(picture)).save(path, format="PNG", dpi=(150, 150), compress_level=3)


def _write_pdf(drawn: "MapFigure", path: Path, title: str) -> None:
    from matplotlib.backends.backend_pdf import FigureCanvasPdf

    # No date and no version, so that equal results are equal files.
    metadata = {"CreationDate": None, "Producer": None, "Creator": None, "Title": title}
    canvas = FigureCanvasPdf(drawn.page.figure)
    canvas.print_pdf(path, metadata=metadata)  # type: ignore[no-untyped-call]


WRITER = Writer(
    id="residual-map",
    title="Map of the residuals",
    media_type="image/png",
    write=write,
    picture=True,
    order=40,
)
