"""Columns and geometries of the layers."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geoqa.records.measurements import TargetFixes
from geoqa.records.points import CoordinateStep
from geoqa.records.results import Use
from geoqa.records.tables import LAYERS, TABLES
from geoqa.units import LinearUnit
from geoqa.writers._attributes import table
from geoqa.writers._columns import checkpoint_columns
from geoqa.writers._exaggeration import exaggeration
from geoqa.writers._layers import layer
from tests.builders import make_assessment, make_frame, make_residuals


@pytest.mark.parametrize("n", [0, 1, 2, 8, 40])
@pytest.mark.parametrize("wanted", TABLES, ids=lambda table: table.name)
def test_columns_are_those_of_the_list_and_equally_long(wanted, n):
    assessment = make_assessment(n, pictures=False)
    if wanted.geometry is None:
        columns, lengths = table(assessment, wanted.name), set()
    else:
        columns, geometries = layer(assessment, wanted.name)
        lengths = {len(geometries)}
    assert set(columns) == {column.name for column in wanted.columns}
    assert len(lengths | {len(values) for values in columns.values()}) == 1


def test_vector_runs_from_the_survey_to_the_product_exaggerated():
    assessment = make_assessment(8, pictures=False)
    columns, geometries = layer(assessment, "residual_vectors")
    factor = exaggeration(assessment)
    ends = np.array([line.coords for line in geometries])
    measured = np.isfinite(assessment.residuals.delta_m[:, :2]).all(axis=1)
    np.testing.assert_array_equal(ends[:, 0], assessment.residuals.survey_m[measured, :2])
    step = np.column_stack([columns["residual_east_m"], columns["residual_north_m"]])
    np.testing.assert_allclose(ends[:, 1] - ends[:, 0], factor * step, rtol=0, atol=1e-6)
    assert set(columns["exaggeration"]) == {factor}


# Azimuths by the points of the compass, clockwise from north.
@pytest.mark.parametrize(
    ("east", "north", "azimuth"), [(0, 1, 0), (1, 0, 90), (0, -1, 180), (-1, 0, 270), (1, 1, 45)]
)
def test_azimuth_counts_clockwise_from_grid_north(east, north, azimuth):
    residuals = make_residuals(delta_m=np.array([[east, north, 0.0]]) * 0.01)
    columns, _ = layer(make_assessment(1, pictures=False, residuals=residuals), "residual_vectors")
    np.testing.assert_allclose(columns["azimuth_deg"], [azimuth], rtol=0, atol=1e-9)


def ellipses(sigma_survey, covariance):
    residuals = replace(
        make_residuals(delta_m=np.array([[0.01, 0.02, 0.0]])),
        sigma_survey_m=np.array([[*sigma_survey, np.nan]]),
    )
    assessment = make_assessment(1, pictures=False, residuals=residuals)
    fixes = TargetFixes(
        assessment.fixes.fixes, assessment.fixes.position_m, np.array([covariance]), np.array([np.nan])
    )
    return layer(replace(assessment, fixes=fixes), "error_ellipses")


def test_ellipse_holds_ninety_five_per_cent():
    columns, _ = ellipses((0.01, 0.01), np.zeros((2, 2)))
    # Chi-square table, two degrees of freedom, 5 % exceeded: 5.991.
    np.testing.assert_allclose(columns["semi_major_m"], np.sqrt(5.991) * 0.01, rtol=1e-4)
    np.testing.assert_allclose(columns["semi_minor_m"], columns["semi_major_m"], rtol=1e-12)


def test_ellipse_adds_variances_of_survey_and_target():
    columns, _ = ellipses((0.003, 0.003), np.diag([0.004**2, 0.004**2]))
    # 3, 4, 5: the triangle of the rope stretchers.
    np.testing.assert_allclose(columns["semi_major_m"], np.sqrt(5.991) * 0.005, rtol=1e-4)
    assert list(columns["basis"]) == ["survey and target"]


@pytest.mark.parametrize(
    ("sigma", "covariance", "basis"),
    [
        ((0.01, 0.01), np.full((2, 2), np.nan), "survey only"),
        ((np.nan, np.nan), np.diag([1e-4, 1e-4]), "target only"),
    ],
)
def test_ellipse_says_what_is_in_it(sigma, covariance, basis):
    columns, _ = ellipses(sigma, covariance)
    assert list(columns["basis"]) == [basis]


def test_no_ellipse_without_any_standard_deviation():
    columns, geometries = ellipses((np.nan, np.nan), np.full((2, 2), np.nan))
    assert len(geometries) == 0
    assert len(columns["id"]) == 0


@pytest.mark.parametrize(("sigma", "azimuth"), [((0.02, 0.01), 90.0), ((0.01, 0.02), 0.0)])
def test_ellipse_lies_along_the_larger_deviation(sigma, azimuth):
    columns, geometries = ellipses(sigma, np.zeros((2, 2)))
    np.testing.assert_allclose(columns["azimuth_deg"] % 180, azimuth, rtol=0, atol=1e-9)
    west, south, east, north = geometries[0].bounds
    assert (east - west > north - south) == (azimuth == 90.0)


def test_ellipse_of_correlated_errors_is_turned():
    columns, geometries = ellipses((np.nan, np.nan), np.array([[2.0, 1.0], [1.0, 2.0]]) * 1e-4)
    # Equal variances and a positive correlation: the major axis points north-east, 3 against 1.
    np.testing.assert_allclose(columns["azimuth_deg"], 45.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose((columns["semi_major_m"] / columns["semi_minor_m"]) ** 2, 3.0, rtol=1e-9)
    corner = np.array(geometries[0].exterior.coords)
    east, north = (corner - np.array(geometries[0].centroid.coords)[0]).T
    assert np.corrcoef(east, north)[0, 1] > 0.2


def test_farthest_corner_of_an_ellipse_lies_in_the_direction_of_its_azimuth():
    columns, geometries = ellipses((np.nan, np.nan), np.array([[4.0, 1.0], [1.0, 2.0]]) * 1e-4)
    # Ghilani, Adjustment Computations, error ellipses: tan 2t = 2 s_xy / (s_yy - s_xx) (from memory).
    np.testing.assert_allclose(np.tan(2 * np.radians(columns["azimuth_deg"])), 2 * 1 / (2 - 4), rtol=1e-9)
    assert 45 < columns["azimuth_deg"][0] < 90
    east, north = (np.array(geometries[0].exterior.coords) - geometries[0].centroid.coords[0]).T
    farthest = np.argmax(np.hypot(east, north))
    direction = np.degrees(np.arctan2(east[farthest], north[farthest])) % 180
    np.testing.assert_allclose(direction, columns["azimuth_deg"], rtol=0, atol=0.1)


def test_ellipse_is_drawn_around_the_head_of_the_vector_exaggerated():
    columns, geometries = ellipses((0.01, 0.02), np.zeros((2, 2)))
    factor = columns["exaggeration"][0]
    head = make_residuals(delta_m=np.array([[0.01, 0.02, 0.0]])).survey_m[0, :2] + factor * np.array(
        [0.01, 0.02]
    )
    np.testing.assert_allclose(geometries[0].centroid.coords[0], head, rtol=0, atol=1e-5)
    # Area of an ellipse, less the 0.5 % that a polygon of 36 sides cuts off.
    area = np.pi * columns["semi_major_m"][0] * columns["semi_minor_m"][0] * factor**2
    np.testing.assert_allclose(geometries[0].area, area, rtol=0.006)
    assert geometries[0].is_valid


def square(side_m, used):
    corners = np.array([[0, 0], [side_m, 0], [side_m, side_m], [0, side_m], [side_m / 2, side_m / 2]])
    survey = np.column_stack([corners + 1000.0, np.full(5, 50.0)])
    use = Use(np.array(used), (None,) * 5)
    residuals = replace(
        make_residuals(delta_m=np.zeros((5, 3))), survey_m=survey, horizontal=use, vertical=use
    )
    return make_assessment(5, pictures=False, residuals=residuals)


def test_tested_area_is_the_hull_of_the_points_that_count():
    columns, _ = layer(square(40.0, [True] * 5), "tested_area")
    assert columns["direction"] == ["horizontal", "vertical"]
    assert columns["point_count"] == [5, 5]
    np.testing.assert_allclose(columns["area_m2"], 1600.0, rtol=1e-12)
    columns, _ = layer(square(40.0, [True, True, True, False, False]), "tested_area")
    np.testing.assert_allclose(columns["area_m2"], 800.0, rtol=1e-12)


def test_points_on_one_line_and_two_points_have_no_tested_area():
    for used in ([True, False, True, False, True], [True, True, False, False, False]):
        _, geometries = layer(square(40.0, used), "tested_area")
        assert len(geometries) == 0


def test_coordinates_of_a_foot_system_are_feet_and_columns_metres():
    frame = make_frame("EPSG:2263", LinearUnit.US_SURVEY_FOOT)
    assessment = make_assessment(8, pictures=False, frame=frame)
    columns, geometries = layer(assessment, "checkpoints")
    # [NIST811], appendix B.6: the US survey foot is 1200/3937 m.
    feet = np.array(shapely.get_coordinates(geometries, include_z=True))
    np.testing.assert_allclose(feet * 1200 / 3937, assessment.residuals.survey_m, rtol=1e-12)
    np.testing.assert_array_equal(columns["survey_easting_m"], assessment.residuals.survey_m[:, 0])
    metres = layer(make_assessment(8, pictures=False), "tested_area")[0]["area_m2"]
    np.testing.assert_allclose(layer(assessment, "tested_area")[0]["area_m2"], metres, rtol=1e-9)


@pytest.mark.parametrize("name", [item.name for item in LAYERS])
def test_geometries_are_what_the_list_says(name):
    wanted = next(item for item in LAYERS if item.name == name)
    _, geometries = layer(make_assessment(40, pictures=False), name)
    kinds = {geometry.geom_type + (" Z" if geometry.has_z else "") for geometry in geometries}
    assert kinds == {wanted.geometry}


def test_columns_of_a_point_are_those_of_its_records():
    assessment = make_assessment(16, pictures=False)
    columns = checkpoint_columns(assessment)
    points, samples, residuals = assessment.checkpoints, assessment.samples, assessment.residuals
    expected = {
        "product_height_m": residuals.product_m[:, 2],
        "sigma_survey_up_m": residuals.sigma_survey_m[:, 2],
        "sigma_product_north_m": residuals.sigma_product_m[:, 1],
        "surface_roughness_m": samples.roughness_m,
        "surface_relief_m": samples.relief_m,
        "target_row_px": [fix.row for fix in assessment.fixes.fixes],
        "target_sigma_col_px": [fix.covariance_px2[1, 1] ** 0.5 for fix in assessment.fixes.fixes],
        "target_score": [fix.score for fix in assessment.fixes.fixes],
        "occupations": assessment.survey_quality.occupations,
        "shots": assessment.survey_quality.shots,
        "repeat_east_m": assessment.survey_quality.spread_m[:, 0],
        "repeat_up_m": assessment.survey_quality.spread_m[:, 2],
        "sigma_reported_north_m": assessment.survey_quality.sigma_reported_m[:, 1],
    }
    for name, values in expected.items():
        np.testing.assert_array_equal(columns[name], values, err_msg=name)
    words = {
        "role": points.roles,
        "fix": points.fixes,
        "cover": points.covers,
        "session": points.sessions,
        "target": points.targets,
        "vertical_reason": residuals.vertical.reasons,
        "surface_status": samples.statuses,
        "surface_reason": samples.reasons,
        "target_kind": [fix.kind for fix in assessment.fixes.fixes],
    }
    for name, texts in words.items():
        assert list(columns[name]) == list(texts), name
    assert columns["target_flags"][3] == "shadow; near the edge"
    assert columns["survey_flags"][:5] == ["occupations differ", *["single occupation"] * 3, None]
    assert columns["survey_reasons"][:2] == ["its 2 occupations differ by 0.064 m up (limit 0.05 m)", None]


def test_slope_effect_is_the_rise_over_the_residual():
    assessment = make_assessment(8, pictures=False)
    effect = checkpoint_columns(assessment)["surface_slope_effect_m"]
    gradient, delta = assessment.samples.gradient[2], assessment.residuals.delta_m[2]
    np.testing.assert_allclose(effect[2], gradient[0] * delta[0] + gradient[1] * delta[1], rtol=1e-12)


def test_slope_of_a_hundred_per_cent_is_forty_five_degrees():
    assessment = make_assessment(1, pictures=False)
    samples = replace(assessment.samples, gradient=np.array([[0.6, -0.8]]))
    columns = checkpoint_columns(replace(assessment, samples=samples))
    np.testing.assert_allclose(columns["surface_slope_percent"], [100.0], rtol=1e-12)
    np.testing.assert_allclose(columns["surface_slope_deg"], [45.0], rtol=1e-12)


def test_steps_are_told_in_words_with_what_they_changed():
    first, *_, last = checkpoint_columns(make_assessment(8, pictures=False))["steps"]
    assert "E +0.4120 m, N -0.6550 m, U +1.2080 m, accuracy 0.008 m" in first
    assert "; projection change: UTM zone 32N (EPSG:16032); " in first
    assert last is None


def test_a_step_that_differs_from_point_to_point_is_told_for_each():
    assessment = make_assessment(4, pictures=False)
    change = np.array([[0.1, 0.2, 0.3], [0.1, 0.2, 0.4], [0.1, 0.2, np.nan]])
    step = CoordinateStep("epoch", "plate motion, invented", None, change)
    points = replace(assessment.checkpoints, file_steps=((step,), ()))
    steps = checkpoint_columns(replace(assessment, checkpoints=points))["steps"]
    assert steps[0].endswith("(E +0.1000 m, N +0.2000 m, U +0.3000 m)")
    assert steps[1].endswith("U +0.4000 m)")
    assert steps[2].endswith("(E +0.1000 m, N +0.2000 m)")


def test_line_and_file_are_those_of_the_survey():
    assessment = make_assessment(8, pictures=False)
    columns = checkpoint_columns(assessment)
    for row in range(8):
        told = f"{columns['source_file'][row]}, line {columns['source_line'][row]}"
        assert told == assessment.checkpoints.origin(row)
        assert columns["description"][row] == assessment.checkpoints.attribute("description", row)
