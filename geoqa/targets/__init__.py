"""Kinds of ground targets, one file each: `locate` finds the centre to a fraction of a pixel.

A module in this folder defines `TARGET`; modules that only help others start with an underscore.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, hypot

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch, TargetStatus
from geoqa.registry import Registry

# The largest side in pixels that is looked for where the size is not known.
LARGEST_SIZE_PX = 120.0
AUTO = "auto"
# The panel at the edge of the search radius, turned by 45° and with some ground around it.
_REACH_SIDES = 1.1
# Two kinds found nearer than this, in sides, are one target.
_SAME_PLACE_SIDES = 0.5


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
    candidates
        From a wide window and the search to every place that may be one, roughly; None where `locate` is
        all there is.
    distinctive
        Whether its look is rare enough on the ground to be sought far and wide where no kind is named.
    same_look_as
        Id of the kind that looks the same and has another point, or None. Only that one is tried where no
        kind is named, and what it finds is suspect, since the picture does not say which point was surveyed.
    """

    id: str
    title: str
    description: str
    locate: Callable[[RasterPatch, TargetSearch], TargetFix]
    candidates: Callable[[RasterPatch, TargetSearch], tuple[TargetFix, ...]] | None = None
    distinctive: bool = False
    same_look_as: str | None = None


KINDS = Registry("geoqa.targets", "TARGET", TargetKind)


def window_half_px(radius_px: float, size_px: float | None, stretch: FloatArray | None = None) -> int:
    """Return the half side of the square window around the surveyed place that a search needs, in pixels.

    `stretch` is that of the `TargetSearch` where pixels are not square.

    Examples
    --------
    >>> window_half_px(25.0, 20.0)
    49
    """
    size = LARGEST_SIZE_PX if size_px is None else size_px
    longest = 1.0 if stretch is None else float(np.linalg.norm(np.linalg.inv(stretch), 2))
    return ceil(round(longest * (radius_px + _REACH_SIDES * size), 6)) + 2


def locate(patch: RasterPatch, search: TargetSearch, kind: str) -> TargetFix:
    """Return the centre of a target of this kind, or of whichever kind fits best where it is "auto".

    Raises
    ------
    PluginError
        When no such kind is registered.
    """
    if kind != AUTO:
        return KINDS.get(kind).locate(patch, search)
    kinds = [target for target in KINDS.all().values() if target.same_look_as is None]
    fixes = [target.locate(patch, search) for target in kinds]
    return _with_named_point(_best_of(sorted(fixes, key=lambda fix: -fix.score)))


def _with_named_point(fix: TargetFix) -> TargetFix:
    """Return the fix, suspect where another kind looks the same and has another point."""
    others = [target.id for target in KINDS.all().values() if target.same_look_as == fix.kind]
    if not others or fix.status is not TargetStatus.FOUND:
        return fix
    reason = f"which of its points was surveyed is not known: name {' or '.join([str(fix.kind), *others])}"
    flags = list(fix.flags)
    flags.append("which point")
    return replace(fix, status=TargetStatus.SUSPECT, flags=tuple(flags), reason=reason)


def candidates(patch: RasterPatch, search: TargetSearch, kind: str) -> tuple[TargetFix, ...]:
    """Return every place in a wide window where a target of this kind may be, or of any distinctive kind.

    Positions are good to a few tenths of a pixel; one place may come several times.
    """
    if kind == AUTO:
        kinds = [target for target in KINDS.all().values() if target.distinctive]
    else:
        kinds = [KINDS.get(kind)]
    found: list[TargetFix] = []
    for target in kinds:
        if target.candidates is not None:
            found += target.candidates(patch, search)
        else:
            fix = target.locate(patch, search)
            found += [fix] if fix.status in {TargetStatus.FOUND, TargetStatus.SUSPECT} else []
    return tuple(found)


def _best_of(fixes: list[TargetFix]) -> TargetFix:
    """Return the fix of the kind that fits best; several kinds found in different places are ambiguous."""
    placed = [fix for fix in fixes if fix.status in {TargetStatus.FOUND, TargetStatus.SUSPECT}]
    unclear = [fix for fix in fixes if fix.status == TargetStatus.AMBIGUOUS]
    if not placed:
        return (unclear or fixes)[0]
    best = min(placed, key=lambda fix: (fix.status != TargetStatus.FOUND, -fix.score))
    if unclear and unclear[0].score > best.score:
        return unclear[0]
    for other in placed:
        apart = hypot(other.row - best.row, other.col - best.col)
        sides = max(best.size_px or 0.0, other.size_px or 0.0)
        if other.status == best.status and apart > _SAME_PLACE_SIDES * sides:
            reason = f"two kinds of target of equal standing, {apart:.0f} px apart"
            return TargetFix(TargetStatus.AMBIGUOUS, score=best.score, flags=("ambiguous",), reason=reason)
    return best
