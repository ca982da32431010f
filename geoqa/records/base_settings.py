"""The table [base] of the settings file: where the base was taken to stand, and where it does."""

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Literal

from pydantic import Field

from geoqa.records.checked_table import Table
from geoqa.records.setting_types import (
    CrsText,
    Epoch,
    Latitude,
    Length,
    Longitude,
    Metres,
    NonEmpty,
    Number,
)

Reference = Literal["mark", "antenna reference point"]
ANTENNA: Reference = "antenna reference point"

_SIDES = "assumed, precise or independent"


class Position(Table):
    """A position of the base: geographic, projected, geocentric or from a SINEX file."""

    latitude: Latitude | None = None
    longitude: Longitude | None = None
    easting: Number | None = Field(None, description="In the unit of the CRS")
    northing: Number | None = Field(None, description="In the unit of the CRS")
    height: Number | None = Field(
        None, description="Above the ellipsoid, in the unit of the CRS; metres beside degrees"
    )
    x: Length | None = Field(None, description="Geocentric")
    y: Length | None = Field(None, description="Geocentric")
    z: Length | None = Field(None, description="Geocentric")
    sinex: NonEmpty | None = Field(None, description="SINEX file that holds the position")
    site: str | None = Field(None, description="Station in the SINEX file: code, or code, point and solution")
    crs: CrsText | None = Field(None, description="CRS of this position; that of the table if absent")
    epoch: Epoch | None = None
    reference: Reference | None = Field(None, description="What is positioned, where not as in the table")
    sigma_m: tuple[Metres, Metres, Metres] | None = Field(None, description="1 sigma east, north, up")
    sigma_95_m: tuple[Metres, Metres, Metres] | None = Field(None, description="95 % east, north, up")

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield where the position is not stated in exactly one way, or its sigma twice."""
        ways = (
            ("latitude", "longitude", "height"),
            ("easting", "northing", "height"),
            ("x", "y", "z"),
            ("sinex", "site"),
        )
        keys = {key for way in ways for key in way if key in given}
        complete = keys in [set(way) for way in ways] or keys == {"sinex"}
        if not complete:
            choice = "; ".join(", ".join(way) for way in ways)
            yield f"a position is one of {choice}; found {', '.join(sorted(keys)) or 'none of them'}."
        if "sigma_m" in given and "sigma_95_m" in given:
            yield "give sigma_m (1 sigma) or sigma_95_m (95 %), not both."


class Base(Table):
    """A base that was placed approximately, and its position as known later."""

    session: str | None = Field(None, description="Session of the base, where there are several")
    assumed: Position = Field(description="Where the base was taken to stand")
    precise: Position = Field(description="Where it stands as known later")
    crs: CrsText | None = Field(None, description="CRS of both positions")
    via: CrsText | None = Field(None, description="Go through this frame where several operations tie")
    epoch: Epoch | None = None
    reference: Reference = Field("mark", description="What the precise position is the position of")
    antenna_height_m: Length | None = Field(None, description="Height of the antenna above the mark")
    points_use: Literal["assumed", "precise"] = Field(description="What the points rest on")
    products_use: Literal["assumed", "precise", "independent"] = Field(description="And the products")

    missing_words: ClassVar[Mapping[str, str]] = {
        "points_use": "is missing. Say which position of the base the points rest on: assumed or precise.",
        "products_use": f"is missing. Say which position of the base the products rest on: {_SIDES} (made "
        "without this base). It has no default, since the wrong answer moves every residual by the whole "
        "correction.",
    }

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield where the antenna height and what a position refers to do not go together."""
        if "antenna_height_m" in given:
            return
        sides = (given, given.get("assumed"), given.get("precise"))
        if any(_reference(side) == ANTENNA for side in sides):
            yield f"reference = “{ANTENNA}” needs antenna_height_m, its height above the mark."


def _reference(table: object) -> object:
    return table.get("reference") if isinstance(table, Mapping) else getattr(table, "reference", None)
