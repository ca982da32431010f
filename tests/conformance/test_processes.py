"""Every process keeps description and function together, as OGC API – Processes asks.

Source of the required members: OGC 18-062r2, schemas processSummary.yaml (id and version required),
inputDescription.yaml and outputDescription.yaml (schema required).
"""

import inspect
import json
import re

import jsonschema
import pytest

from geoqa.processes import PROCESSES

LENGTH = re.compile(r"_(m|px|deg)$")


@pytest.fixture(params=sorted(PROCESSES.all()))
def process(request):
    return PROCESSES.get(request.param)


def test_inputs_are_the_keywords_of_the_function(process):
    parameters = inspect.signature(process.run).parameters
    assert list(parameters) == list(process.inputs)
    assert all(item.kind is item.KEYWORD_ONLY for item in parameters.values())


def test_defaults_of_description_and_function_are_the_same(process):
    for name, parameter in inspect.signature(process.run).parameters.items():
        if process.inputs[name].required:
            assert parameter.default is parameter.empty, name
        else:
            assert process.inputs[name].schema.get("default") == parameter.default, name


def test_a_length_carries_its_unit(process):
    for name, item in process.inputs.items():
        numeric = item.schema.get("type") == "number"
        assert bool(LENGTH.search(name)) == ("x-ogc-unit" in item.schema) or not numeric, name


def test_description_holds_what_the_standard_requires(process):
    description = process.describe()
    assert re.fullmatch(r"[a-z][a-z0-9-]*", description["id"])
    assert re.fullmatch(r"\d+\.\d+\.\d+", description["version"])
    for item in description["inputs"].values():
        assert item["minOccurs"] in {0, 1}
        jsonschema.Draft202012Validator.check_schema(item["schema"])
    for item in description["outputs"].values():
        jsonschema.Draft202012Validator.check_schema(item["schema"])
    assert json.loads(json.dumps(description)) == description


def test_every_word_reads_as_a_sentence_part(process):
    for item in process.inputs.values():
        assert item.title
        assert item.title[0].isupper()
        assert not item.title.endswith(".")


def test_document_names_an_output(process):
    assert process.document is None or process.document in process.outputs
