"""The map of the report: a drawing in numbers, made from the document of results."""

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.measurements import Backdrop
from geoqa.writers._exaggeration import exaggeration
from geoqa.writers._map_frame import fitted, ground
from geoqa.writers._numbers import metres
from geoqa.writers._scale import length_text, round_below
from geoqa.writers._symbols import HeightClass, Shape, height_class_of, height_classes
from geoqa.writers._untested import untested

# The drawing is so many units wide and high; marks and letters have sizes in these.
WIDTH, HEIGHT = 1000.0, 720.0
_MOST_PX = 1100
_QUALITY = 62
_LETTER, _LABEL_HEIGHT, _MARK = 8.6, 20.0, 9.0
_BAR = 220.0
_NAMES = {Shape.HIGH: "up", Shape.LOW: "down", Shape.WITHIN: "round"}


@dataclass(frozen=True)
class Mark:
    """A point on the drawing; `east` and `south` are its residual in units, at its true size."""

    row: int
    id: str
    x: float
    y: float
    east: float
    south: float
    measured: bool
    used: bool
    shape: str
    rank: str
    label: bool
    words: str

    @property
    def left(self) -> bool:
        """Return whether the id stands on the left: a vector to the east would run through it."""
        return self.measured and self.east > 0


@dataclass(frozen=True)
class SiteMap:
    """All that the drawing shows.

    Attributes
    ----------
    factor
        How many times larger than nature vectors are drawn at first.
    picture
        Data URI of the pale orthomosaic and its transform to the drawing; None where there is none.
    outline, untested
        Path data of the product and of the part that no point supports; empty where not known.
    """

    factor: float
    marks: tuple[Mark, ...]
    picture: tuple[str, str] | None
    outline: str
    untested: str
    classes: tuple[tuple[str, str, str], ...]
    bar: tuple[float, str]
    frame: tuple[float, float, float, float]
    units_per_m: float


def site_map(assessment: Assessment, entries: Mapping[int, Mapping[str, Any]]) -> SiteMap:
    """Return the drawing of these points; `entries` are theirs in the document of results, by row."""
    place = ground(assessment)
    factor = exaggeration(assessment)
    tips = [
        (np.array(entry["survey_m"][:2]) + factor * np.array(entry["residual_m"][:2]))
        for entry in entries.values()
        if None not in entry["residual_m"][:2] and None not in entry["survey_m"][:2]
    ]
    reach = np.array(tips).reshape(-1, 2)
    side = place.side_m
    near = (
        reach[(np.abs(reach - np.array(place.site_m[:2]) - side / 2) < side).all(axis=1)]
        if len(reach)
        else reach
    )
    extent = fitted(place.site_m, near, WIDTH / HEIGHT)
    view = _View(extent)
    length = round_below(_BAR / view.scale)
    return SiteMap(
        factor=factor,
        marks=_labelled(_marks(assessment, entries, view)),
        picture=None if assessment.backdrop is None else _picture(assessment.backdrop, view),
        outline=view.path([assessment.mapped_area_m]) if len(assessment.mapped_area_m) > 2 else "",
        untested=view.path(list(_rings(untested(assessment, ("plan", "height"))))),
        classes=tuple(
            (_NAMES[item.shape], f"h{index}", item.label)
            for index, item in reversed(list(enumerate(height_classes(assessment))))
        ),
        bar=(length * view.scale, length_text(length)),
        frame=extent,
        units_per_m=view.scale,
    )


class _View:
    """From easting and northing to the drawing."""

    def __init__(self, extent: tuple[float, float, float, float]) -> None:
        west, _, east, north = extent
        self.corner = np.array([west, north])
        self.scale = WIDTH / (east - west)

    def at(self, plan_m: FloatArray) -> FloatArray:
        """Return x to the right and y downward, shape (n, 2)."""
        return np.asarray((np.asarray(plan_m) - self.corner) * [self.scale, -self.scale])

    def path(self, rings: Sequence[FloatArray]) -> str:
        """Return path data of closed rings."""
        words = (" L".join(f"{x:.1f},{y:.1f}" for x, y in self.at(ring).tolist()) for ring in rings)
        return " ".join(f"M{ring} Z" for ring in words)


def _rings(area: BaseGeometry) -> Iterator[FloatArray]:
    for part in getattr(area, "geoms", [area]):
        if part.geom_type == "Polygon" and not part.is_empty:
            for ring in (part.exterior, *part.interiors):
                yield np.array(ring.coords)[:, :2]


def _picture(backdrop: Backdrop, view: _View) -> tuple[str, str]:
    from PIL import Image

    from geoqa.writers._map_figure import pale

    step = max(1, -(-max(backdrop.grey.shape) // _MOST_PX))
    grey = pale(backdrop.grey)[::step, ::step]
    shade = np.where(np.isfinite(grey), np.round(255 * np.nan_to_num(grey)), 255).astype(np.uint8)
    held = BytesIO()
    Image.fromarray(shade).save(held, format="JPEG", quality=_QUALITY, optimize=True)
    uri = "data:image/jpeg;base64," + base64.b64encode(held.getvalue()).decode("ascii")
    t = backdrop.transform
    corner = view.at(np.array([[t.c, t.f]]))[0]
    a, b, c, d = (value * step * view.scale for value in (t.a, -t.d, t.b, -t.e))
    size = f'width="{shade.shape[1]}" height="{shade.shape[0]}"'
    matrix = f"matrix({a:.6f} {b:.6f} {c:.6f} {d:.6f} {corner[0]:.3f} {corner[1]:.3f})"
    return uri, f'{size} transform="{matrix}"'


def _marks(assessment: Assessment, entries: Mapping[int, Mapping[str, Any]], view: _View) -> Iterator[Mark]:
    classes = height_classes(assessment)
    for row, entry in entries.items():
        if None in entry["survey_m"][:2]:
            continue
        ((x, y),) = view.at(np.array([entry["survey_m"][:2]])).tolist()
        if not (0 <= x <= WIDTH and 0 <= y <= HEIGHT):
            continue
        east, north, up = entry["residual_m"]
        measured = east is not None and north is not None
        shape, rank = _height(entry, classes)
        yield Mark(
            row=row,
            id=entry["id"],
            x=x,
            y=y,
            east=east * view.scale if measured else 0.0,
            south=-north * view.scale if measured else 0.0,
            measured=measured,
            used=entry["horizontal"]["used"],
            shape=shape,
            rank=rank,
            label=True,
            words=(
                f"{entry['id']}: east {metres(east, signed=True)}, north {metres(north, signed=True)}, up "
                f"{metres(up, signed=True)} m"
            ),
        )


def _height(entry: Mapping[str, Any], classes: tuple[HeightClass, ...]) -> tuple[str, str]:
    up = entry["residual_m"][2]
    if not entry["vertical"]["used"] or up is None:
        return "square", "none"
    index = int(height_class_of(np.array([up]), classes)[0])
    return _NAMES[classes[index].shape], f"h{index}"


def _labelled(marks: Iterator[Mark]) -> tuple[Mark, ...]:
    """Return the marks; one whose id would lie over another id or mark goes without it at first."""
    from dataclasses import replace

    listed = list(marks)
    taken = [(mark.x - _MARK, mark.y - _MARK, mark.x + _MARK, mark.y + _MARK) for mark in listed]
    found = []
    for mark in listed:
        width = _LETTER * len(mark.id)
        west = mark.x - _MARK - 3 - width if mark.left else mark.x + _MARK + 3
        box = (west, mark.y - _LABEL_HEIGHT / 2, west + width, mark.y + _LABEL_HEIGHT / 2)
        free = box[0] >= 0 and box[2] <= WIDTH and not any(_overlap(box, other) for other in taken)
        if free:
            taken.append(box)
        found.append(mark if free else replace(mark, label=False))
    return tuple(found)


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
