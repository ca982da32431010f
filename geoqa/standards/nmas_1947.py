"""United States National Map Accuracy Standards, 1947."""

from geoqa.accuracy.judging import Rule, counted, percent_beyond, plan_lengths, verdict_of
from geoqa.accuracy.limits import metres
from geoqa.accuracy.options import Option, read_options
from geoqa.records.results import Judgement, JudgementVerdict
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "nmas-1947"
SOURCE = (
    "U.S. Bureau of the Budget, United States National Map Accuracy Standards, revised 17 June 1947. Read: "
    "the text as the U.S. Geological Survey reprints it; the date of the revision is from memory."
)
# [NMAS1947], paragraph 1: tolerances on the published map, in metres of paper.
INCH_M = 0.0254
TOLERANCE_LARGE_SCALE_M = INCH_M / 30
TOLERANCE_SMALL_SCALE_M = INCH_M / 50
SMALL_SCALE = 20_000
# [NMAS1947], paragraphs 1 and 2: most points that may lie beyond the tolerance, in per cent.
MOST_BEYOND_PERCENT = 10.0
# [NMAS1947], paragraph 5.
_COMPLIES = "This map complies with National Map Accuracy Standards"

OPTIONS = (
    Option("scale", "Scale number of the published map, 1200 for 1:1200", required=True),
    Option("contour_interval_m", "Contour interval; without it heights are not judged", "m"),
)


def tolerance_m(scale: float) -> float:
    """Return the horizontal tolerance on the ground, in metres.

    References
    ----------
    [NMAS1947]_, paragraph 1: 1/30 inch for scales larger than 1:20 000, 1/50 inch from 1:20 000 on.

    Examples
    --------
    >>> round(tolerance_m(24_000) / 0.3048, 6), round(tolerance_m(1_200), 5)
    (40.0, 1.016)
    """
    return scale * (TOLERANCE_SMALL_SCALE_M if scale >= SMALL_SCALE else TOLERANCE_LARGE_SCALE_M)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return the shares of points beyond the tolerances of the map's scale and contour interval."""
    options = read_options(ID, request.options, OPTIONS)
    scale = options["scale"]
    lengths_m, heights_m = plan_lengths(case.residuals.used_horizontal_m), case.residuals.used_vertical_m
    plan = Rule(ID, "paragraph 1", "horizontal errors beyond the tolerance", "%")
    limit_m = tolerance_m(scale)
    found = percent_beyond(lengths_m, limit_m)
    words = (
        f"{counted(lengths_m, limit_m)} lie farther off than {metres(limit_m)}, the tolerance at "
        f"1:{scale:.0f} ({found:.1f} %); the standard allows {MOST_BEYOND_PERCENT:.0f} %"
    )
    judgements = [_judged(plan, found, words, len(lengths_m))]
    if "contour_interval_m" in options:
        half_m = options["contour_interval_m"] / 2
        rule = Rule(ID, "paragraph 2", "vertical errors beyond half the contour interval", "%")
        found = percent_beyond(heights_m, half_m)
        words = (
            f"{counted(heights_m, half_m)} are in error by more than {metres(half_m)}, half the contour "
            f"interval ({found:.1f} %); the standard allows {MOST_BEYOND_PERCENT:.0f} %"
        )
        caveat = (
            "The standard lets a horizontal displacement within the horizontal tolerance be used up first; "
            "that was not done, so the share can only be smaller."
        )
        judgements.append(_judged(rule, found, words, len(heights_m), caveat))
    return tuple(judgements)


def _judged(rule: Rule, found: float, words: str, count: int, *caveats: str) -> Judgement:
    complies = verdict_of(found, MOST_BEYOND_PERCENT) is JudgementVerdict.MET
    sentence = f"{_COMPLIES}: {words}." if complies else f"The map does not comply: {words}."
    return rule.judged(found, MOST_BEYOND_PERCENT, sentence, count=count, caveats=caveats)


STANDARD = Standard(
    id=ID,
    title="United States National Map Accuracy Standards, 1947",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
