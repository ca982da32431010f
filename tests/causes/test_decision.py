"""The next step from verdicts and findings, and what trends would remove."""

import numpy as np
import pytest

from geoqa.causes.decision import decide, removable_shares
from geoqa.diagnoses import diagnosis_titles, remedies
from geoqa.records.decision import Action
from geoqa.records.results import ClaimVerdict, Finding, FindingVerdict, Verdict
from tests.builders import make_residuals

PROVED, OPEN, FAILED = ClaimVerdict.PROVED, ClaimVerdict.NOT_CONTRADICTED, ClaimVerdict.FAILED
UNDECIDABLE, NOT_ASKED = ClaimVerdict.UNDECIDABLE, ClaimVerdict.NOT_ASKED
NOISE = np.random.default_rng(4).normal(0, 0.01, (12, 3))


def decided(horizontal, vertical, *findings, delta=NOISE):
    verdict, residuals = Verdict(horizontal, vertical, ""), make_residuals(delta_m=delta)
    return decide(verdict, findings, residuals, remedies())


def cause(name, **further):
    return Finding(name, FindingVerdict.PRESENT, "…", "…", rank=1, **further)


@pytest.mark.parametrize(
    ("name", "action"),
    [
        ("base-correction", Action.CORRECT),
        ("projection-zone", Action.CORRECT),
        ("dome", Action.REPROCESS),
        ("edge-of-block", Action.REFLY),
        ("single-point", Action.REMEASURE),
        ("control-as-check", Action.MORE_POINTS),
    ],
)
def test_each_cause_asks_for_its_own_step(name, action):
    answer = decided(FAILED, PROVED, cause(name, predicted_rmse_m={"vertical": 0.021}))
    assert answer.action is action
    assert answer.diagnosis == name
    title = diagnosis_titles()[name]
    assert f": {title[0].lower()}{title[1:]}. After" in answer.sentence
    assert "vertical 0.021 m" in answer.sentence


def test_causes_that_cannot_be_told_apart_ask_for_the_test_first():
    answer = decided(FAILED, PROVED, cause("antenna-height", not_separable_from=("camera-constant",)))
    assert (
        "cannot tell it from “height taken up by the camera constant”: make the deciding test first"
        in answer.sentence
    )


def test_points_to_measure_again_are_named():
    answer = decided(NOT_ASKED, NOT_ASKED, cause("single-point", point_ids=("P3", "P9")))
    assert answer.point_ids == ("P3", "P9")
    assert "(P3, P9)" in answer.sentence


@pytest.mark.parametrize(
    ("verdicts", "action"),
    [
        ((PROVED, PROVED), Action.DELIVER),
        ((PROVED, NOT_ASKED), Action.DELIVER),
        ((NOT_ASKED, NOT_ASKED), Action.DELIVER),
        ((PROVED, OPEN), Action.MORE_POINTS),
        ((UNDECIDABLE, PROVED), Action.MORE_POINTS),
        ((FAILED, PROVED), Action.REPROCESS),
    ],
)
def test_without_a_cause_the_verdict_decides(verdicts, action):
    assert decided(*verdicts).action is action


def test_a_cause_beside_a_limit_that_is_met_is_named_and_the_map_delivered():
    answer = decided(PROVED, PROVED, cause("tilt"))
    assert answer.action is Action.DELIVER
    assert "small beside the limit (heights tilted)" in answer.sentence
    assert answer.diagnosis is None


def test_a_shift_is_removable_and_noise_is_not():
    shares = {
        (item.direction, item.trend): item.share for item in removable_shares(make_residuals(delta_m=NOISE))
    }
    assert max(shares["horizontal", "shift"], shares["vertical", "plane"]) < 0.3
    moved = NOISE + np.array([0.1, 0.0, -0.2])
    found = {(item.direction, item.trend): item for item in removable_shares(make_residuals(delta_m=moved))}
    assert found["horizontal", "shift"].share > 0.95
    assert found["vertical", "shift"].share > 0.95
    # Leaving one out of twelve makes what is left of the mean larger by 12/11.
    expected = np.sqrt(((NOISE[:, 2] - NOISE[:, 2].mean()) ** 2).mean()) * 12 / 11
    assert found["vertical", "shift"].rmse_m == pytest.approx(expected)
    assert found["vertical", "nothing"].share < 0.05


def test_no_point_gives_no_share():
    assert list(removable_shares(make_residuals(delta_m=np.empty((0, 3))))) == []
