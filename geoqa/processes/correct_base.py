"""Move a table of points by the difference between two positions of their base."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.errors import InputError
from geoqa.processes import Input, Output, Process
from geoqa.processes.check import POINTS, UNITS

_TEXT = {"type": "string"}
_EPOCH = {"type": "number", "minimum": 1900, "maximum": 2100}
_FILE = {"type": "string", "format": "uri-reference"}
_POSITION_HELP = (
    "as in the settings file: latitude = 51.0447, longitude = -114.0719, height = 1045.0; or easting, "
    "northing, height; x, y, z; or sinex = 'base.snx', site = 'BASE'; with crs = 'EPSG:9989', epoch = "
    "2026.45 where only this position has them"
)


def correct_base(  # noqa: PLR0913 - one keyword an input, as its description lists them
    *,
    points: str,
    assumed: str,
    precise: str,
    base_crs: str | None = None,
    base_epoch: float | None = None,
    base_via: str | None = None,
    antenna_height_m: float | None = None,
    out: str | None = None,
    points_crs: str | None = None,
    points_epoch: float | None = None,
    points_height_system: str | None = None,
    points_unit: str | None = None,
    points_height_unit: str | None = None,
    layout: str | None = None,
    geoid_grid: str | None = None,
    allow_large_base_shift: bool = False,
) -> Mapping[str, Any]:
    """Return the file with the corrected points, in the CRS that they came in, and the correction."""
    from geoqa.processes._asked import asked
    from geoqa.processes._corrected import corrected

    file = Path(out) if out is not None else Path(points).with_name(f"{Path(points).stem}-corrected.csv")
    if file.exists() and Path(points).exists() and file.samefile(points):
        message = f"{points}: the result would overwrite the points. Name another file with --out."
        raise InputError(message)
    base = {
        "assumed": _position(assumed, "--assumed"),
        "precise": _position(precise, "--precise"),
        "crs": base_crs,
        "epoch": base_epoch,
        "via": base_via,
        "reference": "mark" if antenna_height_m is None else "antenna reference point",
        "antenna_height_m": antenna_height_m,
        "points_use": "assumed",
        "products_use": "independent",
    }
    table = {
        "path": points,
        "crs": points_crs,
        "epoch": points_epoch,
        "height_system": points_height_system,
        "unit": points_unit,
        "height_unit": points_height_unit,
        "layout": layout,
    }
    settings = asked(
        {
            "points": table,
            "base": base,
            **({"geoid": {"grid": geoid_grid}} if geoid_grid is not None else {}),
            "limits": {"allow_large_base_shift": allow_large_base_shift},
            # Settings compare points with something; here with themselves.
            "targets": {"marks": points},
        }
    )
    return corrected(settings, file)


def _position(text: str, option: str) -> Mapping[str, Any]:
    """Return the keys of a position from words like those of the settings file."""
    import tomllib

    inner = text.strip().removeprefix("{").removesuffix("}")
    try:
        found: Mapping[str, Any] = tomllib.loads(f"position = {{{inner}}}")["position"]
    except tomllib.TOMLDecodeError:
        message = (
            f"{option}: “{text}” is no position. Write it as in the settings file, such as "
            "“latitude = 51.0447, longitude = -114.0719, height = 1045.0”."
        )
        raise InputError(message) from None
    return found


def summary(outputs: Mapping[str, Any]) -> str:
    """Return the correction, what was taken to be so, and where the points are."""
    east, north, up = outputs["shift_m"]
    lines = [
        f"{outputs['count']} points moved by {outputs['distance_m']:.4f} m: east {east:+.4f}, north "
        f"{north:+.4f}, up {up:+.4f} m at the base".replace("-", "−"),
        f"Base: {outputs['source']}.",
    ]
    if outputs["sigma_m"] is not None:
        lines.append(
            "Standard deviations of the base, which all points share: {:.4f}, {:.4f}, {:.4f} m.".format(
                *outputs["sigma_m"]
            )
        )
    lines += [f"Assumed: {sentence}" for sentence in outputs["assumptions"]]
    lines += [f"Note: {sentence}" for sentence in outputs["messages"]]
    lines.append(f"The points are in {outputs['file']}, in {outputs['crs']}.")
    return "\n".join(lines)


PROCESS = Process(
    id="correct-base",
    version="1.0.0",
    title="Move points with their base",
    description=(
        "Where the base stood on an unknown point and its position became known later, every point measured "
        "from it moves by one geocentric vector: precise minus assumed. Writes a table with the moved "
        "points in the CRS that they came in; further columns are kept. --json prints the correction."
    ),
    inputs={
        "points": Input("Surveyed points", POINTS, "a table or a vector file", required=True),
        "assumed": Input("Where the base was taken to stand", _TEXT, _POSITION_HELP, required=True),
        "precise": Input(
            "Where it stands as known later",
            _TEXT,
            "likewise; also sigma_m = [0.008, 0.008, 0.02]",
            required=True,
        ),
        "base_crs": Input("CRS of both positions", _TEXT, "such as EPSG:9989"),
        "base_epoch": Input("Epoch of both positions", _EPOCH, "decimal year, such as 2026.45"),
        "base_via": Input("Frame to go through between the positions", _TEXT, "where several operations tie"),
        "antenna_height_m": Input(
            "Height of the antenna above the mark",
            {"type": "number", "x-ogc-unit": "m"},
            "only where the precise position is that of the antenna reference point",
        ),
        "out": Input("File for the result", _FILE, "default <points name>-corrected.csv"),
        "points_crs": Input("CRS of the points", _TEXT, "such as EPSG:25832"),
        "points_epoch": Input("Coordinate epoch of the points", _EPOCH, "decimal year"),
        "points_height_system": Input(
            "Height system of the points", _TEXT, "a vertical CRS such as EPSG:5703, or “ellipsoidal”"
        ),
        "points_unit": Input("Unit of easting and northing", {"type": "string", "enum": UNITS}),
        "points_height_unit": Input("Unit of the heights", {"type": "string", "enum": UNITS}),
        "layout": Input("Column order of a list without a header row", _TEXT, "PNEZD and its kin"),
        "geoid_grid": Input("Geoid grid", _FILE, "makes gravity-related heights exact"),
        "allow_large_base_shift": Input(
            "Accept a correction of more than 100 m", {"type": "boolean", "default": False}
        ),
    },
    outputs={
        "file": Output("Table of the points", _FILE),
        "crs": Output("CRS of the points", _TEXT),
        "count": Output("Number of points", {"type": "integer"}),
        "shift_m": Output(
            "Correction east, north, up at the base", {"type": "array", "items": {"type": "number"}}
        ),
        "shift_geocentric_m": Output(
            "Correction along the geocentric axes", {"type": "array", "items": {"type": "number"}}
        ),
        "distance_m": Output("Length of the correction", {"type": "number"}),
        "sigma_m": Output(
            "Standard deviations of the precise position east, north, up",
            {"type": ["array", "null"], "items": {"type": "number"}},
        ),
        "source": Output("Both positions in words", _TEXT),
        "assumptions": Output("What was taken to be so", {"type": "array", "items": _TEXT}),
        "messages": Output("Warnings", {"type": "array", "items": _TEXT}),
    },
    run=correct_base,
    summary=summary,
)
