"""The map picture: residual vectors and height residuals over the pale orthomosaic, in its place in a GIS."""

from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer

if TYPE_CHECKING:
    from geoqa.writers._map_content import Part

STEM = "residual_map"


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write the picture in the formats and at the size that were asked for; return the paths.

    The place of the whole picture, frame and key included, stands in the GeoTIFF, and for the PNG in a world
    file and, with the CRS, in a `.aux.xml` file, which GDAL and what builds on it read.
    """
    from geoqa.writers._map_content import Part

    written = _write(assessment, folder, STEM, Part.BOTH)
    for variant in dict.fromkeys(assessment.settings.deliver.map_variants):
        written += _write(assessment, folder, f"{STEM}_{variant}", Part(variant))
    return tuple(path.relative_to(folder) for path in written)


def _write(assessment: Assessment, folder: Path, stem: str, part: "Part") -> list[Path]:
    from geoqa.writers import _map_files as files
    from geoqa.writers._georeference import figure_transform
    from geoqa.writers._map_figure import map_figure

    asked, frame = assessment.settings.deliver, assessment.frame
    wanted, scale = set(asked.map_formats), files.SCALES[asked.map_size]
    drawn = map_figure(assessment, part)
    written: list[Path] = []
    if wanted & {"png", "tif"}:
        dpi = files.whole_dpi(asked.map_dpi * scale)
        picture = files.pixels(drawn, dpi)
        place = figure_transform(drawn, frame.unit.metres, (picture.shape[1], picture.shape[0]))
        if "png" in wanted:
            written += files.write_png(picture, folder / f"{stem}.png", place, frame.crs, dpi / scale)
        if "tif" in wanted:
            written += files.write_tif(picture, folder / f"{stem}.tif", place, frame.crs)
    if "pdf" in wanted:
        written += files.write_pdf(drawn, folder / f"{stem}.pdf", assessment.title, scale)
    if "svg" in wanted:
        written += files.write_svg(drawn, folder / f"{stem}.svg", assessment.title, scale)
    return written


WRITER = Writer(
    id="residual-map",
    title="Map of the residuals",
    media_type="image/png",
    write=write,
    picture=True,
    order=40,
)
