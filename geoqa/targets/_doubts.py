"""What speaks against a target that was found: flags for the table, sentences for a person."""

from dataclasses import dataclass
from math import hypot

import numpy as np

from geoqa.numerics.arrays import BoolArray
from geoqa.records.measurements import RasterPatch
from geoqa.targets._centres import Centre
from geoqa.targets._finds import SURE, Find
from geoqa.targets._inspection import Inspection

# Centre by symmetry and centre of the footprint differ by no more than this in a sound target.
_AGREEMENT_PX, _AGREEMENT_SIDES = 0.35, 0.03
# Mean weight of the pairs below which something covers the target.
_LEAST_KEPT = 0.65
# A larger share of foreign pixels covers the target; they are a pole where they lie in so narrow a band.
_FOREIGN_SHARE, _NARROW = 0.015, 0.45
# Disturbances from these gains and sizes, in sides, are none that a sound target shows: learnt from drawn
# targets, of which 2 in 100 reach one of them.
_DOUBLED_GAIN, _DOUBLED_SIDES, _DOUBLED_PX = 25.0, 0.065, 1.2
_BROKEN_GAIN, _BROKEN_SIDES = 30.0, 0.02
_BENT_GAIN, _BENT_SIDES = 60.0, 0.01
_SHADOW_SLACK = 4.0
_LOW_CONTRAST = 0.2
_SMALL_PX = 10.0
_SIZE_TOLERANCE = 1.2
_SATURATED_SHARE = 0.05
_WHOLE_SHARE = 0.98


@dataclass(frozen=True)
class Doubt:
    """A reason not to rely on a find, as a sentence without its full stop."""

    flag: str
    reason: str


def doubts(
    find: Find, centre: Centre | None, disturbances: list[Doubt], rival: Find | None, size_px: float | None
) -> list[Doubt]:
    """Return what makes a find suspect, gravest first; nothing for a sound one."""
    found: list[Doubt] = []
    if find.score < SURE:
        found.append(Doubt("doubtful look", "it resembles the target, but not closely enough to rely on"))
    if rival is not None:
        away = rival.distance_px(find.row, find.col)
        found.append(Doubt("look-alike", f"something {away:.0f} px away resembles the target almost as well"))
    if find.shadow is not None and find.fit.pattern.painted:
        # The edge of the shadow passes for one of the few edges that paint has.
        found.append(Doubt("shadow", "the edge of a shadow crosses the paint, and may have moved its edges"))
    found += disturbances
    if centre is None:
        found.append(Doubt("asymmetric", "the two halves of the target do not match"))
    else:
        found += _doubts_about_centre(find, centre)
    ratio = find.evidence.size_ratio
    if size_px is not None and ratio is not None and not 1 / _SIZE_TOLERANCE <= ratio <= _SIZE_TOLERANCE:
        message = f"it is {find.size_px:.1f} px wide where {size_px:.1f} px were expected"
        found.append(Doubt("size mismatch", message))
    return found


def disturbed(find: Find, inspection: Inspection, *, over_exposed: bool) -> list[Doubt]:
    """Return what lies on the target or tears it, as far as its pixels show."""
    broken = inspection.broken
    # A seam leaves a narrow band of foreign pixels as well.
    clean_break = broken.gain > 2.0 * _BROKEN_GAIN and broken.size_px > 1.5 * _BROKEN_SIDES * find.size_px
    if clean_break and not over_exposed:
        return _torn(find, inspection)
    if inspection.foreign_share > _FOREIGN_SHARE:
        if inspection.foreign_width() < _NARROW:
            return [Doubt("pole on point", "something narrow, such as a pole, lies across the target")]
        return [Doubt("covered", f"{inspection.foreign_share:.0%} of the target is covered or changed")]
    if over_exposed:
        # Light that spills over from white parts moves edges apart, evenly about the centre of a pattern.
        moved = Doubt("over-exposed", "white has spilled over its edges, which moves its corner")
        return [] if find.fit.pattern.point is None else [moved]
    return _torn(find, inspection)


def _torn(find: Find, inspection: Inspection) -> list[Doubt]:
    # What is left of the edge of a shadow passes for a slight disturbance.
    size_px = find.size_px if find.shadow is None else _SHADOW_SLACK * find.size_px
    doubled, broken, bent = inspection.doubled, inspection.broken, inspection.bent
    if (
        doubled.gain > _DOUBLED_GAIN
        and doubled.size_px > max(_DOUBLED_SIDES * size_px, _DOUBLED_PX)
        and doubled.gain > broken.gain
    ):
        message = f"it stands there twice, about {doubled.size_px:.1f} px apart: two photographs are blended"
        return [Doubt("ghost", message)]
    apart = broken.gain > _BROKEN_GAIN and broken.size_px > _BROKEN_SIDES * size_px
    warped = bent.gain > _BENT_GAIN and bent.size_px > _BENT_SIDES * size_px
    if (apart or warped) and bent.gain > broken.gain:
        return [Doubt("wrinkled", f"it is bent by about {bent.size_px:.1f} px, as a cloth with wrinkles is")]
    if apart:
        return [Doubt("seam", f"its parts are moved against each other by about {broken.size_px:.1f} px")]
    return []


def _doubts_about_centre(find: Find, centre: Centre) -> list[Doubt]:
    found: list[Doubt] = []
    off_px = hypot(centre.row - find.row, centre.col - find.col)
    # In shadow the centre is that of the outline and the pattern together.
    if find.shadow is None and off_px > _AGREEMENT_PX + _AGREEMENT_SIDES * find.size_px:
        message = f"its outline and its pattern have centres {off_px:.1f} px apart"
        found.append(Doubt("asymmetric", message))
    if centre.kept < _LEAST_KEPT:
        found.append(Doubt("covered", "part of the target is covered or changed"))
    return found


def remarks(find: Find, patch: RasterPatch) -> list[str]:
    """Return flags that do not cast doubt on the position: they explain a large covariance."""
    flags: list[str] = []
    if find.shadow is not None:
        flags.append("shadow")
    if find.evidence.relative_contrast < _LOW_CONTRAST:
        flags.append("low contrast")
    if find.size_px < _SMALL_PX:
        flags.append("small")
    if is_over_exposed(find, patch):
        flags.append("over-exposed")
    footprint = _footprint(find, patch.valid.shape)
    if not _is_whole(find, patch.valid.shape):
        flags.append("at window edge")
    if footprint.any() and patch.valid[footprint].mean() < _WHOLE_SHARE:
        flags.append("partly without data")
    return flags


def is_over_exposed(find: Find, patch: RasterPatch) -> bool:
    """Return whether more than a twentieth of the target is as bright as the file can say."""
    return _saturated_share(patch, _footprint(find, patch.valid.shape)) > _SATURATED_SHARE


def _is_whole(find: Find, shape: tuple[int, ...]) -> bool:
    """Return whether all four corners of the target lie in the window."""
    corners = np.linalg.solve(find.fit.shape.axes, np.array([[1, 1, -1, -1], [1, -1, 1, -1]]))
    rows, cols = corners + np.array([[find.fit.shape.row], [find.fit.shape.col]])
    inside = (rows >= 0) & (rows <= shape[0]) & (cols >= 0) & (cols <= shape[1])
    return bool(inside.all())


def _footprint(find: Find, shape: tuple[int, ...]) -> BoolArray:
    rows, cols = np.mgrid[: shape[0], : shape[1]] + 0.5
    return find.fit.pattern.footprint(*find.fit.shape.own_axes(rows, cols))


def _saturated_share(patch: RasterPatch, footprint: BoolArray) -> float:
    """Return the share of the target at the largest value the file can hold; 0 for floating point."""
    if not np.issubdtype(patch.values.dtype, np.integer) or not footprint.any():
        return 0.0
    largest = np.iinfo(str(patch.values.dtype)).max
    return float((patch.values[:, footprint] == largest).any(axis=0).mean())
