"""ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2."""

import math
from dataclasses import dataclass

import numpy as np

from geoqa.accuracy.bias import significance
from geoqa.accuracy.distribution import area_km2, sparse_quadrants
from geoqa.accuracy.judging import Rule
from geoqa.accuracy.limits import centimetres, checkpoints, metres, within_limit
from geoqa.accuracy.options import read_options
from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.results import ComponentStatistics, Judgement, JudgementVerdict, UseReason
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "asprs-2023"
EDITION = "ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2, Version 2 (2024)"
SOURCE = (
    "American Society for Photogrammetry and Remote Sensing, Positional Accuracy Standards for Digital "
    "Geospatial Data, Edition 2, Version 1 (2023) and Version 2 (2024). The standard itself was not "
    "read: sections 7.1 to 7.15 as quoted in a public transcription, statements as quoted in a public "
    "repository and in the USGS Lidar Base Specification 2025 rev. A; what is from memory says so."
)
_AS_QUOTED = "as quoted in a public transcription"

# [ASPRS2023], section 7.2: the mean error stays below this share of the target RMSE.
MEAN_ERROR_SHARE = 0.25
# [ASPRS2023], section 7.12: the survey is at least this many times better than the product.
SURVEY_TIMES_BETTER = 2
# [ASPRS2023], section 7.13, and [USGS-LBS2025]: fewest and most checkpoints asked for.
FEWEST_CHECKPOINTS, MOST_CHECKPOINTS = 30, 120
# [ASPRS2023], section 7.13, from memory: more checkpoints for each started further area.
FURTHER_CHECKPOINTS, FURTHER_AREA_KM2 = 10, 1000.0
# [USGS-LBS2025], checkpoint distribution: least share in each quarter of the area.
QUADRANT_SHARE = 0.20

# Statements of [ASPRS2023], section 7.15, for enough checkpoints, and for fewer.
_TESTED_TO_MEET = f"This data set was tested to meet {EDITION} for a {{limit}} {{accuracy_class}}. {{found}}."
_REDUCED = (
    f"This data set was tested as required by {EDITION}. Although the Standards call for a minimum of "
    "{required} checkpoints, this test was performed using ONLY {performed}. {outcome} {found} using the "
    "reduced number of checkpoints."
)
_PRODUCED_TO_MEET = "This data set was produced to meet a {limit} {accuracy_class}."
# Words of our own, where the standard has none.
_TESTED = f"This data set was tested as required by {EDITION}. {{outcome}} {{found}}."
_NOT_MET = "This data set does not meet a {limit} {accuracy_class}."
_NO_CLASS = "No {accuracy_class} was asked for."
_NEVER_JUDGED = "Vegetated accuracy is stated, not judged."
_UNTESTED = (
    "{quantity} was not tested, because no checkpoint could be used. The statement that the standard has "
    "for untested data is the producer's to make: “{produced}”"
)


@dataclass(frozen=True, eq=False)
class _Tested:
    """One accuracy of the standard: its words, and what was found; lengths in metres.

    `accuracy_class` is None where the standard sets none. `rows` tells the points, shape (n,).
    """

    clause: str
    quantity: str
    accuracy_class: str | None
    found: str
    fit_m: float
    survey_m: float
    count: int
    rows: BoolArray

    @property
    def value_m(self) -> float:
        """Return fit and survey error in quadrature; the fit alone where the latter is not known."""
        return self.fit_m if math.isnan(self.survey_m) else math.hypot(self.fit_m, self.survey_m)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return what Edition 2 says: RMSE_H, NVA, VVA, RMSE_3D and the mean errors.

    Limits are the classes asked for, compared unrounded. The vegetated accuracy is stated, never
    judged. Fewer than 30 checkpoints give the statement for a reduced number.
    """
    read_options(ID, request.options, ())
    required = checkpoints_required(case.mapped_area_m)
    plan, bare, vegetated = _horizontal(case), _non_vegetated(case), _vegetated(case)
    heights = (bare,) if vegetated is None else (bare, vegetated)
    limits_m = (request.horizontal_rmse_m, request.vertical_rmse_m, None)
    targets_m = (request.horizontal_rmse_m, request.horizontal_rmse_m, request.vertical_rmse_m)
    means = (case.statistics.east, case.statistics.north, case.statistics.up)
    return (
        *(
            _judgement(case, tested, limit_m, required)
            for tested, limit_m in zip((plan, *heights), limits_m, strict=False)
        ),
        *(_three_dimensional(plan, height) for height in heights if plan.count and height.count),
        *(_mean_error(part, target) for part, target in zip(means, targets_m, strict=True) if part.count),
    )


def _horizontal(case: StandardCase) -> _Tested:
    rows, part = case.residuals.horizontal.used, case.statistics.horizontal
    return _Tested(
        clause="7.3",
        quantity="RMSE_H",
        accuracy_class="RMSE_H Horizontal Positional Accuracy Class",
        found="The tested horizontal positional accuracy was found to be RMSE_H = {value}",
        fit_m=part.rmse_m,
        survey_m=survey_rmse(case.residuals, rows, PLAN),
        count=part.count,
        rows=rows,
    )


def _non_vegetated(case: StandardCase) -> _Tested:
    rows, part = case.residuals.vertical.used, case.statistics.up
    return _Tested(
        clause="7.4",
        quantity="RMSE_V (NVA)",
        accuracy_class="RMSE_V Vertical Accuracy Class",
        found="The Non-Vegetated Vertical Accuracy (NVA) was found to be RMSE_V = {value}",
        fit_m=part.rmse_m,
        survey_m=survey_rmse(case.residuals, rows, HEIGHT),
        count=part.count,
        rows=rows,
    )


def _vegetated(case: StandardCase) -> _Tested | None:
    if case.vegetated is None or case.vegetated.up.count == 0:
        return None
    reasons = case.residuals.vertical.reasons
    rows = np.array([reason is UseReason.VEGETATED for reason in reasons], dtype=bool)
    return _Tested(
        clause="7.4",
        quantity="RMSE_V (VVA)",
        accuracy_class=None,
        found="The Vegetated Vertical Accuracy (VVA) was found to be RMSE_V = {value}",
        fit_m=case.vegetated.up.rmse_m,
        survey_m=survey_rmse(case.residuals, rows, HEIGHT),
        count=case.vegetated.up.count,
        rows=rows,
    )


def _judgement(case: StandardCase, tested: _Tested, limit_m: float | None, required: int) -> Judgement:
    if limit_m is None or tested.count == 0:
        verdict = JudgementVerdict.NOT_ASSESSED
    elif within_limit(tested.value_m, limit_m):
        verdict = JudgementVerdict.MET
    else:
        verdict = JudgementVerdict.NOT_MET
    return Judgement(
        standard=ID,
        clause=f"section {tested.clause} ({_AS_QUOTED})",
        quantity=tested.quantity,
        value=tested.value_m if tested.count else None,
        unit="m",
        limit=limit_m,
        verdict=verdict,
        sentence=_statement(tested, limit_m, verdict, required),
        count=tested.count,
        count_required=required,
        caveats=_caveats(case, tested, limit_m, required) if tested.count else (),
    )


def _statement(tested: _Tested, limit_m: float | None, verdict: JudgementVerdict, required: int) -> str:
    if tested.count == 0:
        return _untested(tested, limit_m)
    enough = tested.count >= required
    if tested.accuracy_class is None:
        form, outcome = _TESTED if enough else _REDUCED, _NEVER_JUDGED
    elif limit_m is None:
        form, outcome = _TESTED if enough else _REDUCED, _NO_CLASS
    elif verdict is JudgementVerdict.NOT_MET:
        form, outcome = _TESTED if enough else _REDUCED, _NOT_MET
    else:
        form, outcome = _TESTED_TO_MEET if enough else _REDUCED, _PRODUCED_TO_MEET
    words = {
        "limit": "" if limit_m is None else centimetres(limit_m),
        "accuracy_class": tested.accuracy_class or "",
        "found": tested.found.format(value=centimetres(tested.value_m, limit_m)),
        "required": "thirty (30)" if required == FEWEST_CHECKPOINTS else str(required),
        "performed": checkpoints(tested.count),
    }
    return form.format(outcome=outcome.format(**words), **words)


def _untested(tested: _Tested, limit_m: float | None) -> str:
    limit = "__(cm)" if limit_m is None else centimetres(limit_m)
    produced = _PRODUCED_TO_MEET.format(limit=limit, accuracy_class=tested.accuracy_class)
    return _UNTESTED.format(quantity=tested.quantity, produced=produced)


def checkpoints_required(outline_m: FloatArray) -> int:
    """Return how many checkpoints each accuracy takes over an area, its outline of shape (k, 2).

    Examples
    --------
    >>> checkpoints_required(np.empty((0, 2)))
    30
    """
    further = max(0, math.ceil(area_km2(outline_m) / FURTHER_AREA_KM2) - 1)
    return min(MOST_CHECKPOINTS, FEWEST_CHECKPOINTS + FURTHER_CHECKPOINTS * further)


def _caveats(case: StandardCase, tested: _Tested, limit_m: float | None, required: int) -> tuple[str, ...]:
    caveats = [*_survey_caveats(tested, limit_m)]
    if required > FEWEST_CHECKPOINTS:
        caveats.append(f"The {required} checkpoints for an area of this size are from memory (section 7.13).")
    plan_m = case.residuals.survey_m[tested.rows, :2]
    sparse = sparse_quadrants(plan_m, case.mapped_area_m, QUADRANT_SHARE)
    # Vegetation need not lie in every quarter of the area.
    if sparse is not None and tested.accuracy_class is not None:
        caveats.append(sparse)
    return tuple(caveats)


def _survey_caveats(tested: _Tested, limit_m: float | None) -> tuple[str, ...]:
    if math.isnan(tested.survey_m):
        missing = (
            "The accuracy of the checkpoint survey is not in this figure, though the standard asks for it: "
            "not every point came with its standard deviations."
        )
        return (missing,)
    included = (
        f"The accuracy of the checkpoint survey, {metres(tested.survey_m)} by the standard deviations given "
        f"with the points, is in this figure in quadrature (formula from memory); the fit alone is "
        f"{metres(tested.fit_m, tested.value_m)}."
    )
    if limit_m is None or within_limit(SURVEY_TIMES_BETTER * tested.survey_m, limit_m):
        return (included,)
    weak = (
        f"The checkpoint survey is not {SURVEY_TIMES_BETTER} times as accurate as the class of "
        f"{metres(limit_m)} asks (section 7.12)."
    )
    return (included, weak)


def _three_dimensional(plan: _Tested, height: _Tested) -> Judgement:
    value_m = math.hypot(plan.value_m, height.value_m)
    area = "NVA" if "NVA" in height.quantity else "VVA"
    caveats = tuple(
        f"The {direction} part of it lacks the accuracy of the checkpoint survey."
        for direction, part in (("horizontal", plan), ("vertical", height))
        if math.isnan(part.survey_m)
    )
    sentence = (
        "The three-dimensional positional accuracy was found to be RMSE_3D = "
        f"{centimetres(value_m)} within the {area} tested area."
    )
    rule = Rule(ID, f"section 7.5 ({_AS_QUOTED})", f"RMSE_3D ({area})")
    return rule.judged(value_m, None, sentence, count=min(plan.count, height.count), caveats=caveats)


def _mean_error(part: ComponentStatistics, target_m: float | None) -> Judgement:
    limit_m = None if target_m is None else MEAN_ERROR_SHARE * target_m
    size_m, chance = abs(part.mean_m), significance(part)
    verdict = JudgementVerdict.NOT_ASSESSED
    if limit_m is not None:
        verdict = JudgementVerdict.MET if size_m < limit_m else JudgementVerdict.NOT_MET
    return Judgement(
        standard=ID,
        clause=f"section 7.2 ({_AS_QUOTED})",
        quantity=f"mean error {part.component}",
        value=size_m,
        unit="m",
        limit=limit_m,
        verdict=verdict,
        sentence=_mean_error_words(part, target_m, verdict),
        count=part.count,
        caveats=() if chance is None else (chance,),
    )


def _mean_error_words(part: ComponentStatistics, target_m: float | None, verdict: JudgementVerdict) -> str:
    found = f"The mean error {part.component} is {part.mean_m:+.3f} m"
    if target_m is None:
        return f"{found}; no target RMSE was given to hold it against."
    share = f"{100 * abs(part.mean_m) / target_m:.0f} % of the target RMSE of {metres(target_m)}"
    rule = f"less than {100 * MEAN_ERROR_SHARE:.0f} %"
    if verdict is JudgementVerdict.MET:
        return f"{found}, {share}; the standard asks for {rule}."
    return (
        f"{found}, {share}, where the standard asks for {rule}. Its cause is to be investigated; what "
        "remains is to be stated in the metadata."
    )


STANDARD = Standard(
    id=ID,
    title="ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2",
    source=SOURCE,
    judge=judge,
    options=(),
)
