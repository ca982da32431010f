"""The member `points` of results.json."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from geoqa.accuracy.influence import point_shares
from geoqa.records.assessment import Assessment
from geoqa.records.measurements import TargetFix
from geoqa.records.points import Checkpoints, CoordinateStep
from geoqa.records.results import Use
from geoqa.records.survey import Occupation, SurveyQuality
from geoqa.writers._columns import CHUNK, or_none, plain, slope_deg, slope_effect_m
from geoqa.writers._json_text import Texts, encoded, filled, flags, numbers, objects, words


def points(assessment: Assessment) -> Iterator[str]:
    """Yield the JSON of each point, with null for every number that is missing."""
    survey, residuals = assessment.checkpoints, assessment.residuals
    surfaces, influence = _surfaces(assessment), point_shares(residuals)
    for start in range(0, len(survey), CHUNK):
        rows = slice(start, start + CHUNK)
        yield from objects(
            {
                "id": words(residuals.ids[rows]),
                "role": words(plain(survey.roles[rows])),
                "source": words([survey.origin(row) for row in range(len(survey))[rows]]),
                "cover": words(plain(survey.covers[rows])),
                "session": words(survey.sessions[rows]),
                "fix": words(plain(survey.fixes[rows])),
                "survey_m": numbers(residuals.survey_m[rows]),
                "product_m": numbers(residuals.product_m[rows]),
                "residual_m": numbers(residuals.delta_m[rows]),
                "sigma_survey_m": numbers(residuals.sigma_survey_m[rows]),
                "sigma_product_m": numbers(residuals.sigma_product_m[rows]),
                "survey": _survey(assessment.survey_quality, rows),
                "horizontal": _use(residuals.horizontal, rows),
                "vertical": _use(residuals.vertical, rows),
                "influence": objects(
                    {"horizontal": numbers(influence[0][rows]), "vertical": numbers(influence[1][rows])}
                ),
                "target": _targets(assessment.fixes.fixes[rows]),
                "surface": surfaces[rows],
                "steps": _steps(survey, rows),
            }
        )


def _use(use: Use, rows: slice) -> Texts:
    return objects({"used": flags(use.used[rows]), "reason": words(plain(use.reasons[rows]))})


def _survey(quality: SurveyQuality, rows: slice) -> Texts:
    inside = range(len(quality))[rows]
    return objects(
        {
            "occupations": words(quality.occupations[rows].tolist()),
            "count": words(quality.shots[rows].tolist()),
            "spread_m": numbers(quality.spread_m[rows]),
            "sigma_reported_m": numbers(quality.sigma_reported_m[rows]),
            "flags": words(quality.flags[rows]),
            "reasons": words([quality.reasons.get(row, ()) for row in inside]),
            "each_occupation": [encoded(list(map(_occupation, quality.each.get(row, ())))) for row in inside],
        }
    )


def _occupation(item: Occupation) -> dict[str, Any]:
    return {
        "session": item.session,
        "occupation": item.label,
        "time": item.begin,
        "sources": list(item.origins),
        "from_mean_m": or_none(item.from_mean_m),
        "sigma_m": or_none(item.sigma_m),
    }


def _targets(fixes: tuple[TargetFix, ...]) -> Texts:
    place = np.array([(fix.row, fix.col, fix.score) for fix in fixes], dtype=float)
    return objects(
        {
            "status": words(plain([fix.status for fix in fixes])),
            "kind": words([fix.kind for fix in fixes]),
            "row": numbers(place[:, 0]),
            "col": numbers(place[:, 1]),
            "covariance_px2": numbers(np.array([fix.covariance_px2 for fix in fixes], dtype=float)),
            "score": numbers(place[:, 2]),
            "flags": words([fix.flags for fix in fixes]),
            "reason": words([fix.reason for fix in fixes]),
        }
    )


def _surfaces(assessment: Assessment) -> Texts:
    samples = assessment.samples
    return objects(
        {
            "status": words(plain(samples.statuses)),
            "reason": words(samples.reasons),
            "height_m": numbers(samples.height_m),
            "slope_deg": numbers(slope_deg(assessment)),
            "slope_percent": numbers(samples.slope_percent),
            "roughness_m": numbers(samples.roughness_m),
            "relief_m": numbers(samples.relief_m),
            "slope_effect_m": numbers(slope_effect_m(assessment)),
            "profile": _profiles(assessment),
        }
    )


def _profiles(assessment: Assessment) -> Texts:
    profiles, texts = assessment.profiles, ["null"] * len(assessment.samples)
    if profiles is not None:
        told = objects(
            {
                "step_m": [encoded(profiles.step_m)] * len(profiles.rows),
                "west_east_m": numbers(profiles.height_m[:, 0]),
                "south_north_m": numbers(profiles.height_m[:, 1]),
            }
        )
        for row, text in zip(profiles.rows, told, strict=True):
            texts[row] = text
    return texts


def _steps(survey: Checkpoints, rows: slice) -> Texts:
    index = survey.survey_index[rows]
    texts = np.full(len(index), "[]", dtype=object)
    for file, steps in enumerate(survey.file_steps):
        inside = index[:, 0] == file
        if steps and inside.any():
            told = [_step(step, index[inside, 1]) for step in steps]
            texts[inside] = filled("[" + ", ".join(["%s"] * len(told)) + "]", told)
    return list(texts)


def _step(step: CoordinateStep, rows: "np.ndarray[tuple[int], np.dtype[np.int64]]") -> Texts:
    changes = numbers(step.change_m[rows])
    fixed = (encoded(value) for value in (step.title, step.operation, step.accuracy_m))
    title, operation, accuracy = ([text] * len(changes) for text in fixed)
    return objects({"title": title, "operation": operation, "accuracy_m": accuracy, "change_m": changes})
