"""The table [survey] of the settings file: how repeated shots of a point become one point."""

from typing import Annotated

from pydantic import Field

from geoqa.records.checked_table import Table
from geoqa.records.setting_types import Metres, NonEmpty, Number

NotNegative = Annotated[Number, Field(ge=0, json_schema_extra={"x-ogc-unit": "m"})]
Minutes = Annotated[Number, Field(gt=0, json_schema_extra={"x-ogc-unit": "min"})]


class Survey(Table):
    """How far the survey of the points is trusted, with the defaults of common practice."""

    gap_minutes: Minutes = Field(30.0, description="A longer pause between shots begins a new occupation")
    floor_horizontal_m: NotNegative = Field(
        0.010, description="Smallest standard deviation of an occupation, east and north each"
    )
    floor_vertical_m: NotNegative = Field(
        0.018, description="Smallest standard deviation of an occupation, up"
    )
    warn_horizontal_m: Metres = Field(
        0.03, description="Largest difference of occupations, east and north each, without a warning"
    )
    warn_vertical_m: Metres = Field(0.05, description="The same, up")
    reject_m: Metres = Field(
        0.10, description="Largest difference along any axis at which the point still counts"
    )
    optimistic_horizontal_m: NotNegative = Field(
        0.005, description="A stated standard deviation east or north below it is called optimistic"
    )
    optimistic_vertical_m: NotNegative = Field(0.008, description="The same, up")
    keep: tuple[NonEmpty, ...] = Field(
        (), description="Points that count although their occupations disagree"
    )
