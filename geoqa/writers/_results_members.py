"""The smaller members of results.json, each from one record."""

from typing import Any

import numpy as np

from geoqa.accuracy.common_error import sigma_of_mean
from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment, InputFile, Provenance, Seal
from geoqa.records.base import BaseCorrection
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import CommonFrame
from geoqa.records.results import (
    AccuracyFigure,
    AccuracyStatistics,
    Claim,
    ComponentStatistics,
    Finding,
    Judgement,
    ThreeNumbers,
    Use,
    Verdict,
)
from geoqa.records.survey import Tie
from geoqa.writers import _results_evidence as evidence
from geoqa.writers._untested import hull, product_area, untested

Member = dict[str, Any]


def verdict(answer: Verdict) -> Member:
    """Return the verdicts of both directions and the sentence."""
    return {
        "horizontal": answer.horizontal.value,
        "vertical": answer.vertical.value,
        "sentence": answer.sentence,
    }


def accuracy(numbers: ThreeNumbers) -> Member:
    """Return fit, the product alone and absolute accuracy."""
    three = {"fit": numbers.fit, "product_alone": numbers.product_alone, "absolute": numbers.absolute}
    return {
        name: {"horizontal": _figure(horizontal), "vertical": _figure(vertical)}
        for name, (horizontal, vertical) in three.items()
    }


def _figure(figure: AccuracyFigure) -> Member:
    return {
        "rmse_m": figure.rmse_m,
        "interval_m": None if figure.interval_m is None else list(figure.interval_m),
        "relative_to": figure.relative_to,
    }


def frame(common: CommonFrame) -> Member:
    """Return the common frame; its positions are metres whatever the unit of the CRS."""
    authority = common.crs.to_authority(min_confidence=100)
    return {
        "name": common.name,
        "crs": ":".join(authority) if authority else common.crs.to_wkt(),
        "unit": common.unit.value,
        "height_system": common.height_system,
        "epoch": common.epoch,
    }


def products(assessment: Assessment) -> Member:
    """Return what either raster says about itself, None for one that was not given."""
    return {
        "orthomosaic": _raster(assessment.orthomosaic),
        "elevation": _raster(assessment.elevation),
        "outline_m": assessment.mapped_area_m.tolist(),
    }


def _raster(info: RasterInfo | None) -> Member | None:
    if info is None:
        return None
    return {
        "path": info.path,
        "shape": list(info.shape),
        "cell_size_m": info.cell_size_m,
        "transform": list(info.transform)[:6],
        "notes": list(info.notes),
    }


def statistics(figures: AccuracyStatistics) -> Member:
    """Return the four components; a figure that a component has not is left out."""
    parts: Member = {part.component: _component(part) for part in figures.components}
    return {**parts, "plan_bias": evidence.plan_bias(figures.plan_bias)}


def _component(part: ComponentStatistics) -> Member:
    spread = {
        "mean_m": part.mean_m,
        "std_m": part.std_m,
        "median_m": part.median_m,
        "nmad_m": part.nmad_m,
    }
    return {
        "count": part.count,
        **({} if part.component == "horizontal" else spread),
        "rmse_m": part.rmse_m,
        "max_abs_m": part.max_abs_m,
        "rmse_interval_m": list(part.rmse_interval_m),
        "rmse_upper95_m": part.rmse_upper95_m,
        "rmse_lower95_m": part.rmse_lower95_m,
        **evidence.component(part),
    }


def statistics_by(assessment: Assessment) -> Member:
    """Return the statistics of each group of each grouping."""
    return {
        grouping: {group: statistics(figures) for group, figures in groups.items()}
        for grouping, groups in assessment.statistics_by.items()
    }


def judgement(item: Judgement) -> Member:
    """Return one clause of a standard, held against the residuals."""
    return {
        "standard": item.standard,
        "clause": item.clause,
        "quantity": item.quantity,
        "value": item.value,
        "unit": item.unit,
        "limit": item.limit,
        "verdict": item.verdict.value,
        "sentence": item.sentence,
        "count": item.count,
        "count_required": item.count_required,
        "caveats": list(item.caveats),
    }


def finding(item: Finding) -> Member:
    """Return one possible cause."""
    return {
        "diagnosis": item.diagnosis,
        "verdict": item.verdict.value,
        "rank": item.rank,
        "not_separable_from": list(item.not_separable_from),
        "quantities": [
            {"name": part.name, "value": part.value, "unit": part.unit, "sigma": part.sigma}
            for part in item.quantities
        ],
        "evidence": item.evidence,
        "advice": item.advice,
        "predicted_rmse_m": dict(item.predicted_rmse_m),
        "point_ids": list(item.point_ids),
    }


def claim(item: Claim) -> Member:
    """Return one limit of the requirement, held against the evidence."""
    return {
        "direction": item.direction,
        "limit_m": item.limit_m,
        "value_m": item.value_m,
        "upper95_m": item.upper95_m,
        "lower95_m": item.lower95_m,
        "count": item.count,
        "verdict": item.verdict.value,
        "sentence": item.sentence,
        **evidence.claim(item),
    }


def tie(item: Tie) -> Member:
    """Return what one known mark says of the survey."""
    return {
        "id": item.id,
        "known": item.known_origin,
        "measured": item.measured_origin,
        "difference_m": item.difference_m.tolist(),
        "tolerance_m": item.tolerance_m.tolist(),
        "verdict": item.verdict.value,
        "sentence": item.sentence,
    }


def seal(item: Seal) -> Member:
    """Return one file of checkpoints held against its seal."""
    return {
        "path": item.path,
        "sealed_sha256": item.sealed_sha256,
        "sha256": item.sha256,
        "issued": item.issued,
        "verdict": "matches" if item.matches else "differs",
        "sentence": item.sentence,
    }


def tested_area(assessment: Assessment) -> Member:
    """Return for either direction the hull of the points that count: their number, its size, its share."""
    return {
        direction: _tested(assessment, use, name)
        for direction, name, use in (
            ("horizontal", "plan", assessment.residuals.horizontal),
            ("vertical", "height", assessment.residuals.vertical),
        )
    }


def _tested(assessment: Assessment, use: Use, name: str) -> Member:
    around = hull(assessment.residuals.survey_m[use.used, :2])
    product = product_area(assessment)
    left = untested(assessment, (name,))
    return {
        "point_count": int(use.used.sum()),
        "area_m2": 0.0 if around is None else float(around.area),
        "share_of_product": None if product.is_empty else float(1 - left.area / product.area),
    }


def base(assessment: Assessment) -> list[Member]:
    """Return the correction of each base, with what it does to the mean of its points."""
    return [_base(item, sigma_of_mean(item, _sigmas(assessment, item))) for item in assessment.base]


def _base(item: BaseCorrection, of_mean_m: FloatArray | None) -> Member:
    return {
        "session": item.session,
        "frame": item.frame.name,
        "epoch": item.epoch,
        "shift_m": item.shift_enu_m.tolist(),
        "shift_geocentric_m": item.shift_m.tolist(),
        "distance_m": item.distance_m,
        "sigma_m": None if item.sigma_m is None else item.sigma_m.tolist(),
        "operation_accuracy_m": item.operation_accuracy_m,
        "sigma_of_mean_m": None if of_mean_m is None else of_mean_m.tolist(),
        "points_use": item.points_use,
        "products_use": item.products_use,
        "applied_to": item.applied_to.value,
        "source": item.source,
        "messages": list(item.messages),
    }


def _sigmas(assessment: Assessment, item: BaseCorrection) -> FloatArray:
    """Return the standard deviations of the points that rest on a base and count, shape (n, 3)."""
    residuals = assessment.residuals
    of_base = [item.serves(session) for session in assessment.checkpoints.sessions]
    counts = np.array(of_base, dtype=bool) & (residuals.horizontal.used | residuals.vertical.used)
    return np.asarray(residuals.sigma_survey_m[counts])


def provenance(origin: Provenance) -> Member:
    """Return inputs, grids, versions and the time of the result."""
    return {
        "inputs": [_file(item) for item in origin.inputs],
        "grids": [_file(item) for item in origin.grids],
        "versions": dict(origin.versions),
        "created": origin.created,
    }


def _file(item: InputFile) -> Member:
    return {
        "path": item.path,
        "sha256": item.sha256,
        "use": item.use,
        "size_bytes": item.size_bytes,
        "sample_sha256": item.sample_sha256,
    }
