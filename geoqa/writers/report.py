"""The report: one self-contained HTML file that needs neither network nor script."""

import base64
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer

PATH = Path("report.html")
_TEMPLATE = "report.html"
_FIRST_STEPS = 0


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write the report and return its path; the map and pictures of targets in the folder go into it."""
    (folder / PATH).write_text(render(assessment, folder), "utf-8", newline="\n")
    return (PATH,)


def render(assessment: Assessment, folder: Path) -> str:
    """Return the page, with the pictures that lie in the folder inside it.

    Everything that comes from files is escaped: ids and paths may hold markup.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(_filters())
    return environment.get_template(_TEMPLATE).render(**_content(assessment, folder))


def _filters() -> dict[str, Any]:
    from geoqa.writers._numbers import fixed, interval, metres, plain, whole
    from geoqa.writers._report_rows import quantity_text, step_change

    return {
        "fixed": fixed,
        "interval": interval,
        "metres": metres,
        "plain": plain,
        "whole": whole,
        "quantity": quantity_text,
        "change": step_change,
    }


def _content(assessment: Assessment, folder: Path) -> Mapping[str, Any]:
    from geoqa.records.cautions import CAUTIONS
    from geoqa.writers import _report_rows as rows
    from geoqa.writers._fingerprint import short
    from geoqa.writers._frame_words import created, height_system
    from geoqa.writers._report_base import base_rows
    from geoqa.writers._report_survey import survey_rows, tie_rows
    from geoqa.writers._results_document import without_points
    from geoqa.writers._signs import FINDING_SIGNS, JUDGEMENT_SIGNS, VERDICT_SIGNS

    shown, choice = rows.shown_rows(assessment)
    surveyed, survey_choice = survey_rows(assessment)
    return {
        "a": assessment,
        "figures": rows.figure_rows(assessment),
        "statistics": [part for part in assessment.statistics.components if part.count],
        "groups": rows.groups(assessment),
        "points": rows.point_rows(assessment, shown, pictures=_has_pictures(folder)),
        "choice": choice,
        "surveyed": surveyed,
        "survey_choice": survey_choice,
        "ties": tie_rows(assessment),
        "bases": base_rows(assessment),
        "judged": rows.judgement_value,
        "standards": _standard_titles(),
        "diagnoses": _diagnosis_titles(),
        "findings": _ranked(assessment),
        "steps": list(assessment.checkpoints.steps(_FIRST_STEPS)) if len(assessment.checkpoints) else [],
        "created": created(assessment.provenance),
        "fingerprint": short(without_points(assessment, ())["fingerprint"]),
        "heights": height_system(assessment.frame.height_system),
        "map": _data_uri(folder / "residual_map.png"),
        "targets": _targets(assessment, folder),
        "cautions": list(dict.fromkeys((*CAUTIONS, *assessment.cautions))),
        "verdict_signs": VERDICT_SIGNS,
        "judgement_signs": JUDGEMENT_SIGNS,
        "finding_signs": FINDING_SIGNS,
    }


def _ranked(assessment: Assessment) -> list[Any]:
    """Return the findings: present ones in order of rank, then those open, then those ruled out."""
    from geoqa.writers._signs import FINDING_SIGNS

    order = list(FINDING_SIGNS)
    return sorted(
        assessment.findings,
        key=lambda item: (order.index(item.verdict), item.rank is None, item.rank or 0, item.diagnosis),
    )


def _has_pictures(folder: Path) -> bool:
    from geoqa.writers._chip_names import FOLDER

    return (folder / FOLDER).is_dir()


def _targets(assessment: Assessment, folder: Path) -> list[dict[str, str]]:
    from geoqa.writers._chip_names import chip_paths
    from geoqa.writers._report_rows import pictured_rows

    if not _has_pictures(folder):
        return []
    paths = chip_paths(assessment)
    found = [(row, _data_uri(folder / paths[row])) for row in pictured_rows(assessment)]
    return [{"id": assessment.residuals.ids[row], "uri": uri} for row, uri in found if uri is not None]


def _data_uri(path: Path) -> str | None:
    if not path.is_file():
        return None
    return "data:image/png;base64," + base64.b64encode(path.read_bytes()).decode("ascii")


def _standard_titles() -> dict[str, str]:
    from geoqa.standards import STANDARDS

    return {name: item.title for name, item in STANDARDS.all().items()}


def _diagnosis_titles() -> dict[str, str]:
    from geoqa.diagnoses import DIAGNOSES

    return {name: item.title for name, item in DIAGNOSES.all().items()}


WRITER = Writer(
    id="report",
    title="Report",
    media_type="text/html",
    write=write,
    order=60,
)
