"""Every plug-in of every family keeps the contract of its family."""

import importlib
import inspect
import pkgutil

import pytest

from geoqa.diagnoses import DIAGNOSES
from geoqa.processes import PROCESSES
from geoqa.readers.points import READERS
from geoqa.standards import STANDARDS
from geoqa.targets import KINDS
from geoqa.writers import WRITERS

FAMILIES = {
    registry.family: registry for registry in (DIAGNOSES, PROCESSES, READERS, STANDARDS, KINDS, WRITERS)
}
PLUGINS = [(family, name) for family, registry in FAMILIES.items() for name in registry.all()]


@pytest.fixture(params=PLUGINS, ids=lambda item: f"{item[0]}:{item[1]}")
def plugin(request):
    family, name = request.param
    return FAMILIES[family].get(name)


@pytest.mark.parametrize("family", FAMILIES)
def test_each_public_module_of_a_family_is_one_plug_in(family):
    package = importlib.import_module(family)
    modules = [name for _, name, _ in pkgutil.iter_modules(package.__path__) if not name.startswith("_")]
    constants = [
        getattr(importlib.import_module(f"{family}.{name}"), FAMILIES[family].constant) for name in modules
    ]
    assert {item.id for item in constants} <= set(FAMILIES[family].all())
    assert len(constants) == len(modules)


@pytest.mark.parametrize("family", ["geoqa.diagnoses", "geoqa.standards", "geoqa.targets"])
def test_file_name_is_the_id_with_underscores(family):
    package = importlib.import_module(family)
    for _, name, _ in pkgutil.iter_modules(package.__path__):
        if not name.startswith("_"):
            module = importlib.import_module(f"{family}.{name}")
            assert getattr(module, FAMILIES[family].constant).id == name.replace("_", "-")


def test_title_reads_well(plugin):
    assert plugin.title
    assert not plugin.title.endswith(".")


def test_its_function_is_typed(plugin):
    for name in ("run", "judge", "examine", "locate", "write", "read"):
        function = getattr(plugin, name, None)
        if function is not None:
            signature = inspect.signature(function)
            assert signature.return_annotation is not signature.empty, (plugin.id, name)


@pytest.mark.parametrize("name", sorted(STANDARDS.all()))
def test_a_standard_names_its_source(name):
    assert len(STANDARDS.get(name).source) > 40


@pytest.mark.parametrize("name", sorted(READERS.all()))
def test_a_reader_shows_five_lines(name):
    assert len(READERS.get(name).example.strip().splitlines()) == 5
