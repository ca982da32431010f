"""Settings in: from a TOML file or from words, with every mistake told at once and by its line."""

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from geoqa.errors import SettingsError
from geoqa.readers._toml_lines import KeyPath, lines_of_keys
from geoqa.records.checked_table import RULE, unknown_name
from geoqa.records.settings import Settings, is_remote, is_sha256

SCHEMA_FILE = Path(__file__).with_name("settings.schema.json")

Mistake = tuple[KeyPath, str]


def read_settings(path: Path, *, files_needed: bool = True) -> Settings:
    """Return the settings that a TOML file holds; its paths count from its folder.

    Parameters
    ----------
    files_needed
        False: the files that it names need not be there, as when only the settings are looked at.

    Raises
    ------
    SettingsError
        Where the file cannot be read or is no TOML, or with every mistake in it at once: unknown
        keys, wrong values, broken rules and missing files, each by its line and path.
    """
    text = _text_of(path)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as mistake:
        raise SettingsError(_syntax_sentence(path.name, str(mistake))) from None
    return _checked(values, path.parent, path.name, lines_of_keys(text), files_needed=files_needed)


def settings_from(values: Mapping[str, Any], folder: Path, where: str) -> Settings:
    """Return the settings that these values make; paths count from `folder`.

    `where` says in messages where the values come from, such as "command line".

    Raises
    ------
    SettingsError
        With every mistake at once, each by its path.
    """
    return _checked(values, folder, where, {})


def settings_schema() -> dict[str, Any]:
    """Return the JSON Schema of the settings file, made from the model."""
    schema = Settings.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Settings of geoqa"}


def write_settings_schema(path: Path = SCHEMA_FILE) -> None:
    """Write the JSON Schema of the settings file, by which editors complete and check it."""
    path.write_text(json.dumps(settings_schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def _text_of(path: Path) -> str:
    try:
        # Some editors put a byte order mark before UTF-8; TOML knows none.
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        message = f"{path}: there is no such settings file. Check the name."
    except IsADirectoryError:
        message = f"{path} is a folder. Name the settings file in it."
    except UnicodeDecodeError:
        message = f"{path}: the settings are not UTF-8 text. Save the file as UTF-8."
    except OSError as reason:
        message = f"{path}: the settings cannot be read ({reason.strerror}). Check the permissions."
    raise SettingsError(message)


def _syntax_sentence(name: str, mistake: str) -> str:
    place = re.fullmatch(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", mistake, re.DOTALL)
    what, line, column = place.groups() if place else (mistake, None, None)
    where = f"{name}, line {line}, column {column}" if line else f"{name}, at its end"
    hint = " In paths write / or put the text in 'single quotes'." if "\\" in what else ""
    return f"{where}: {what}; this is not TOML.{hint}"


def _checked(
    values: Mapping[str, Any],
    folder: Path,
    where: str,
    lines: Mapping[KeyPath, int],
    *,
    files_needed: bool = True,
) -> Settings:
    mistakes: list[Mistake] = list(_missing_files(values, folder)) if files_needed else []
    if "folder" in values:
        mistakes.append((("folder",), unknown_name("folder", _keys(), "key")))
    wanted = {key: value for key, value in values.items() if key != "folder"}
    try:
        settings = Settings.model_validate({**wanted, "folder": folder})
    except ValidationError as wrong:
        found = wrong.errors(include_url=False)
        mistakes += [(_as_written(item["loc"], values), _sentence(item)) for item in found]
    if mistakes:
        raise SettingsError(_report(mistakes, where, lines))
    return settings


def _keys() -> tuple[str, ...]:
    return tuple(name for name, field in Settings.model_fields.items() if not field.exclude)


def _report(mistakes: list[Mistake], where: str, lines: Mapping[KeyPath, int]) -> str:
    by_line = sorted(mistakes, key=lambda mistake: _line(mistake[0], lines) or 0)
    if len(by_line) == 1:
        ((path, sentence),) = by_line
        return f"{', '.join([where, *_place(path, lines)])}: {sentence}"
    told = [": ".join(filter(None, [", ".join(_place(path, lines)), sentence])) for path, sentence in by_line]
    return f"{where} holds {len(told)} mistakes:\n" + "\n".join(f"- {sentence}" for sentence in told)


def _place(path: KeyPath, lines: Mapping[KeyPath, int]) -> list[str]:
    line = _line(path, lines)
    return ([] if line is None else [f"line {line}"]) + ([_dotted(path)] if path else [])


def _line(path: KeyPath, lines: Mapping[KeyPath, int]) -> int | None:
    """Return the line of a key, or of the nearest table around it, or None."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _dotted(path: KeyPath) -> str:
    """Return a path as a person writes it.

    Examples
    --------
    >>> _dotted(("base", 1, "precise", "sinex"))
    'base[1].precise.sinex'
    """
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path).removeprefix(".")


def _as_written(location: KeyPath, values: Mapping[str, Any]) -> KeyPath:
    """Return a path of the model as one of the user's values.

    A single table where a list may stand has no number, and a key of a table no mark of its own.
    """
    path: list[str | int] = []
    value: Any = values
    for part in location:
        if part == "[key]" or (isinstance(part, int) and isinstance(value, Mapping)):
            continue
        path.append(part)
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            value = None
    return tuple(path)


def _missing_files(values: Mapping[str, Any], folder: Path) -> Iterator[Mistake]:
    for path, name in named_files(values):
        if isinstance(name, str) and name and not is_remote(name) and not _exists(folder / name):
            yield path, f"there is no file {(folder / name).absolute()}. Check name and folder."


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # a name too long for the disk, a folder that may not be entered
        return False


def named_files(values: Mapping[str, Any]) -> Iterator[tuple[KeyPath, object]]:
    """Yield path and value of every key that names a file, where it stands."""
    single = (("orthomosaic", "path"), ("elevation", "path"), ("targets", "marks"), ("geoid", "grid"))
    for name, key in single:
        yield from _entry(values.get(name), (name,), key)
    for path, table in _tables(values, "points"):
        yield from _entry(table, path, "path")
        for at, seal in _entry(table, path, "sealed"):
            if isinstance(seal, str) and not is_sha256(seal):
                yield at, seal
    for path, base in _tables(values, "base"):
        for side in ("assumed", "precise"):
            for at, position in _entry(base, path, side):
                yield from _entry(position, at, "sinex")


def _tables(values: Mapping[str, Any], name: str) -> Iterator[tuple[KeyPath, object]]:
    given = values.get(name)
    if isinstance(given, list | tuple):
        yield from (((name, number), table) for number, table in enumerate(given))
    else:
        yield (name,), given


def _entry(table: object, path: KeyPath, key: str) -> Iterator[tuple[KeyPath, object]]:
    if isinstance(table, Mapping) and key in table:
        yield (*path, key), table[key]


def _sentence(mistake: ErrorDetails) -> str:
    """Return what is wrong with a value, in words for a person."""
    kind, context = mistake["type"], mistake.get("ctx", {})
    if kind == RULE:
        return mistake["msg"]
    found = _shown(mistake["input"])
    sentences = {
        "missing": "is missing. Add it.",
        "enum": f"{found} is not one of {_words(context)}.",
        "literal_error": f"{found} is not one of {_words(context)}.",
        "float_type": f"must be a number, found {found}.",
        "finite_number": f"must be a finite number, found {found}.",
        "bool_type": f"must be true or false, found {found}.",
        "string_type": f"must be text in quotes, found {found}.",
        "string_too_short": "is empty. Fill it in or leave it out.",
        "model_type": f"must be a table, found {found}.",
        "dict_type": f"must be a table, found {found}.",
        "tuple_type": f"must be a table or a list, found {found}.",
        "too_long": f"takes {context.get('max_length')} numbers, found {found}.",
    }
    bounds = {"gt": "greater than", "ge": "at least", "lt": "less than", "le": "at most"}
    for bound, words in bounds.items():
        if bound in context:
            return f"must be {words} {context[bound]:g}, found {found}."
    return sentences.get(kind, f"{mistake['msg']}, found {found}.")


def _words(context: Mapping[str, Any]) -> str:
    return str(context.get("expected", "")).replace("' or '", "', '").replace("'", "")


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    text = f"“{value}”" if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
