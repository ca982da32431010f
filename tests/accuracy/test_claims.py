import numpy as np
import pytest

from geoqa.accuracy.claims import claims, share_within, verdict
from geoqa.accuracy.statistics import summarise
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


@pytest.mark.parametrize("count", [1, 2, 3])
def test_fewer_than_four_points_prove_nothing(count):
    """Chi-square with one degree of freedom: 5 % lie below 0.00393, hence a factor of 15.9."""
    found = vertical(0.010, 0.16, count=count)
    assert found.upper95_m < 0.16
    assert found.verdict is ClaimVerdict.NOT_CONTRADICTED
    assert "fewer than 4 points prove nothing" in found.sentence
    assert "cannot prove anything" in found.reach.sentence
    assert np.isnan(found.reach.proved_m)
    assert vertical(0.010, 0.16, count=4).verdict is ClaimVerdict.PROVED


def test_one_point_is_bounded_very_widely():
    wide = vertical(0.010, 0.15, count=1)
    assert wide.upper95_m == pytest.approx(0.159, abs=5e-4)
    assert "the true value may be as large as 0.159 m" in wide.sentence
    assert "at 1 checkpoint lies" in wide.sentence


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


# Limits on the 95th percentile and on the largest error


def of_kind(up_m, **limit):
    return claims(summarise(residual_set(up_m=up_m)), Requirement(**limit))[-1]


def test_a_quantile_of_few_points_is_bounded_by_that_of_normal_errors():
    """Ten sizes of 0.03: RMSE bound 1.5931 · 0.03 (tests/published/small_sample.toml), LE95 1.95996 times."""
    at = 0.03 * 1.5931 * 1.95996
    proved, open_, failed = (
        of_kind(0.03 * SIGNS, vertical_p95_m=limit) for limit in (at + 5e-5, at - 5e-5, 0.0299)
    )
    assert [proved.verdict, open_.verdict, failed.verdict] == [
        ClaimVerdict.PROVED,
        ClaimVerdict.NOT_CONTRADICTED,
        ClaimVerdict.FAILED,
    ]
    assert (proved.quantity, proved.value_m) == ("vertical 95 % quantile", pytest.approx(0.03))
    assert "95 % quantile 0.030 m at 10 checkpoints meets" in proved.sentence


def test_the_quantile_is_linear_between_ranks():
    """Sizes 0.01 to 0.21: rank 0.95 · 20 + 1 = 20."""
    assert of_kind(np.arange(1, 22) / 100, vertical_p95_m=1.0).value_m == pytest.approx(0.20, abs=1e-12)


def test_a_quantile_above_its_normal_bound_is_its_own_bound():
    """Three of thirty lie at 1: RMSE 0.316, its bound 1.2737 · 0.316, LE95 of it 0.79; the quantile is 1."""
    found = of_kind(np.array([*[0.0] * 27, 1.0, 1.0, 1.0]), vertical_p95_m=0.9)
    assert (found.value_m, found.upper95_m) == (1.0, 1.0)
    within = of_kind(np.array([*[0.0] * 27, 1.0, 1.0, 1.0]), vertical_p95_m=1.0)
    assert (found.verdict, within.verdict) == (ClaimVerdict.FAILED, ClaimVerdict.PROVED)


def test_a_radial_quantile_takes_the_circle():
    """A round cloud: CE95 is 2.4477 times the RMSE of an axis, 0.02 here."""
    angle = 2 * np.pi * np.arange(20) / 20
    plan = 0.02 * np.sqrt(2) * np.column_stack([np.cos(angle), np.sin(angle)])
    found = claims(summarise(residual_set(plan)), Requirement(horizontal_p95_m=0.1))[0]
    assert found.quantity == "horizontal 95 % quantile"
    # 40 degrees of freedom: √(40 / 26.509), chi-square table of [NIST-EH].
    assert found.upper95_m == pytest.approx(0.02 * 2.447747 * np.sqrt(40 / 26.509), rel=1e-3)


@pytest.mark.parametrize(
    ("limit_m", "verdict"), [(0.03, ClaimVerdict.NOT_CONTRADICTED), (0.0299, ClaimVerdict.FAILED)]
)
def test_a_maximum_fails_by_one_point_and_is_never_proved(limit_m, verdict):
    found = of_kind(0.03 * SIGNS, vertical_max_m=limit_m)
    assert (found.verdict, found.quantity, found.value_m) == (verdict, "vertical maximum", 0.03)
    assert np.isnan(found.upper95_m)
    if verdict is ClaimVerdict.NOT_CONTRADICTED:
        # 0.05 to the power of 1/10 is 0.741.
        assert "prove that at least 74 % of such points keep it" in found.sentence


@pytest.mark.parametrize("kind", ["p95", "max"])
def test_per_axis_holds_for_every_kind(kind):
    plan = summarise(residual_set([[0.03, 0.04], [-0.03, -0.04]]))
    found = claims(plan, Requirement(**{f"horizontal_{kind}_m": 0.035}, per_axis=True))[:2]
    assert [claim.verdict for claim in found] == [ClaimVerdict.NOT_CONTRADICTED, ClaimVerdict.FAILED]
    assert found[0].quantity.startswith("east ")


@pytest.mark.parametrize(
    ("count", "beyond", "share"), [(10, 0, 0.741), (30, 0, 0.905), (59, 0, 0.9505), (20, 1, 0.7839)]
)
def test_the_share_that_points_prove(count, beyond, share):
    """0.05^(1/n) for none beyond; 1 of 20: [ClopperPearson1934], exact one-sided bound 21.61 %."""
    assert share_within(count, beyond) == pytest.approx(share, abs=5e-4)


def test_the_arithmetic_of_a_bound_is_shown():
    """χ² with 10 degrees of freedom at 5 % is 3.940, [NIST-EH]."""
    found = vertical(0.021, 0.050)
    assert found.arithmetic == ("RMSE 0.0210 m × √(10 / 3.94) = 0.0335 m, with χ²(5 %, 10); limit 0.05 m")


def test_no_point_gives_a_sentence_for_every_kind():
    for kind in ("rmse", "p95", "max"):
        found = of_kind([np.nan] * 2, **{f"vertical_{kind}_m": 0.05})
        assert found.verdict is ClaimVerdict.UNDECIDABLE
        assert found.reach is None
