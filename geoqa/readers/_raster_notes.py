"""What a user should know about a raster that can be used, and the unit that a band states."""

from geoqa.readers._dataset import Dataset, is_picture
from geoqa.readers._gdal import over_network
from geoqa.units import LinearUnit

# Above this many pixels strips are slow, and a picture of the whole is not drawn without overviews.
LARGE_PX = 60_000_000
# Above this many pixels a strip of a remote file is mostly pixels that nobody asked for.
_LARGE_REMOTE_PX = 1_000_000

_UNIT_NAMES = {
    LinearUnit.METRE: ("m", "metre", "metres", "meter", "meters"),
    LinearUnit.FOOT: ("ft", "foot", "feet", "international foot", "international feet"),
    LinearUnit.US_SURVEY_FOOT: (
        *("us survey foot", "us survey feet", "u.s. survey foot", "u.s. survey feet", "survey foot"),
        *("us-ft", "ftus", "foot_us", "us_survey_foot"),
    ),
}
_UNIT_OF_NAME = {name: unit for unit, names in _UNIT_NAMES.items() for name in names}


def notes(name: str, dataset: Dataset) -> tuple[str, ...]:
    """Return sentences about a raster: layout, missing overviews, tags that are not acted on."""
    found = (_strips(name, dataset), _overviews(name, dataset), _point(name, dataset))
    return tuple(sentence for sentence in found if sentence is not None)


def band_unit(dataset: Dataset) -> LinearUnit | None:
    """Return the unit of the first band, or None where it states none that is known."""
    return _UNIT_OF_NAME.get(_stated_unit(dataset).lower())


def unknown_unit(dataset: Dataset) -> str | None:
    """Return what the first band states as its unit where that is none that is known, else None."""
    return (_stated_unit(dataset) or None) if band_unit(dataset) is None else None


def _stated_unit(dataset: Dataset) -> str:
    return (dataset.units[0] or "").strip()


def _strips(name: str, dataset: Dataset) -> str | None:
    rows, cols = dataset.block_shapes[0]
    if cols < dataset.width:
        return None
    if over_network(dataset.name) and dataset.width * dataset.height > _LARGE_REMOTE_PX:
        return (
            f"{name} is read over a network and stored in strips of {rows} × {cols} pixels, so that each "
            "window fetches whole rows. Fetch the file first, or store it as a cloud-optimised GeoTIFF "
            "(`gdal_translate -of COG`)."
        )
    if dataset.width * dataset.height <= LARGE_PX:
        return None
    return (
        f"{name} is stored in strips of {rows} × {cols} pixels, so that a small window costs whole rows; "
        "tiles are quicker (`gdal_translate -co TILED=YES`)."
    )


def _overviews(name: str, dataset: Dataset) -> str | None:
    if dataset.overviews(1) or not is_picture(dataset) or dataset.width * dataset.height <= LARGE_PX:
        return None
    return f"{name} has no overviews, so that no picture of it as a whole is drawn; `gdaladdo` adds them."


def _point(name: str, dataset: Dataset) -> str | None:
    if dataset.tags().get("AREA_OR_POINT") != "Point":
        return None
    return (
        f"{name} carries the tag AREA_OR_POINT=Point. The georeference is taken as GDAL gives it, for the "
        "corners of cells; nothing was shifted by half a cell."
    )
