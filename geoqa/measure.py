"""Measure the products at the points: target centres in the orthomosaic, heights on the surface."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from geoqa.errors import InputError
from geoqa.frame.base_products import height_change_m
from geoqa.frame.declare import Products
from geoqa.frame.rasters import covariance_to_m2, from_pixels, to_pixels
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.readers.surface import read_surface, read_surface_beside
from geoqa.records.measurements import (
    RasterInfo,
    RasterPatch,
    SurfaceSamples,
    SurfaceStatus,
    TargetFix,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.profiles import SurfaceProfiles
from geoqa.records.settings import Requirement, Targets
from geoqa.seek import COMMON_SHIFT, MARKED_BY_HAND, NO_TARGET, seek
from geoqa.surface.profile import profile_places_m, profile_steps
from geoqa.targets import KINDS

ANY_KIND = "auto"

# Of more points nobody looks at each profile, and the results stay small.
_MOST_PROFILED = 200

# Common practice: a map is good to one or two pixels in plan; between the cells of a surface wider than some
# tens of times the limit the ground does what it likes.
_COARSEST_PIXEL, _COARSEST_CELL = 1.0, 40.0


def measure_targets(
    checkpoints: Checkpoints, products: Products, targets: Targets, *, marks: Checkpoints | None = None
) -> tuple[TargetFixes, tuple[RasterPatch | None, ...]]:
    """Return the target centres, one row a point, and the windows they were sought in.

    Parameters
    ----------
    checkpoints
        Points in the common frame. A point whose target is "none" is not sought.
    products
        Without an orthomosaic nothing is sought.
    targets
        Kind, size and search radius where a point does not name its own kind.
    marks
        Centres that a person marked; they stand before the locator.
    """
    fixes = [TargetFix(TargetStatus.NOT_SOUGHT)] * len(checkpoints)
    patches: tuple[RasterPatch | None, ...] = (None,) * len(checkpoints)
    kinds = kinds_sought(checkpoints.targets, targets.kind)
    marked = {} if marks is None else _marked_rows(checkpoints, marks)
    orthomosaic, frame = products.orthomosaic, products.frame
    if orthomosaic is not None:
        kinds = [MARKED_BY_HAND if row in marked else kind for row, kind in enumerate(kinds)]
        patches = seek(fixes, kinds, checkpoints, orthomosaic, frame, targets, products.base)
    found = _in_common_frame(fixes, orthomosaic, frame)
    if marks is not None:
        found = _with_marks(found, marks, marked, orthomosaic, frame)
    return found, patches


def shift_note(checkpoints: Checkpoints, fixes: TargetFixes, targets: Targets) -> Iterator[str]:
    """Yield a sentence where the targets were found one common shift away from where they should be."""
    moved = [COMMON_SHIFT in fix.flags for fix in fixes.fixes]
    if any(moved):
        shifts = (fixes.position_m - checkpoints.position_m[:, :2])[moved]
        east, north = np.median(shifts, axis=0)
        yield (
            f"{sum(moved)} targets lie together {np.hypot(east, north):.2f} m from their surveyed places "
            f"(east {east:+.2f} m, north {north:+.2f} m), beyond the search radius of "
            f"{targets.search_radius_m:g} m. The residuals are measured there, with the flag “common shift”. "
            "A base correction on one side only, or two datums, show themselves so: see the findings."
        )


def kinds_sought(named: Sequence[str | None], default: str) -> list[str]:
    """Return the kind to seek at each point, or raise `InputError` naming the kinds that exist."""
    kinds = [kind or default for kind in named]
    known = {*KINDS.all(), ANY_KIND, NO_TARGET}
    unknown = sorted({*kinds, default} - known)
    if unknown:
        message = (
            f"Target kind “{unknown[0]}” is not known. Use one of {', '.join(sorted(known))} "
            "in targets.kind and in the target column."
        )
        raise InputError(message)
    return kinds


def measure_surface(
    checkpoints: Checkpoints, products: Products, *, sought: BoolArray, given_height_m: FloatArray
) -> SurfaceSamples:
    """Return the heights of the elevation raster at the surveyed places, one row a point.

    Parameters
    ----------
    sought : array of bool, shape (n,)
        False where no height is wanted.
    given_height_m : array, shape (n,)
        Heights that came with marks, NaN elsewhere; they stand in where there is no raster.
    """
    if products.elevation is None:
        return _given_heights(sought, given_height_m)
    info, position = products.elevation, checkpoints.position_m
    places = to_pixels(position[:, :2], products.frame, info)
    read = read_surface(info, places, value_unit_m=products.height_unit.metres, sought=sought)
    return replace(read, height_m=read.height_m + height_change_m(position, products))


def measure_heights(
    checkpoints: Checkpoints, products: Products, fixes: TargetFixes, *, profiled: bool
) -> tuple[SurfaceSamples, SurfaceProfiles | None]:
    """Return the heights where the survey has one, and profiles of the surface, from one pass over the file.

    Parameters
    ----------
    fixes
        Heights that came with marks stand in where there is no raster.
    profiled
        Whether profiles are wanted.

    Returns
    -------
    samples
        As of `measure_surface`.
    profiles
        None where they are not wanted, where there is no raster or its cells have no size in metres, and
        where no height or more than 200 are sought. A point outside the raster, or in its outer half cell,
        has none.
    """
    info, sought = products.elevation, np.isfinite(checkpoints.position_m[:, 2])
    rows = np.flatnonzero(sought)
    few = 0 < len(rows) <= _MOST_PROFILED
    if not (profiled and few) or info is None or not np.isfinite(info.cell_size_m):
        given_m = fixes.given_height_m
        return measure_surface(checkpoints, products, sought=sought, given_height_m=given_m), None
    position = checkpoints.position_m
    along_m = profile_places_m(position[rows, :2], info.cell_size_m)
    beside = np.full((len(position), along_m[0, ..., 0].size, 2), np.nan)
    beside[rows] = to_pixels(along_m.reshape(-1, 2), products.frame, info).reshape(len(rows), -1, 2)
    places, unit_m = to_pixels(position[:, :2], products.frame, info), products.height_unit.metres
    read, heights = read_surface_beside(info, places, beside, value_unit_m=unit_m, sought=sought)
    change_m = height_change_m(position, products)
    inside = np.flatnonzero(np.isfinite(heights).any(axis=1))
    height_m = (heights + change_m[:, None])[inside].reshape(len(inside), *along_m.shape[1:3])
    profiles = SurfaceProfiles(tuple(inside.tolist()), profile_steps(info.cell_size_m)[0], height_m)
    return replace(read, height_m=read.height_m + change_m), profiles


def _given_heights(sought: BoolArray, given_height_m: FloatArray) -> SurfaceSamples:
    """Return the heights that came with marks, where there is no raster."""
    given = sought & np.isfinite(given_height_m)
    unknown = np.full(len(sought), np.nan)
    return SurfaceSamples(
        statuses=tuple(SurfaceStatus.GIVEN if item else SurfaceStatus.NOT_SOUGHT for item in given),
        reasons=(None,) * len(sought),
        height_m=np.where(given, given_height_m, np.nan),
        gradient=np.full((len(sought), 2), np.nan),
        roughness_m=unknown,
        relief_m=unknown,
    )


def coarse_products(products: Products, asked: Requirement) -> Iterator[str]:
    """Yield a sentence for each product whose cells are too large to carry the accuracy asked for."""
    cases = (
        ("orthomosaic", products.orthomosaic, asked.horizontal_rmse_m, _COARSEST_PIXEL),
        ("elevation raster", products.elevation, asked.vertical_rmse_m, _COARSEST_CELL),
    )
    for name, info, limit_m, factor in cases:
        if info is not None and limit_m is not None and info.cell_size_m > factor * limit_m:
            yield (
                f"The cells of the {name} are {info.cell_size_m:.3g} m wide; they cannot carry a test "
                f"against a limit of {limit_m:g} m."
            )


def _in_common_frame(
    fixes: list[TargetFix], orthomosaic: RasterInfo | None, frame: CommonFrame
) -> TargetFixes:
    count = len(fixes)
    position, covariance = np.full((count, 2), np.nan), np.full((count, 2, 2), np.nan)
    if orthomosaic is not None and count:
        pixels = np.array([(fix.row, fix.col) for fix in fixes])
        located = np.isfinite(pixels).all(axis=1)
        spread = np.array([fix.covariance_px2 for fix in fixes])[located]
        position[located] = from_pixels(pixels[located], frame, orthomosaic)
        covariance[located] = covariance_to_m2(spread, frame, orthomosaic, pixels[located])
    return TargetFixes(tuple(fixes), position, covariance, np.full(count, np.nan))


def _with_marks(
    fixes: TargetFixes,
    marks: Checkpoints,
    marked: Mapping[int, int],
    orthomosaic: RasterInfo | None,
    frame: CommonFrame,
) -> TargetFixes:
    """Return the fixes with those replaced for which a person marked the centre."""
    items = list(fixes.fixes)
    position, covariance = fixes.position_m.copy(), fixes.covariance_m2.copy()
    height = fixes.given_height_m.copy()
    pixels = np.full((len(marks), 2), np.nan)
    if orthomosaic is not None:
        pixels = to_pixels(marks.position_m[:, :2], frame, orthomosaic)
    for row, index in marked.items():
        row_px, col_px = (float(value) for value in pixels[index])
        items[row] = TargetFix(TargetStatus.MARKED, row=row_px, col=col_px, score=1.0)
        position[row] = marks.position_m[index, :2]
        covariance[row] = np.diag(marks.sigma_m[index, :2] ** 2)
        height[row] = marks.position_m[index, 2]
    return TargetFixes(tuple(items), position, covariance, height)


def _marked_rows(checkpoints: Checkpoints, marks: Checkpoints) -> dict[int, int]:
    """Return row of the point → row of its mark, or raise `InputError` naming a mark that fits none."""
    row_of = {name: row for row, name in enumerate(checkpoints.ids)}
    rows: dict[int, int] = {}
    for index, name in enumerate(marks.ids):
        if name not in row_of:
            message = (
                f"{marks.origin(index)}: the mark “{name}” has no surveyed point of that name. "
                "Mend the id, or take the line out."
            )
            raise InputError(message)
        if row_of[name] in rows:
            message = f"{marks.origin(index)}: the mark “{name}” stands twice. Keep one of the lines."
            raise InputError(message)
        rows[row_of[name]] = index
    return rows
