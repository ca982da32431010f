"""Styles of the layers as files: OGC Styled Layer Descriptor with Symbology Encoding 1.1."""

from pathlib import Path

from geoqa.records.assessment import Assessment
from geoqa.records.tables import LAYERS
from geoqa.writers import Writer
from geoqa.writers._sld import sld
from geoqa.writers._survey_points import tables_asked

FOLDER = "styles"


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write one SLD 1.1 file a layer into `styles/` and return their paths, relative to the folder."""
    paths = []
    (folder / FOLDER).mkdir(exist_ok=True)
    for table in tables_asked(assessment, LAYERS):
        path = Path(FOLDER) / f"{table.name}.sld"
        (folder / path).write_bytes(sld(assessment, table.name))
        paths.append(path)
    return tuple(paths)


WRITER = Writer(
    id="styles",
    title="Styles of the layers",
    media_type="application/vnd.ogc.sld+xml",
    write=write,
)
