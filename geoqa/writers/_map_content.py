"""What the map picture shows of an assessment, as plain arrays: nothing is drawn here."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from shapely.geometry.base import BaseGeometry

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.writers._exaggeration import Extent, exaggeration
from geoqa.writers._map_frame import Ground, fitted, ground
from geoqa.writers._map_notes import DIRECTIONS, UnusedNote, label_text, labelled, unused_notes
from geoqa.writers._map_vectors import Ellipses, Vectors, ellipses, in_full, vectors
from geoqa.writers._symbols import PALE, HeightClass, height_class_of, height_classes
from geoqa.writers._untested import untested


class Part(StrEnum):
    """Which direction of the residuals a map shows."""

    BOTH = "both"
    PLAN = "plan"
    HEIGHTS = "heights"

    @property
    def directions(self) -> tuple[str, ...]:
        """Return the directions that it shows: plan, height or both."""
        return {Part.PLAN: DIRECTIONS[:1], Part.HEIGHTS: DIRECTIONS[1:]}.get(self, DIRECTIONS)


@dataclass(frozen=True, eq=False)
class MapContent:
    """All that the map shows, in metres of the common frame.

    Attributes
    ----------
    extent_m
        West, south, east, north of the frame.
    position_m : array, shape (n, 2)
        Surveyed places of all points, NaN where there is none.
    height_class : array, shape (n,)
        Class of the vertical residual; -1 where the height does not count.
    plan_used, in_full, dots : array, shape (n,)
        Whether the point counts for the plan; is drawn with mark and vector; is drawn as a dot.
    labels
        Row of a point → the text beside it.
    untested
        The part of the product outside the hull of the points that count.
    """

    part: Part

    extent_m: Extent
    ground: Ground
    exaggeration: float
    position_m: FloatArray
    classes: tuple[HeightClass, ...]
    height_class: IntArray
    plan_used: BoolArray
    in_full: BoolArray
    dots: BoolArray
    outline_known: bool
    vectors: Vectors
    ellipses: Ellipses
    labels: Mapping[int, str]
    unused: tuple[UnusedNote, ...]
    untested: BaseGeometry


def map_content(assessment: Assessment, aspect: float, part: Part = Part.BOTH) -> MapContent:
    """Return what the map shows in a frame of this width over height."""
    residuals = assessment.residuals
    factor, place = exaggeration(assessment), ground(assessment)
    classes, height_class = _classes(assessment, part)
    named = labelled(assessment, place.shown, part.directions)
    full = in_full(assessment, place, named)
    measured = np.isfinite(residuals.delta_m[:, :2]).all(axis=1) & (part is not Part.HEIGHTS)
    drawn = vectors(assessment, place, np.flatnonzero(full & measured), factor)
    around = ellipses(assessment, drawn, factor)
    cut = set(drawn.index[drawn.cut].tolist())
    return MapContent(
        part=part,
        extent_m=fitted(place.site_m, _reach(drawn, around, place), aspect),
        ground=place,
        exaggeration=factor,
        position_m=np.asarray(residuals.survey_m[:, :2]),
        classes=classes,
        height_class=height_class,
        plan_used=np.asarray(residuals.horizontal.used),
        in_full=full,
        dots=place.shown & ~full,
        outline_known=bool(len(assessment.mapped_area_m)),
        vectors=drawn,
        ellipses=around,
        labels=MappingProxyType(
            {row: label_text(assessment, row, part.directions, cut=row in cut) for row in named.tolist()}
        ),
        unused=unused_notes(assessment, part.directions),
        untested=untested(assessment, part.directions),
    )


def _classes(assessment: Assessment, part: Part) -> tuple[tuple[HeightClass, ...], IntArray]:
    """Return the classes of the marks and the class of each point; -1 where it does not count."""
    residuals = assessment.residuals
    if part is Part.PLAN:
        return (HeightClass(-np.inf, np.inf, PALE, "counts"),), np.where(residuals.horizontal.used, 0, -1)
    classes = height_classes(assessment)
    up = np.where(residuals.vertical.used, residuals.delta_m[:, 2], np.nan)
    return classes, height_class_of(up, classes)


def _reach(drawn: Vectors, around: Ellipses, place: Ground) -> FloatArray:
    """Return the outermost places of vectors and ellipses; a huge ellipse may run out of the frame."""
    boxes = around.boxes_m[around.half_axes_m.max(axis=1, initial=0.0) < place.side_m / 4]
    return np.vstack([drawn.tip_m, boxes[:, :2], boxes[:, 2:]])
