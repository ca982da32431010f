"""Where two documents of results differ, in words that name the place."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

# Another processor, or another version of a library, may round the last digits otherwise.
_ROUNDING = 1e-9

# Member of the results → what a difference in it is called.
_KINDS = {
    "verdict": "verdict",
    "accuracy": "statistic",
    "statistics": "statistic",
    "statistics_by": "statistic",
    "points": "point",
    "claims": "claim",
    "judgements": "statement",
    "findings": "finding",
    "settings": "setting",
    "provenance": "input",
    "base": "base",
}


@dataclass(frozen=True)
class Difference:
    """One place where what was recorded is not what is found now.

    `kind` is file, fingerprint, input, point, statistic, verdict, claim, statement, finding, setting, base or
    other.
    """

    kind: str
    where: str
    recorded: Any
    found: Any

    @property
    def sentence(self) -> str:
        """Return the difference in words."""
        then, now = _shown(self.recorded), _shown(self.found)
        return f"{self.kind.capitalize()} {self.where}: {then} recorded, {now} found."


@dataclass
class Comparison:
    """What a comparison of two documents came to.

    Attributes
    ----------
    values
        Number of values compared.
    rounded
        How many numbers differ in their last digits only; they count as equal.
    """

    differences: list[Difference] = field(default_factory=list)
    values: int = 0
    rounded: int = 0


def compare(recorded: Mapping[str, Any], found: Mapping[str, Any], leave: Sequence[str]) -> Comparison:
    """Return where two documents differ; the members named in `leave` are not looked at."""
    result = Comparison()
    for key in dict.fromkeys([*recorded, *found]):
        if key not in leave:
            kind = _KINDS.get(key, "other")
            _walk(recorded.get(key), found.get(key), (key,), kind, result)
    return result


def _walk(recorded: Any, found: Any, place: tuple[str, ...], kind: str, result: Comparison) -> None:
    for inner, then, now in _members(recorded, found):
        _walk(then, now, (*place, inner), kind, result)
    if _is_container(recorded) and type(recorded) is type(found):
        return
    result.values += 1
    if recorded == found and isinstance(recorded, bool) == isinstance(found, bool):
        return
    if _is_number(recorded) and _is_number(found) and _alike(recorded, found):
        result.rounded += 1
    else:
        result.differences.append(Difference(kind, " ".join(place), recorded, found))


def _alike(recorded: float, found: float) -> bool:
    return math.isclose(recorded, found, rel_tol=_ROUNDING, abs_tol=_ROUNDING)


def _members(recorded: Any, found: Any) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(recorded, Mapping) and isinstance(found, Mapping):
        for key in dict.fromkeys([*recorded, *found]):
            yield str(key), recorded.get(key), found.get(key)
    elif isinstance(recorded, list) and isinstance(found, list):
        for index in range(max(len(recorded), len(found))):
            then, now = (values[index] if index < len(values) else None for values in (recorded, found))
            yield _name(then if then is not None else now, index), then, now


def _name(value: Any, index: int) -> str:
    """Return what tells an entry of a list from its neighbours: its id, or its place."""
    if isinstance(value, Mapping):
        for key in ("id", "diagnosis", "path"):
            if isinstance(value.get(key), str):
                return str(value[key])
    return str(index + 1)


def _is_container(value: Any) -> bool:
    return isinstance(value, dict | list)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    if _is_container(value):
        return f"{len(value)} entries"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 80 else f"{text[:77]}…"
