"""What the user asks for under [deliver]: which deliverables, in which formats."""

from typing import Annotated, Literal

from pydantic import Field, Strict

from geoqa.records.checked_table import Table
from geoqa.records.setting_types import Flag

MapFormat = Literal["png", "pdf", "svg", "tif"]
Dpi = Annotated[int, Strict(), Field(ge=50, le=600)]


class Deliver(Table):
    """What is left in the folder of results."""

    pictures: Flag = Field(default=True, description="False: no map picture, chips or pictures in the report")
    map_formats: tuple[MapFormat, ...] = Field(("png", "pdf"), description="Formats of the map picture")
    map_size: Literal["A5", "A4", "A3", "A2"] = Field("A4", description="Paper of the map picture, lying")
    map_dpi: Dpi = Field(150, description="Pixels an inch of PNG and TIFF")
    map_variants: tuple[Literal["plan", "heights"], ...] = Field(
        (), description="Further maps that show one direction alone"
    )
    survey_points: Flag = Field(
        default=False, description="Layer survey_points with the 13 fields of the USGS delivery"
    )
