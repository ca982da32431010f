"""Read the heights of an elevation raster at points."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Output, Process
from geoqa.processes.check import POINTS, RASTER, UNITS


def sample_elevation(
    *,
    elevation: str,
    points: str,
    points_crs: str | None = None,
    points_unit: str | None = None,
) -> Mapping[str, Any]:
    """Return the height, slope and roughness of the surface, one object a point."""
    import numpy as np

    from geoqa.measure import measure_surface
    from geoqa.prepare import read_into_frame
    from geoqa.processes._asked import asked
    from geoqa.writers.results_json import finite

    settings = asked(
        {
            "elevation": {"path": elevation},
            "points": {"path": points, "crs": points_crs, "unit": points_unit},
        }
    )
    products, checkpoints, _, _ = read_into_frame(settings)
    everywhere = np.ones(len(checkpoints), dtype=bool)
    none_given = np.full(len(checkpoints), np.nan)
    samples = measure_surface(checkpoints, products, sought=everywhere, given_height_m=none_given)
    columns = {
        "id": checkpoints.ids,
        "status": [status.value for status in samples.statuses],
        "height_m": samples.height_m.tolist(),
        "slope_percent": samples.slope_percent.tolist(),
        "roughness_m": samples.roughness_m.tolist(),
        "relief_m": samples.relief_m.tolist(),
        "reason": samples.reasons,
    }
    heights = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return {"height_system": products.frame.height_system, "heights": finite(heights)}


def summary(outputs: Mapping[str, Any]) -> str:
    """Return one line a point."""
    lines = [f"{len(outputs['heights'])} points, heights in metres ({outputs['height_system']})"]
    for item in outputs["heights"]:
        height = "" if item["height_m"] is None else f"  {item['height_m']:.3f} m"
        reason = f"  {item['reason']}" if item["reason"] else ""
        lines.append(f"{item['id']}: {item['status']}{height}{reason}")
    return "\n".join(lines)


PROCESS = Process(
    id="sample-elevation",
    version="1.0.0",
    title="Read an elevation raster at points",
    description=(
        "Reads the height bilinearly between the four cell centres around each point, with slope and "
        "roughness; a hole in the raster gives no height. --json prints the list."
    ),
    inputs={
        "elevation": Input("Elevation raster", RASTER, required=True),
        "points": Input("Points", POINTS, "heights are not needed", required=True),
        "points_crs": Input("CRS of the points", {"type": "string"}, "default that of the raster"),
        "points_unit": Input("Unit of the points", {"type": "string", "enum": UNITS}),
    },
    outputs={
        "height_system": Output("Height system", {"type": "string"}),
        "heights": Output("Heights", {"type": "array", "items": {"type": "object"}}, "one object a point"),
    },
    run=sample_elevation,
    summary=summary,
)
