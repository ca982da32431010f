"""What a person and a shell see: the decision first, tables that read without colour, completed words."""

import os
import subprocess
import sys

import pytest

from geoqa.cli import wrapped
from geoqa.processes._summary import summary_of
from geoqa.writers.results_json import results
from tests.builders import make_assessment
from tests.site import FIXTURE, geoqa


@pytest.mark.parametrize("n", [0, 1, 16, 200])
def test_summary_keeps_to_a_terminal_and_has_no_colour(n):
    text = summary_of(results(make_assessment(n, pictures=False)), "out")
    shown = wrapped(text, 100)
    assert max(map(len, shown.splitlines())) <= 100
    assert shown.split() == text.split()
    assert "\x1b" not in text
    assert "nan" not in text
    assert "None" not in text


def test_decision_or_verdict_comes_first_and_every_limit_has_its_verdict_in_a_word():
    document = results(make_assessment(16, pictures=False))
    lines = summary_of(document, "out").splitlines()
    first = document["verdict"] if document["decision"] is None else document["decision"]
    assert first["sentence"][:40] in lines[0]
    for name, claim in document["claims"].items():
        (line,) = [line for line in lines if line.startswith(f"{name} ")]
        assert line.endswith(claim["verdict"])
        assert f"{claim['value_m']:.3f}" in line
        assert f"{claim['limit_m']:g}" in line.split()


def test_columns_of_numbers_stand_under_their_headings():
    lines = summary_of(results(make_assessment(16, pictures=False)), "out").splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith("limits, in metres"))
    head, *rows = lines[start : start + 3]
    for heading in ("found", "limit "):
        end = head.rindex(heading) + len(heading.rstrip())
        assert all(row[end - 1].isdigit() and row[end] == " " for row in rows)


def test_json_is_alone_on_standard_output_and_quiet_leaves_nothing_else(tmp_path):
    words = ("check", str(FIXTURE / "check.toml"), "--out", str(tmp_path / "out"), "--json", "--quiet")
    answer = geoqa(*words)
    assert answer.exit_code == 0
    assert answer.json["schema"] == "urn:geoqa:results:1"
    assert answer.stderr == ""


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_shell_gets_its_completion_script(shell):
    environment = {**os.environ, "_GEOQA_COMPLETE": f"{shell}_source"}
    answer = completed([], environment)
    assert answer.returncode == 0, answer.stderr
    assert "_GEOQA_COMPLETE" in answer.stdout


def test_words_are_completed():
    environment = {**os.environ, "_GEOQA_COMPLETE": "bash_complete"}
    for line, cword, word in (("geoqa ver", 1, "verify"), ("geoqa check --require p", 3, "proved")):
        answer = completed([], {**environment, "COMP_WORDS": line, "COMP_CWORD": str(cword)})
        assert word in answer.stdout, answer.stderr


def completed(words, environment):
    code = "import sys; sys.argv[0] = 'geoqa'; from geoqa.cli import main; main()"
    command = [sys.executable, "-c", code, *words]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
