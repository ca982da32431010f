"""Settings from the words of a command line."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.readers.settings import settings_from
from geoqa.records.settings import Settings


def asked(tables: Mapping[str, Mapping[str, Any]]) -> Settings:
    """Return the settings that these tables hold; a value of None was not given.

    Paths are relative to the current folder.
    """
    given = {
        name: {key: value for key, value in table.items() if value is not None}
        for name, table in tables.items()
    }
    return settings_from(given, Path(), "command line")
