"""National Standard for Spatial Data Accuracy, FGDC-STD-007.3-1998."""

import math

from geoqa.accuracy.distribution import sparse_quadrants
from geoqa.accuracy.limits import checkpoints, metres, within_limit
from geoqa.accuracy.options import Option, read_options
from geoqa.numerics.circular_error import circular_error, principal_rms
from geoqa.records.results import ComponentStatistics, Judgement, JudgementVerdict
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "nssda-1998"
SOURCE = (
    "Federal Geographic Data Committee, Geospatial Positioning Accuracy Standards, Part 3: National "
    "Standard for Spatial Data Accuracy, FGDC-STD-007.3-1998. Not read in the original: sections 3.1 to "
    "3.3 and appendices 3-A and 3-C as quoted in a public transcription; what is from memory says so."
)
_AS_QUOTED = "as quoted in a public transcription"

CONFIDENCE = 0.95
# [NSSDA1998], appendix 3-A, case 1: factor of the radial RMSE.
FACTOR_RADIAL = 1.7308
# [NSSDA1998], appendix 3-A, case 2: factor of the mean of RMSE_x and RMSE_y.
FACTOR_MEAN = 2.4477
# [NSSDA1998], appendix 3-A, case 2: least ratio of the smaller RMSE to the larger.
LEAST_RATIO = 0.6
# [NSSDA1998], appendix 3-A: factor of RMSE_z.
FACTOR_VERTICAL = 1.9600
# [NSSDA1998], section 3.2.2.
FEWEST_CHECKPOINTS = 20
# [NSSDA1998], appendix 3-C: least share in each quarter of a rectangular area.
QUADRANT_SHARE = 0.20

# Statements of [NSSDA1998], section 3.2.3.
_TESTED = "Tested {value} {direction} accuracy at 95% confidence level"
_COMPILED = "Compiled to meet {value} {direction} accuracy at 95% confidence level"

OPTIONS = (
    Option("horizontal_95_m", "Horizontal limit at 95 % confidence", "m"),
    Option("vertical_95_m", "Vertical limit at 95 % confidence", "m"),
)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return the horizontal and the vertical accuracy at 95 % confidence.

    The standard sets no limits of its own. They are the options `horizontal_95_m` and
    `vertical_95_m`, else the limits on the RMSE times the standard's factors; without either, the
    figure is stated and not assessed.
    """
    options = read_options(ID, request.options, OPTIONS)
    return (
        _horizontal(case, _limit(options.get("horizontal_95_m"), request.horizontal_rmse_m, FACTOR_RADIAL)),
        _vertical(case, _limit(options.get("vertical_95_m"), request.vertical_rmse_m, FACTOR_VERTICAL)),
    )


def _limit(given_m: float | None, rmse_m: float | None, factor: float) -> tuple[float | None, str | None]:
    """Return the limit at 95 % and, where it was derived, a sentence that says so."""
    if given_m is not None:
        return given_m, None
    if rmse_m is None:
        return None, None
    derived = f"The limit is {factor:.4f} times the RMSE of {metres(rmse_m)} asked for."
    return factor * rmse_m, derived


def radial_accuracy(rmse_x_m: float, rmse_y_m: float) -> float | None:
    """Return Accuracy_r of the standard; None where it has no formula.

    References
    ----------
    [NSSDA1998]_, appendix 3-A: case 1 for RMSE_x = RMSE_y; case 2 for a ratio from 0.6 to 1.0 (its
    formula from memory).

    Examples
    --------
    >>> round(radial_accuracy(0.1, 0.1), 4), round(radial_accuracy(0.08, 0.1), 4)
    (0.2448, 0.2203)
    >>> radial_accuracy(0.01, 0.1) is None
    True
    """
    if math.isclose(rmse_x_m, rmse_y_m, rel_tol=1e-9, abs_tol=1e-12):
        return FACTOR_RADIAL * math.hypot(rmse_x_m, rmse_y_m)
    if min(rmse_x_m, rmse_y_m) / max(rmse_x_m, rmse_y_m) < LEAST_RATIO:
        return None
    return FACTOR_MEAN * 0.5 * (rmse_x_m + rmse_y_m)


def _horizontal(case: StandardCase, limit: tuple[float | None, str | None]) -> Judgement:
    part = case.statistics.horizontal
    if part.count == 0:
        return _judgement("horizontal", part, None, limit, (), "no checkpoint could be used")
    east_m, north_m = case.statistics.east.rmse_m, case.statistics.north.rmse_m
    exact_m = circular_error(CONFIDENCE, *principal_rms(case.residuals.used_horizontal_m))
    caveats = [
        f"The circle that holds 95 % of normal errors of this size, by exact integration along the "
        f"principal axes, has a radius of {metres(exact_m)}."
    ]
    rows = case.residuals.horizontal.used
    sparse = sparse_quadrants(case.residuals.survey_m[rows, :2], case.mapped_area_m, QUADRANT_SHARE)
    caveats += [sparse] if sparse else []
    value_m = radial_accuracy(east_m, north_m)
    if value_m is None:
        reason = (
            f"the standard has no formula where the smaller of RMSE_x {metres(east_m)} and RMSE_y "
            f"{metres(north_m)} is less than {LEAST_RATIO} of the larger"
        )
        return _judgement("horizontal", part, None, limit, tuple(caveats), reason)
    return _judgement("horizontal", part, value_m, limit, tuple(caveats))


def _vertical(case: StandardCase, limit: tuple[float | None, str | None]) -> Judgement:
    part = case.statistics.up
    if part.count == 0:
        return _judgement("vertical", part, None, limit, (), "no checkpoint could be used")
    rows = case.residuals.vertical.used
    sparse = sparse_quadrants(case.residuals.survey_m[rows, :2], case.mapped_area_m, QUADRANT_SHARE)
    value_m = FACTOR_VERTICAL * part.rmse_m
    return _judgement("vertical", part, value_m, limit, (sparse,) if sparse else ())


def _judgement(
    direction: str,
    part: ComponentStatistics,
    value_m: float | None,
    limit: tuple[float | None, str | None],
    caveats: tuple[str, ...],
    reason: str = "",
) -> Judgement:
    limit_m, derived = limit
    few = (_few(part),) if 0 < part.count < FEWEST_CHECKPOINTS else ()
    return Judgement(
        standard=ID,
        clause=f"appendix 3-A, section 3.2.3 ({_AS_QUOTED})",
        quantity=f"{direction} accuracy at 95 % confidence",
        value=value_m,
        unit="m",
        limit=limit_m,
        verdict=_verdict(part.count, value_m, limit_m),
        sentence=_statement(direction, part.count, value_m, limit_m, reason),
        count=part.count,
        count_required=FEWEST_CHECKPOINTS,
        caveats=(*few, *((derived,) if derived else ()), *caveats),
    )


def _verdict(count: int, value_m: float | None, limit_m: float | None) -> JudgementVerdict:
    if value_m is None or limit_m is None or count < FEWEST_CHECKPOINTS:
        return JudgementVerdict.NOT_ASSESSED
    return JudgementVerdict.MET if within_limit(value_m, limit_m) else JudgementVerdict.NOT_MET


def _statement(direction: str, count: int, value_m: float | None, limit_m: float | None, reason: str) -> str:
    if value_m is None:
        return f"The {direction} accuracy at 95% confidence level is not stated: {reason}."
    form = _TESTED if count >= FEWEST_CHECKPOINTS else _COMPILED
    stated = form.format(value=metres(value_m, limit_m, unit="meters"), direction=direction)
    if limit_m is None:
        return f"{stated}."
    relation = "within" if within_limit(value_m, limit_m) else "beyond"
    return f"{stated}, {relation} the limit of {metres(limit_m, unit='meters')}."


def _few(part: ComponentStatistics) -> str:
    larger = part.rmse_upper95_m / part.rmse_m if part.rmse_m > 0 else 1.0
    return (
        f"A test by this standard takes {FEWEST_CHECKPOINTS} checkpoints; the figure is an estimate from "
        f"{checkpoints(part.count)}, and the true one may be {larger:.1f} times as large (95 % upper bound)."
    )


STANDARD = Standard(
    id=ID,
    title="National Standard for Spatial Data Accuracy (FGDC-STD-007.3-1998)",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
