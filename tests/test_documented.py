"""The pages say what the code says: ids, options, keys, columns, links, examples, sources."""

import ast
import csv
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from geoqa import errors
from geoqa.assess import assess
from geoqa.cli import command
from geoqa.demo.scenario import write_scenario
from geoqa.diagnoses import DIAGNOSES
from geoqa.processes import PROCESSES
from geoqa.processes._summary import summary_of
from geoqa.readers.points import READERS
from geoqa.readers.settings import read_settings
from geoqa.records.base_settings import Position
from geoqa.records.checked_table import Table
from geoqa.records.measurements import SurfaceStatus, TargetStatus
from geoqa.records.results import UseReason
from geoqa.records.settings import POINT_COLUMNS, Deliver, Settings, StandardChoice
from geoqa.records.tables import TABLES
from geoqa.standards import STANDARDS, check_options
from geoqa.targets import KINDS
from geoqa.writers import WRITERS
from geoqa.writers._map_notes import _UNREMARKABLE
from geoqa.writers._symbols import REASON_LETTERS
from geoqa.writers.results_json import results, schema
from tests.reference_pages import BLOCKS, MARKED, WITHOUT_EFFECT, renewed

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
SOURCES = sorted((ROOT / "geoqa").rglob("*.py"))
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
TUTORIAL = (DOCS / "tutorial" / "first-check.md").read_text("utf-8")
FENCED = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)


def text_of(name):
    return (DOCS / "reference" / name).read_text("utf-8")


def name_of(path):
    return path.relative_to(ROOT).as_posix()


def section(text, heading):
    """Return what stands below a heading, up to the next one of any level."""
    found = re.search(rf"^#+ {re.escape(heading)}.*?$(.*?)(?=^#|\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"there is no heading “{heading}”"
    return found[1]


def fenced(language, pages=PAGES):
    """Return id and content of each block in a language."""
    return [
        pytest.param(block, id=f"{name_of(page)}-{number}")
        for page in pages
        for number, (kind, block) in enumerate(FENCED.findall(page.read_text("utf-8")), start=1)
        if kind == language
    ]


def bare(text):
    """Return a page without what stands in fences or between backticks."""
    return re.sub(r"`[^`]*`", "", FENCED.sub("", text))


# The generated parts


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_generated_parts_are_in_step_with_the_code(page):
    text = page.read_text("utf-8")
    assert renewed(text) == text, "run `python -m tests.reference_pages`"


def test_each_generated_part_stands_in_one_page():
    placed = [found[2] for page in PAGES for found in MARKED.finditer(page.read_text("utf-8"))]
    assert sorted(placed) == sorted(BLOCKS)


# Plug-ins, options, keys, columns


@pytest.mark.parametrize(
    ("registry", "page"),
    [
        (READERS, "point-files.md"),
        (KINDS, "targets.md"),
        (STANDARDS, "standards.md"),
        (DIAGNOSES, "diagnoses.md"),
        (WRITERS, "deliverables.md"),
        (PROCESSES, "command-line.md"),
    ],
    ids=lambda item: getattr(item, "family", item),
)
def test_every_plug_in_stands_in_its_page(registry, page):
    text = text_of(page)
    missing = [name for name in registry.all() if f"`{name}`" not in text and f"## geoqa {name}" not in text]
    assert not missing


@pytest.mark.parametrize(("registry", "page"), [(STANDARDS, "standards.md"), (DIAGNOSES, "diagnoses.md")])
def test_every_standard_and_diagnosis_is_explained(registry, page):
    for name in registry.all():
        assert len(section(text_of(page), name)) > 200, name


@pytest.mark.parametrize("name", sorted(PROCESSES.all()))
def test_every_option_of_a_process_has_its_row(name):
    process = PROCESSES.get(name)
    part = section(text_of("command-line.md"), f"geoqa {name}")
    for parameter in command(process).params:
        for option in parameter.opts if parameter.param_type_name == "option" else ():
            assert f"| `{option}` |" in part
    for key, item in process.inputs.items():
        row = next(line for line in part.splitlines() if f"| `{key}` |" in line)
        assert item.title in row
        assert str(item.schema.get("default", "")) in row
        assert f"| {item.schema.get('x-ogc-unit', '')} |" in row


def tables_of_settings():
    """Yield heading and model of each table of the settings file."""
    for name, field in Settings.model_fields.items():
        found = re.findall(r"settings\.(\w+)", str(field.annotation))
        model = next(
            (getattr(__import__("geoqa.records.settings", fromlist=[""]), kind) for kind in found), None
        )
        if isinstance(model, type) and issubclass(model, Table):
            yield f"`[{name}]`", model
    yield "Positions", Position


@pytest.mark.parametrize(("heading", "model"), list(tables_of_settings()), ids=str)
def test_every_key_of_the_settings_has_its_row(heading, model):
    part = section(text_of("settings.md"), heading)
    for key in model.model_fields:
        row = next((line for line in part.splitlines() if line.startswith(f"| `{key}` |")), "")
        assert row, key
        assert row.rsplit("|", 2)[1].strip(), f"{key} has no meaning"


def test_all_tables_of_the_settings_were_looked_at():
    looked_at = {heading.strip("`[]") for heading, _ in tables_of_settings()} - {"Positions"}
    plain = {"title", "folder"}
    assert looked_at == set(Settings.model_fields) - plain
    assert set(StandardChoice.model_fields) == {"id"}


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_of_a_layer_has_its_row(table):
    part = section(text_of("layers.md"), table.name)
    for column in table.columns:
        row = next(line for line in part.splitlines() if line.startswith(f"| `{column.name}` |"))
        assert column.meaning.split("|")[0] in row


@pytest.mark.parametrize("column", POINT_COLUMNS)
def test_every_column_of_a_points_file_is_explained(column):
    explained = text_of("point-files.md").split("<!-- end -->")[1].split("## Units")[0]
    assert f"`{column}`" in explained


# results.json


def members(node, definitions, path=""):
    """Yield the dotted path of each member that the schema of the results describes."""
    if "$ref" in node:
        target = definitions[node["$ref"].rsplit("/", 1)[1]]
        yield from members(target, definitions, path)
    for key, value in node.get("properties", {}).items():
        yield f"{path}.{key}".lstrip(".")
        yield from members(value, definitions, f"{path}.{key}")
    for inner in (node.get("items"), node.get("additionalProperties")):
        if isinstance(inner, dict):
            yield from members(inner, definitions, path)


def test_every_member_of_the_results_is_explained():
    document = schema()
    explained = set(re.findall(r"`\.?([\w.*]+)`", text_of("results.md")))
    parts = {part for path in explained for part in path.split(".")}
    for path in members(document, document["$defs"]):
        assert path.rsplit(".", 1)[-1] in parts, path


def test_every_top_member_of_the_results_is_in_the_first_table():
    part = section(text_of("results.md"), "Members")
    named = {path.split(".")[0] for path in re.findall(r"`([\w.*]+)`", part)}
    assert set(schema()["properties"]) <= named


# Words that the code chooses


@pytest.mark.parametrize("reason", UseReason)
def test_every_reason_is_explained_with_its_letter(reason):
    page = (DOCS / "how-to" / "point-not-used.md").read_text("utf-8")
    rows = [line.split("|")[1:4] for line in page.splitlines() if line.startswith("| ")]
    letters = next(letter for reasons, letter, _ in rows if reason.value in reasons)
    letter = "–" if reason in _UNREMARKABLE else REASON_LETTERS[reason]
    assert letter in letters.replace(" ", "").split(",")
    assert f"| {reason.value} |" in (DOCS / "explanation" / "residuals.md").read_text("utf-8")


@pytest.mark.parametrize("status", [*TargetStatus, *SurfaceStatus])
def test_every_status_is_explained(status):
    page = "targets.md" if isinstance(status, TargetStatus) else "results.md"
    assert f"`{status.value}`" in text_of(page)


def flags_of_targets():
    """Return the flags that target kinds set: first words of doubts, and what is put into lists of flags."""
    found = set()
    for source in (ROOT / "geoqa" / "targets").glob("*.py"):
        for node in ast.walk(ast.parse(source.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in {"Doubt", "flags.append"}:
                found.add(ast.literal_eval(node.args[0]))
            if isinstance(node, ast.keyword) and node.arg == "flags" and isinstance(node.value, ast.Tuple):
                found |= set(ast.literal_eval(node.value))
    return sorted(found)


@pytest.mark.parametrize("flag", flags_of_targets())
def test_every_flag_is_explained(flag):
    assert f"| `{flag}` |" in text_of("targets.md")


def test_every_error_is_explained():
    classes = [name for name, item in vars(errors).items() if isinstance(item, type)]
    for name in classes:
        assert name in text_of("errors.md")


# What the pages say to decide nothing


@pytest.mark.parametrize("path", WITHOUT_EFFECT)
def test_what_is_said_to_decide_nothing_is_read_nowhere(path):
    table, key = path.split(".")
    for source in SOURCES:
        for node in ast.walk(ast.parse(source.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr == key:
                assert table not in ast.unparse(node.value), f"{name_of(source)}:{node.lineno}"


# Sources


def keys_in_code():
    """Return the source keys of the code: in brackets, or the number of a standard."""
    bracketed = re.compile(r"\[([A-Z][\w-]*\d{2,4}|NIST-EH|MS-[A-Z]+)\](?:_|(?![\w(]))")
    numbered = re.compile(
        r"\b(OGC \d{2}-\d+(?:r\d+)?|RFC \d{4}|ISO(?:/TS)? \d{4,5}(?:-\d)?|ECMA-\d+|OpenDocument \d\.\d|"
        r"NMEA \d{4}|LandXML \d\.\d|WCAG \d\.\d|XML 1\.0)\b"
    )
    found = {}
    for source in SOURCES:
        text = source.read_text("utf-8")
        for key in bracketed.findall(text):
            found.setdefault(f"[{key}]", name_of(source))
        for key in numbered.findall(text):
            found.setdefault(key, name_of(source))
    for publication in sorted((ROOT / "tests" / "published").glob("*.toml")):
        key = tomllib.loads(publication.read_text("utf-8"))["key"]
        found.setdefault(f"[{key}]", name_of(publication))
    return sorted(found.items())


@pytest.mark.parametrize(("key", "place"), keys_in_code())
def test_every_source_that_the_code_names_is_listed(key, place):
    assert key in text_of("sources.md"), f"{place} names {key}"


def test_every_listed_source_is_named_somewhere():
    listed = re.findall(r"^\| (\[[\w-]+\]) \|", text_of("sources.md"), re.MULTILINE)
    named = {key for key, _ in keys_in_code()}
    assert listed
    assert set(listed) <= named


def test_every_source_says_how_well_it_is_known():
    rows = [line for line in text_of("sources.md").splitlines() if re.match(r"\| (?!key|---)", line)]
    for row in rows:
        assert re.search(r"read|quoted|from memory|recomputed", row.rsplit("|", 2)[1]), row


# Links and examples


def slug(heading):
    """Return the anchor of a heading as code hosting sites make it."""
    words = re.sub(r"[^\w\- ]", "", heading.replace("`", "").strip().lower())
    return words.replace(" ", "-")


def links():
    for page in PAGES:
        for target in LINK.findall(FENCED.sub("", page.read_text("utf-8"))):
            if "://" not in target:
                yield pytest.param(page, target, id=f"{name_of(page)}-{target}")


@pytest.mark.parametrize(("page", "target"), list(links()))
def test_every_link_leads_somewhere(page, target):
    path, _, anchor = target.partition("#")
    file = (page.parent / path).resolve() if path else page
    assert file.exists()
    if anchor:
        headings = re.findall(r"^#+ (.+)$", FENCED.sub("", file.read_text("utf-8")), re.MULTILINE)
        assert anchor in {slug(heading) for heading in headings}


def test_every_page_can_be_reached_from_the_first():
    reached, waiting = set(), [DOCS / "index.md"]
    while waiting:
        page = waiting.pop()
        if page in reached or page.suffix != ".md":
            continue
        reached.add(page)
        targets = (
            target.split("#")[0] for target in LINK.findall(page.read_text("utf-8")) if "://" not in target
        )
        waiting += [(page.parent / target).resolve() for target in targets if target]
    assert set(DOCS.rglob("*.md")) <= reached


@pytest.mark.parametrize("block", fenced("python"))
def test_python_examples_compile(block):
    compile(block, "example", "exec")


@pytest.mark.parametrize("block", fenced("toml", sorted(DOCS.rglob("*.md"))))
def test_settings_examples_are_valid(block):
    given = tomllib.loads(block)
    given.setdefault("points", {"path": "points.csv"})
    if not {"orthomosaic", "elevation"} & set(given):
        given["elevation"] = {"path": "surface.tif"}
    settings = Settings.model_validate(given)
    check_options(settings.requirement)


def commands_in_pages():
    for page in PAGES:
        text = page.read_text("utf-8")
        spans = [block for kind, block in FENCED.findall(text) if kind in {"bash", "console"}]
        spans += re.findall(r"`([^`\n]*)`", FENCED.sub("", text))
        for span in spans:
            for line in span.replace("\\\n", " ").splitlines():
                for name, words in re.findall(r"\bgeoqa (\w[\w-]*)([^|&;`]*)", line):
                    if name in PROCESSES.all():
                        yield pytest.param(name, words, id=f"{name_of(page)}-{name}{words.strip()[:40]}")


@pytest.mark.parametrize(("name", "words"), list(commands_in_pages()))
def test_options_in_examples_exist(name, words):
    known = {option for parameter in command(PROCESSES.get(name)).params for option in parameter.opts}
    assert set(re.findall(r"--[a-z][a-z-]*", words)) <= known | {"--help"}


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_files_of_the_package_that_a_page_names_exist(page):
    for path in re.findall(r"`((?:[\w.-]+/)+[\w.-]+\.(?:py|json|toml))", page.read_text("utf-8")):
        candidates = [ROOT / path, ROOT / "geoqa" / path]
        invented = path.startswith("geoqa/standards/example")
        assert invented or any(candidate.exists() for candidate in candidates), path


@pytest.mark.parametrize("page", [page for page in PAGES if DOCS in page.parents], ids=name_of)
def test_pages_keep_to_the_width_of_a_screen(page):
    for line in FENCED.sub("", MARKED.sub("", page.read_text("utf-8"))).splitlines():
        assert line.startswith("|") or len(line) <= 120, line


# The tutorial


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Return the invented site's results and its truth, by id."""
    settings = read_settings(write_scenario(tmp_path_factory.mktemp("site")))
    plain = settings.model_copy(update={"deliver": Deliver(pictures=False)})
    truth = (settings.folder / "truth.csv").read_text("utf-8").splitlines()
    return results(assess(plain)), {row["id"]: row for row in csv.DictReader(truth)}


def split_at_numbers(text):
    """Return the words between the numbers, and the numbers."""
    plain = text.replace("−", "-")
    words = " ".join(re.sub(r"-?\d+\.\d+", "#", plain).split())
    return words, [float(number) for number in re.findall(r"-?\d+\.\d+", plain)]


def test_tutorial_shows_what_the_demo_says(demo):
    shown = re.search(r"<!-- demo summary -->\n```text\n(.*?)```", TUTORIAL, re.DOTALL)[1]
    told, found = split_at_numbers(summary_of(demo[0], "geoqa-demo/check-accuracy"))
    words, numbers = split_at_numbers(shown)
    assert words == told
    # Other versions of the libraries may round the last digit otherwise.
    assert numbers == pytest.approx(found, abs=0.0011)


def test_tutorial_tells_the_truth_of_the_demo(demo):
    def true(direction, *columns):
        used = [point["id"] for point in demo[0]["points"] if point[direction]["used"]]
        return np.array([[float(demo[1][name][column]) for column in columns] for name in used])

    plan = true("horizontal", "displacement_east_m", "displacement_north_m")
    up = true("vertical", "height_error_m")
    east, north = plan.mean(axis=0)
    told = " ".join(section(TUTORIAL, "3. The report").split())
    assert f"{len(plan)} points used has an RMSE of {np.sqrt((plan**2).sum(axis=1).mean()):.3f} m" in told
    assert f"{east:+.3f} m east and {north:+.3f} m north".replace("-", "−") in told
    assert f"{len(up)} points has an RMSE of {np.sqrt((up**2).mean()):.3f} m" in told


def test_tutorial_tells_the_three_numbers_of_the_demo(demo):
    _, numbers = split_at_numbers(
        section(TUTORIAL, "3. The report").split("**Statistics**")[1].split("\n- ")[0]
    )
    three = demo[0]["accuracy"]
    alone = [three["product_alone"][direction] for direction in ("horizontal", "vertical")]
    found = [three["fit"]["horizontal"]["rmse_m"], alone[0]["rmse_m"], *alone[0]["interval_m"]]
    assert numbers == pytest.approx([*found, alone[1]["rmse_m"], alone[1]["interval_m"][1]], abs=0.0011)


def test_targets_of_the_demo_are_as_close_as_the_explanation_says(demo):
    explained = (DOCS / "explanation" / "target-centres.md").read_text("utf-8")
    told = float(re.search(r"true ones by less than ([\d.]+) pixels", " ".join(explained.split()))[1])
    found = [point for point in demo[0]["points"] if point["target"]["status"] == "found"]
    apart = [
        abs(point["target"][axis] - float(demo[1][point["id"]][axis]))
        for point in found
        for axis in ("row", "col")
    ]
    assert len(found) > 15
    assert max(apart) < told
