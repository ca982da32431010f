"""Which column of a table holds what, by its header and by what the user says of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geoqa.errors import InputError
from geoqa.readers.points._angles import DECIMAL
from geoqa.readers.points._cells import brief
from geoqa.readers.points._header import (
    ATTRIBUTES,
    GEOGRAPHIC,
    LENGTHS,
    LINEAR,
    METRES,
    PROJECTED,
    UNITS_OF,
    HeaderName,
    bare,
    header_name,
)
from geoqa.records.checked_table import unknown_name
from geoqa.records.settings import POINT_COLUMNS
from geoqa.units import LinearUnit


@dataclass(frozen=True)
class ColumnPlan:
    """Where each of our columns stands in a table.

    Attributes
    ----------
    header
        All names, as written.
    columns
        Our name → number of the column, from 0.
    others
        Name in the header → number, of the columns that have no name of ours.
    unit, height_unit
        As the header states them, or None.
    metres
        Metres in one unit of each column of standard deviations and target heights.
    angle_forms
        How latitude and longitude are written.
    where
        File and line of the header, for messages.
    """

    header: tuple[str, ...]
    columns: Mapping[str, int]
    others: Mapping[str, int]
    unit: LinearUnit | None
    height_unit: LinearUnit | None
    metres: Mapping[str, float]
    angle_forms: Mapping[str, str]
    where: str


def plan_columns(
    header: Sequence[str], wanted: Mapping[str, str], *, where: str, position: bool = True
) -> ColumnPlan:
    """Return which column holds what.

    Parameters
    ----------
    wanted
        Our name → name in the header, as the user gave it; it goes before every synonym.
    where
        File and line, for messages.
    position
        Whether the table must hold the position; False where a geometry does.

    Raises
    ------
    InputError
        Where a name stands twice, may mean two things, is asked for and not there, or the position
        is missing.
    """
    names = [header_name(text) for text in header]
    _refuse_nameless(header, where)
    found = _asked(header, wanted, where)
    for field in POINT_COLUMNS:
        if field not in found:
            column = _search(field, names, set(found.values()), where)
            found |= {} if column is None else {field: column}
    if position:
        found = _one_position(found, wanted, names, where)
    others = {text: number for number, text in enumerate(header) if number not in found.values()}
    _refuse_taken(found, others, where)
    units = {field: _unit(names[column], field, where) for field, column in found.items()}
    _refuse_two_units(units, where)
    return ColumnPlan(
        header=tuple(header),
        columns=found,
        others=others,
        unit=LINEAR.get(units.get("easting") or ""),
        height_unit=LINEAR.get(units.get("height") or ""),
        metres={field: METRES[units[field] or "m"] for field in LENGTHS if field in found},
        angle_forms={field: units[field] or DECIMAL for field in GEOGRAPHIC if field in found},
        where=where,
    )


def shown(header: Sequence[str]) -> str:
    """Return a header for a message, cut after twelve names."""
    return ", ".join(f"“{brief(name)}”" for name in header[:12]) + (" …" if len(header) > 12 else "")


def _advice(*fields: str) -> str:
    example = ", ".join(f'{field} = "…"' for field in fields)
    return f"Name it so in the header, or say which it is under [points.columns] ({example})."


def _refuse_nameless(header: Sequence[str], where: str) -> None:
    for number, text in enumerate(header):
        if not text:
            message = f"{where}: column {number + 1} has no name in the header. Give it one."
            raise InputError(message)
        if text in header[:number]:
            message = f"{where}: the header names “{text}” twice. Rename one of the two columns."
            raise InputError(message)


def _asked(header: Sequence[str], wanted: Mapping[str, str], where: str) -> dict[str, int]:
    """Return the columns that the user named; the exact name goes before one alike."""
    found: dict[str, int] = {}
    for field, text in wanted.items():
        if field not in POINT_COLUMNS:
            message = f"{where}: [points.columns]: {unknown_name(field, POINT_COLUMNS, 'column')}"
            raise InputError(message)
        same = [number for number, name in enumerate(header) if name == text]
        alike = same or [number for number, name in enumerate(header) if bare(name) == bare(text)]
        if len(alike) != 1:
            message = (
                f"{where}: [points.columns] calls the {field} “{text}”, "
                f"but the header holds {shown(header)}. Write the name as it stands there."
            )
            raise InputError(message)
        if alike[0] in found.values():
            message = f"{where}: [points.columns] names “{text}” twice. Let a column hold one thing."
            raise InputError(message)
        found[field] = alike[0]
    return found


def _search(field: str, names: Sequence[HeaderName], taken: set[int], where: str) -> int | None:
    """Return the one column that means a field, or None."""
    meant = [number for number, name in enumerate(names) if number not in taken and name.means(field)]
    fitting = [n for n in meant if names[n].unit is None or names[n].unit in UNITS_OF.get(field, ())]
    if field == "id" or field in ATTRIBUTES:
        fitting = [number for number in fitting if names[number].bare == bare(field)] or fitting
    if len(fitting) > 1:
        found = " or ".join(f"“{names[number].text}”" for number in fitting)
        message = f'{where}: the {field} may be {found}. Name one under [points.columns] ({field} = "…").'
        raise InputError(message)
    if not fitting and meant and field in UNITS_OF and field not in ATTRIBUTES:
        _refuse_unit(names[meant[0]], field, where)
    return fitting[0] if fitting else None


def _unit(name: HeaderName, field: str, where: str) -> str | None:
    """Return the unit that a column states; a remark in brackets that is no unit says nothing."""
    if field not in UNITS_OF or name.unit in UNITS_OF[field]:
        return name.unit
    if name.unit_is_known:
        _refuse_unit(name, field, where)
    return None


def _refuse_unit(name: HeaderName, field: str, where: str) -> None:
    message = (
        f"{where}: “{name.unit}” in “{name.text}” is no unit that the {field} is read in "
        f"({', '.join(sorted(UNITS_OF[field]))}). Convert the column, or name it under [points.columns] "
        f"where that is a mere remark."
    )
    raise InputError(message)


def _refuse_two_units(units: Mapping[str, str | None], where: str) -> None:
    for pair, unstated in ((PROJECTED, "no unit"), (GEOGRAPHIC, DECIMAL)):
        stated = [units[field] or unstated for field in pair if field in units]
        if len(set(stated)) > 1:
            message = (
                f"{where}: the header gives the {pair[0]} in {stated[0]} and the {pair[1]} in {stated[1]}. "
                f"Bring both into one unit and name it for both."
            )
            raise InputError(message)


def _refuse_taken(found: Mapping[str, int], others: Mapping[str, int], where: str) -> None:
    for field in ATTRIBUTES:
        if field in found and field in others:
            message = (
                f"{where}: the header holds “{field}”, but [points.columns] takes it from another column. "
                f"Rename “{field}” in the header."
            )
            raise InputError(message)


def _one_position(
    found: dict[str, int], wanted: Mapping[str, str], names: Sequence[HeaderName], where: str
) -> dict[str, int]:
    """Return the columns with one pair of coordinates, or raise where there is none or two."""
    pairs = (PROJECTED, GEOGRAPHIC)
    asked = [pair for pair in pairs if any(field in wanted for field in pair)]
    complete = [pair for pair in pairs if all(field in found for field in pair)]
    chosen = asked or complete
    if len(chosen) > 1:
        message = (
            f"{where}: the position stands there twice, in easting and northing and in latitude and "
            f"longitude. Name the pair to use under [points.columns]."
        )
        raise InputError(message)
    if not chosen or chosen[0] not in complete:
        raise InputError(_position_sentence(found, names, where))
    dropped = {field for pair in pairs if pair != chosen[0] for field in pair}
    return {field: column for field, column in found.items() if field not in dropped}


def _position_sentence(found: Mapping[str, int], names: Sequence[HeaderName], where: str) -> str:
    free = [name.text for number, name in enumerate(names) if number not in found.values()]
    crossed = [text for text in free if header_name(text).bare in {"x", "y"}]
    if crossed:
        return (
            f"{where}: {shown(crossed)} does not say which is east, since some surveyors call north X. "
            f'Say so under [points.columns] (easting = "…", northing = "…").'
        )
    pair = GEOGRAPHIC if any(field in found for field in GEOGRAPHIC) else PROJECTED
    missing = [field for field in pair if field not in found]
    header = shown([name.text for name in names])
    return f"{where}: no column holds the {' and the '.join(missing)}, found {header}. {_advice(*missing)}"
