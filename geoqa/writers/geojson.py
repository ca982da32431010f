"""The checkpoints for the web: `checkpoints.geojson` by RFC 7946.

Positions are longitude and latitude of WGS 84, two-dimensional: heights of a survey are seldom
ellipsoidal heights of WGS 84, so they stand in the properties. The positions are for display.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError
from pyproj.transformer import AreaOfInterest

from geoqa.frame.grids import offered
from geoqa.frame.site_grid import to_grid
from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.tables import CHECKPOINTS
from geoqa.writers import Writer
from geoqa.writers._columns import Values, rounded_chunks
from geoqa.writers._json_text import filled, flags, numbers, objects, words, write_json

FILE = Path("checkpoints.geojson")
# A point further off than this on a web map reads as a blunder of the survey.
WORST_ACCURACY_M = 5.0
# 1e-9 degree is a tenth of a millimetre on the ground.
_DECIMALS = 9
_NOTE = (
    "Longitude and latitude are for display: they come by “{operation}”, stated accuracy {accuracy}. "
    "Residuals and coordinates in the properties are in {frame}."
)


class WebPositions(NamedTuple):
    """Longitude and latitude in degrees, shape (n, 2), with the operation that made them."""

    degrees: FloatArray
    operation: str
    accuracy_m: float


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `checkpoints.geojson`, or nothing where the CRS has no known relation to WGS 84."""
    frame = assessment.frame
    plan_m = assessment.residuals.survey_m[:, :2]
    if frame.site_grid is not None:
        plan_m = to_grid(plan_m, frame.site_grid)
    positions = web_positions(frame.crs, plan_m / frame.unit.metres)
    if positions is None:
        return ()
    document = {
        "type": "FeatureCollection",
        "title": f"{assessment.title}: {CHECKPOINTS.title.lower()}",
        "note": _NOTE.format(
            operation=positions.operation,
            accuracy=f"{positions.accuracy_m:g} m",
            frame=assessment.frame.name,
        ),
        "features": [],
    }
    write_json(folder / FILE, document, "features", _features(assessment, positions.degrees))
    return (FILE,)


def _features(assessment: Assessment, degrees: FloatArray) -> Iterator[str]:
    template = '{"type": "Feature", "geometry": {"type": "Point", "coordinates": %s}, "properties": %s}'
    start = 0
    for chunk in rounded_chunks(assessment):
        properties = objects({name: _texts(values) for name, values in chunk.items()})
        places = numbers(np.round(degrees[start : start + len(properties)], _DECIMALS))
        yield from filled(template, [places, properties])
        start += len(properties)


def _texts(values: Values) -> list[str]:
    if not isinstance(values, np.ndarray):
        return words(values)
    return flags(values) if values.dtype == bool else numbers(values)


def web_positions(crs: CRS, plan: FloatArray) -> WebPositions | None:
    """Return longitude and latitude of WGS 84, or None where no operation of known accuracy leads there.

    Parameters
    ----------
    plan : array, shape (n, 2)
        Easting and northing in the unit of the CRS.
    """
    if crs.geodetic_crs is None:
        return None
    try:
        operation = _operation(crs, plan)
        if operation is None:
            return None
        degrees = np.column_stack(operation.transform(plan[:, 0], plan[:, 1], errcheck=True))
    except ProjError:
        return None
    inside = (np.abs(degrees) <= [180.0, 90.0]).all()
    return WebPositions(degrees, operation.description, _accuracy_m(operation)) if inside else None


def _operation(crs: CRS, plan: FloatArray) -> Transformer | None:
    """Return the best operation to WGS 84 at the site of which an accuracy is stated."""
    site = None
    if len(plan):
        to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
        longitude, latitude = to_degrees.transform(plan[:, 0], plan[:, 1], errcheck=True)
        site = AreaOfInterest(longitude.min(), latitude.min(), longitude.max(), latitude.max())
    # A grid that is missing costs a metre or two; the accuracy that is left is told in the file.
    operations = offered(crs, CRS("EPSG:4326"), site).transformers
    return next((item for item in operations if _accuracy_m(item) <= WORST_ACCURACY_M), None)


def _accuracy_m(operation: Transformer) -> float:
    """Return the stated accuracy of an operation: 0 for a mere conversion, NaN where none is stated."""
    if operation.accuracy >= 0:
        return operation.accuracy
    parts = operation.operations or ()
    # PROJ 9.8 states none for conversions.
    return 0.0 if parts and all(part.type_name == "Conversion" for part in parts) else float("nan")


WRITER = Writer(
    id="geojson",
    title="Checkpoints for the web",
    media_type="application/geo+json",
    write=write,
)
