"""From the rows of the files to one row a point, and what is to be said of the survey."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geoqa.errors import SettingsError
from geoqa.numerics.arrays import FloatArray, frozen
from geoqa.records.points import Checkpoints
from geoqa.records.survey import SurveyFlag, SurveyQuality
from geoqa.records.survey_settings import Survey
from geoqa.survey.means import form_means
from geoqa.survey.merge import merged, occupations_of
from geoqa.survey.quality import floor_assumption, notice
from geoqa.survey.shots import gather
from geoqa.survey.ties import statement, tie_messages, ties

NO_SIGMA_M = frozen([0.0, 0.0, 0.0])


def combine_occupations(
    rows: Checkpoints,
    rules: Survey,
    *,
    published: Checkpoints | None = None,
    base_sigma_m: FloatArray = NO_SIGMA_M,
) -> tuple[Checkpoints, SurveyQuality]:
    """Return one row a point, in order of first appearance, and how well its survey holds.

    Shots of one id are grouped into occupations (`geoqa.survey.occupations`), the occupations into a
    mean (`geoqa.survey.means`). Points whose occupations differ by more than `rules.reject_m` are
    listed in `disagreeing`, unless `rules.keep` names them.

    Parameters
    ----------
    rows
        The measured rows of all files in the common frame.
    rules
        Gap, floors and limits.
    published
        Known positions of marks, which measured rows of the same id are compared with.
    base_sigma_m : array, shape (3,)
        Standard deviations of the base, east, north, up. All points share its error, so that it counts
        for the comparison with known marks only.

    Raises
    ------
    SettingsError
        Where `rules.keep` names an id that no point has.
    InputError
        Where a mark has two published positions.
    """
    known = rows.take(()) if published is None else published
    _refuse_unknown(rules, rows)
    shots = gather(rows, rules.gap_minutes)
    means = form_means(shots, rules)
    points = merged(shots, means)
    noticed = notice(shots, means, points, known, rules)
    flags = noticed.words()
    found = ties(points, known, flags, rules, base_sigma_m)
    quality = SurveyQuality(
        occupations=shots.occupations,
        shots=shots.per_point,
        spread_m=means.spread_m,
        sigma_stated_m=means.sigma_stated_m,
        sigma_reported_m=means.sigma_reported_m,
        flags=flags,
        reasons=noticed.sentences(),
        each=occupations_of(shots, means),
        ties=found,
        statement=statement(found),
    )
    points = replace(
        points,
        assumptions=(*points.assumptions, *floor_assumption(means, rules)),
        messages=(*points.messages, *noticed.messages, *tie_messages(points, known, found)),
        disagreeing=tuple(np.flatnonzero(noticed.flags[SurveyFlag.DISAGREE]).tolist()),
    )
    return points, quality


def part_known(rows: Checkpoints, known_files: Sequence[bool]) -> tuple[Checkpoints, Checkpoints]:
    """Return the measured rows, and those of the files that hold published positions of marks."""
    if not any(known_files):
        return rows, rows.take(())
    of_row = np.asarray(known_files, dtype=bool)[rows.survey_index[:, 0]]
    measured, published = np.flatnonzero(~of_row).tolist(), np.flatnonzero(of_row).tolist()
    return rows.take(measured), rows.take(published)


def _refuse_unknown(rules: Survey, rows: Checkpoints) -> None:
    unknown = sorted(set(rules.keep) - set(rows.ids))
    if unknown:
        message = f"survey.keep names “{unknown[0]}”, which no point is called. Mend the id or take it out."
        raise SettingsError(message)
