import numpy as np
import pytest

from geoqa.accuracy.claims import check_requirement, claims, verdict
from geoqa.accuracy.statistics import summarise
from geoqa.errors import SettingsError
from geoqa.records.results import ClaimVerdict
from geoqa.records.settings import Requirement
from tests.accuracy.residual_sets import residual_set

# Equal in size, so that the RMSE is this size whatever the number of points.
SIGNS = np.resize([1.0, -1.0], 10)


def vertical(size_m, limit_m, count=10):
    statistics = summarise(residual_set(up_m=size_m * SIGNS[:count]))
    return claims(statistics, Requirement(vertical_rmse_m=limit_m))[-1]


# The factors stand in the table of chi-square bounds, tests/published/small_sample.toml: for ten
# points the one-sided upper bound is 1.5931 times the RMSE. The lower one is sqrt(10 / 18.307);
# 18.307 is the 95 % point of chi-square at 10 degrees of freedom, [NIST-EH].
@pytest.mark.parametrize(
    ("size_m", "limit_m", "expected"),
    [
        (0.0300, 0.0478, ClaimVerdict.PROVED),
        (0.0300, 0.0477, ClaimVerdict.NOT_CONTRADICTED),
        (0.0300, 0.0300, ClaimVerdict.NOT_CONTRADICTED),
        (0.0300, 0.02999, ClaimVerdict.FAILED),
    ],
)
def test_the_verdict_turns_at_the_rmse_and_at_its_upper_bound(size_m, limit_m, expected):
    assert vertical(size_m, limit_m).verdict is expected


def test_a_failure_that_chance_may_explain_says_so():
    assert "the true value may still lie inside" in vertical(0.030, 0.0223).sentence
    assert "the evidence proves it" in vertical(0.030, 0.0221).sentence


def test_a_proof_is_worded_with_figure_count_limit_and_bound():
    found = vertical(0.021, 0.050)
    assert found.sentence == (
        "Vertical: RMSE 0.021 m at 10 checkpoints meets the limit of 0.050 m and the evidence proves it "
        "(95 % upper bound 0.033 m)."
    )
    assert (found.quantity, found.count, found.limit_m) == ("vertical RMSE", 10, 0.050)


def test_what_is_not_proved_is_not_worded_as_a_proof():
    sentence = vertical(0.041, 0.050).sentence
    assert "does not prove it" in sentence
    assert "0.065 m (95 % upper bound)" in sentence


def test_one_point_proves_little():
    """Chi-square with one degree of freedom: 5 % lie below 0.00393, hence a factor of 15.9."""
    assert vertical(0.010, 0.15, count=1).verdict is ClaimVerdict.NOT_CONTRADICTED
    assert vertical(0.010, 0.16, count=1).verdict is ClaimVerdict.PROVED
    assert "at 1 checkpoint lies" in vertical(0.010, 0.15, count=1).sentence


def test_no_used_point_is_undecidable_and_no_limit_is_not_asked():
    statistics = summarise(residual_set(np.full((3, 2), np.nan), [np.nan] * 3))
    plan, height = claims(statistics, Requirement(horizontal_rmse_m=0.05))
    assert (plan.verdict, height.verdict) == (ClaimVerdict.UNDECIDABLE, ClaimVerdict.NOT_ASKED)
    answer = verdict((plan, height))
    assert (answer.horizontal, answer.vertical) == (plan.verdict, height.verdict)
    assert "Horizontal: no checkpoint could be used, so the limit of 0.050 m" in answer.sentence
    assert "no limit was asked for" in answer.sentence


def test_without_a_limit_the_figure_stands_with_its_interval():
    found = vertical(0.030, None)
    assert found.verdict is ClaimVerdict.NOT_ASKED
    assert "RMSE 0.030 m at 10 checkpoints (95 % interval 0.021 m to 0.053 m)" in found.sentence


def test_the_horizontal_limit_is_radial():
    statistics = summarise(residual_set([[0.03, 0.04], [-0.03, -0.04]]))
    assert claims(statistics, Requirement(horizontal_rmse_m=0.049))[0].verdict is ClaimVerdict.FAILED
    radial = claims(statistics, Requirement(horizontal_rmse_m=0.05))[0]
    assert (radial.quantity, radial.verdict) == ("horizontal RMSE", ClaimVerdict.NOT_CONTRADICTED)


def test_per_axis_the_limit_holds_for_each_axis_and_the_worse_one_decides():
    statistics = summarise(residual_set([[0.03, 0.04], [-0.03, -0.04]]))
    found = claims(statistics, Requirement(horizontal_rmse_m=0.035, per_axis=True))
    assert [claim.quantity for claim in found] == ["east RMSE", "north RMSE", "vertical RMSE"]
    assert [claim.verdict for claim in found[:2]] == [
        ClaimVerdict.NOT_CONTRADICTED,
        ClaimVerdict.FAILED,
    ]
    assert verdict(found).horizontal is ClaimVerdict.FAILED


def test_notes_stay_with_the_answer():
    found = claims(summarise(residual_set(up_m=[0.01])), Requirement())
    assert verdict(found, ["The files lie 0.3 m off."]).sentence.endswith(" The files lie 0.3 m off.")


@pytest.mark.parametrize("key", ["horizontal_p95_m", "horizontal_max_m", "vertical_p95_m", "vertical_max_m"])
def test_a_limit_that_cannot_be_judged_is_refused_by_its_key(key):
    with pytest.raises(SettingsError, match=rf"requirement\.{key}: .*requirement\.\w+_rmse_m"):
        check_requirement(Requirement(**{key: 0.1}))


def test_limits_on_the_rmse_are_accepted():
    check_requirement(Requirement(horizontal_rmse_m=0.05, vertical_rmse_m=0.05, per_axis=True))
