"""The height profiles through a point as a small drawing in numbers, made from the document of results."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geoqa.writers._numbers import metres, plain
from geoqa.writers._scale import tick_label, ticks

# Edges of the drawing's frame, in its units; `report_profile.html` draws axes and letters around it.
LEFT, RIGHT, TOP, BOTTOM = 52.0, 328.0, 22.0, 168.0
# Noise of a level surface is not blown up to fill the drawing.
_LEAST_SPAN_M = 0.1
_AIR = 0.08
_MOST_TICKS_ALONG, _MOST_TICKS_UP = 5, 5


@dataclass(frozen=True)
class ProfileDrawing:
    """Paths and places in units of the drawing.

    Attributes
    ----------
    west_east, south_north
        Path data; broken where the surface has holes, empty where it has nothing but holes.
    mark
        Of the surveyed height.
    along, up
        Place and words of each tick on the axes of distance and of height above the survey.
    words
        What the drawing shows, for those who do not see it.
    enlarged
        How many times larger heights are drawn than distances.
    """

    west_east: str
    south_north: str
    mark: tuple[float, float]
    along: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    words: str
    enlarged: str


def profile_drawing(entry: Mapping[str, Any]) -> ProfileDrawing | None:
    """Return the drawing of a point's profiles; None where the document has none for it."""
    profile, surveyed_m = entry["surface"]["profile"], entry["survey_m"][2]
    if profile is None or surveyed_m is None:
        return None
    to_east, to_north = (
        [None if height is None else height - surveyed_m for height in profile[name]]
        for name in ("west_east_m", "south_north_m")
    )
    reach_m = profile["step_m"] * (len(to_east) // 2)
    low, high = _range([*to_east, *to_north])
    along_unit, up_unit = (RIGHT - LEFT) / (2 * reach_m), (BOTTOM - TOP) / (high - low)

    def place(along_m: float, rise_m: float) -> tuple[float, float]:
        return LEFT + (along_m + reach_m) * along_unit, BOTTOM - (rise_m - low) * up_unit

    def path(rises: Sequence[float | None]) -> str:
        parts, pen = [], "M"
        for index, rise_m in enumerate(rises):
            if rise_m is not None:
                x, y = place(index * profile["step_m"] - reach_m, rise_m)
                parts.append(f"{pen}{x:.1f} {y:.1f}")
            pen = "M" if rise_m is None else "L"
        return " ".join(parts)

    along, along_step = ticks(-reach_m, reach_m, _MOST_TICKS_ALONG)
    up, up_step = ticks(low, high, _MOST_TICKS_UP)
    return ProfileDrawing(
        path(to_east),
        path(to_north),
        place(0.0, 0.0),
        tuple((place(at, low)[0], tick_label(at, along_step)) for at in along.tolist()),
        tuple((place(0.0, at)[1], tick_label(at, up_step)) for at in up.tolist()),
        _words(to_east, to_north, reach_m),
        plain(float(f"{up_unit / along_unit:.2g}")),
    )


def _range(rises: Sequence[float | None]) -> tuple[float, float]:
    """Return lowest and highest of the drawing, the surveyed height and some air within."""
    found = [0.0, *(rise for rise in rises if rise is not None)]
    low, high = min(found), max(found)
    air = max(_AIR * (high - low), 0.5 * (_LEAST_SPAN_M - (high - low)))
    return low - air, high + air


def _words(to_east: Sequence[float | None], to_north: Sequence[float | None], reach_m: float) -> str:
    named = (("west to east", to_east), ("south to north", to_north))
    told = "; ".join(f"{name} {_extremes(rises)}" for name, rises in named)
    return f"Surface minus surveyed height within {plain(round(reach_m, 2))} m: {told}."


def _extremes(rises: Sequence[float | None]) -> str:
    found = [rise for rise in rises if rise is not None]
    if not found:
        return "no data"
    holes = f", {len(rises) - len(found)} of {len(rises)} heights missing" if len(found) < len(rises) else ""
    return f"{metres(min(found), signed=True)} to {metres(max(found), signed=True)} m{holes}"
