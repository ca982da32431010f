"""Kinds of ground targets, one file each: `locate` finds the centre to a fraction of a pixel.

A module in this folder defines `TARGET`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.registry import Registry


@dataclass(frozen=True)
class TargetKind:
    """A kind of ground target.

    Attributes
    ----------
    id
        As in the settings (`targets.kind`) and in the `target` column of a points file.
    title, description
        For a person: what it looks like and what its centre is.
    locate
        From a window of the orthomosaic and the search to a `TargetFix`. Never returns the
        surveyed place as a fallback, never lets it pull the result.
    """

    id: str
    title: str
    description: str
    locate: Callable[[RasterPatch, TargetSearch], TargetFix]


KINDS = Registry("geoqa.targets", "TARGET", TargetKind)
