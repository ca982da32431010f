"""A plug-in from another distribution joins each family through its entry point."""

import importlib
import textwrap
import warnings

import pytest

from geoqa.diagnoses import DIAGNOSES
from geoqa.errors import PluginError
from geoqa.processes import PROCESSES
from geoqa.readers.points import READERS
from geoqa.standards import STANDARDS
from geoqa.targets import KINDS
from geoqa.writers import WRITERS

GUESTS = {
    "standards": """
        from geoqa.standards import Standard
        STANDARD = Standard(
            id="toy-2000", title="Toy standard", source="invented", judge=lambda case, request: ()
        )
        """,
    "targets": """
        from geoqa.records.measurements import TargetFix, TargetStatus
        from geoqa.targets import TargetKind
        TARGET = TargetKind(
            id="toy-disc", title="Toy disc", description="invented",
            locate=lambda patch, search: TargetFix(TargetStatus.NOT_FOUND, reason="a toy finds nothing"),
        )
        """,
    "diagnoses": """
        from geoqa.diagnoses import Diagnosis
        from geoqa.records.results import Finding, FindingVerdict
        DIAGNOSIS = Diagnosis(
            id="toy-cause", title="Toy cause", minimum_points=1,
            examine=lambda case: Finding("toy-cause", FindingVerdict.ABSENT, "A toy sees nothing.", ""),
        )
        """,
    "writers": """
        from pathlib import Path
        from geoqa.writers import Writer
        def write(assessment, folder):
            (folder / "toy.txt").write_text(str(len(assessment.residuals)))
            return (Path("toy.txt"),)
        WRITER = Writer(id="toy", title="Toy", media_type="text/plain", write=write)
        """,
    "processes": """
        from geoqa.processes import Output, Process
        def toy():
            return {"answer": 42}
        PROCESS = Process(
            id="toy", version="1.0.0", title="Toy step", description="Invented.", inputs={},
            outputs={"answer": Output("Answer", {"type": "integer"})}, run=toy,
        )
        """,
    "readers.points": """
        from geoqa.readers.points import PointReader
        READER = PointReader(
            id="toy-list", title="Toy list", suffixes=(".toy",), example="1", can_read=lambda path: False,
            read=lambda path, request: None,
        )
        """,
}
REGISTRIES = {
    "standards": (STANDARDS, "toy-2000"),
    "targets": (KINDS, "toy-disc"),
    "diagnoses": (DIAGNOSES, "toy-cause"),
    "writers": (WRITERS, "toy"),
    "processes": (PROCESSES, "toy"),
    "readers.points": (READERS, "toy-list"),
}


def install(site, name, family, source):
    """Lay out a distribution as an installer does: a module and its metadata."""
    module = f"{name}_{family.replace('.', '_')}"
    (site / f"{module}.py").write_text(textwrap.dedent(source))
    info = site / f"{module}-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {module}\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(f"[geoqa.{family}]\n{name} = {module}\n")


@pytest.fixture
def site(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(tmp_path))
    importlib.invalidate_caches()
    registries = [registry for registry, _ in REGISTRIES.values()]
    for registry in registries:
        registry.refresh()
    yield tmp_path
    monkeypatch.undo()
    importlib.invalidate_caches()
    for registry in registries:
        registry.refresh()


@pytest.mark.parametrize("family", sorted(GUESTS))
def test_guest_joins_its_family(site, family):
    install(site, "guest", family, GUESTS[family])
    registry, plugin_id = REGISTRIES[family]
    assert registry.get(plugin_id).id == plugin_id


def test_broken_guest_is_left_out_with_a_warning(site):
    install(site, "broken", "standards", "raise RuntimeError('no luck')")
    with pytest.warns(RuntimeWarning, match="broken.*left out.*no luck"):
        found = STANDARDS.all()
    assert "asprs-2023" in found


def test_guest_of_the_wrong_class_is_left_out_with_a_warning(site):
    install(site, "wrong", "standards", "STANDARD = 'just a text'")
    with pytest.warns(RuntimeWarning, match="must define STANDARD as a Standard"):
        STANDARDS.all()


def test_taken_id_is_refused(site):
    source = GUESTS["standards"].replace("toy-2000", "asprs-2023")
    install(site, "twin", "standards", source)
    with pytest.raises(PluginError, match="share the id “asprs-2023”"):
        STANDARDS.all()


def test_unknown_id_names_those_that_exist():
    with pytest.raises(PluginError, match="asprs-2023"):
        STANDARDS.get("asprs-1066")


def test_guest_writer_delivers_beside_the_others(site, tmp_path):
    from geoqa.deliver import deliver
    from tests.builders import make_assessment

    install(site, "guest", "writers", GUESTS["writers"])
    folder = tmp_path / "results"
    deliver(make_assessment(5, pictures=False), folder)
    assert (folder / "toy.txt").read_text() == "5"
    assert (folder / "results.json").exists()


def test_guest_process_becomes_a_command(site):
    import click.testing

    from geoqa.cli import geoqa

    install(site, "guest", "processes", GUESTS["processes"])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        answer = click.testing.CliRunner().invoke(geoqa, ["toy", "--json"])
    assert answer.exit_code == 0, answer.output
    assert '"answer": 42' in answer.stdout
