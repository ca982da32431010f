"""Draw the pictures of the explanations: `python -m tests.explanation_pictures`.

They are drawn from the code that they explain; `tests/test_explained_numbers.py` fails where a picture
is out of step with it.
"""

import math
from pathlib import Path

from geoqa.accuracy.intervals import rmse_bounds

PICTURE = Path(__file__).parents[1] / "docs" / "explanation" / "what-n-points-prove.svg"
WIDTH, HEIGHT = 760, 430
LEFT, RIGHT, TOP, BOTTOM = 70, 20, 60, 60
COUNTS = (3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 18, 20, 25, 30, 40, 50, 60, 80, 100, 120)
LABELLED = (5, 10, 20, 30, 60, 120)
LOWEST, HIGHEST = 0.5, 4.0
# Okabe and Ito 2008, colour universal design: vermilion and blue stay apart for all readers.
HEIGHT_COLOUR, PLAN_COLOUR = "#d55e00", "#0072b2"


def across(count):
    """Return the place of a number of points, on a logarithmic axis."""
    share = math.log(count / COUNTS[0]) / math.log(COUNTS[-1] / COUNTS[0])
    return LEFT + share * (WIDTH - LEFT - RIGHT)


def up(ratio):
    """Return the place of a ratio, on a logarithmic axis."""
    share = math.log(ratio / LOWEST) / math.log(HIGHEST / LOWEST)
    return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def band(freedom_per_point, colour):
    """Return the area between both ends of the interval."""
    ends = [(count, rmse_bounds(1.0, freedom_per_point * count).interval_m) for count in COUNTS]
    path = [(across(count), up(low)) for count, (low, _) in ends]
    path += [(across(count), up(min(high, HIGHEST))) for count, (_, high) in reversed(ends)]
    places = " ".join(f"{x:.1f},{y:.1f}" for x, y in path)
    return f'<polygon points="{places}" fill="{colour}" fill-opacity="0.35" stroke="{colour}"/>'


def text(x, y, words, *, anchor="middle", size=13, colour="#000000"):
    """Return words at a place."""
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
    return f'<text {place} font-size="{size}" fill="{colour}">{words}</text>'


def axes():
    """Yield grid lines with their labels."""
    for count in LABELLED:
        x = across(count)
        yield f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{HEIGHT - BOTTOM}" stroke="#d0d0d0"/>'
        yield text(x, HEIGHT - BOTTOM + 18, str(count))
    for ratio in (0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0):
        y, width = up(ratio), 2 if ratio == 1.0 else 1
        colour = "#000000" if ratio == 1.0 else "#d0d0d0"
        ends = f'x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"'
        yield f'<line {ends} stroke="{colour}" stroke-width="{width}"/>'
        yield text(LEFT - 8, y + 4, f"{ratio:g} ×", anchor="end")


def picture():
    """Return the picture as SVG."""
    words = (
        text(
            LEFT,
            24,
            "Where the true RMSE may lie (95 %), times the one found",
            anchor="start",
            size=15,
        ),
        text(LEFT, 46, "height: one number a point", anchor="start", colour=HEIGHT_COLOUR),
        text(LEFT + 210, 46, "plan, equal axes: two numbers a point", anchor="start", colour=PLAN_COLOUR),
        text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 14, "number of checkpoints"),
        text(across(5) + 6, up(2.4526) - 6, "5 points: up to 2.45 ×", anchor="start"),
        text(across(30) + 6, up(1.3367) - 10, "30 points: up to 1.34 ×", anchor="start"),
    )
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" '
        'role="img" aria-label="Two bands that close in on the RMSE found as the number of points grows">'
    )
    background = f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
    bands = (band(1, HEIGHT_COLOUR), band(2, PLAN_COLOUR))
    return "\n".join((head, background, *axes(), *bands, *words, "</svg>")) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(picture(), "utf-8", newline="\n")
