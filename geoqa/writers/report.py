"""The report: one self-contained HTML file that needs no network, and no script to be read."""

import base64
import hashlib
from pathlib import Path
from typing import Any

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer

PATH = Path("report.html")
_FOLDER = Path(__file__).parent
_TEMPLATE, _STYLE, _SCRIPT = "report.html", "report.css", "report.js"


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write the report and return its path; the pictures of targets in the folder go into it."""
    (folder / PATH).write_text(render(assessment, folder), "utf-8", newline="\n")
    return (PATH,)


def render(assessment: Assessment, folder: Path) -> str:
    """Return the page, with the pictures that lie in the folder inside it.

    Every number comes from the document of results. Everything that comes from files is escaped: ids and
    paths may hold markup. The policy of the page lets a browser load nothing, and run nothing but the one
    script whose hash it names.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    from geoqa.writers._report_content import content

    environment = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(_filters())
    style, script = ((_FOLDER / name).read_text("utf-8") for name in (_STYLE, _SCRIPT))
    return environment.get_template(_TEMPLATE).render(
        **content(assessment, folder), style=style, script=script, policy=_policy(style, script)
    )


def _policy(style: str, script: str) -> str:
    return (
        f"default-src 'none'; img-src data:; style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _filters() -> dict[str, Any]:
    from geoqa.writers import _report_rows as rows
    from geoqa.writers._numbers import fixed, interval, metres, plain, whole

    return {
        "fixed": fixed,
        "interval": interval,
        "metres": metres,
        "plain": plain,
        "whole": whole,
        "quantity": rows.quantity_text,
        "change": rows.step_change,
        "named": rows.label,
        "told": rows.value_text,
    }


WRITER = Writer(
    id="report",
    title="Report",
    media_type="text/html",
    write=write,
    order=60,
)
