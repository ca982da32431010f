"""Words about frame, heights and date, the same on the map and in the report."""

import pyproj
from pyproj.exceptions import CRSError

from geoqa.records.assessment import Provenance
from geoqa.units import LinearUnit

UNIT_NAMES = {
    LinearUnit.METRE: "metres",
    LinearUnit.FOOT: "feet",
    LinearUnit.US_SURVEY_FOOT: "US survey feet",
}


def height_system(name: str) -> str:
    """Return the name and code of a height system; a word that is no code stays as it is.

    Examples
    --------
    >>> height_system("EPSG:5703"), height_system("ellipsoidal")
    ('NAVD88 height (EPSG:5703)', 'ellipsoidal')
    """
    if ":" not in name:
        return name
    try:
        return f"{pyproj.CRS.from_user_input(name).name} ({name})"
    except CRSError:
        return name


def created(provenance: Provenance) -> str:
    """Return the time of the result for a person: `2026-05-01 10:00:00 UTC`."""
    return provenance.created.replace("T", " ").replace("Z", " UTC")
