"""An invented site with known truth, checked: the quickest way to see what comes out."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Output, Process
from geoqa.processes.check import check, summary


def demo(*, folder: str = "geoqa-demo", created: str | None = None) -> Mapping[str, Any]:
    """Return the results of a check of the invented site, and the folder of its deliverables."""
    from pathlib import Path

    from geoqa.demo.scenario import write_scenario

    return check(settings=str(write_scenario(Path(folder))), created=created)


PROCESS = Process(
    id="demo",
    version="1.0.0",
    title="Write an invented site and check it",
    description=(
        "Writes an orthomosaic, an elevation raster, points, settings and the truth of a site that does not "
        "exist, then runs “check” on it. Open the folder to see what a check leaves behind."
    ),
    inputs={
        "folder": Input(
            "Folder for the site",
            {"type": "string", "format": "uri-reference", "default": "geoqa-demo"},
            position=True,
            word="FOLDER",
        ),
        "created": Input(
            "Time stamp of the results",
            {"type": "string", "format": "date-time"},
            "ISO 8601, UTC; SOURCE_DATE_EPOCH does the same",
        ),
    },
    outputs={
        "results": Output("Results", {"type": "object"}, "the content of results.json"),
        "folder": Output("Folder of the deliverables", {"type": "string", "format": "uri-reference"}),
        "status": Output(
            "Status",
            {"type": "integer", "enum": [0, 1, 3]},
            "0 met, not contradicted or not asked; 1 failed; 3 undecidable",
        ),
    },
    run=demo,
    summary=summary,
    exit_status=lambda outputs: int(outputs["status"]),
    document="results",
)
