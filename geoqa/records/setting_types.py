"""Types of the values in the settings file: what is accepted, and in which unit."""

from typing import Annotated

from pydantic import BeforeValidator, Field, Strict


def _crs_text(value: object) -> object:
    # People write `crs = 25833`; the authority is EPSG then.
    return f"EPSG:{value}" if isinstance(value, int) and not isinstance(value, bool) else value


NonEmpty = Annotated[str, Field(min_length=1)]
CrsText = Annotated[NonEmpty, BeforeValidator(_crs_text, json_schema_input_type=NonEmpty | int)]
Flag = Annotated[bool, Strict()]
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
Metres = Annotated[Number, Field(gt=0, json_schema_extra={"x-ogc-unit": "m"})]
Length = Annotated[Number, Field(json_schema_extra={"x-ogc-unit": "m"})]
Epoch = Annotated[Number, Field(ge=1900, le=2100, description="Coordinate epoch, decimal year")]
Latitude = Annotated[Number, Field(ge=-90, le=90, description="Degrees")]
Longitude = Annotated[Number, Field(ge=-360, le=360, description="Degrees")]
