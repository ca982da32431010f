"""Numbers as text for a person: true minus sign, an em dash for a missing value."""

import math

MISSING = "—"
MINUS = "−"
# Groups of three digits stand apart by a narrow space that does not break (ISO 80000-1, 7.3.1).
GROUP = "\u202f"


def fixed(value: float | None, digits: int, *, signed: bool = False) -> str:
    """Return a number with so many decimals.

    None and NaN give an em dash, an infinite value ∞. Zero after rounding carries no sign.

    Examples
    --------
    >>> fixed(-0.0123, 3)
    '−0.012'
    >>> fixed(-0.0001, 3)
    '0.000'
    >>> fixed(None, 3)
    '—'
    """
    if value is None or math.isnan(value):
        return MISSING
    if math.isinf(value):
        return "∞" if value > 0 else f"{MINUS}∞"
    text = f"{abs(value):.{digits}f}"
    if not text.strip("0."):
        return text
    return (MINUS if value < 0 else "+" if signed else "") + text


def metres(value: float | None, *, signed: bool = False) -> str:
    """Return a length in metres to the millimetre, without the unit.

    Examples
    --------
    >>> metres(0.0214, signed=True)
    '+0.021'
    """
    return fixed(value, 3, signed=signed)


def centimetres(value_m: float | None, *, signed: bool = False) -> str:
    """Return a length given in metres as centimetres to the millimetre, without the unit.

    Examples
    --------
    >>> centimetres(-0.0214, signed=True)
    '−2.1'
    """
    return fixed(None if value_m is None else 100 * value_m, 1, signed=signed)


def whole(value: int) -> str:
    """Return a count; five digits and more in groups of three.

    Examples
    --------
    >>> whole(1234)
    '1234'
    >>> whole(100000).replace(GROUP, " ")
    '100 000'
    """
    return str(value) if abs(value) < 10_000 else f"{value:,}".replace(",", GROUP).replace("-", MINUS)


def plain(value: float | None) -> str:
    """Return a number with up to six significant digits and no trailing zeros, for limits and counts.

    Examples
    --------
    >>> plain(0.05)
    '0.05'
    >>> plain(-20.0)
    '−20'
    """
    if value is None or not math.isfinite(value):
        return fixed(value, 0)
    text = f"{value:.6g}"
    return (
        f"{value:.9f}".rstrip("0").rstrip(".").replace("-", MINUS)
        if "e" in text
        else text.replace("-", MINUS)
    )


def interval(low_high_m: tuple[float, float] | None) -> str:
    """Return an interval in metres, without the unit; an em dash where it is missing.

    Examples
    --------
    >>> interval((0.012, 0.034))
    '0.012 to 0.034'
    """
    if low_high_m is None or math.isnan(low_high_m[0]) or math.isnan(low_high_m[1]):
        return MISSING
    return f"{metres(low_high_m[0])} to {metres(low_high_m[1])}"
