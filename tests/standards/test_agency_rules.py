"""USGS Lidar Base Specification, INSPIRE, Japan's rule for UAV, Brazil's decree; figures by hand."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import SettingsError
from geoqa.records.results import JudgementVerdict, Use, UseReason
from geoqa.standards import STANDARDS, StandardRequest
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import standard_case, zero_mean

MET, NOT_MET, NOT_ASSESSED = JudgementVerdict.MET, JudgementVerdict.NOT_MET, JudgementVerdict.NOT_ASSESSED


def judged(standard, residuals, **options):
    found = STANDARDS.get(standard).judge(standard_case(residuals), StandardRequest(options=options))
    return {judgement.quantity: judgement for judgement in found}


def heights(count, rmse_m, **more):
    return residual_set(zero_mean(count, 0.03, 0.04), zero_mean(count, rmse_m), **more)


# [USGS-LBS2025]: 5, 10, 10 and 20 cm for quality levels 0 to 3.


@pytest.mark.parametrize(("level", "limit_m"), [("QL0", 0.05), ("QL1", 0.10), ("QL2", 0.10), ("QL3", 0.20)])
def test_usgs_levels(level, limit_m):
    at = judged("usgs-lbs-2025", heights(30, limit_m), level=level)["RMSE_V (NVA)"]
    above = judged("usgs-lbs-2025", heights(30, limit_m + 0.001), level=level)["RMSE_V (NVA)"]
    assert (at.verdict, above.verdict, at.limit) == (MET, NOT_MET, limit_m)


def test_usgs_puts_the_survey_error_into_the_figure():
    """Fit 4 cm, survey 3 cm: 5 cm."""
    found = judged("usgs-lbs-2025", heights(30, 0.04, sigma_m=(0.01, 0.01, 0.03)), level="QL0")[
        "RMSE_V (NVA)"
    ]
    assert_allclose(found.value, 0.05, rtol=1e-12, atol=0)
    assert found.verdict is MET
    assert "RMSE_V = 5.0 cm meets the 5.0 cm of QL0" in found.sentence
    without = judged("usgs-lbs-2025", heights(12, 0.04), level="QL0")["RMSE_V (NVA)"]
    assert any("is not in this figure" in caveat for caveat in without.caveats)
    assert any("asks for 30 checkpoints" in caveat for caveat in without.caveats)


def test_usgs_without_a_level_names_those_reached():
    found = judged("usgs-lbs-2025", heights(30, 0.08))["RMSE_V (NVA)"]
    assert found.verdict is NOT_ASSESSED
    assert "QL1, QL2, QL3" in found.sentence
    assert "no quality level" in judged("usgs-lbs-2025", heights(30, 0.21))["RMSE_V (NVA)"].sentence


def vegetated(rmse_m):
    residuals = heights(4, rmse_m, not_vertical=[UseReason.VEGETATED] * 4)
    groups = {"cover": ("vegetated",) * 4, "session": (None,) * 4, "role": ("check",) * 4}
    object.__setattr__(residuals, "groups", groups)
    return residuals


def test_usgs_reports_vegetated_ground_and_does_not_judge_it():
    found = judged("usgs-lbs-2025", vegetated(0.5), level="QL0")["RMSE_V (VVA)"]
    assert (found.verdict, found.limit, found.value) == (NOT_ASSESSED, None, 0.5)


# [INSPIRE-EL2013], table 11: RMSE_v up to a third of the grid spacing, RMSE_H up to a sixth.


def test_inspire_grid():
    found = judged("inspire-elevation", heights(20, 0.10), grid_spacing_m=0.3)
    assert_allclose([found["RMSE_v"].limit, found["RMSE_H"].limit], [0.1, 0.05], rtol=1e-12, atol=0)
    assert (found["RMSE_v"].verdict, found["RMSE_H"].verdict) == (MET, MET)
    finer = judged("inspire-elevation", heights(20, 0.10), grid_spacing_m=0.29)
    assert (finer["RMSE_v"].verdict, finer["RMSE_H"].verdict) == (NOT_MET, NOT_MET)


def test_inspire_vector_data():
    """E / 10 000 at 1:500 is 5 cm; a sixth of 0.5 m is 8.3 cm."""
    found = judged("inspire-elevation", heights(20, 0.084), scale=500, contour_interval_m=0.5)
    assert_allclose([found["RMSE_H"].limit, found["RMSE_v"].limit], [0.05, 0.5 / 6], rtol=1e-12, atol=0)
    assert (found["RMSE_H"].verdict, found["RMSE_v"].verdict) == (MET, NOT_MET)


def test_inspire_allows_half_more_where_the_ground_is_hidden():
    found = judged("inspire-elevation", vegetated(0.149), grid_spacing_m=0.3)["RMSE_v of hidden ground"]
    assert_allclose(found.limit, 0.15, rtol=1e-12, atol=0)
    assert found.verdict is MET


def test_inspire_gives_both_axes_of_an_orthoimage_together():
    found = judged("inspire-elevation", heights(20, 0.1))
    for name in ("RMSE-x", "RMSE-y"):
        assert "RMSE-x 0.030 m, RMSE-y 0.040 m" in found[name].sentence
        assert found[name].verdict is NOT_ASSESSED
    assert "no spacing, scale or interval was given" in found["RMSE_v"].sentence


# [GSI2025], articles 412 to 429: every component of every checkpoint, classes 0.05, 0.10, 0.20 m.


def test_japan_judges_the_worst_point_of_each_component():
    residuals = residual_set([[0.05, 0.01], [-0.02, -0.101]], [0.05, -0.2])
    found = judged("gsi-2025-uav", residuals, class_m=0.10)
    assert found["largest difference in Y (east)"].verdict is MET
    north = found["largest difference in X (north)"]
    assert (north.verdict, north.value) == (NOT_MET, 0.101)
    assert "1 do not keep the class of 0.100 m" in north.sentence
    assert found["largest difference in Z"].verdict is NOT_MET
    assert judged("gsi-2025-uav", residuals, class_m=0.2)["largest difference in Z"].verdict is MET


def test_japan_without_a_class_names_the_smallest_that_all_keep():
    found = judged("gsi-2025-uav", residual_set([[0.05, 0.06]], [0.21]))
    assert "it keeps is 0.050 m" in found["largest difference in Y (east)"].sentence
    assert "it keeps is 0.100 m" in found["largest difference in X (north)"].sentence
    assert "none of the three" in found["largest difference in Z"].sentence


@pytest.mark.parametrize(("control", "verdict"), [(4, MET), (5, NOT_MET)])
def test_japan_asks_for_half_as_many_checkpoints_as_control_points(control, verdict):
    """Article 413: at least half, rounded up; two checkpoints suffice for four control points."""
    count = control + 2
    reasons = (None, None, *(UseReason.ROLE_CONTROL,) * control)
    groups = {"role": ("check", "check", *("control",) * control)}
    residuals = residual_set(np.zeros((count, 2)), np.zeros(count), not_vertical=reasons, groups=groups)
    object.__setattr__(residuals, "horizontal", Use([reason is None for reason in reasons], reasons))
    assert judged("gsi-2025-uav", residuals, class_m=0.05)["missing checkpoints"].verdict is verdict


# [BR89817-1984], articles 8 and 9: class A 0.5 and 0.3 mm at scale, 1/2 and 1/3 of the contour interval.


def test_brazil_class_a():
    residuals = residual_set(zero_mean(10, 0.18, 0.24), zero_mean(10, 0.30))
    found = judged("brazil-1984", residuals, scale=1000, contour_interval_m=1.0)
    plan = found["horizontal RMSE against the standard error"]
    assert_allclose([plan.value, plan.limit], [0.30, 0.30], rtol=1e-12, atol=0)
    assert plan.verdict is MET
    up = found["vertical RMSE against the standard error"]
    assert_allclose(up.limit, 1 / 3, rtol=1e-12, atol=0)
    assert found["horizontal errors beyond the tolerance"].value == 0.0


def test_brazil_lets_one_of_ten_lie_beyond():
    """0.5 mm at 1:1000 is 0.5 m."""
    lengths = np.array([0.5] * 9 + [0.6])
    residuals = residual_set(np.column_stack([lengths, 0 * lengths]))
    found = judged("brazil-1984", residuals, scale=1000)
    share = found["horizontal errors beyond the tolerance"]
    assert (share.value, share.verdict) == (10.0, MET)
    assert found["horizontal RMSE against the standard error"].verdict is NOT_MET
    assert any("factor of one axis" in caveat for caveat in share.caveats)
    assert "from memory" not in share.clause


def test_brazil_marks_what_is_from_memory():
    """The army's class A: 0.28 mm, 0.17 mm, 0.27 and 1/6 of the interval; class C of the decree."""
    digital = judged("brazil-1984", heights(10, 0.1), scale=1000, contour_interval_m=1.0, table="PEC-PCD")
    assert all("from memory" in judgement.clause for judgement in digital.values())
    limits = [digital[f"{way} RMSE against the standard error"].limit for way in ("horizontal", "vertical")]
    assert_allclose(limits, [0.17, 1 / 6], rtol=1e-12, atol=0)
    class_c = judged("brazil-1984", heights(10, 0.1), scale=1000, **{"class": "C"})
    assert "from memory" in class_c["horizontal errors beyond the tolerance"].clause


def test_brazil_has_no_class_d_in_the_decree():
    with pytest.raises(SettingsError, match="class must be one of A, B, C"):
        judged("brazil-1984", heights(10, 0.1), scale=1000, **{"class": "D"})
