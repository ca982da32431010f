"""Gaps, one place for all points, one line, no noise, huge residuals: an answer every time, no warning."""

from dataclasses import replace

import numpy as np
import pytest

from geoqa.causes.cures import tried
from geoqa.causes.decision import decide
from geoqa.diagnoses import DIAGNOSES, remedies
from geoqa.examine import examined
from geoqa.records.results import ClaimVerdict, Use, UseReason, Verdict
from tests.diagnoses.simulator import clean_case, make_site

SPOILS = ("nothing", "one place", "one line", "plan only", "no noise", "gaps in plan")


def spoiled(rng, kind):
    """Return the check of one to eleven points, each counting for a direction with odds of three to two."""
    n = int(rng.integers(1, 12))
    site = make_site(rng, max(n, 6))
    places = np.array(site.position_m[:n])
    if kind == "one place":
        places[:] = places[0]
    if kind == "one line":
        places[:, 1] = places[0, 1]
    if kind == "plan only":
        places[rng.random(n) < 0.4, 2] = np.nan
    site = replace(site, position_m=places, sessions=site.sessions[:n])
    delta = rng.normal(size=(n, 3)) * (0.0 if kind == "no noise" else 10 ** rng.uniform(-3, 2))
    plan = rng.random(n) < 0.6
    height = (rng.random(n) < 0.6) & np.isfinite(places[:, 2])
    if kind == "gaps in plan":
        delta[~plan, :2] = np.nan
    delta[~height, 2] = np.nan
    case = clean_case(site, delta, rng.normal(0, 0.02, (n, 2)))
    return replace(case, residuals=replace(case.residuals, horizontal=use(plan), vertical=use(height)))


def use(counts):
    return Use(counts, tuple(None if one else UseReason.NOT_FOUND for one in counts))


@pytest.mark.parametrize("kind", SPOILS)
def test_there_is_an_answer_every_time(kind):
    rng = np.random.default_rng(SPOILS.index(kind))
    for _ in range(12):
        case = spoiled(rng, kind)
        findings, examined_case = examined(case)
        assert {item.diagnosis for item in findings} == set(DIAGNOSES.all())
        trials = tried(
            ["shift", "plane", "similarity", "vector 1 2 3"],
            case.residuals,
            examined_case.comparison,
            gradient=case.samples.gradient,
        )
        assert len(trials) >= 4
        verdict = Verdict(ClaimVerdict.FAILED, ClaimVerdict.NOT_ASKED, "")
        answer = decide(verdict, findings, case.residuals, remedies())
        assert answer.sentence.endswith(".")
