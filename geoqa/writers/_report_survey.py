"""What the report shows of the survey of the points, as rows of words ready to be written."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.survey import SurveyFlag, Tie
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


def survey_rows(assessment: Assessment) -> tuple[list[SurveyRow], str]:
    """Return the points of which there is something to say, gravest first, and the choice in words."""
    quality = assessment.survey_quality
    rows = [row for row in range(len(quality)) if quality.is_remarkable(row)]
    order = list(SurveyFlag)
    rows.sort(key=lambda row: min((order.index(flag) for flag in quality.flags[row]), default=len(order)))
    choice = ""
    if len(rows) > MOST_ROWS:
        choice = f"The first {MOST_ROWS} of {whole(len(rows))} points; all of them are in points.csv."
    return [_row(assessment, row) for row in rows[:MOST_ROWS]], choice


def _row(assessment: Assessment, row: int) -> SurveyRow:
    quality = assessment.survey_quality
    east, north, up = (metres(value) for value in quality.spread_m[row].tolist())
    return SurveyRow(
        id=assessment.checkpoints.ids[row],
        shots=whole(int(quality.shots[row])),
        occupations=whole(int(quality.occupations[row])),
        east=east,
        north=north,
        up=up,
        stated=_three(quality.sigma_reported_m[row]),
        taken=_three(assessment.checkpoints.sigma_m[row]),
        noticed=_noticed(quality.flags[row], quality.reasons.get(row, ())),
    )


def _three(sigma_m: FloatArray) -> str:
    return " ".join(metres(value) for value in sigma_m.tolist())


def _noticed(flags: Sequence[SurveyFlag], reasons: Sequence[str]) -> str:
    words = ", ".join(flags)
    return ": ".join(part for part in (words, "; ".join(reasons)) if part) or MISSING


def tie_rows(assessment: Assessment) -> list[TieRow]:
    """Return the known marks that were measured."""
    return [_tie(item) for item in assessment.survey_quality.ties]


def _tie(item: Tie) -> TieRow:
    east, north, up = (
        MISSING if isnan(difference) else f"{metres(difference, signed=True)} (± {metres(limit)})"
        for difference, limit in zip(item.difference_m.tolist(), item.tolerance_m.tolist(), strict=True)
    )
    return TieRow(item.id, east, north, up, item.verdict.value)
