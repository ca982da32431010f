"""Every figure that a publication prints comes out of the code, to half its last digit.

One file in `published/` a publication: source, page, what it computes, cases with their tolerance.
Figures of the origin "recomputed" were computed from the printed data outside geoqa. Misprints are
listed with the printed figure, the right one, and the reason.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.bias import significance, student_t
from geoqa.accuracy.intervals import plan_freedom, rmse_bounds
from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.statistics import summarise
from geoqa.numerics.biased_error import circular_error_90, linear_error_90
from geoqa.numerics.circular_error import circular_error, principal_rms
from geoqa.records.results import JudgementVerdict, ResidualSet
from geoqa.standards import STANDARDS, StandardRequest
from tests.accuracy.residual_sets import measured, residual_set
from tests.standards.cases import standard_case

FOLDER = Path(__file__).parent / "published"
PUBLICATIONS = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in sorted(FOLDER.glob("*.toml"))}


def cases(computes, kind="cases"):
    return [
        pytest.param(publication, case, id=f"{name}-{case.get('quantity', number)}-{case.get('origin', '')}")
        for name, publication in PUBLICATIONS.items()
        if publication["computes"] == computes
        for number, case in enumerate(publication.get(kind, ()))
    ]


def judged(residuals: ResidualSet, standard: str) -> dict[str, float | None]:
    judgements = STANDARDS.get(standard).judge(standard_case(residuals), StandardRequest())
    return {judgement.quantity: judgement.value for judgement in judgements}


def verdicts(residuals: ResidualSet, request: StandardRequest) -> dict[str, JudgementVerdict]:
    judgements = STANDARDS.get("asprs-2023").judge(standard_case(residuals), request)
    return {judgement.quantity: judgement.verdict for judgement in judgements}


def residuals_of(columns) -> ResidualSet:
    """Form the residuals from both coordinate sets where they are printed."""
    first, second = ("map", "survey") if "e_map" in columns else ("1", "2")
    if f"e_{first}" not in columns:
        plan = np.column_stack([columns["de"], columns["dn"]]) if "de" in columns else None
        return residual_set(plan, columns["dh"])
    product, survey = (
        np.column_stack([columns[f"{axis}_{which}"] for axis in "enh"]) for which in (first, second)
    )
    return form_residuals(*measured(product, survey))


def figure(residuals: ResidualSet, quantity: str):
    subject, name = quantity.split(" ", 1)
    if subject == "circular":
        probability = float(name.removeprefix("error "))
        return circular_error(probability, *principal_rms(residuals.used_horizontal_m))
    if subject in STANDARDS.all():
        found = judged(residuals, subject)
        return found[name] if name in found else found[f"{name} accuracy at 95 % confidence"]
    part = getattr(summarise(residuals), subject)
    return student_t(part) if name == "t" else getattr(part, name)


@pytest.mark.parametrize("name", PUBLICATIONS)
def test_a_publication_names_source_page_and_state(name):
    publication = PUBLICATIONS[name]
    assert {"key", "source", "page", "status", "computes", "unit", "cases"} <= set(publication)


@pytest.mark.parametrize(("publication", "case"), cases("residual statistics"))
def test_residual_statistics(publication, case):
    found = figure(residuals_of(publication["columns"]), case["quantity"])
    assert_allclose(found, case["value"], rtol=0, atol=case["tolerance"] * 1.001)


@pytest.mark.parametrize(("publication", "case"), cases("residual statistics", "misprints"))
def test_a_misprint_is_not_reproduced(publication, case):
    found = figure(residuals_of(publication["columns"]), case["quantity"])
    assert_allclose(found, case["value"], rtol=0, atol=case["tolerance"])
    assert abs(found - case["printed"]) > 0.0005


@pytest.mark.parametrize(
    "columns", [p["columns"] for p in PUBLICATIONS.values() if "e_map" in p.get("columns", ())]
)
def test_printed_residuals_are_product_minus_survey(columns):
    printed = np.column_stack([columns["de"], columns["dn"], columns["dh"]])
    assert_allclose(residuals_of(columns).delta_m, printed, rtol=0, atol=1e-6)


WITH_VERDICTS = [
    pytest.param(publication, id=name)
    for name, publication in PUBLICATIONS.items()
    if "verdicts" in publication
]


@pytest.mark.parametrize("publication", WITH_VERDICTS)
def test_a_mean_is_told_from_chance(publication):
    statistics = summarise(residuals_of(publication["columns"]))
    for component, beyond in publication["verdicts"]["mean_beyond_chance"].items():
        sentence = significance(getattr(statistics, component)) or ""
        assert ("is more than chance" in sentence) == beyond, component


@pytest.mark.parametrize("publication", WITH_VERDICTS)
def test_a_mean_is_held_against_a_quarter_of_the_target(publication):
    """The target of each component is its own RMSE here."""
    residuals = residuals_of(publication["columns"])
    statistics = summarise(residuals)
    for component, above in publication["verdicts"]["mean_above_quarter_of_own_rmse"].items():
        target = getattr(statistics, component).rmse_m
        found = verdicts(residuals, StandardRequest(horizontal_rmse_m=target, vertical_rmse_m=target))
        assert (found[f"mean error {component}"] is JudgementVerdict.NOT_MET) == above, component


@pytest.mark.parametrize("publication", WITH_VERDICTS)
@pytest.mark.parametrize("class_cm", [2.5, 5, 7.5, 10, 15, 20])
def test_classes_of_edition_2_are_met(publication, class_cm):
    asked = StandardRequest(horizontal_rmse_m=class_cm / 100, vertical_rmse_m=class_cm / 100)
    found = verdicts(residuals_of(publication["columns"]), asked)
    for symbol, met in publication["verdicts"]["classes_met_cm"].items():
        quantity = "RMSE_H" if symbol == "RMSE_H" else "RMSE_V (NVA)"
        assert (found[quantity] is JudgementVerdict.MET) == (class_cm in met)


@pytest.mark.parametrize("publication", WITH_VERDICTS)
def test_the_smallest_class_that_every_component_keeps(publication):
    """[GSI2025]: every component of every checkpoint, heights too; classes 0.05, 0.10 and 0.20 m."""
    case = standard_case(residuals_of(publication["columns"]))
    kept = []
    for class_m in (0.05, 0.10, 0.20):
        request = StandardRequest(options={"class_m": class_m})
        found = [j.verdict for j in STANDARDS.get("gsi-2025-uav").judge(case, request)]
        kept += [class_m] if set(found) == {JudgementVerdict.MET} else []
    assert min(kept) == publication["verdicts"]["smallest_class_by_component_m"]


@pytest.mark.parametrize("publication", WITH_VERDICTS)
def test_the_smallest_class_of_edition_1_that_both_axes_keep(publication):
    case = standard_case(residuals_of(publication["columns"]))
    kept = []
    for class_cm in (2.5, 5, 7.5, 10, 15, 20):
        request = StandardRequest(options={"horizontal_class_m": class_cm / 100})
        found = {j.quantity: j.verdict for j in STANDARDS.get("asprs-2014").judge(case, request)}
        kept += [class_cm] if {found["RMSE_x"], found["RMSE_y"]} == {JudgementVerdict.MET} else []
    assert min(kept) == publication["verdicts"]["edition_1_smallest_class_cm"]


@pytest.mark.parametrize(("publication", "case"), cases("survey error in quadrature"))
def test_survey_error_in_quadrature(publication, case):
    opposite = np.array([[1.0], [-1.0]]) / 100
    plan, up = opposite * [case["rmse_x"], case["rmse_y"]], (opposite * case["rmse_z"])[:, 0]
    per_axis = case["survey_h"] / 100 / np.sqrt(2)
    residuals = residual_set(plan, up, sigma_m=(per_axis, per_axis, case["survey_v"] / 100))
    found = judged(residuals, "asprs-2023")
    atol = case["tolerance"]
    assert_allclose(100 * summarise(residuals).horizontal.rmse_m, case["rmse_h1"], rtol=0, atol=atol)
    assert_allclose(100 * found["RMSE_H"], case["rmse_h"], rtol=0, atol=atol)
    assert_allclose(100 * found["RMSE_V (NVA)"], case["rmse_v"], rtol=0, atol=atol)
    assert_allclose(100 * found["RMSE_3D (NVA)"], case["rmse_3d"], rtol=0, atol=atol)


@pytest.mark.parametrize(("publication", "case"), cases("bounds of an RMSE"))
def test_bounds_of_an_rmse(publication, case):
    count = case["n"]
    # Evenly spread directions make a round cloud: equal axes, no correlation.
    angle = 2 * np.pi * np.arange(count) / count
    freedom = plan_freedom(np.column_stack([np.cos(angle), np.sin(angle)]))
    for found, expected in ((count, case["one_axis"]), (freedom, case["round_cloud"])):
        bounds = rmse_bounds(1.0, found)
        computed = [*bounds.interval_m, bounds.upper95_m]
        assert_allclose(computed, expected, rtol=0, atol=case["tolerance"] * 1.001)


@pytest.mark.parametrize(("publication", "case"), cases("circular error"))
def test_circular_error(publication, case):
    for name, probability in (("ce50", 0.5), ("ce90", 0.9), ("ce95", 0.95), ("ce99", 0.99)):
        for axes in ((1.0, case["ratio"]), (case["ratio"], 1.0)):
            found = circular_error(probability, *axes)
            assert_allclose(found, case[name], rtol=0, atol=case["tolerance"])


@pytest.mark.parametrize(("publication", "case"), cases("normal factors"))
def test_normal_factors(publication, case):
    for axes, name in (((1.0, 0.0), "linear"), ((1.0, 1.0), "circular")):
        found = circular_error(case["probability"], *axes)
        assert_allclose(found, case[name], rtol=0, atol=case["tolerance"])


@pytest.mark.parametrize(("publication", "case"), cases("errors with a bias"))
def test_errors_with_a_bias(publication, case):
    found = circular_error_90(case["bias"], 1.0), linear_error_90(case["bias"], 1.0)
    assert_allclose(found, [case["circular"], case["linear"]], rtol=0, atol=case["tolerance"] * 1.001)
    assert_allclose(found[0], case["circular_exact"], rtol=0.0036, atol=0)
    assert_allclose(found[1], case["linear_exact"], rtol=0.0013, atol=0)


def test_no_publication_is_left_out():
    known = {
        "residual statistics",
        "survey error in quadrature",
        "bounds of an RMSE",
        "circular error",
        "normal factors",
        "errors with a bias",
    }
    assert {publication["computes"] for publication in PUBLICATIONS.values()} == known
