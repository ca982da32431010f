"""The tables without geometry of an assessment, as rows in the order of `geoqa.records.tables`."""

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from geoqa.records.assessment import Assessment, InputFile
from geoqa.records.results import AccuracyFigure, ComponentStatistics, Quantity
from geoqa.records.tables import BY_NAME
from geoqa.writers._columns import Columns, joined
from geoqa.writers._evidence_rows import evidence_rows

Row = tuple[Any, ...]


def table(assessment: Assessment, name: str) -> Columns:
    """Return the columns of one table without geometry."""
    rows = list(_TABLES[name](assessment))
    names = [column.name for column in BY_NAME[name].columns]
    return {column: [row[index] for row in rows] for index, column in enumerate(names)}


def _statistics(assessment: Assessment) -> Iterator[Row]:
    for component in assessment.statistics.components:
        yield _component_row("used points", None, component)
    for grouping, groups in assessment.statistics_by.items():
        for group, statistics in groups.items():
            for component in statistics.components:
                yield _component_row(grouping, group, component)
    accuracy = assessment.accuracy
    figures = {
        "fit": accuracy.fit,
        "product alone": accuracy.product_alone,
        "absolute": accuracy.absolute,
    }
    for name, both in figures.items():
        for direction, figure in zip(("horizontal", "vertical"), both, strict=True):
            yield _figure_row(name, direction, figure)


def _component_row(grouping: str, group: str | None, part: ComponentStatistics) -> Row:
    return (
        grouping,
        group,
        part.component,
        part.count,
        part.mean_m,
        part.std_m,
        part.rmse_m,
        *part.rmse_interval_m,
        part.rmse_lower95_m,
        part.rmse_upper95_m,
        part.median_m,
        part.nmad_m,
        part.max_abs_m,
        *part.mean_interval_m,
        part.skewness,
        part.quantile683_m,
        part.quantile95_m,
        part.error50_m,
        part.error90_m,
        part.error95_m,
        None,
    )


def _figure_row(name: str, direction: str, figure: AccuracyFigure) -> Row:
    low, high = figure.interval_m or (None, None)
    missing = (None,) * 13
    head = ("accuracy", name, direction, None, None, None)
    return (*head, figure.rmse_m, low, high, *missing, figure.relative_to)


def _judgements(assessment: Assessment) -> Iterator[Row]:
    for claim in assessment.claims:
        value = claim.value_m if claim.count else None
        yield (
            "requirement",
            None,
            claim.quantity,
            value,
            "m",
            claim.limit_m,
            claim.verdict.value,
            claim.sentence,
            claim.count,
            None,
            None,
        )
    for judgement in assessment.judgements:
        yield (
            judgement.standard,
            judgement.clause,
            judgement.quantity,
            judgement.value,
            judgement.unit,
            judgement.limit,
            judgement.verdict.value,
            judgement.sentence,
            judgement.count,
            judgement.count_required,
            joined(judgement.caveats),
        )


def _findings(assessment: Assessment) -> Iterator[Row]:
    for finding in assessment.findings:
        yield (
            finding.diagnosis,
            finding.verdict.value,
            finding.rank,
            finding.evidence,
            finding.advice,
            joined(_quantity(quantity) for quantity in finding.quantities),
            joined(f"{name} {value:g}" for name, value in finding.predicted_rmse_m.items()),
            joined(finding.not_separable_from),
            joined(finding.point_ids),
        )


def _quantity(quantity: Quantity) -> str:
    spread = "" if quantity.sigma is None else f" ± {quantity.sigma:g}"
    unit = "" if quantity.unit in ("", "1") else f" {quantity.unit}"
    return f"{quantity.name} {quantity.value:g}{spread}{unit}"


def _provenance(assessment: Assessment) -> Iterator[Row]:
    provenance, frame = assessment.provenance, assessment.frame
    if assessment.decision is not None:
        yield "decision", assessment.decision.action.value, assessment.decision.sentence, None
    yield from (("trial", item.cure, item.sentence, None) for item in assessment.trials)
    yield "created", "created", provenance.created, None
    yield "frame", "crs", frame.name, None
    yield "frame", "height system", frame.height_system, None
    if frame.epoch is not None:
        yield "frame", "coordinate epoch", repr(frame.epoch), None
    for item in assessment.base:
        name = "correction" if item.session is None else f"correction, session {item.session}"
        yield "base", name, item.source, None
    for topic, files in (("input", provenance.inputs), ("grid", provenance.grids)):
        yield from (_file_row(topic, file) for file in files)
    yield from (("version", name, version, None) for name, version in provenance.versions.items())
    settings = json.dumps(settings_document(assessment), ensure_ascii=False)
    yield "setting", "settings", settings, None
    notes = {
        "assumption": assessment.assumptions,
        "message": assessment.messages,
        "caution": assessment.cautions,
    }
    for topic, sentences in notes.items():
        yield from (
            (topic, f"{topic} {number}", text, None) for number, text in enumerate(sentences, start=1)
        )


def _file_row(topic: str, file: InputFile) -> Row:
    return topic, file.use, file.path, file.sha256 or file.sample_sha256


def settings_document(assessment: Assessment) -> dict[str, Any]:
    """Return the settings as plain values, those not given left out."""
    return assessment.settings.model_dump(mode="json", exclude_none=True)


_TABLES: Mapping[str, Callable[[Assessment], Iterator[Row]]] = {
    "statistics": _statistics,
    "judgements": _judgements,
    "evidence": evidence_rows,
    "findings": _findings,
    "provenance": _provenance,
}
