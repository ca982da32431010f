"""An invented site with known truth, checked: the quickest way to see what comes out."""

from collections.abc import Mapping
from typing import Any

from geoqa.processes import Input, Process
from geoqa.processes.check import CREATED, OUTPUTS, check, summary


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
        "created": CREATED,
    },
    outputs=OUTPUTS,
    run=demo,
    summary=summary,
    exit_status=lambda outputs: int(outputs["status"]),
    document="results",
)
