"""Everything that one check found out: the only thing that a writer gets."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from geoqa.numerics.arrays import FloatArray, frozen
from geoqa.records.base import BaseCorrection
from geoqa.records.decision import Decision, Trial
from geoqa.records.evidence import PointEvidence
from geoqa.records.measurements import Backdrop, RasterInfo, RasterPatch, SurfaceSamples, TargetFixes
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.profiles import SurfaceProfiles
from geoqa.records.results import (
    AccuracyStatistics,
    Claim,
    Finding,
    Judgement,
    ResidualSet,
    ThreeNumbers,
    Verdict,
)
from geoqa.records.settings import Settings
from geoqa.records.survey import SurveyQuality


@dataclass(frozen=True)
class InputFile:
    """A file that went into the result, and what tells it from any other.

    Attributes
    ----------
    sha256
        Of the whole file; None for a large one, which is not read in full, and for a remote one.
    sample_sha256
        For a large file: SHA-256 of its size and of evenly spread pieces of it; else None.
    """

    path: str
    sha256: str | None
    use: str
    size_bytes: int | None = None
    sample_sha256: str | None = None


@dataclass(frozen=True)
class Provenance:
    """What is needed to get the same numbers again.

    `created` is an ISO 8601 UTC time; `SOURCE_DATE_EPOCH` fixes it.
    """

    inputs: tuple[InputFile, ...]
    grids: tuple[InputFile, ...]
    versions: Mapping[str, str]
    created: str

    def __post_init__(self) -> None:
        """Make the mapping read-only."""
        object.__setattr__(self, "versions", MappingProxyType(dict(self.versions)))


@dataclass(frozen=True)
class Seal:
    """A file of checkpoints held against the hash that was issued before the products were made.

    Attributes
    ----------
    sealed_sha256, sha256
        The hash that was issued, and that of the file now.
    issued
        When the seal says that it was issued, ISO 8601, or None. Only who got it then can vouch for that.
    """

    path: str
    sealed_sha256: str
    sha256: str
    issued: str | None = None

    @property
    def matches(self) -> bool:
        """Return whether the file is the one that was sealed."""
        return self.sealed_sha256 == self.sha256

    @property
    def sentence(self) -> str:
        """Return the outcome in words."""
        when = "" if self.issued is None else f" on {self.issued}"
        if self.matches:
            return f"{self.path} is byte for byte the file that was sealed{when}."
        return (
            f"{self.path} is not the file that was sealed{when}: its SHA-256 is {self.sha256}, the seal says "
            f"{self.sealed_sha256}. That the checkpoints are independent of the products is not shown."
        )


@dataclass(frozen=True, eq=False)
class Assessment:
    """The result of one check.

    Attributes
    ----------
    frame, checkpoints, survey_quality, fixes, samples, residuals
        The line, one row a point in all of them, in the same order.
    statistics, statistics_by
        Of the used points, and by group: grouping name → group → statistics.
    messages
        Warnings for the user, as sentences, in the order they arose.
    assumptions
        What was taken to be so because nothing said otherwise.
    base
        Corrections of the bases that points or products rest on.
    patches
        For each point the window of the orthomosaic around its target, or None.
    profiles
        Height profiles of the surface through the points, or None.
    backdrop
        The orthomosaic decimated and grey, or None.
    seals
        Files of checkpoints that were sealed before, held against their seals.
    decision
        What to do next; None where it was not asked.
    trials
        Cures tried dry, for exploration.
    evidence
        What the points can show, and what not.
    mapped_area_m : array, shape (k, 2)
        Outline of the product, easting and northing in the common frame; k = 0 where unknown.
    """

    settings: Settings
    title: str
    orthomosaic: RasterInfo | None
    elevation: RasterInfo | None
    frame: CommonFrame
    checkpoints: Checkpoints
    survey_quality: SurveyQuality
    fixes: TargetFixes
    samples: SurfaceSamples
    residuals: ResidualSet
    statistics: AccuracyStatistics
    statistics_by: Mapping[str, Mapping[str, AccuracyStatistics]]
    claims: tuple[Claim, ...]
    verdict: Verdict
    accuracy: ThreeNumbers
    judgements: tuple[Judgement, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]
    messages: tuple[str, ...]
    provenance: Provenance
    mapped_area_m: FloatArray
    base: tuple[BaseCorrection, ...] = ()
    patches: tuple[RasterPatch | None, ...] = ()
    profiles: SurfaceProfiles | None = None
    backdrop: Backdrop | None = None
    cautions: tuple[str, ...] = field(default=())
    seals: tuple[Seal, ...] = ()
    decision: Decision | None = None
    trials: tuple[Trial, ...] = ()
    evidence: PointEvidence = field(default_factory=PointEvidence)

    def __post_init__(self) -> None:
        """Make arrays and mappings read-only."""
        object.__setattr__(self, "mapped_area_m", frozen(self.mapped_area_m))
        groups = {name: MappingProxyType(dict(group)) for name, group in self.statistics_by.items()}
        object.__setattr__(self, "statistics_by", MappingProxyType(groups))
