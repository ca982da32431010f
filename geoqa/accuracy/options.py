"""Options that stand beside the id of a standard in the settings, declared once and checked by that."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from geoqa.errors import SettingsError


@dataclass(frozen=True)
class Option:
    """One option: a positive number, or one of several words or numbers.

    Attributes
    ----------
    unit
        "m" for a length; None for a ratio, a count or a word.
    choices
        The values allowed; empty: any positive number.
    required
        Whether the standard says nothing without it.
    """

    name: str
    meaning: str
    unit: str | None = None
    choices: tuple[str | float, ...] = ()
    required: bool = False


def read_options(standard: str, given: Mapping[str, Any], options: Iterable[Option]) -> dict[str, Any]:
    """Return the options as given, numbers as float; what is not given is left out.

    Raises
    ------
    SettingsError
        When one is unknown, missing though required, or of a wrong value; all at once.

    Examples
    --------
    >>> read_options("example", {"scale": 500}, (Option("scale", "Scale number"),))
    {'scale': 500.0}
    """
    known = {option.name: option for option in options}
    where = f"requirement.standards, {standard}"
    allowed = f"Use {' or '.join(known)}" if known else "It has none"
    mistakes = [
        f"{where}: the option “{name}” is not known. {allowed}." for name in given if name not in known
    ]
    mistakes += [
        f"{where}: {option.name} is missing. It is {_wanted(option)}: {option.meaning}."
        for option in known.values()
        if option.required and option.name not in given
    ]
    found: dict[str, Any] = {}
    for name, option in known.items():
        if name in given:
            try:
                found[name] = _value(option, given[name])
            except ValueError:
                mistakes.append(f"{where}: {name} must be {_wanted(option)}, found {given[name]!r}.")
    if mistakes:
        raise SettingsError("\n".join(mistakes))
    return found


def _value(option: Option, value: object) -> str | float:
    """Return the value in the type of its option; `ValueError` where it is none of its values."""
    number = not isinstance(value, bool) and isinstance(value, int | float)
    if option.choices:
        same = [choice for choice in option.choices if choice == value and (number or isinstance(value, str))]
        if not same:
            raise ValueError
        return same[0]
    if not number or not 0 < float(str(value)) < float("inf"):
        raise ValueError
    return float(str(value))


def _wanted(option: Option) -> str:
    if option.choices:
        return "one of " + ", ".join(str(choice) for choice in option.choices)
    return "a length in metres above 0" if option.unit == "m" else "a number above 0"
