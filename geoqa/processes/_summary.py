"""The terminal summary of a check: the decision first, then the figures."""

from collections.abc import Mapping, Sequence
from typing import Any

_COMPONENTS = ("east", "north", "horizontal", "up")
# As in the report: no verdict rests on colour, or on the sign alone.
_SIGNS = {"proved": "✓", "not contradicted": "○", "failed": "✗", "undecidable": "?", "not asked": "–"}
_HEADINGS = ("", "n", "mean", "std", "RMSE", "95 % interval of RMSE", "largest")


def summary_of(results: Mapping[str, Any], folder: str) -> str:
    """Return the summary as text; its tables have at most 100 columns, its sentences a line each.

    Parameters
    ----------
    results
        The content of results.json.
    folder
        Where the deliverables lie.
    """
    decision = results.get("decision")
    parts = [] if decision is None else [f"Decision: {decision['sentence']}"]
    parts += [results["verdict"]["sentence"], _limits(results["claims"]), _table(results["statistics"])]
    parts.append(_use(results["points"]))
    parts += [f"Finding: {item['evidence']} {item['advice']}" for item in _present(results["findings"])]
    parts += [f"{item['cure']}: {item['sentence']}" for item in _asked(results)]
    parts += [_statement(item) for item in results["judgements"] if item["verdict"] == "not met"]
    parts.append(f"Results are in {folder} (start with report.html).")
    return "\n\n".join(part for part in parts if part)


def _limits(claims: Mapping[str, Mapping[str, Any]]) -> str:
    """Return the limits asked for and what was found, a sign and a word for each verdict."""
    asked = {name: item for name, item in claims.items() if item["limit_m"] is not None}
    if not asked:
        return ""
    rows = [("limits, in metres", "found", "95 % upper bound", "limit", "verdict")]
    for name, item in asked.items():
        figures = (_metres(item["value_m"]), _metres(item["upper95_m"]), f"{item['limit_m']:g}")
        rows.append((name, *figures, f"{_SIGNS[item['verdict']]} {item['verdict']}"))
    return "\n".join(_aligned(rows))


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the lines of a table: the first and the last column to the left, the others to the right."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for first, *numbers, last in rows:
        middle = (cell.rjust(width) for cell, width in zip(numbers, widths[1:-1], strict=True))
        lines.append("  ".join([first.ljust(widths[0]), *middle, last]).rstrip())
    return lines


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
