"""Text on pictures: one font that comes with matplotlib, and only characters that it has."""

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties
    from PIL.ImageFont import FreeTypeFont

_MEASURED_SIZE = 100
_UNKNOWN = "□"
_ELLIPSIS = "…"


@cache
def font_path(*, bold: bool = False) -> str:
    """Return the path of DejaVu Sans as matplotlib carries it."""
    import matplotlib

    return f"{matplotlib.get_data_path()}/fonts/ttf/DejaVuSans{'-Bold' if bold else ''}.ttf"


def font(size_pt: float, *, bold: bool = False) -> "FontProperties":
    """Return the font in this size."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=font_path(bold=bold), size=size_pt)


@cache
def _characters() -> frozenset[int]:
    from matplotlib.font_manager import get_font

    return frozenset(get_font(font_path()).get_charmap())


def drawable(text: str) -> str:
    """Return the text on one line, with a box for characters that the font lacks.

    Examples
    --------
    >>> drawable("CP\\n1")
    'CP 1'
    """
    known = _characters()
    return "".join(letter if ord(letter) in known else _UNKNOWN for letter in " ".join(text.split()))


def text_width(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return the width of a line of text, in points."""
    return _measure(bold=bold).getlength(text) * size_pt / _MEASURED_SIZE


@cache
def _measure(*, bold: bool) -> "FreeTypeFont":
    # matplotlib measures with hinting, which at small sizes makes words up to a tenth too wide.
    from PIL import ImageFont

    return ImageFont.truetype(font_path(bold=bold), _MEASURED_SIZE, layout_engine=ImageFont.Layout.BASIC)


def fitted(text: str, size_pt: float, width_pt: float, *, bold: bool = False) -> str:
    """Return the text, cut with an ellipsis where it would be wider than so many points."""
    line = drawable(text)
    if text_width(line, size_pt, bold=bold) <= width_pt:
        return line
    while line and text_width(line + _ELLIPSIS, size_pt, bold=bold) > width_pt:
        line = line[:-1]
    return line.rstrip() + _ELLIPSIS
