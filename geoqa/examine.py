"""Look for the causes of what is systematic: all hypotheses weighed together, one finding a cause."""

from dataclasses import replace

from geoqa.causes.comparison import compare
from geoqa.causes.evidence import evidence_of
from geoqa.diagnoses import DIAGNOSES, Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, FindingVerdict

# Shown as present at most: nobody acts on a fourth.
_MOST_PRESENT = 3
_EDGE = "edge-of-block"
_SINGLES = ("single-point", "moved-target")


def examined(case: DiagnosisCase) -> tuple[tuple[Finding, ...], DiagnosisCase]:
    """Return a finding of every cause, those present first by rank, and the case with its comparison.

    A cause that needs more points than there are is answered with *cannot tell*.
    """
    causes = list(DIAGNOSES.all().values())
    enough = [item for item in causes if len(case.checkpoints) >= item.minimum_points]
    evidence = evidence_of(case.residuals)
    hypotheses = [
        hypothesis
        for item in enough
        if item.propose is not None and len(evidence)
        for hypothesis in item.propose(case, evidence)
    ]
    searches = [item.search(case) for item in enough if item.search is not None]
    case = replace(case, comparison=compare(evidence, hypotheses, searches))
    answers = [item.examine(case) if item in enough else _too_few(item, case) for item in causes]
    return _ranked(_explained_away(answers)), case


def _too_few(diagnosis: Diagnosis, case: DiagnosisCase) -> Finding:
    evidence = (
        f"It takes {diagnosis.minimum_points} points or more to look for it, and there are "
        f"{len(case.checkpoints)}."
    )
    return Finding(diagnosis.id, FindingVerdict.CANNOT_TELL, evidence, "")


def _explained_away(answers: list[Finding]) -> list[Finding]:
    """Take single points near the edge as scatter of the edge, where that is found."""
    edge = next((item for item in answers if item.diagnosis == _EDGE), None)
    if edge is None or edge.verdict is not FindingVerdict.PRESENT:
        return answers
    singles = [
        item.diagnosis
        for item in answers
        if item.diagnosis in _SINGLES
        and item.verdict is FindingVerdict.PRESENT
        and set(item.point_ids) <= set(edge.point_ids)
    ]
    told = f"{{}} They lie near the edge of the block, where all points scatter: see {_EDGE}."
    return [
        replace(item, verdict=FindingVerdict.CANNOT_TELL, rank=None, evidence=told.format(item.evidence))
        if item.diagnosis in singles
        else item
        for item in answers
    ]


def _ranked(answers: list[Finding]) -> tuple[Finding, ...]:
    """Return the findings, those present first with ranks 1, 2, 3; a fourth is not called present."""
    present = [item for item in answers if item.verdict is FindingVerdict.PRESENT]
    present.sort(key=lambda item: item.rank or len(answers))
    shown = [replace(item, rank=place) for place, item in enumerate(present[:_MOST_PRESENT], start=1)]
    beyond = [
        replace(item, verdict=FindingVerdict.CANNOT_TELL, rank=None) for item in present[_MOST_PRESENT:]
    ]
    rest = [item for item in answers if item.verdict is not FindingVerdict.PRESENT]
    return (*shown, *beyond, *rest)
