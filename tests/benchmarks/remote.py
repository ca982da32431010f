"""How many requests a check of remote rasters takes, and how much a server's delay costs.

Run it by itself: `python -m tests.benchmarks.remote [--side 20000] [--folder FOLDER]`. A server of this
computer hands out the site of `whole_check`; it waits 20 ms before each answer. Nothing here is a test.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from geoqa.readers import _handles
from tests.benchmarks.whole_check import TARGETS, build
from tests.range_server import serving
from tests.site import geoqa

DELAY_S = 0.02


def measured(site: Path, folder: Path, handles: int) -> str:
    """Return a line for one check with so many handles a raster."""
    _handles._REMOTE_HANDLES = handles
    with serving(site, delay_s=DELAY_S) as log:
        settings = folder / "remote.toml"
        text = (site / "without_pictures.toml").read_text()
        for name in ("ortho.tif", "surface.tif"):
            text = text.replace(f"'{name}'", f"'{log.address}/{name}'")
        settings.write_text(text.replace("'points.csv'", f"'{site / 'points.csv'}'"))
        begun = time.monotonic()
        answer = geoqa("check", str(settings), "--out", str(folder / "out_remote"), "--quiet")
        seconds = time.monotonic() - begun
    if answer.exit_code:
        sys.exit(answer.stderr)
    asked = Counter(path for _, path, _ in log.requests)
    words = ", ".join(f"{path[1:]} {count} ({count / TARGETS:.2f} a target)" for path, count in asked.items())
    return f"{handles} at a time: requests {words}; {seconds:.2f} s in all"


def main() -> None:
    """Print the lines."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--side", type=int, default=20_000, help="rows and columns of the orthomosaic")
    words.add_argument("--folder", type=Path, help="where the site is built, and kept")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        folder = asked.folder or Path(passing)
        site = build(folder, asked.side)
        several = _handles._REMOTE_HANDLES
        # The first check pays for the imports.
        measured(site, folder, several)
        for handles in (1, several):
            print(measured(site, folder, handles))


if __name__ == "__main__":
    main()
