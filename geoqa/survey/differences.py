"""Occupations of a point that differ: enough for a warning, or so much that the point does not count."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.survey import SurveyFlag
from geoqa.records.survey_settings import Survey
from geoqa.survey.means import Means
from geoqa.survey.shots import Shots
from geoqa.survey.words import AXES, metres

# Coordinates of millions of metres in double precision carry a few nanometres.
_NOISE_M = 1e-8


@dataclass(frozen=True, eq=False)
class Differences:
    """Points by what their occupations say, and a sentence for each of them."""

    flags: Mapping[SurveyFlag, BoolArray]
    reasons: Mapping[SurveyFlag, Mapping[int, str]]


def differences(shots: Shots, means: Means, rules: Survey) -> Differences:
    """Return the points whose occupations differ, disagree, or are kept although they disagree.

    Occupations are held against the limits axis by axis; where they are not told apart, single shots
    are. Shots of one occupation are held against `reject_m` alone: among many of them a range of some
    centimetres is nothing unusual, but a decimetre is another place or another solution.
    """
    warn_m = np.array([rules.warn_horizontal_m, rules.warn_horizontal_m, rules.warn_vertical_m])
    reject_m = np.full(3, rules.reject_m)
    largest_m = np.fmax(means.spread_m, means.shot_spread_m)
    far = np.asarray((largest_m > reject_m + _NOISE_M).any(axis=1))
    apart = np.asarray((means.spread_m > warn_m + _NOISE_M).any(axis=1) & ~far)
    kept = np.zeros(shots.count, dtype=bool)
    named = set(rules.keep)
    for point in np.flatnonzero(far).tolist():
        kept[point] = shots.rows.ids[shots.first[point]] in named
    flags = {SurveyFlag.DISAGREE: far & ~kept, SurveyFlag.KEPT: far & kept, SurveyFlag.DIFFER: apart}
    limits_m = {SurveyFlag.DISAGREE: reject_m, SurveyFlag.KEPT: reject_m, SurveyFlag.DIFFER: warn_m}
    endings = {
        SurveyFlag.DISAGREE: ": it does not count",
        SurveyFlag.KEPT: "; it counts because survey.keep names it",
        SurveyFlag.DIFFER: "",
    }
    reasons = {
        flag: {
            point: f"{_sentence(shots, means, point, limits_m[flag])}{endings[flag]}"
            for point in np.flatnonzero(mask).tolist()
        }
        for flag, mask in flags.items()
    }
    return Differences(flags, reasons)


def _sentence(shots: Shots, means: Means, point: int, limits_m: FloatArray) -> str:
    between_m = means.spread_m[point]
    if (between_m > limits_m + _NOISE_M).any() and shots.told_apart[point]:
        who, found_m = f"its {shots.occupations[point]} occupations", between_m
    else:
        who, found_m = f"its {shots.per_point[point]} shots", np.fmax(between_m, means.shot_spread_m[point])
    told = [
        f"{metres(value)} {axis} (limit {limit:g} m)"
        for axis, value, limit in zip(AXES, found_m.tolist(), limits_m.tolist(), strict=True)
        if value > limit + _NOISE_M
    ]
    return f"{who} differ by {' and '.join(told)}"
