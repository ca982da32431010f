"""The members of results.json that say what to do, and what was tried."""

from typing import Any

from geoqa.records.decision import Decision, Trial
from geoqa.writers._results_members import Member, statistics


def of_decision(decision: Decision | None) -> Member | None:
    """Return the next step, and what of RMSE² each trend would remove."""
    if decision is None:
        return None
    removable: dict[str, dict[str, Any]] = {"horizontal": {}, "vertical": {}}
    for item in decision.removable:
        removable[item.direction][item.trend] = {"share": item.share, "rmse_m": item.rmse_m}
    return {
        "action": decision.action.value,
        "sentence": decision.sentence,
        "diagnosis": decision.diagnosis,
        "point_ids": list(decision.point_ids),
        "removable": removable,
    }


def trial(item: Trial) -> Member:
    """Return one cure that was tried, before and after side by side."""
    return {
        "cure": item.cure,
        "origin": item.origin,
        "exploration": True,
        "makes_control": item.makes_control,
        "sentence": item.sentence,
        "before": statistics(item.before),
        "after": statistics(item.after),
        "leave_one_out_rmse_m": dict(item.leave_one_out_rmse_m),
        "point_ids": list(item.point_ids),
    }
