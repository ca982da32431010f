"""Places for labels beside points, so that they cover neither each other nor what is drawn.

Lengths are points of the page (1/72 inch), counted from its lower left corner. A label tries places
around its point in rings; the cheapest place wins. Labels in crowded spots choose first, then each
chooses again knowing the others.
"""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray

# Preferred first: beside the point on the right, above right and so on round to below.
_DIRECTIONS_DEG = (0, 45, 180, 135, 315, 225, 90, 270, 22, 158, 338, 202, 67, 113, 293, 247)
_RINGS_PT = (0.0, 5.0, 11.0, 20.0, 32.0, 48.0)
# From this ring on a line leads from the label to its point.
_LEADER_FROM_PT = 11.0
_AIR_PT = 1.5
_ROUNDS = 2
# What a place costs: anything above `_FORBIDDEN` is not taken.
_FORBIDDEN = 1000.0
_PER_POINT_OF_DISTANCE = 1.0
_PER_RANK = 0.6
_PER_SOFT = 1.5
_PER_CROSSING = 30.0
# A label without a line that lies nearer to another mark than to its own is misread.
_PER_RIVAL, _RIVAL_AIR_PT = 40.0, 2.0


@dataclass(frozen=True, eq=False)
class Obstacles:
    """What labels keep clear of.

    Attributes
    ----------
    boxes : array, shape (k, 4)
        West, south, east, north of markers: never covered.
    segments : array, shape (m, 4)
        Start and end of vectors, x and y of either: never covered.
    soft : array, shape (s, 4)
        Boxes that may be covered where there is no better place: ellipses.
    """

    boxes: FloatArray
    segments: FloatArray
    soft: FloatArray


@dataclass(frozen=True)
class Placed:
    """A label's lower left corner, and where its leader line ends on the label (None: no line)."""

    left: float
    bottom: float
    leader: tuple[float, float] | None


def place_labels(
    anchors: FloatArray,
    sizes: FloatArray,
    *,
    clearance: float,
    frame: tuple[float, float, float, float],
    obstacles: Obstacles,
) -> tuple[Placed | None, ...]:
    """Return a place for each label, None where every place would cover something.

    Parameters
    ----------
    anchors, sizes : array, shape (n, 2)
        Points that the labels name; width and height of the labels.
    clearance
        Radius of the marker at each anchor.
    frame
        West, south, east, north that labels may not cross.
    """
    candidates = [_candidates(anchor, size, clearance) for anchor, size in zip(anchors, sizes, strict=True)]
    fixed = [_fixed_cost(anchors[row], item, frame, obstacles) for row, item in enumerate(candidates)]
    # A label with few free places chooses before one with many.
    order = np.argsort([int((cost < _FORBIDDEN).sum()) for cost in fixed], kind="stable")
    taken: dict[int, FloatArray] = {}
    chosen: dict[int, int] = {}
    for _ in range(_ROUNDS):
        for row in order.tolist():
            taken.pop(row, None)
            chosen.pop(row, None)
            others = np.array(list(taken.values())).reshape(-1, 4)
            cost = fixed[row] + _FORBIDDEN * _overlaps(candidates[row], others).sum(axis=1)
            best = int(np.argmin(cost))
            if cost[best] < _FORBIDDEN:
                taken[row], chosen[row] = candidates[row][best], best
    return tuple(
        _placed(anchors[row], candidates[row][chosen[row]], chosen[row]) if row in chosen else None
        for row in range(len(anchors))
    )


def _candidates(anchor: FloatArray, size: FloatArray, clearance: float) -> FloatArray:
    """Return the boxes, shape (rings × directions, 4), nearest ring first."""
    angle = np.radians(_DIRECTIONS_DEG)
    towards = np.column_stack([np.cos(angle), np.sin(angle)])
    # The box touches the ring with the side or corner that looks at the point.
    half = towards / np.maximum(np.abs(towards).max(axis=1, keepdims=True), 1e-9) * size / 2
    centres = np.vstack([anchor + towards * (clearance + _AIR_PT + ring) + half for ring in _RINGS_PT])
    boxes: FloatArray = np.hstack([centres - size / 2, centres + size / 2])
    return boxes


def _fixed_cost(
    anchor: FloatArray, boxes: FloatArray, frame: tuple[float, float, float, float], obstacles: Obstacles
) -> FloatArray:
    west, south, east, north = frame
    outside = (boxes[:, 0] < west) | (boxes[:, 1] < south) | (boxes[:, 2] > east) | (boxes[:, 3] > north)
    grown = boxes + np.array([-_AIR_PT, -_AIR_PT, _AIR_PT, _AIR_PT])
    hard = _overlaps(boxes, obstacles.boxes).sum(axis=1) + _crossed(grown, obstacles.segments).sum(axis=1)
    soft = _overlaps(boxes, obstacles.soft).sum(axis=1)
    ring = np.repeat(_RINGS_PT, len(_DIRECTIONS_DEG))
    rank = np.tile(np.arange(len(_DIRECTIONS_DEG)), len(_RINGS_PT))
    through = np.where(ring >= _LEADER_FROM_PT, _leaders_crossing(anchor, boxes, obstacles), 0)
    return np.asarray(
        _FORBIDDEN * (outside + hard)
        + _PER_SOFT * soft
        + _PER_CROSSING * through
        + _PER_RIVAL * np.where(ring < _LEADER_FROM_PT, _rivals(anchor, boxes, obstacles), 0)
        + _PER_POINT_OF_DISTANCE * ring
        + _PER_RANK * rank
    )


def _placed(anchor: FloatArray, box: FloatArray, candidate: int) -> Placed:
    ring = _RINGS_PT[candidate // len(_DIRECTIONS_DEG)]
    end = _nearest(anchor, box[None])[0]
    leader = (float(end[0]), float(end[1])) if ring >= _LEADER_FROM_PT else None
    return Placed(float(box[0]), float(box[1]), leader)


def _nearest(anchor: FloatArray, boxes: FloatArray) -> FloatArray:
    """Return the place of each box, shape (k, 4), that lies nearest to the anchor."""
    return np.clip(anchor, boxes[:, :2], boxes[:, 2:])


def _leaders_crossing(anchor: FloatArray, boxes: FloatArray, obstacles: Obstacles) -> FloatArray:
    """Return how many marks and vectors the line from the anchor to each box runs over."""
    ends = _nearest(anchor, boxes)
    lines = np.hstack([np.broadcast_to(anchor, ends.shape), ends])
    # The mark at the anchor itself is always touched.
    marks = np.maximum(_crossed(obstacles.boxes, lines).sum(axis=0) - 1, 0)
    return np.asarray(marks + _cross(lines, obstacles.segments).sum(axis=1), dtype=float)


def _rivals(anchor: FloatArray, boxes: FloatArray, obstacles: Obstacles) -> FloatArray:
    """Return how many marks lie nearer to each box than the anchor does."""
    marks = (obstacles.boxes[:, :2] + obstacles.boxes[:, 2:]) / 2
    others = marks[np.hypot(*(marks - anchor).T) > _RIVAL_AIR_PT]
    nearest = np.clip(others[None], boxes[:, None, :2], boxes[:, None, 2:])
    away = np.hypot(*(others[None] - nearest).transpose(2, 0, 1))
    own = np.hypot(*(anchor - _nearest(anchor, boxes)).T)
    return np.asarray((away < own[:, None] + _RIVAL_AIR_PT).sum(axis=1), dtype=float)


def _overlaps(boxes: FloatArray, others: FloatArray) -> BoolArray:
    """Return for each pair, shape (k, m), whether the boxes share ground."""
    a, b = boxes[:, None], others[None]
    shared: BoolArray = (
        (a[..., 0] < b[..., 2]) & (b[..., 0] < a[..., 2]) & (a[..., 1] < b[..., 3]) & (b[..., 1] < a[..., 3])
    )
    return shared


def _crossed(boxes: FloatArray, segments: FloatArray) -> BoolArray:
    """Return for each pair, shape (k, m), whether the segment enters the box (Liang and Barsky 1984)."""
    start, step = segments[None, :, :2], (segments[:, 2:] - segments[:, :2])[None]
    step = np.where(step == 0, 1e-12, step)
    near = (boxes[:, None, :2] - start) / step
    far = (boxes[:, None, 2:] - start) / step
    enter = np.minimum(near, far).max(axis=2)
    leave = np.maximum(near, far).min(axis=2)
    crossed: BoolArray = (enter < leave) & (leave > 0) & (enter < 1)
    return crossed


def _cross(lines: FloatArray, segments: FloatArray) -> BoolArray:
    """Return for each pair, shape (k, m), whether the line crosses the segment; touching is not crossing."""
    a, b = lines[:, None, :2], lines[:, None, 2:]
    c, d = segments[None, :, :2], segments[None, :, 2:]
    crossed: BoolArray = (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)
    return crossed


def _side(p: FloatArray, q: FloatArray, r: FloatArray) -> FloatArray:
    """Return above zero where r lies left of the line from p to q."""
    turn: FloatArray = (q - p)[..., 0] * (r - p)[..., 1] - (q - p)[..., 1] * (r - p)[..., 0]
    return turn
