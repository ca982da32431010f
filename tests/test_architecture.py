"""The import rule holds, and the house keeps its size."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HEAVY = {"numpy", "rasterio", "pandas", "matplotlib", "scipy", "pyproj", "pydantic"}
FILES = sorted((ROOT / "geoqa").rglob("*.py"))


def test_import_rule_holds():
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert answer.returncode == 0, answer.stdout + answer.stderr


@pytest.mark.parametrize("family", ["targets", "standards", "diagnoses", "writers", "readers/points"])
def test_plug_ins_of_a_family_do_not_lean_on_each_other(family):
    # What they share stands in modules with an underscore, which are no plug-ins.
    folder = ROOT / "geoqa" / family
    dotted = f"geoqa.{family.replace('/', '.')}"
    plug_ins = {path.stem for path in folder.glob("*.py") if not path.stem.startswith("_")}
    for name in plug_ins:
        tree = ast.parse((folder / f"{name}.py").read_text("utf-8"))
        imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert not imported & {f"{dotted}.{other}" for other in plug_ins - {name}}, name


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_file_is_a_small_room(path):
    assert len(path.read_text("utf-8").splitlines()) <= 300


def code_lines(function):
    """Lines of a function without its docstring."""
    first = function.body[0]
    has_text = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    text = (first.end_lineno - first.lineno + 1) if has_text else 0
    return function.end_lineno - function.lineno + 1 - text


def test_functions_are_short():
    lengths = {
        f"{path.relative_to(ROOT)}:{node.name}": code_lines(node)
        for path in FILES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    longest = {name: length for name, length in lengths.items() if length > 60}
    assert not longest
    assert sum(length <= 30 for length in lengths.values()) >= 0.9 * len(lengths)


def test_help_is_quick_because_it_imports_nothing_heavy():
    code = (
        "import sys\n"
        "import click.testing\n"
        "from geoqa.cli import geoqa\n"
        "assert click.testing.CliRunner().invoke(geoqa, ['--help']).exit_code == 0\n"
        "assert click.testing.CliRunner().invoke(geoqa, ['check', '--help']).exit_code == 0\n"
        f"heavy = {HEAVY!r} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


def test_top_level_holds_what_the_design_allows():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "geoqa", "tests", "fixtures", "docs"}
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()
    top = {name.split("/")[0] for name in tracked if not name.startswith(".")}
    assert top <= allowed
