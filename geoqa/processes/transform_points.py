"""Bring a table of points into another CRS, datum, epoch or height system."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.errors import InputError
from geoqa.processes import Input, Output, Process
from geoqa.processes.check import POINTS, UNITS

_GRID = {"type": "string", "format": "uri-reference"}
_TEXT = {"type": "string"}
_EPOCH = {"type": "number", "minimum": 1900, "maximum": 2100}


def transform_points(  # noqa: PLR0913 - one keyword an input, as its description lists them
    *,
    points: str,
    target_crs: str,
    out: str | None = None,
    points_crs: str | None = None,
    points_frame: str | None = None,
    points_via: str | None = None,
    points_epoch: float | None = None,
    points_height_system: str | None = None,
    points_unit: str | None = None,
    points_height_unit: str | None = None,
    layout: str | None = None,
    target_frame: str | None = None,
    target_epoch: float | None = None,
    target_height_system: str | None = None,
    target_height_unit: str | None = None,
    geoid_grid: str | None = None,
    separation_m: float | None = None,
    max_operation_accuracy_m: float = 0.15,
    network: bool = False,
) -> Mapping[str, Any]:
    """Return the file with the points in the target frame, and the steps that led there."""
    from geoqa.frame.target_frame import TargetFrame
    from geoqa.processes._asked import asked
    from geoqa.processes._transformed import transformed
    from geoqa.units import LinearUnit

    file = Path(out) if out is not None else Path(points).with_name(f"{Path(points).stem}-transformed.csv")
    _refuse_overwriting(file, points)
    table = {
        "path": points,
        "crs": points_crs,
        "frame": points_frame,
        "via": points_via,
        "epoch": points_epoch,
        "height_system": points_height_system,
        "unit": points_unit,
        "height_unit": points_height_unit,
        "layout": layout,
    }
    geoid = {"grid": geoid_grid, "separation_m": separation_m}
    settings = asked(
        {
            "points": table,
            **({"geoid": geoid} if any(value is not None for value in geoid.values()) else {}),
            "limits": {"max_operation_accuracy_m": max_operation_accuracy_m, "network": network},
            # Settings compare points with something; here with themselves.
            "targets": {"marks": points},
        }
    )
    unit = None if target_height_unit is None else LinearUnit(target_height_unit)
    target = TargetFrame(target_crs, target_frame, target_epoch, target_height_system, unit)
    return transformed(settings, target, file)


def _refuse_overwriting(file: Path, points: str) -> None:
    if file.exists() and Path(points).exists() and file.samefile(points):
        message = f"{points}: the result would overwrite the points. Name another file with --out."
        raise InputError(message)


def summary(outputs: Mapping[str, Any]) -> str:
    """Return the steps, one a line, with accuracy and median change."""
    lines = [f"{outputs['count']} points in {outputs['crs']}, heights: {outputs['height_system']}"]
    lines += [_line(step) for step in outputs["steps"]] or ["No step: the points are in this frame already."]
    lines += [f"Assumed: {sentence}" for sentence in outputs["assumptions"]]
    lines += [f"Note: {sentence}" for sentence in outputs["messages"]]
    lines.append(f"The points are in {outputs['file']}.")
    return "\n".join(lines)


def _line(step: Mapping[str, Any]) -> str:
    accuracy = "" if step["accuracy_m"] is None else f"; good to {step['accuracy_m']:g} m"
    known = step["median_change_m"]
    change = "" if known is None else "; east {:.4f}, north {:.4f}, up {:.4f} m".format(*known)
    return f"{step['title']}: {step['operation']}{accuracy}{change}"


PROCESS = Process(
    id="transform-points",
    version="1.0.0",
    title="Bring points into another frame or height system",
    description=(
        "Reads a table of points and writes one with the same points in another CRS, datum, epoch or height "
        "system, by the steps that `check` takes; what cannot be done exactly is refused with the reason. "
        "Further columns are kept. --json prints the steps with operation and accuracy."
    ),
    inputs={
        "points": Input("Surveyed points", POINTS, "a table or a vector file", required=True),
        "target_crs": Input(
            "CRS to bring them into", _TEXT, "such as EPSG:25832, or EPSG:25832+7837", required=True
        ),
        "out": Input(
            "File for the result",
            {"type": "string", "format": "uri-reference"},
            "default <points name>-transformed.csv",
        ),
        "points_crs": Input("CRS of the points", _TEXT, "such as EPSG:9990"),
        "points_frame": Input("True realisation of the points", _TEXT, "where their CRS leaves it open"),
        "points_via": Input("Frame to go through", _TEXT, "where several operations tie"),
        "points_epoch": Input("Coordinate epoch of the points", _EPOCH, "decimal year, such as 2026.45"),
        "points_height_system": Input(
            "Height system of the points", _TEXT, "a vertical CRS such as EPSG:5703, or “ellipsoidal”"
        ),
        "points_unit": Input("Unit of easting and northing", {"type": "string", "enum": UNITS}),
        "points_height_unit": Input("Unit of the heights", {"type": "string", "enum": UNITS}),
        "layout": Input("Column order of a list without a header row", _TEXT, "PNEZD and its kin"),
        "target_frame": Input("True realisation of the target", _TEXT, "where its CRS leaves it open"),
        "target_epoch": Input("Coordinate epoch of the target", _EPOCH, "decimal year"),
        "target_height_system": Input(
            "Height system to bring them into", _TEXT, "a vertical CRS, or “ellipsoidal”; default their own"
        ),
        "target_height_unit": Input("Unit of the new heights", {"type": "string", "enum": UNITS}),
        "geoid_grid": Input("Geoid grid", _GRID, "any grid of separations that GDAL opens"),
        "separation_m": Input("Geoid above the ellipsoid at the site", {"type": "number", "x-ogc-unit": "m"}),
        "max_operation_accuracy_m": Input(
            "Coarsest operation accepted",
            {"type": "number", "exclusiveMinimum": 0, "default": 0.15, "x-ogc-unit": "m"},
        ),
        "network": Input(
            "Let PROJ fetch grids that are not installed", {"type": "boolean", "default": False}
        ),
    },
    outputs={
        "file": Output("Table of the points", {"type": "string", "format": "uri-reference"}),
        "crs": Output("CRS of the result", _TEXT),
        "height_system": Output("Height system of the result", _TEXT),
        "count": Output("Number of points", {"type": "integer"}),
        "steps": Output(
            "Steps",
            {"type": "array", "items": {"type": "object"}},
            "title, operation, accuracy, grids and median change east, north, up of each",
        ),
        "assumptions": Output("What was taken to be so", {"type": "array", "items": _TEXT}),
        "messages": Output("Warnings", {"type": "array", "items": _TEXT}),
        "grids": Output("Grids read, with SHA-256", {"type": "array", "items": {"type": "object"}}),
    },
    run=transform_points,
    summary=summary,
)
