"""The fixture site, the command line run in this process, and small sites made to measure."""

import json
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).parents[1]
FIXTURE = next((ROOT / "fixtures").glob("*/check.toml")).parent
REAL = ROOT.parent / "shared" / "real"
PUBLISHED = ROOT.parent / "shared" / "published"


@dataclass(frozen=True)
class Answer:
    """What a run of the command line left: status and both streams."""

    exit_code: int
    stdout: str
    stderr: str

    @property
    def output(self):
        return self.stdout + self.stderr

    @property
    def json(self):
        return json.loads(self.stdout)


def geoqa(*words):
    """Run the command line in this process, through the very `main` that the installed program calls."""
    from geoqa.cli import main

    out, err = StringIO(), StringIO()
    with mock.patch.object(sys, "argv", ["geoqa", *words]), redirect_stdout(out), redirect_stderr(err):
        try:
            main()
            status = 0
        except SystemExit as end:
            status = 0 if end.code is None else int(end.code)
    return Answer(status, out.getvalue(), err.getvalue())
