"""Write the generated parts of the reference pages: `python -m tests.reference_pages`.

A page holds them between `<!-- generated: NAME -->` and `<!-- end -->`; what stands around them is
written by hand. `tests/test_documented.py` fails where a page is out of step with the code.
"""

import ast
import importlib
import inspect
import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from geoqa import errors
from geoqa.accuracy.options import Option
from geoqa.cli import command
from geoqa.diagnoses import DIAGNOSES
from geoqa.processes import PROCESSES, Input, Process
from geoqa.readers.points import READERS, _header
from geoqa.readers.settings import settings_schema
from geoqa.records.columns import Table
from geoqa.records.settings import POINT_COLUMNS
from geoqa.records.tables import TABLES
from geoqa.standards import STANDARDS
from geoqa.targets import KINDS
from geoqa.writers import WRITERS

DOCS = Path(__file__).parents[1] / "docs"
MARKED = re.compile(r"(<!-- generated: ([a-z-]+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)

# What is accepted and written to the results, and decides nothing.
WITHOUT_EFFECT = ("elevation.kind",)

# What a programmer calls, in the order of the line.
FUNCTIONS = (
    *("geoqa.readers.settings.read_settings", "geoqa.readers.settings.settings_from"),
    *("geoqa.assess.assess", "geoqa.prepare.read_into_frame", "geoqa.deliver.deliver"),
    *("geoqa.readers.points.read_points", "geoqa.readers.rasters.read_info"),
    *("geoqa.frame.declare.common_frame", "geoqa.frame.transform.to_frame"),
    *("geoqa.measure.measure_targets", "geoqa.measure.measure_surface"),
    *("geoqa.accuracy.residuals.form_residuals", "geoqa.accuracy.statistics.summarise"),
    *("geoqa.accuracy.statistics.component_statistics", "geoqa.accuracy.intervals.rmse_bounds"),
    *("geoqa.accuracy.intervals.plan_freedom", "geoqa.accuracy.claims.claims"),
    *("geoqa.accuracy.three_numbers.three_numbers", "geoqa.numerics.circular_error.circular_error"),
    *("geoqa.writers.results_json.results", "geoqa.writers.results_json.schema"),
    *("geoqa.writers.geopackage.to_geodataframe", "geoqa.readers.settings.settings_schema"),
)


def markdown_table(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; bars inside a cell are escaped."""
    lines = [heading, ["---"] * len(heading), *rows]
    return "\n".join("| " + " | ".join(_cell(text) for text in line) + " |" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())


def processes() -> str:
    """Return a section for each process."""
    return "\n\n".join(_process(process) for process in PROCESSES.all().values())


def _process(process: Process) -> str:
    made = command(process)
    words = [_usage(parameter) for parameter in made.params if isinstance(parameter, click.Argument)]
    inputs = markdown_table(
        ("option", "input", "value", "unit", "default", "meaning"),
        [_option(parameter, process) for parameter in made.params],
    )
    outputs = markdown_table(
        ("output", "meaning"),
        [(f"`{name}`", _words(item.title, item.description)) for name, item in process.outputs.items()],
    )
    usage = " ".join(["geoqa", process.id, *words, "[OPTIONS]"])
    parts = [f"## geoqa {process.id}", f"{process.title}. {process.description}", f"    {usage}"]
    return "\n\n".join([*parts, inputs, outputs])


def _usage(argument: click.Argument) -> str:
    name = str(argument.name).upper()
    return name if argument.required else f"[{name}]"


def _option(parameter: click.Parameter, process: Process) -> tuple[str, ...]:
    written = _usage(parameter) if isinstance(parameter, click.Argument) else ", ".join(parameter.opts)
    item = process.inputs.get(str(parameter.name))
    if item is None:
        return (f"`{written}`", "", "flag", "", "", str(getattr(parameter, "help", "")))
    schema = item.schema
    unit = str(schema.get("x-ogc-unit", ""))
    default = f"`{schema['default']}`" if "default" in schema else "required" if item.required else ""
    meaning = _words(item.title, item.description)
    return (f"`{written}`", f"`{parameter.name}`", _kind_of_input(item), unit, default, meaning)


def _kind_of_input(item: Input) -> str:
    files = {"uri-reference": "path", "date-time": "time"}
    schema = dict(item.schema)
    return files.get(str(schema.get("format"))) or kind_of_value(schema, {})


def _words(title: str, description: str) -> str:
    return f"{title}: {description}" if description else title


def settings() -> str:
    """Return a section for each table of the settings file."""
    schema = settings_schema()
    tables, top = [], []
    for key, value in schema["properties"].items():
        table = _table_in(value, schema["$defs"])
        if table is None:
            top.append(_key_row(key, key, value, schema))
        else:
            tables.append(_settings_table(key, table, value, schema))
    position = schema["$defs"]["Position"]
    heading = "### Positions: `base.assumed` and `base.precise`"
    tables.append(_key_rows(heading, "base.assumed", position, schema))
    return "\n\n".join(["### At the top", markdown_table(_KEY_HEADING, top), *tables])


_KEY_HEADING = ("key", "value", "unit", "default", "meaning")


def _settings_table(key: str, table: dict[str, Any], value: dict[str, Any], schema: dict[str, Any]) -> str:
    several = any("items" in item for item in value.get("anyOf", ()))
    brackets = f"`[{key}]`" + (f" or `[[{key}]]`" if several else "")
    return _key_rows(f"### {brackets}", key, table, schema)


def _key_rows(heading: str, path: str, table: dict[str, Any], schema: dict[str, Any]) -> str:
    needed = table.get("required", ())
    rows = [
        _key_row(key, f"{path}.{key}", value, schema, needed=key in needed)
        for key, value in table["properties"].items()
    ]
    return "\n\n".join([heading, table["description"], markdown_table(_KEY_HEADING, rows)])


def _key_row(
    key: str, path: str, value: dict[str, Any], schema: dict[str, Any], *, needed: bool = False
) -> tuple[str, ...]:
    shapes = list(_shapes(value, schema["$defs"]))
    default = "required" if needed else _written(value.get("default"))
    meaning = value.get("description") or next(
        (shape["description"] for shape in shapes if "description" in shape), ""
    )
    if path in WITHOUT_EFFECT:
        meaning += ". Recorded in the results; it decides nothing"
    unit = "%" if key.endswith("_percent") else next(filter(None, map(_unit, shapes)), "")
    return f"`{key}`", kind_of_value(value, schema["$defs"]), unit, default, meaning


def _shapes(value: dict[str, Any], definitions: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the shapes that a value may have, references followed, null left out."""
    for item in value.get("anyOf", [value]):
        shape = definitions[item["$ref"].rsplit("/", 1)[1]] if "$ref" in item else item
        if shape.get("type") != "null":
            yield shape


def _table_in(value: dict[str, Any], definitions: dict[str, Any]) -> dict[str, Any] | None:
    tables = [shape for shape in _shapes(value, definitions) if "properties" in shape]
    return tables[0] if tables else None


def _unit(shape: dict[str, Any]) -> str:
    inside = shape.get("prefixItems", [shape])
    return str(inside[0].get("x-ogc-unit", ""))


def _written(default: Any) -> str:
    if default is None or default == []:
        return ""
    return f"`{json.dumps(default, ensure_ascii=False)}`"


def kind_of_value(value: dict[str, Any], definitions: dict[str, Any]) -> str:
    """Return in words what a value of a JSON Schema may be."""
    kinds = dict.fromkeys(_kind_of_shape(shape, definitions) for shape in _shapes(value, definitions))
    return " or ".join(kinds)


def _kind_of_shape(shape: dict[str, Any], definitions: dict[str, Any]) -> str:
    if "enum" in shape or "const" in shape:
        choices = shape.get("enum") or [shape["const"]]
        return " or ".join(f"`{choice}`" for choice in choices)
    kind = str(shape.get("type"))
    if kind == "array":
        count = len(shape.get("prefixItems", ()))
        if count:
            return f"list of {count} numbers"
        return f"list of {kind_of_value(shape['items'], definitions)}"
    if kind == "object":
        return "position" if "sinex" in shape.get("properties", ()) else "table"
    plain = {"string": "text", "boolean": "true or false", "integer": "whole number"}
    return plain.get(kind) or f"number{_bounds(shape)}"


def _bounds(shape: dict[str, Any]) -> str:
    signs = {"exclusiveMinimum": ">", "minimum": "≥", "exclusiveMaximum": "<", "maximum": "≤"}
    found = [f"{sign} {shape[name]:g}" for name, sign in signs.items() if name in shape]
    return f" {', '.join(found)}" if found else ""


def point_columns() -> str:
    """Return the columns of a file of points with the other names that are understood."""
    rows = []
    for name in POINT_COLUMNS:
        units = ", ".join(sorted(_header.UNITS_OF.get(name, ())))
        rows.append((f"`{name}`", _codes(_header._SYNONYMS[name].split()), units))
    return markdown_table(("column", "also understood", "units a header may state"), rows)


def _codes(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def header_units() -> str:
    """Return how units are written in a header."""
    rows = [(f"`{unit}`", _codes(words.split())) for unit, words in _header._UNITS.items()]
    return markdown_table(("unit", "written as"), rows)


def readers() -> str:
    """Return a section for each format of point files, with its example."""
    parts = []
    for reader in READERS.all().values():
        shown = "Invented example" if reader.example_is_file else "Rows of an invented example"
        example = f"```text\n{reader.example.rstrip()}\n```"
        words = f"Id `{reader.id}`; files named {_codes(reader.suffixes)}. {shown}:"
        parts.append(f"### {reader.title}\n\n{words}\n\n{example}")
    return "\n\n".join(parts)


def layers() -> str:
    """Return a section for each layer and table, with all columns."""
    return "\n\n".join(_layer(table) for table in TABLES)


def _layer(table: Table) -> str:
    geometry = f"{table.geometry}" if table.geometry else "no geometry"
    rows = [(f"`{c.name}`", str(c.type), c.unit or "", c.meaning) for c in table.columns]
    heading = f"## {table.name}\n\n*{table.title}*; {geometry}. {table.meaning}"
    return f"{heading}\n\n{markdown_table(('column', 'type', 'unit', 'meaning'), rows)}"


def standards() -> str:
    """Return id, title, options and source of each standard."""
    return "\n".join(
        f"- `{item.id}`: {item.title}. {_options(item.options or ())} *Source:* {item.source}"
        for item in STANDARDS.all().values()
    )


def _options(options: Iterable[Option]) -> str:
    parts = []
    for option in options:
        values = [str(choice) for choice in option.choices]
        needed = "required" if option.required else ""
        notes = "; ".join(part for part in (" or ".join(values), option.unit or "", needed) if part)
        parts.append(f"`{option.name}` ({option.meaning}{'; ' if notes else ''}{notes})")
    return f"*Options:* {', '.join(parts)}." if parts else "*Options:* none."


def targets() -> str:
    """Return the kinds of targets."""
    rows = [(f"`{kind.id}`", kind.title, kind.description) for kind in KINDS.all().values()]
    return markdown_table(("id", "title", "what it looks like, and its centre"), rows)


def diagnoses() -> str:
    """Return the causes that are looked for."""
    rows = [(f"`{item.id}`", item.title, str(item.minimum_points)) for item in DIAGNOSES.all().values()]
    return markdown_table(("id", "cause", "fewest points"), rows)


def writers() -> str:
    """Return the deliverables in the order in which they are written."""
    ordered = sorted(WRITERS.all().values(), key=lambda item: (item.order, item.id))
    rows = [(f"`{w.id}`", w.title, f"`{w.media_type}`", "yes" if w.picture else "no") for w in ordered]
    return markdown_table(
        ("id", "deliverable", "media type of its main file", "left out by `pictures = false`"), rows
    )


def error_tree() -> str:
    """Return the tree of errors as the module draws it."""
    drawn = [line[4:] for line in str(errors.__doc__).splitlines() if line.startswith("    ")]
    return "```text\n" + "\n".join(drawn) + "\n```"


def functions() -> str:
    """Return signature and first sentence of what a programmer calls."""
    rows = []
    for name in FUNCTIONS:
        module, function = name.rsplit(".", 1)
        parts = (
            f"### {function}",
            f"```python\n{_signature(module, function)}\n```",
            f"{_sentence(module, function)}",
        )
        rows.append("\n\n".join(parts))
    return "\n\n".join(rows)


def _signature(module: str, function: str) -> str:
    """Return import and signature as they stand in the source, so that no version of Python changes them."""
    source = inspect.getsource(importlib.import_module(module))
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef) and node.name == function and node.returns is not None:
            line = f"def {function}({ast.unparse(node.args)}) -> {ast.unparse(node.returns)}: ..."
            return f"from {module} import {function}\n\n{line}"
    message = f"{module} has no function {function}."
    raise LookupError(message)


def _sentence(module: str, function: str) -> str:
    text = inspect.getdoc(getattr(importlib.import_module(module), function)) or ""
    return " ".join(text.split("\n\n")[0].split())


BLOCKS: dict[str, Callable[[], str]] = {
    "processes": processes,
    "settings": settings,
    "point-columns": point_columns,
    "header-units": header_units,
    "readers": readers,
    "layers": layers,
    "standards": standards,
    "targets": targets,
    "diagnoses": diagnoses,
    "writers": writers,
    "error-tree": error_tree,
    "functions": functions,
}


def renewed(text: str) -> str:
    """Return a page with its generated parts made anew."""
    return MARKED.sub(lambda found: f"{found[1]}\n{BLOCKS[found[2]]()}\n\n{found[4]}", text)


def main() -> None:
    """Renew all pages."""
    for page in sorted(DOCS.rglob("*.md")):
        text = page.read_text("utf-8")
        if renewed(text) != text:
            page.write_text(renewed(text), "utf-8", newline="\n")


if __name__ == "__main__":
    main()
