"""Copies of orthomosaic and elevation raster, moved by a shift without touching a pixel."""

from collections.abc import Mapping
from typing import Any

from geoqa.errors import InputError
from geoqa.processes import Input, Output, Process
from geoqa.processes.check import CREATED, RASTER, UNITS

_FILE = {"type": "string", "format": "uri-reference"}
_METRES = {"type": "number", "x-ogc-unit": "m"}


def correct_products(  # noqa: PLR0913 - one keyword an input, as its description lists them
    *,
    results: str | None = None,
    inputs: str | None = None,
    orthomosaic: str | None = None,
    elevation: str | None = None,
    east_m: float | None = None,
    north_m: float | None = None,
    up_m: float | None = None,
    elevation_unit: str | None = None,
    out: str = "corrected",
    created: str | None = None,
) -> Mapping[str, Any]:
    """Return the corrected copies, one object a product, each with its lineage."""
    from pathlib import Path

    from geoqa.processes._products import Asked, asked_by_results, corrected_products
    from geoqa.units import LinearUnit

    shift = (east_m, north_m, up_m)
    _refuse_unclear(results, [orthomosaic, elevation, *shift])
    if results is not None:
        asked = asked_by_results(Path(results), None if inputs is None else Path(inputs))
    else:
        asked = Asked(
            orthomosaic,
            elevation,
            None if elevation_unit is None else LinearUnit(elevation_unit),
            "shift given on the command line",
            grid_m=tuple(value or 0.0 for value in shift),  # type: ignore[arg-type]
        )
    return {"products": corrected_products(asked, Path(out), created), "folder": out}


def _refuse_unclear(results: str | None, given: list[Any]) -> None:
    products, shift = given[:2], given[2:]
    if results is not None:
        if any(value is not None for value in given):
            message = "--results names products and shift itself. Leave out the options that name them again."
            raise InputError(message)
        return
    if not any(products):
        message = "Nothing to correct: name --orthomosaic, --elevation or both, or --results."
        raise InputError(message)
    if not any(shift):
        message = "No shift: give --east, --north or --up in metres, or --results of a check with a base."
        raise InputError(message)


def summary(outputs: Mapping[str, Any]) -> str:
    """Return what was done to each product, one a line."""
    return "\n".join(_line(item) for item in outputs["products"])


def _line(item: Mapping[str, Any]) -> str:
    east, north = item["shift"]
    unit = item["unit"] or "degree"
    moved = f"{item['path']}: moved by {east:+.4f} east, {north:+.4f} north ({unit})"
    if item["changed_bytes"] is not None:
        kept = f"{item['changed_bytes']} bytes of its place differ from {item['source']}, no others do"
        return f"{moved}; {kept}.".replace("-0.", "−0.")
    raised = (
        f"{item['raised_cells']} heights raised by {item['height_offset_m']:+.4f} m, empty cells untouched"
    )
    return f"{moved}; {raised}.".replace("-0.", "−0.")


PROCESS = Process(
    id="correct-products",
    version="1.0.0",
    title="Move the products without touching a pixel",
    description=(
        "Writes copies of the orthomosaic and the elevation raster with a moved place; in the orthomosaic "
        "every pixel stays byte for byte what it was. A height offset is added to the heights, empty cells "
        "are left alone. A lineage file beside each copy tells what was done and why.\n\n"
        "The shift comes from the base correction of a check (--results) or from --east, --north, --up."
    ),
    inputs={
        "results": Input("Folder that a check with a base left", _FILE, "with results.json", word="FOLDER"),
        "inputs": Input(
            "Folder of the inputs of that check",
            _FILE,
            "default beside the folder of the results, then where the record says",
            word="FOLDER",
        ),
        "orthomosaic": Input("Orthomosaic", RASTER),
        "elevation": Input("Elevation raster", RASTER),
        "east_m": Input("Shift along the grid of the product, east", _METRES),
        "north_m": Input("Shift along the grid of the product, north", _METRES),
        "up_m": Input("Added to the heights", _METRES),
        "elevation_unit": Input(
            "Unit of the heights", {"type": "string", "enum": UNITS}, "if not in the file"
        ),
        "out": Input("Folder for the copies", {**_FILE, "default": "corrected"}, word="FOLDER"),
        "created": CREATED,
    },
    outputs={
        "products": Output(
            "Corrected products", {"type": "array", "items": {"type": "object"}}, "as in their lineage files"
        ),
        "folder": Output("Folder of the copies", _FILE),
    },
    run=correct_products,
    summary=summary,
)
