"""What to do next: from the verdicts and the findings to one action and one sentence."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

import numpy as np

from geoqa.accuracy.limits import metres
from geoqa.accuracy.trends import Trend, plane, shift, similarity
from geoqa.records.decision import Action, Decision, Removable
from geoqa.records.results import ClaimVerdict, Finding, FindingVerdict, ResidualSet, Verdict

_HELD = (ClaimVerdict.PROVED, ClaimVerdict.NOT_ASKED)


class Remedy(NamedTuple):
    """Title of a diagnosis, and what its cause asks for."""

    title: str
    action: Action


def decide(
    verdict: Verdict, findings: Sequence[Finding], residuals: ResidualSet, remedies: Mapping[str, Remedy]
) -> Decision:
    """Return the next step; `remedies` are those of the diagnoses, by id.

    A cause is acted on where a limit fails, where none was asked for, or where it rests on a known vector
    or on places, so that it stands whatever the limit; beside a limit that is met it is named, and the map
    delivered.
    """
    removable = tuple(removable_shares(residuals))
    present = [item for item in findings if item.verdict is FindingVerdict.PRESENT]
    answers = (verdict.horizontal, verdict.vertical)
    if present and not _harmless(answers):
        return _by_cause(present, removable, remedies)
    if ClaimVerdict.FAILED in answers:
        return Decision(
            Action.REPROCESS,
            "Process again, or measure again: the limit is exceeded and nothing systematic explains it, so "
            "that "
            "neither a shift nor a plane would bring the map within it.",
            removable=removable,
        )
    if ClaimVerdict.UNDECIDABLE in answers:
        return Decision(
            Action.MORE_POINTS,
            "Take more points: where a limit was asked for no point counts; the table of points says why.",
            removable=removable,
        )
    return _good(answers, [_named(item.diagnosis, remedies) for item in present], removable)


def _harmless(answers: tuple[ClaimVerdict, ClaimVerdict]) -> bool:
    """Return whether every limit that was asked for is met or not contradicted, and one was asked for."""
    if answers == (ClaimVerdict.NOT_ASKED, ClaimVerdict.NOT_ASKED):
        return False
    return all(item in (*_HELD, ClaimVerdict.NOT_CONTRADICTED) for item in answers)


def _named(diagnosis: str, remedies: Mapping[str, Remedy]) -> str:
    """Return the title of a diagnosis as it stands within a sentence."""
    title = remedies[diagnosis].title
    return title[:1].lower() + title[1:]


def _by_cause(
    present: Sequence[Finding], removable: tuple[Removable, ...], remedies: Mapping[str, Remedy]
) -> Decision:
    first = present[0]
    action = remedies[first.diagnosis].action
    expected = " and ".join(f"{name} {metres(value)}" for name, value in first.predicted_rmse_m.items())
    after = f" After that an RMSE of {expected} is to be expected." if expected else ""
    others = " or ".join(f"“{_named(other, remedies)}”" for other in first.not_separable_from)
    doubt = f" The points cannot tell it from {others}: make the deciding test first." if others else ""
    who = f" ({', '.join(first.point_ids[:6])})" if action is Action.REMEASURE and first.point_ids else ""
    sentence = f"{_capital(action)}{who}: {_named(first.diagnosis, remedies)}.{after}{doubt}"
    return Decision(action, sentence, first.point_ids, removable, first.diagnosis)


def _good(
    answers: tuple[ClaimVerdict, ClaimVerdict], causes: Sequence[str], removable: tuple[Removable, ...]
) -> Decision:
    beside = f" What remains systematic is small beside the limit ({'; '.join(causes)})." if causes else ""
    if ClaimVerdict.NOT_CONTRADICTED in answers:
        return Decision(
            Action.MORE_POINTS,
            "Take more points, or deliver with the statement as it stands: the limit is not contradicted, "
            "and not "
            f"proved.{beside}",
            removable=removable,
        )
    if answers == (ClaimVerdict.NOT_ASKED, ClaimVerdict.NOT_ASKED):
        return Decision(
            Action.DELIVER,
            "Deliver with the figures as they stand: no limit was asked for, and nothing systematic was "
            "found.",
            removable=removable,
        )
    return Decision(Action.DELIVER, f"Deliver: every limit asked for is proved.{beside}", removable=removable)


def removable_shares(residuals: ResidualSet) -> Iterator[Removable]:
    """Yield what of RMSE² a shift, plane, similarity or nothing would remove, by leave-one-out."""
    plan, height = residuals.horizontal.used, residuals.vertical.used
    if plan.any():
        delta, places = residuals.delta_m[plan, :2], residuals.survey_m[plan, :2]
        trends = {"shift": shift(delta), "similarity": similarity(places, delta)}
        yield from _shares("horizontal", float(np.sqrt((delta**2).sum(axis=1).mean())), trends)
    if height.any():
        up, places = residuals.delta_m[height, 2], residuals.survey_m[height, :2]
        yield from _shares(
            "vertical", float(np.sqrt((up**2).mean())), {"shift": shift(up), "plane": plane(places, up)}
        )


def _shares(
    direction: Literal["horizontal", "vertical"], rmse_m: float, trends: dict[str, Trend]
) -> Iterator[Removable]:
    least, stays_m = 0.0, rmse_m
    for name, trend in trends.items():
        left_m = trend.leave_one_out_rmse_m()
        share = max(1.0 - (left_m / rmse_m) ** 2, 0.0) if rmse_m > 0 else 0.0
        if share > least:
            least, stays_m = share, left_m
        yield Removable(direction, name, share, left_m)
    yield Removable(direction, "nothing", 1.0 - least, stays_m)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
