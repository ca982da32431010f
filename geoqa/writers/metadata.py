"""Metadata for catalogues: the record of the delivery, and its quality report alone, as ISO XML."""

from pathlib import Path

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer

RECORD, QUALITY = Path("metadata.xml"), Path("quality.xml")
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `metadata.xml` (ISO 19115-3), and `quality.xml` (ISO 19157-2) where a residual counts."""
    from geoqa.writers._iso_metadata import quality_xml
    from geoqa.writers._iso_record import record_xml

    documents = {RECORD: record_xml(assessment), QUALITY: quality_xml(assessment)}
    written = {path: words for path, words in documents.items() if words is not None}
    for path, words in written.items():
        (folder / path).write_text(_HEAD + words, "utf-8", newline="\n")
    return tuple(written)


WRITER = Writer(
    id="metadata",
    title="Metadata for catalogues",
    media_type="application/xml",
    write=write,
)
