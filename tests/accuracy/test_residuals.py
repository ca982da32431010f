import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.accuracy.residuals import form_residuals
from geoqa.errors import MeasurementError
from geoqa.records.measurements import SurfaceStatus, TargetStatus
from geoqa.records.points import Cover, Role, SurveyPoints
from geoqa.records.settings import Limits
from tests.accuracy.residual_sets import NAN, checkpoints, measured, surface_samples, target_fixes


def test_a_residual_is_product_minus_survey_east_north_up():
    formed = form_residuals(*measured([[10.3, 20.2, 5.1]], [[10.0, 20.0, 5.0]]))
    assert_allclose(formed.delta_m, [[0.3, 0.2, 0.1]], rtol=0, atol=1e-12)
    assert_allclose(formed.product_m - formed.survey_m, formed.delta_m, rtol=0, atol=0)


def test_only_found_suspect_and_marked_targets_give_a_position():
    statuses = list(TargetStatus)
    count = len(statuses)
    formed = form_residuals(
        checkpoints(np.zeros((count, 3))),
        target_fixes(statuses, np.ones((count, 2))),
        surface_samples([SurfaceStatus.SAMPLED] * count, np.ones(count)),
        Limits(),
    )
    with_place = {statuses[row] for row in np.flatnonzero(np.isfinite(formed.delta_m[:, 0]))}
    assert with_place == {TargetStatus.FOUND, TargetStatus.SUSPECT, TargetStatus.MARKED}
    assert_array_equal(formed.delta_m[:, 2], np.ones(count))


def test_a_hole_in_the_raster_is_no_height_whatever_number_stands_there():
    statuses = [SurfaceStatus.NO_DATA, SurfaceStatus.OUTSIDE, SurfaceStatus.NOT_SOUGHT]
    formed = form_residuals(
        checkpoints(np.zeros((3, 3))),
        target_fixes([TargetStatus.FOUND] * 3, np.ones((3, 2))),
        surface_samples(statuses, np.zeros(3)),
        Limits(),
    )
    assert np.isnan(formed.delta_m[:, 2]).all()


@pytest.mark.parametrize("status", [SurfaceStatus.GIVEN, SurfaceStatus.NOT_SOUGHT])
def test_a_height_that_came_with_a_mark_is_the_products_height(status):
    formed = form_residuals(
        checkpoints(np.array([[0.0, 0.0, 7.0]])),
        target_fixes([TargetStatus.MARKED], np.array([[0.01, 0.0]]), given_height_m=[7.02]),
        surface_samples([status], [NAN], NAN, NAN),
        Limits(),
    )
    assert_allclose(formed.delta_m[0, 2], 0.02, rtol=0, atol=1e-12)
    assert formed.vertical.used[0]


def test_the_elevation_raster_stands_before_the_height_of_a_mark():
    formed = form_residuals(
        checkpoints(np.array([[0.0, 0.0, 7.0]])),
        target_fixes([TargetStatus.MARKED], np.array([[0.01, 0.0]]), given_height_m=[9.0]),
        surface_samples([SurfaceStatus.SAMPLED], [7.05]),
        Limits(),
    )
    assert_allclose(formed.delta_m[0, 2], 0.05, rtol=0, atol=1e-12)


def test_the_sigma_of_the_location_is_the_root_of_its_variance():
    covariance = np.array([[[0.0004, 0.0001], [0.0001, 0.0009]]])
    formed = form_residuals(
        checkpoints(np.zeros((1, 3)), sigma_m=np.array([[0.01, 0.02, NAN]])),
        target_fixes([TargetStatus.FOUND], np.zeros((1, 2)), covariance),
        surface_samples([SurfaceStatus.SAMPLED], [0.0]),
        Limits(),
    )
    assert_allclose(formed.sigma_product_m, [[0.02, 0.03, NAN]], rtol=1e-12, atol=0)
    assert_allclose(formed.sigma_survey_m, [[0.01, 0.02, NAN]], rtol=0, atol=0)


def test_groups_are_plain_words():
    formed = form_residuals(
        *measured(
            np.zeros((2, 3)),
            np.zeros((2, 3)),
            covers=(Cover.HARD, None),
            sessions=("A", None),
            roles=(Role.CHECK, Role.CONTROL),
        )
    )
    assert formed.groups == {"cover": ("hard", None), "session": ("A", None), "role": ("check", "control")}
    assert all(type(item) is str for item in formed.groups["role"])


def test_a_target_called_found_without_a_position_is_refused_by_name_and_line():
    survey = SurveyPoints(
        ids=("P1",),
        coordinates=np.zeros((1, 3)),
        geographic=False,
        roles=(Role.CHECK,),
        fixes=(None,),
        covers=(None,),
        sessions=(None,),
        targets=(None,),
        sigma_m=np.full((1, 3), NAN),
        target_height_m=np.zeros(1),
        source="heath.csv",
        lines=[9],
    )
    points = checkpoints(np.zeros((1, 3)))
    object.__setattr__(points, "survey", (survey,))
    with pytest.raises(MeasurementError, match=r"heath.csv, line 9: 1 point\(s\) .* \(P1\)"):
        form_residuals(
            points,
            target_fixes([TargetStatus.FOUND], np.full((1, 2), NAN)),
            surface_samples([SurfaceStatus.SAMPLED], [0.0]),
            Limits(),
        )


def test_no_points_give_no_residuals():
    formed = form_residuals(*measured(np.empty((0, 3)), np.empty((0, 3))))
    assert len(formed) == 0
    assert formed.delta_m.shape == (0, 3)
