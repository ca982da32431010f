"""Run spoiled inputs: `python -m tests.spoiled --all`, or `--share 20` for every twentieth, or names."""

import argparse
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.spoiled import cases, run


def one(number: int) -> tuple[str, int, list[str], float]:
    """Run one case, by its number, in a folder of its own."""
    case, begun = cases()[number], time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        status, wrong = run(case, Path(folder))
    return case.name, status, wrong, time.monotonic() - begun


def main() -> None:
    """Print what ended wrongly, the slowest cases and how many ended how; exit 1 if any ended wrongly."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--all", action="store_true", help="run every case")
    words.add_argument("--share", type=int, default=10, help="run every n-th case (default 10)")
    words.add_argument("--jobs", type=int, default=2, help="processes at a time")
    words.add_argument("names", nargs="*", help="run the cases whose name contains one of these")
    asked = words.parse_args()
    every = cases()
    chosen = range(0, len(every), 1 if asked.all or asked.names else asked.share)
    numbers = [n for n in chosen if not asked.names or any(name in every[n].name for name in asked.names)]
    statuses, durations, failures = Counter[int](), [], 0
    with ProcessPoolExecutor(asked.jobs) as pool:
        for name, status, wrong, seconds in pool.map(one, numbers):
            statuses[status] += 1
            durations.append((seconds, name))
            failures += bool(wrong)
            for sentence in wrong:
                print(f"{name}: {sentence}")
    print(f"{len(numbers)} of {len(every)} cases; exit status → cases: {dict(sorted(statuses.items()))}")
    print("slowest:", "; ".join(f"{name} {seconds:.1f} s" for seconds, name in sorted(durations)[-3:]))
    print(f"{failures} ended wrongly")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
