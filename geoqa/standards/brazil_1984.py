"""Brazil, Decree 89.817 of 1984, and the army's table for digital products."""

from collections.abc import Iterator
from dataclasses import dataclass

from geoqa.accuracy.judging import Rule, counted, met, percent_beyond, plan_lengths
from geoqa.accuracy.limits import metres
from geoqa.accuracy.options import Option, read_options
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "brazil-1984"
SOURCE = (
    "Brazil, Decreto nº 89.817, 20 June 1984, articles 8 and 9 (read; class C from memory). The table "
    "PEC-PCD of the army's technical specifications ET-ADGV and ET-PCDG and its rule for root mean squares "
    "are from memory."
)
# [BR89817-1984], article 8: share of the points that may lie beyond the tolerance, in per cent.
MOST_BEYOND_PERCENT = 10.0
# [BR89817-1984], article 9: tolerance (PEC) and standard error (EP): millimetres at scale, contour intervals.
DECREE = {
    "A": (0.5, 0.3, 1 / 2, 1 / 3),
    "B": (0.8, 0.5, 3 / 5, 2 / 5),
    "C": (1.0, 0.6, 3 / 4, 1 / 2),
}
# [ET-ADGV2011], table PEC-PCD, from memory: the same columns.
DIGITAL = {
    "A": (0.28, 0.17, 0.27, 1 / 6),
    "B": (0.5, 0.3, 1 / 2, 1 / 3),
    "C": (0.8, 0.5, 3 / 5, 2 / 5),
    "D": (1.0, 0.6, 3 / 4, 1 / 2),
}
_ONE_AXIS = (
    "The decree takes the tolerance as 1.6449 standard errors, which is the factor of one axis; for "
    "distances in the plan the 90 % factor of equal axes is 2.1460 sigmas or 1.5174 RMSE_r."
)

OPTIONS = (
    Option("scale", "Scale number of the map, 1000 for 1:1000", required=True),
    Option("class", "Class of the table", choices=tuple(DIGITAL)),
    Option("table", "The decree's own table, or the army's for digital products", choices=("PEC", "PEC-PCD")),
    Option("contour_interval_m", "Contour interval; without it heights are not judged", "m"),
)


@dataclass(frozen=True)
class _Tested:
    """One direction: sizes of the residuals, their RMSE, tolerance and standard error, metres."""

    direction: str
    name: str
    size_m: FloatArray
    rmse_m: float
    tolerance_m: float
    error_m: float
    memory: bool


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return, for plan and height, the share beyond the tolerance and the RMSE against the standard error.

    Raises
    ------
    SettingsError
        For class D of the decree, which has none.
    """
    options = read_options(ID, request.options, OPTIONS)
    digital, letter = options.get("table", "PEC") == "PEC-PCD", options.get("class", "A")
    table = DIGITAL if digital else DECREE
    if letter not in table:
        letter_known = Option("class", "Class of the table", choices=tuple(DECREE))
        read_options(ID, {"class": letter}, (letter_known,))
    tolerance_mm, error_mm, tolerance_share, error_share = table[letter]
    memory, name = digital or letter == "C", f"{options.get('table', 'PEC')} class {letter}"
    figures, residuals = case.statistics, case.residuals
    scale = options["scale"] / 1000
    lengths_m = plan_lengths(residuals.used_horizontal_m)
    plan = ("horizontal", name, lengths_m, figures.horizontal.rmse_m, scale * tolerance_mm, scale * error_mm)
    tested = [_Tested(*plan, memory)]
    if "contour_interval_m" in options:
        interval = options["contour_interval_m"]
        limits = (tolerance_share * interval, error_share * interval)
        tested.append(
            _Tested("vertical", name, residuals.used_vertical_m, figures.up.rmse_m, *limits, memory)
        )
    return tuple(judgement for item in tested for judgement in _judged(item))


def _judged(item: _Tested) -> Iterator[Judgement]:
    count = len(item.size_m)
    caveats = (_ONE_AXIS,) if item.direction == "horizontal" else ()
    share = percent_beyond(item.size_m, item.tolerance_m)
    words = (
        f"{counted(item.size_m, item.tolerance_m)} lie beyond the {item.direction} tolerance of {item.name}, "
        f"{metres(item.tolerance_m)} ({share:.1f} %); 90 % are to lie within."
    )
    quantity = f"{item.direction} errors beyond the tolerance"
    rule = Rule(ID, "articles 8 and 9", quantity, "%", from_memory=item.memory)
    yield rule.judged(share, MOST_BEYOND_PERCENT, words, count=count, caveats=caveats)
    relation = "within" if met(item.rmse_m, item.error_m) else "beyond"
    words = (
        f"The {item.direction} RMSE of {metres(item.rmse_m, item.error_m)} is {relation} the standard error "
        f"of {item.name}, {metres(item.error_m)}."
    )
    # That the root mean square is held against EP is the rule of the army's table.
    rule = Rule(ID, "article 9", f"{item.direction} RMSE against the standard error", from_memory=True)
    yield rule.judged(item.rmse_m, item.error_m, words, count=count)


STANDARD = Standard(
    id=ID,
    title="Brazil, Decree 89.817 of 1984 (PEC), and PEC-PCD",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
