"""What the report shows of the survey of the points, as rows of words ready to be written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geoqa.records.assessment import Assessment
from geoqa.records.survey import SurveyFlag
from geoqa.writers._numbers import MISSING, metres, whole

MOST_ROWS = 60


@dataclass(frozen=True)
class SurveyRow:
    """One point with several shots, or one of which something was noticed."""

    id: str
    shots: str
    occupations: str
    east: str
    north: str
    up: str
    stated: str
    taken: str
    noticed: str


@dataclass(frozen=True)
class TieRow:
    """One known mark: differences and tolerances."""

    id: str
    east: str
    north: str
    up: str
    verdict: str


def remarkable(assessment: Assessment) -> tuple[list[int], str]:
    """Return the rows of the points of which there is something to say, gravest first, and the choice."""
    quality = assessment.survey_quality
    rows = [row for row in range(len(quality)) if quality.is_remarkable(row)]
    order = list(SurveyFlag)
    rows.sort(key=lambda row: min((order.index(flag) for flag in quality.flags[row]), default=len(order)))
    choice = ""
    if len(rows) > MOST_ROWS:
        choice = f"The first {MOST_ROWS} of {whole(len(rows))} points; all of them are in points.csv."
    return rows[:MOST_ROWS], choice


def survey_row(entry: Mapping[str, Any]) -> SurveyRow:
    """Return the row of one point."""
    survey = entry["survey"]
    east, north, up = (metres(value) for value in survey["spread_m"])
    return SurveyRow(
        id=entry["id"],
        shots=whole(survey["count"]),
        occupations=whole(survey["occupations"]),
        east=east,
        north=north,
        up=up,
        stated=_three(survey["sigma_reported_m"]),
        taken=_three(entry["sigma_survey_m"]),
        noticed=_noticed(survey["flags"], survey["reasons"]),
    )


def _three(sigma_m: Sequence[float | None]) -> str:
    return " ".join(metres(value) for value in sigma_m)


def _noticed(flags: Sequence[str], reasons: Sequence[str]) -> str:
    words = ", ".join(flags)
    return ": ".join(part for part in (words, "; ".join(reasons)) if part) or MISSING


def tie_row(item: Mapping[str, Any]) -> TieRow:
    """Return the row of one known mark that was measured."""
    pairs = zip(item["difference_m"], item["tolerance_m"], strict=True)
    east, north, up = (
        MISSING if difference is None else f"{metres(difference, signed=True)} (± {metres(limit)})"
        for difference, limit in pairs
    )
    return TieRow(item["id"], east, north, up, item["verdict"])
