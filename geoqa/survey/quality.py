"""What is to be said of the survey of each point: flags, a reason for each, and sentences for the user.

The limits are common practice and those of [survey]; no specification is claimed.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray
from geoqa.records.points import Checkpoints, FixType, Role
from geoqa.records.survey import SurveyFlag
from geoqa.records.survey_settings import Survey
from geoqa.survey.antennas import antenna_heights
from geoqa.survey.differences import differences
from geoqa.survey.means import Means
from geoqa.survey.names import alike_points
from geoqa.survey.occupations import instant
from geoqa.survey.shots import Shots
from geoqa.survey.words import points_text, some

# Points named one by one in the messages, each with its own sentence.
_MOST_TOLD = 8
_ADVICE = {
    SurveyFlag.DISAGREE: (
        " Measure it again and set the role of the wrong shot to unused, or name it in survey.keep."
    ),
    SurveyFlag.KEPT: "",
    SurveyFlag.DIFFER: " Measure it once more.",
    SurveyFlag.WEAK_SHOTS: "",
}


@dataclass(frozen=True, eq=False)
class Noticed:
    """What was noticed: flags of the p points, reasons by flag and point, and sentences for the user."""

    flags: Mapping[SurveyFlag, BoolArray]
    reasons: Mapping[SurveyFlag, Mapping[int, str]]
    messages: tuple[str, ...]

    def words(self) -> tuple[tuple[SurveyFlag, ...], ...]:
        """Return the flags of each point, in the order of `SurveyFlag`."""
        masks = np.array([self.flags[flag] for flag in SurveyFlag])
        codes = (1 << np.arange(len(masks))) @ masks
        meanings = {
            code: tuple(flag for bit, flag in enumerate(SurveyFlag) if code >> bit & 1)
            for code in np.unique(codes).tolist()
        }
        return tuple([meanings[code] for code in codes.tolist()])

    def sentences(self) -> dict[int, tuple[str, ...]]:
        """Return the reasons of each point that has any, in the order of `SurveyFlag`."""
        told: dict[int, list[str]] = {}
        for flag in SurveyFlag:
            for point, sentence in self.reasons.get(flag, {}).items():
                told.setdefault(point, []).append(sentence)
        return {point: tuple(told[point]) for point in sorted(told)}


def notice(shots: Shots, means: Means, points: Checkpoints, published: Checkpoints, rules: Survey) -> Noticed:
    """Return what is to be said of the survey.

    Parameters
    ----------
    shots, means, points
        The rows of the files, their means, and the points that came of them.
    published
        Known positions of marks.
    rules
        The limits.
    """
    found = differences(shots, means, rules)
    by_antenna, of_antennas = antenna_heights(shots)
    by_name, of_names = alike_points(points, published)
    fixes = np.array(points.fixes, dtype=object)
    reasons = {
        **found.reasons,
        SurveyFlag.WEAK_SHOTS: dict(_weak_shots(shots)),
        SurveyFlag.NOT_TOLD_APART: dict(_not_told_apart(shots)),
        SurveyFlag.ANTENNA_HEIGHTS: by_antenna,
        SurveyFlag.ALIKE: by_name,
    }
    flags = {
        **{flag: _mask(told, len(points)) for flag, told in reasons.items()},
        SurveyFlag.AUTONOMOUS_FIX: np.asarray(fixes == FixType.AUTONOMOUS, dtype=bool),
        SurveyFlag.FLOAT_FIX: np.asarray(fixes == FixType.FLOAT, dtype=bool),
        SurveyFlag.SINGLE_OCCUPATION: shots.occupations == 1,
        SurveyFlag.OPTIMISTIC: _optimistic(means, rules),
    }
    messages = (
        *(sentence for flag in _ADVICE for sentence in _one_by_one(shots, flag, reasons[flag])),
        *_together(shots, flags, rules),
        *of_antennas,
        *of_names,
    )
    return Noticed(flags, reasons, messages)


def floor_assumption(means: Means, rules: Survey) -> Iterator[str]:
    """Yield the sentence about stated standard deviations that were raised to the floor, if any were."""
    raised = int(means.raised.sum())
    if raised:
        yield (
            f"Standard deviations below {rules.floor_horizontal_m:g} m in plan or "
            f"{rules.floor_vertical_m:g} m in height tell how well a receiver repeats within one occupation; "
            f"they were raised to that at {raised} of {points_text(len(means.raised))} "
            "(survey.floor_horizontal_m, survey.floor_vertical_m)."
        )


def _mask(told: Mapping[int, str], count: int) -> BoolArray:
    mask = np.zeros(count, dtype=bool)
    mask[list(told)] = True
    return mask


def _optimistic(means: Means, rules: Survey) -> BoolArray:
    plan_m, up_m = means.sigma_reported_m[:, :2], means.sigma_reported_m[:, 2]
    small = (plan_m < rules.optimistic_horizontal_m).any(axis=1)
    return np.asarray(small | (up_m < rules.optimistic_vertical_m))


def _weak_shots(shots: Shots) -> Iterator[tuple[int, str]]:
    for point, members in shots.repeated.items():
        out = [row for row in members if not shots.in_mean[row] and shots.rows.roles[row] is not Role.UNUSED]
        if out:
            places = some([shots.rows.origin(row) for row in out])
            yield (
                point,
                f"{len(out)} of its {len(members)} shots ({places}), of a weaker solution than the others, "
                f"left out of the mean",
            )


def _not_told_apart(shots: Shots) -> Iterator[tuple[int, str]]:
    for point in np.flatnonzero(~shots.told_apart).tolist():
        members = [row for row in shots.repeated[point] if shots.in_mean[row]]
        times = [shots.rows.attribute("time", row) for row in members]
        strange = next((time for time in times if time is not None and instant(time) is None), None)
        why = "neither occupation nor time tells its"
        if strange is not None:
            why = f"the time “{strange}” is neither ISO 8601 nor HH:MM, so that nothing tells its"
        one = shots.occupations[point] == 1
        counted = "as one occupation" if one else f"as {shots.occupations[point]} occupations, one a session"
        yield point, f"{why} {len(members)} shots apart: they count {counted}"


def _one_by_one(shots: Shots, flag: SurveyFlag, told: Mapping[int, str]) -> Iterator[str]:
    rows = shots.rows
    for point in list(told)[:_MOST_TOLD]:
        yield (
            f"{rows.origin(int(shots.first[point]))}: “{rows.ids[shots.first[point]]}”: {told[point]}."
            f"{_ADVICE[flag]}"
        )
    if len(told) > _MOST_TOLD:
        yield f"{points_text(len(told) - _MOST_TOLD)} more: {flag}. The columns of the points name them."


def _together(shots: Shots, flags: Mapping[SurveyFlag, BoolArray], rules: Survey) -> Iterator[str]:
    """Yield one sentence for each flag that many points share."""
    for flag, sentence in (
        (
            SurveyFlag.NOT_TOLD_APART,
            "{who}: neither occupation nor time tells the shots apart, so that those of a session count as "
            "one occupation and the standard deviation does not shrink. Give one of these columns.",
        ),
        (
            SurveyFlag.SINGLE_OCCUPATION,
            "{who}: occupied once, so that an error of the occupation does not show in the survey. Measure "
            "again after {gap:g} minutes or more.",
        ),
        (
            SurveyFlag.OPTIMISTIC,
            "{who}: stated standard deviations below {plan:g} m in plan or {up:g} m in height are optimistic "
            "for a satellite receiver.",
        ),
    ):
        concerned = np.flatnonzero(flags[flag])
        if len(concerned):
            names = [shots.rows.ids[row] for row in shots.first[concerned[: _MOST_TOLD + 1]].tolist()]
            who = f"{len(concerned)} of {points_text(shots.count)} ({some(names, len(concerned))})"
            who = who if len(concerned) < shots.count else f"All {points_text(shots.count)}"
            yield sentence.format(
                who=who,
                gap=rules.gap_minutes,
                plan=rules.optimistic_horizontal_m,
                up=rules.optimistic_vertical_m,
            )
