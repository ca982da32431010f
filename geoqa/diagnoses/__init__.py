"""Causes of systematic residuals, one file each: `examine` says whether one is at work.

A module in this folder defines `DIAGNOSIS`; file name = id with underscores. A cause that shows itself as a
pattern or a known vector brings hypotheses (`propose`, `search`); one comparison weighs those of all causes,
and `examine` puts into words what it says of this one. A cause of another kind only examines.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from geoqa.causes.comparison import Comparison
from geoqa.causes.decision import Remedy
from geoqa.causes.evidence import Evidence
from geoqa.causes.hypothesis import Hypothesis, Search
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import BaseCorrection
from geoqa.records.decision import Action
from geoqa.records.measurements import RasterInfo, SurfaceSamples, TargetFixes
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.results import Finding, ResidualSet
from geoqa.records.survey import Tie
from geoqa.registry import Registry


@dataclass(frozen=True)
class DiagnosisCase:
    """What a diagnosis may look at.

    Attributes
    ----------
    mapped_area_m : array, shape (k, 2)
        Outline of the product; k = 0 where unknown.
    base
        Corrections of the bases that points or products rest on.
    separations_m : array, shape (n,)
        Geoid above the ellipsoid at the points where settings, points or a step say it; else NaN.
    ties
        What known marks say of the survey.
    comparison
        Of the hypotheses of all causes; None before it is made.
    """

    frame: CommonFrame
    checkpoints: Checkpoints
    residuals: ResidualSet
    fixes: TargetFixes
    samples: SurfaceSamples
    orthomosaic: RasterInfo | None
    elevation: RasterInfo | None
    mapped_area_m: FloatArray
    base: tuple[BaseCorrection, ...] = ()
    separations_m: FloatArray = field(default_factory=lambda: np.empty(0))
    ties: tuple[Tie, ...] = ()
    comparison: Comparison | None = None


@dataclass(frozen=True)
class Diagnosis:
    """A cause, how to recognise it, and how many points that takes.

    Attributes
    ----------
    propose
        What the cause would do to the residuals; None where it does not show as a pattern.
    search
        The same where that depends on what other causes leave, such as single points.
    action
        What the cause asks for; most are cured at the source, by saying what is true and running again.
    """

    id: str
    title: str
    minimum_points: int
    examine: Callable[[DiagnosisCase], Finding]
    propose: Callable[[DiagnosisCase, Evidence], Iterable[Hypothesis]] | None = None
    search: Callable[[DiagnosisCase], Search] | None = None
    action: Action = Action.CORRECT


DIAGNOSES = Registry("geoqa.diagnoses", "DIAGNOSIS", Diagnosis)


def diagnosis_titles() -> dict[str, str]:
    """Return the title of each cause by its id."""
    return {name: item.title for name, item in DIAGNOSES.all().items()}


def remedies() -> dict[str, Remedy]:
    """Return title and action of each cause by its id."""
    return {name: Remedy(item.title, item.action) for name, item in DIAGNOSES.all().items()}
