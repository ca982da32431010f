"""The command line: one sub-command a process, made from its description; nothing is computed here."""

import gc
import json
import logging
import os
import shutil
import sys
import textwrap
import time
import warnings
from collections.abc import Mapping
from typing import Any, TextIO

import click

from geoqa.errors import GeoqaError
from geoqa.processes import PROCESSES, Input, Process
from geoqa.version import VERSION

WRONG_USE = 2
INTERRUPTED = 130
_OBJECTS_BEFORE_COLLECTION = 50_000
# Work that is done sooner says nothing of its progress; longer work says so now and then.
_PATIENCE_S, _BETWEEN_S = 1.0, 0.1

# A terminal is taken to be so wide: sentences read badly in longer lines.
_NARROWEST, _WIDEST = 40, 100

_CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}

# An input named with its unit (`horizontal_limit_m`) makes an option without it; the help says the unit.
_UNIT_SUFFIXES = ("_m", "_px", "_deg")


class ProcessGroup(click.Group):
    """A group whose commands are the registered processes, in their own order of use."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands."""
        return [*PROCESSES.all(), *super().list_commands(ctx)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of a process, made from its description."""
        process = PROCESSES.all().get(cmd_name)
        return command(process) if process else super().get_command(ctx, cmd_name)


@click.group(cls=ProcessGroup, context_settings=_CONTEXT)
@click.version_option(VERSION, prog_name="geoqa")
def geoqa() -> None:
    """Find out how well map products agree with the ground.

    `geoqa demo` writes an invented site and checks it; `geoqa check` does the same with yours.

    Exit status: 0 every requirement met or not contradicted (or none asked), 1 one failed,
    2 wrong use or input, 3 undecidable.
    """


@geoqa.command(context_settings=_CONTEXT, short_help="Print the process descriptions as JSON")
@click.argument("process", required=False)
def describe(process: str | None) -> None:
    """Print the OGC API process description(s) as JSON."""
    found = PROCESSES.all().values() if process is None else [PROCESSES.get(process)]
    descriptions = [item.describe() for item in found]
    document: Any = {"processes": descriptions} if process is None else descriptions[0]
    click.echo(json.dumps(document, indent=2, ensure_ascii=False))


def command(process: Process) -> click.Command:
    """Return the sub-command of a process: its options, its help and its exit status."""

    def callback(*, as_json: bool, quiet: bool, **values: Any) -> None:
        _listen(quiet=quiet, progress=not quiet and not as_json and sys.stderr.isatty())
        outputs = process.run(**{name: value for name, value in values.items() if value is not None})
        if process.summary and not quiet:
            text = process.summary(outputs)
            click.echo(wrapped(text, _columns()) if sys.stderr.isatty() else text, err=True)
        if as_json:
            document = outputs if process.document is None else outputs[process.document]
            click.echo(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))
        sys.exit(process.exit_status(outputs))

    parameters = [_parameter(name, item) for name, item in process.inputs.items()]
    parameters.append(
        click.Option(["--json", "as_json"], is_flag=True, help="Print the result as one JSON document.")
    )
    parameters.append(click.Option(["--quiet"], is_flag=True, help="Print errors only."))
    return click.Command(
        process.id,
        params=parameters,
        callback=callback,
        help=f"{process.title}.\n\n{process.description}",
        short_help=process.title,
        context_settings=_CONTEXT,
    )


def _parameter(name: str, item: Input) -> click.Parameter:
    if item.position:
        word = _metavar(item)
        return click.Argument([name], required=item.required, metavar=word if item.required else f"[{word}]")
    text = f"{item.title}: {item.description}" if item.description else item.title
    default = item.schema.get("default")
    if default is not None and default is not False:
        text += f" (default {default}{_unit(item)})"
    return click.Option(
        [_option_name(name), name],
        type=_click_type(item.schema),
        required=item.required,
        is_flag=item.schema.get("type") == "boolean",
        default=None,
        metavar=None if "enum" in item.schema else _metavar(item),
        help=f"{text}.",
    )


def _option_name(name: str) -> str:
    for suffix in _UNIT_SUFFIXES:
        name = name.removesuffix(suffix)
    return "--" + name.replace("_", "-")


def _metavar(item: Input) -> str | None:
    if item.schema.get("type") == "boolean":
        return None
    if item.schema.get("x-ogc-unit"):
        return str(item.schema["x-ogc-unit"]).upper()
    if item.word:
        return item.word
    return {"uri-reference": "FILE", "date-time": "TIME"}.get(str(item.schema.get("format")), "TEXT")


def _unit(item: Input) -> str:
    unit = item.schema.get("x-ogc-unit")
    return f" {unit}" if unit else ""


def _click_type(schema: Mapping[str, Any]) -> click.ParamType[Any]:
    if "enum" in schema:
        return click.Choice([str(value) for value in schema["enum"]])
    if schema.get("type") == "number":
        if schema.get("exclusiveMinimum") is not None:
            return click.FloatRange(min=schema["exclusiveMinimum"], min_open=True)
        return click.FLOAT
    return {"integer": click.INT, "boolean": click.BOOL}.get(str(schema.get("type")), click.STRING)


class _Terminal(logging.StreamHandler[TextIO]):
    """Writes messages a line each, and how far long work has come on one line that it writes over."""

    def __init__(self, stream: TextIO) -> None:
        super().__init__(stream)
        self._begun: dict[str, float] = {}
        self._shown_s = 0.0
        self._on_line = False

    def emit(self, record: logging.LogRecord) -> None:
        done = getattr(record, "done", None)
        if done is None:
            self.erase()
            super().emit(record)
            return
        total, now = vars(record)["total"], time.monotonic()
        begun = self._begun.setdefault(vars(record)["title"], now)
        if done == total:
            self.erase()
        elif now - begun > _PATIENCE_S and now - self._shown_s > _BETWEEN_S:
            self.stream.write(f"\r{record.getMessage()}\x1b[K")
            self.flush()
            self._shown_s, self._on_line = now, True

    def erase(self) -> None:
        """Take the line of progress away."""
        if self._on_line:
            self.stream.write("\r\x1b[K")
            self._on_line = False


def _columns() -> int:
    return max(_NARROWEST, min(shutil.get_terminal_size().columns, _WIDEST))


def wrapped(text: str, columns: int) -> str:
    """Return a text whose long lines are broken between words; a path or an id is never broken.

    Examples
    --------
    >>> wrapped("short\\nalpha beta gamma", 12).splitlines()
    ['short', 'alpha beta', '  gamma']
    """
    lines = [
        textwrap.fill(line, columns, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
        if len(line) > columns
        else line
        for line in text.split("\n")
    ]
    return "\n".join(lines)


def _listen(*, quiet: bool, progress: bool) -> None:
    """Send what the line says about itself to standard error."""
    logger = logging.getLogger("geoqa")
    logger.handlers = [_Terminal(sys.stderr)]
    logger.handlers[0].setFormatter(logging.Formatter("%(message)s"))
    logging.getLogger("geoqa.progress").setLevel(logging.DEBUG if progress else logging.WARNING)
    logger.setLevel(logging.ERROR if quiet else logging.INFO)
    logger.propagate = False
    if quiet:
        warnings.simplefilter("ignore")
    else:
        warnings.showwarning = lambda message, *_, **__: logger.warning("Warning: %s", message)


def main() -> None:
    """Run the command line; every mistake ends in one sentence and a status, never in a traceback."""
    _spare_time()
    try:
        geoqa.main(standalone_mode=False)
    except GeoqaError as mistake:
        _stop(str(mistake), WRONG_USE)
    except click.ClickException as mistake:
        mistake.show()
        sys.exit(WRONG_USE)
    except (click.Abort, KeyboardInterrupt):
        _stop("Stopped. The results of an earlier run are untouched.", INTERRUPTED)
    except Exception as mistake:
        # The last net: a mistake of ours must not look like one of the user's, nor end in a traceback.
        if os.environ.get("GEOQA_TRACEBACK"):
            raise
        _stop(
            f"geoqa itself failed ({type(mistake).__name__}: {mistake}). Nothing was written. "
            "Set GEOQA_TRACEBACK=1 and run again to see where; please report it.",
            WRONG_USE,
        )


def _spare_time() -> None:
    """Set up what costs a short run more than it helps; before numpy is imported."""
    # Imports leave many objects behind, few of them in circles.
    gc.set_threshold(_OBJECTS_BEFORE_COLLECTION)
    # The systems of equations are small: threads of the linear algebra wait longer than they work.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _stop(message: str, status: int) -> None:
    for handler in logging.getLogger("geoqa").handlers:
        if isinstance(handler, _Terminal):
            handler.erase()
    click.echo(f"geoqa: {message}", err=True)
    sys.exit(status)
