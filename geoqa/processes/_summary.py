"""The terminal summary of a check: the decision first, then the figures."""

from collections.abc import Mapping
from typing import Any

_COMPONENTS = ("east", "north", "horizontal", "up")
_HEADINGS = ("", "n", "mean", "std", "RMSE", "95 % interval of RMSE", "largest")


def summary_of(results: Mapping[str, Any], folder: str) -> str:
    """Return the summary as text of at most 100 columns.

    Parameters
    ----------
    results
        The content of results.json.
    folder
        Where the deliverables lie.
    """
    decision = results.get("decision")
    parts = [] if decision is None else [f"Decision: {decision['sentence']}"]
    parts += [results["verdict"]["sentence"], _table(results["statistics"]), _use(results["points"])]
    parts += [f"Finding: {item['evidence']} {item['advice']}" for item in _present(results["findings"])]
    parts += [f"{item['cure']}: {item['sentence']}" for item in _asked(results)]
    parts += [_statement(item) for item in results["judgements"] if item["verdict"] == "not met"]
    parts.append(f"Results are in {folder} (start with report.html).")
    return "\n\n".join(part for part in parts if part)


def _table(statistics: Mapping[str, Any]) -> str:
    rows: list[tuple[str, ...]] = [_HEADINGS]
    for name in _COMPONENTS:
        item = statistics[name]
        low, high = item["rmse_interval_m"] or (None, None)
        interval = "—" if low is None else f"{_metres(low)} to {_metres(high)}"
        figures = [item.get("mean_m"), item.get("std_m"), item["rmse_m"]]
        rows.append(
            (name, str(item["count"]), *map(_metres, figures), interval, _metres(item.get("max_abs_m")))
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEADINGS))]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return "\n".join(["Residuals, product minus survey, in metres", *lines])


def _metres(value: float | None) -> str:
    return "—" if value is None else f"{value:.3f}".replace("-", "−")


def _use(points: list[Mapping[str, Any]]) -> str:
    lines = []
    for direction in ("horizontal", "vertical"):
        reasons: dict[str, list[str]] = {}
        for point in points:
            if not point[direction]["used"]:
                reasons.setdefault(point[direction]["reason"], []).append(point["id"])
        lines += [f"Not used, {direction}: {reason}: {_some(ids)}" for reason, ids in reasons.items()]
    return "\n".join(lines)


def _some(ids: list[str], most: int = 8) -> str:
    shown = ", ".join(ids[:most])
    return shown if len(ids) <= most else f"{shown} and {len(ids) - most} more"


def _present(findings: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [item for item in findings if item["verdict"] == "present"]


def _asked(results: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the cures that were asked for; those of the findings stand in the files."""
    return [item for item in results.get("trials", ()) if item["origin"] == "command line"]


def _statement(judgement: Mapping[str, Any]) -> str:
    return f"{judgement['standard']}, {judgement['clause']}: not met. {judgement['sentence']}"
