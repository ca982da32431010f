"""Find the targets of surveyed points in an orthomosaic."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Output, Process
from geoqa.processes.check import POINTS, RASTER, UNITS


def locate_targets(
    *,
    orthomosaic: str,
    points: str,
    points_crs: str | None = None,
    points_unit: str | None = None,
    kind: str = "auto",
    size_m: float | None = None,
    search_radius_m: float = 0.5,
) -> Mapping[str, Any]:
    """Return the target centres in the orthomosaic, one object a point."""
    from geoqa.measure import measure_targets
    from geoqa.prepare import read_into_frame
    from geoqa.processes._asked import asked
    from geoqa.writers.results_json import finite

    settings = asked(
        {
            "orthomosaic": {"path": orthomosaic},
            "points": {"path": points, "crs": points_crs, "unit": points_unit},
            "targets": {"kind": kind, "size_m": size_m, "search_radius_m": search_radius_m},
        }
    )
    products, checkpoints, _, _ = read_into_frame(settings)
    fixes, _ = measure_targets(checkpoints, products, settings.targets)
    rows = zip(
        checkpoints.ids, fixes.fixes, fixes.position_m.tolist(), fixes.covariance_m2.tolist(), strict=True
    )
    located = [
        {
            "id": name,
            "status": fix.status.value,
            "kind": fix.kind,
            "position_m": position,
            "covariance_m2": covariance,
            "row": fix.row,
            "col": fix.col,
            "covariance_px2": fix.covariance_px2.tolist(),
            "score": fix.score,
            "flags": list(fix.flags),
            "reason": fix.reason,
        }
        for name, fix, position, covariance in rows
    ]
    return {"crs": products.frame.name, "targets": finite(located)}


def summary(outputs: Mapping[str, Any]) -> str:
    """Return one line a point."""
    lines = [f"{len(outputs['targets'])} points, {outputs['crs']}"]
    for item in outputs["targets"]:
        east, north = item["position_m"]
        place = "" if east is None else f"  {east:.3f} {north:.3f} m"
        reason = f"  {item['reason']}" if item["reason"] else ""
        lines.append(f"{item['id']}: {item['status']}{place}{reason}")
    return "\n".join(lines)


PROCESS = Process(
    id="locate-targets",
    version="1.0.0",
    title="Find targets in an orthomosaic",
    description=(
        "Seeks a target around each surveyed point and gives its centre to a fraction of a pixel with its "
        "covariance, or says why there is none. --json prints the list."
    ),
    inputs={
        "orthomosaic": Input("Orthomosaic", RASTER, required=True),
        "points": Input("Surveyed points", POINTS, required=True),
        "points_crs": Input("CRS of the points", {"type": "string"}, "default that of the orthomosaic"),
        "points_unit": Input("Unit of the points", {"type": "string", "enum": UNITS}),
        "kind": Input("Kind of target", {"type": "string", "default": "auto"}),
        "size_m": Input(
            "Side or diameter of the target", {"type": "number", "exclusiveMinimum": 0, "x-ogc-unit": "m"}
        ),
        "search_radius_m": Input(
            "Search radius",
            {"type": "number", "exclusiveMinimum": 0, "default": 0.5, "x-ogc-unit": "m"},
        ),
    },
    outputs={
        "crs": Output("Frame of the positions", {"type": "string"}),
        "targets": Output("Targets", {"type": "array", "items": {"type": "object"}}, "one object a point"),
    },
    run=locate_targets,
    summary=summary,
)
