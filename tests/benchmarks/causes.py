"""How often the right cause is named, and what that costs: `python -m tests.benchmarks.causes`.

Every id at sizes of 0.5 to 20 times its detection limit, 6 to 30 points, four sizes of site, pairs, and clean
sets. With `--write` the figures and the picture of the confusion matrix go into docs/explanation.
"""

import argparse
import re
import subprocess
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from geoqa.examine import examined
from geoqa.records.results import FindingVerdict
from tests.diagnoses.causes import MAKERS, PATTERNS, wrong
from tests.diagnoses.simulator import detection_size, make_case, make_site

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "causes.md"
PICTURE = PAGE.with_name("causes_confusion.png")
# Sizes from here on count for the goals, in detection limits.
LEAST = 2.0
CLEAN = "nothing"
# Numbers fitted with a cause, and components of the residuals they are fitted to.
PARAMETERS = {
    "tilt": 3, "dome": 2, "height-scale": 2, "rotation": 3, "grid-ground-scale": 3, "along-track": 3,
    "antenna-height": 1, "camera-constant": 1, "height-reference": 1, "base-correction": 3,
    "reference-frame": 3, "session-offset": 3, "single-point": 3, "moved-target": 2,
}  # fmt: skip
IMPORTS = "import geopandas, rasterio, shapely, pyproj, matplotlib.pyplot, time; print(time.process_time())"


@dataclass
class Score:
    """What was found where one thing was wrong."""

    tried: int = 0
    first: int = 0
    among_three: int = 0
    named: Counter = field(default_factory=Counter)
    below: Counter = field(default_factory=Counter)


@dataclass(frozen=True)
class Cure:
    """A predicted RMSE beside the true one at the same points."""

    cause: str
    fitted: bool
    points: int
    ratio: float
    covered: bool


def drawn_size(rng, site, what, low=0.5):
    """Return a size, log-uniform from `low` to 20 times the detection limit, and that multiple."""
    if what.fixed:
        multiple = 1 / detection_size(site, what) if np.any(what.effect_m) else np.inf
        return 1.0, float(multiple)
    multiple = float(np.exp(rng.uniform(np.log(low), np.log(20.0))))
    return multiple * detection_size(site, what), multiple


def present(findings):
    """Return the causes present by rank, each with those it cannot be told from."""
    return [
        (item.diagnosis, {item.diagnosis, *item.not_separable_from}, item)
        for item in findings
        if item.verdict is FindingVerdict.PRESENT
    ]


def one(cause, rng):
    """Return what is found where one thing is wrong: the multiple, findings, case and true effect."""
    what = None
    while what is None:
        site = make_site(rng, int(rng.integers(6, 31)))
        what = wrong(cause, site)
    size, multiple = drawn_size(rng, site, what)
    case = make_case(site, (what,), (size,))
    findings, _ = examined(case)
    effect = size * what.effect_m
    if what.shifts_map:
        effect[:, 2] -= (case.samples.gradient * effect[:, :2]).sum(axis=1)
    return multiple, findings, case, effect


def rmse(delta):
    plan, up = delta[:, :2], delta[:, 2]
    return {"horizontal": np.sqrt((plan**2).sum(axis=1).mean()), "vertical": np.sqrt((up**2).mean())}


def singles(runs, seed):
    scores, cures = defaultdict(Score), []
    for number, cause in enumerate(MAKERS):
        rng = np.random.default_rng([seed, number])
        score = scores[cause]
        for _ in range(runs):
            multiple, findings, case, effect = one(cause, rng)
            found = present(findings)
            if multiple < LEAST:
                score.below[found[0][0] if found else CLEAN] += 1
                continue
            score.tried += 1
            hit = bool(found) and cause in found[0][1]
            score.first += hit
            score.among_three += any(cause in names for _, names, _ in found)
            score.named[(cause if hit else found[0][0]) if found else CLEAN] += 1
            if hit and np.any(effect) and case.residuals.vertical.used.all():
                cures += cured(found[0][2], case, effect)
    return scores, cures


def cured(finding, case, effect):
    """Yield how the predicted RMSE compares with that of the same points without the effect."""
    true = rmse(np.array(case.residuals.delta_m) - effect)
    quantities = {item.name: item.value for item in finding.quantities}
    for name, value in finding.predicted_rmse_m.items():
        low, high = (
            quantities.get(f"{name} RMSE after the cure, {side} end of the 95 % interval")
            for side in ("lower", "upper")
        )
        if low is not None and np.isfinite(low):
            fitted = high / low > 1.0001
            covered = low <= true[name] * (1 + 1e-9) and true[name] <= high * (1 + 1e-9)
            yield Cure(finding.diagnosis, fitted, len(case.residuals), value / true[name], covered)


def pairs(runs, seed):
    rng = np.random.default_rng([seed, 1000])
    first = both = 0
    for _ in range(runs):
        site = make_site(rng, int(rng.integers(6, 31)))
        names = rng.choice(PATTERNS, 2, replace=False)
        whats = tuple(wrong(name, site) for name in names)
        sizes = tuple(drawn_size(rng, site, what, LEAST)[0] for what in whats)
        found = present(examined(make_case(site, whats, sizes))[0])
        first += bool(found) and bool(found[0][1] & set(names))
        both += all(any(name in group for _, group, _ in found) for name in names)
    return first / runs, both / runs


def clean(runs, seed):
    rng = np.random.default_rng([seed, 2000])
    alarms = Counter()
    for _ in range(runs):
        site = make_site(rng, int(rng.integers(6, 31)))
        found = present(examined(make_case(site, (), ()))[0])
        alarms[found[0][0] if found else CLEAN] += 1
    return 1 - alarms[CLEAN] / runs, alarms


def cost():
    """Return CPU seconds of a diagnosis of 30 points, clean and with two causes, and of the imports."""
    rng = np.random.default_rng(4)
    site = make_site(rng, 30)
    whats = (wrong("base-correction", site), wrong("tilt", site))
    sizes = tuple(5 * detection_size(site, what) for what in whats)
    spent = []
    for case in (make_case(site, (), ()), make_case(site, whats, sizes)):
        examined(case)
        times = []
        for _ in range(5):
            start = time.process_time()
            examined(case)
            times.append(time.process_time() - start)
        spent.append(min(times))
    command = [sys.executable, "-c", IMPORTS]
    imports = min(float(subprocess.run(command, check=True, capture_output=True).stdout) for _ in range(3))
    return (*spent, imports)


def lines(scores, cures, of_pairs, of_clean, costs, runs):
    """Return the figures as Markdown."""
    total = sum(item.tried for item in scores.values())
    firm = [item for item in cures if not item.fitted]
    many = [item for item in cures if item.fitted and item.points >= 10 * PARAMETERS.get(item.cause, 99)]
    loose = [item for item in cures if item.fitted and item not in many]
    close = [abs(item.ratio - 1) < 0.15 for item in (*firm, *many)]
    yield from ("| what | goal | found |", "|---|---|---|")
    share = sum(item.first for item in scores.values()) / total
    yield f"| right cause, or a named set that holds it, first | ≥ 90 % | {share:.1%} of {total} |"
    share = sum(item.among_three for item in scores.values()) / total
    yield f"| among the first three | ≥ 97 % | {share:.1%} |"
    worst = min(scores, key=lambda name: scores[name].first / max(scores[name].tried, 1))
    share = scores[worst].first / max(scores[worst].tried, 1)
    yield f"| worst cause, first | ≥ 75 % | {share:.0%} ({worst}) |"
    yield f"| clean sets with a finding | ≤ 5 % | {of_clean[0]:.1%} of {5 * runs} |"
    yield (
        f"| RMSE after a known cure, or one fitted with ten points a number, within 15 % | ≥ 90 % | "
        f"{np.mean(close):.1%} of {len(close)} |"
    )
    yield (
        f"| interval covers the RMSE after any other cure | ≥ 90 % | "
        f"{np.mean([item.covered for item in loose]):.1%} of {len(loose)} |"
    )
    yield f"| two causes at once: first is one of them | | {of_pairs[0]:.1%} of {3 * runs} |"
    yield f"| two causes at once: both are named | | {of_pairs[1]:.1%} |"
    quiet, busy, imports = costs
    yield (
        "| CPU time for 30 points, over that of importing geopandas, rasterio, shapely, pyproj, matplotlib "
        f"| ≤ 1 | {quiet / imports:.3f} clean, {busy / imports:.3f} with two causes |"
    )
    yield from (
        "",
        "| cause at work | cases | first | among three | named instead |",
        "|---|---|---|---|---|",
    )
    for name, item in scores.items():
        instead = ", ".join(f"{other} {count}" for other, count in item.named.most_common() if other != name)
        n = max(item.tried, 1)
        row = (item.tried, f"{item.first / n:.0%}", f"{item.among_three / n:.0%}", instead or "–")
        yield f"| `{name}` | {' | '.join(map(str, row))} |"


def picture(scores):
    """Draw the confusion matrix: a row for what was wrong, a column for what stood first."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    names = list(scores)
    columns = [*names, CLEAN]
    shares = np.array(
        [[scores[name].named[other] / max(scores[name].tried, 1) for other in columns] for name in names]
    )
    figure, axes = plt.subplots(figsize=(9.5, 8.6), layout="constrained")
    axes.imshow(shares, cmap="Greys", vmin=0, vmax=1)
    axes.set_xticks(range(len(columns)), columns, rotation=60, ha="right", fontsize=8)
    axes.set_yticks(range(len(names)), names, fontsize=8)
    for row, column in np.argwhere(shares > 0):
        value = shares[row, column]
        colour = "white" if value > 0.5 else "black"
        axes.text(column, row, f"{100 * value:.0f}", ha="center", va="center", fontsize=7, color=colour)
    axes.set_xlabel("stands first, or in the set that does, per cent")
    axes.set_ylabel("at work, from twice its detection limit on")
    axes.set_title("What is named where one cause is at work (simulated)")
    figure.savefig(PICTURE, dpi=110, metadata={"Software": None})


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=100, help="cases a cause")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true", help="into docs/explanation")
    options = parser.parse_args()
    scores, cures = singles(options.runs, options.seed)
    of_pairs, of_clean = pairs(3 * options.runs, options.seed), clean(5 * options.runs, options.seed)
    text = "\n".join(lines(scores, cures, of_pairs, of_clean, cost(), options.runs))
    print(text)
    print("alarms:", dict(of_clean[1]))
    print("intervals missed:", Counter(item.cause for item in cures if item.fitted and not item.covered))
    if options.write:
        page = PAGE.read_text("utf-8")
        mark = r"(<!-- measured by tests/benchmarks/causes.py -->\n).*?(<!-- measured until here -->)"
        PAGE.write_text(re.sub(mark, lambda m: f"{m[1]}\n{text}\n\n{m[2]}", page, flags=re.DOTALL), "utf-8")
        picture(scores)


if __name__ == "__main__":
    main()
