"""Causes of systematic residuals, one file each: `examine` says whether one is at work.

A module in this folder defines `DIAGNOSIS`; file name = id with underscores.
"""

from collections.abc import Callable
from dataclasses import dataclass

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterInfo, SurfaceSamples, TargetFixes
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.results import Finding, ResidualSet
from geoqa.registry import Registry


@dataclass(frozen=True)
class DiagnosisCase:
    """What a diagnosis may look at; `mapped_area_m` (k, 2) is the outline of the product."""

    frame: CommonFrame
    checkpoints: Checkpoints
    residuals: ResidualSet
    fixes: TargetFixes
    samples: SurfaceSamples
    orthomosaic: RasterInfo | None
    elevation: RasterInfo | None
    mapped_area_m: FloatArray


@dataclass(frozen=True)
class Diagnosis:
    """A cause, how to recognise it, and how many points that takes."""

    id: str
    title: str
    minimum_points: int
    examine: Callable[[DiagnosisCase], Finding]


DIAGNOSES = Registry("geoqa.diagnoses", "DIAGNOSIS", Diagnosis)
