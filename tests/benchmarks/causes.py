"""How often the right cause is named: `python -m tests.benchmarks.causes [RUNS] [SEED]`.

Every id at sizes of 0.5 to 20 times its detection limit, 6 to 30 points, four sizes of site, pairs, and clean
sets. Prints the figures that stand in docs/explanation/causes.md, and writes nothing.
"""

import sys
import time
from collections import Counter, defaultdict

import numpy as np

from geoqa.examine import examined
from geoqa.records.results import FindingVerdict
from tests.diagnoses.causes import MAKERS, PATTERNS, wrong
from tests.diagnoses.simulator import detection_size, make_case, make_site

LEAST = 2.0
CLEAN = "nothing"


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
    site = make_site(rng, int(rng.integers(6, 31)))
    what = wrong(cause, site)
    size, multiple = drawn_size(rng, site, what)
    case = make_case(site, (what,), (size,))
    findings, _ = examined(case)
    return multiple, findings, case, size * what.effect_m


def rmse(delta):
    plan, up = delta[:, :2], delta[:, 2]
    return {"horizontal": np.sqrt((plan**2).sum(axis=1).mean()), "vertical": np.sqrt((up**2).mean())}


def singles(runs, seed):
    matrix, first, among, cures = defaultdict(Counter), Counter(), Counter(), []
    tried = Counter()
    for number, cause in enumerate(MAKERS):
        rng = np.random.default_rng([seed, number])
        for _ in range(runs):
            multiple, findings, case, effect = one(cause, rng)
            found = present(findings)
            if multiple < LEAST:
                continue
            tried[cause] += 1
            matrix[cause][found[0][0] if found else CLEAN] += 1
            first[cause] += bool(found) and cause in found[0][1]
            among[cause] += any(cause in names for _, names, _ in found)
            if found and cause in found[0][1] and np.any(effect):
                cures += cured(found[0][2], case, effect)
    return matrix, first, among, tried, cures


def cured(finding, case, effect):
    """Yield whether the RMSE predicted is that of the same points without the effect, and the interval "
    "holds."""
    used = np.array(case.residuals.delta_m) - effect
    if not case.residuals.vertical.used.all():
        return []
    true = rmse(used)
    quantities = {item.name: item.value for item in finding.quantities}
    answers = []
    for name, value in finding.predicted_rmse_m.items():
        low = quantities.get(f"{name} RMSE after the cure, lower end of the 95 % interval")
        if low is None:
            continue
        high = quantities[f"{name} RMSE after the cure, upper end of the 95 % interval"]
        answers.append(
            (
                finding.diagnosis,
                abs(value / true[name] - 1) < 0.15,
                low <= true[name] * 1.0000001 and true[name] <= high * 1.0000001,
                low == high or high / low < 1.0001,
                len(case.residuals),
            )
        )
    return answers


def pairs(runs, seed):
    rng = np.random.default_rng([seed, 1000])
    first = both = 0
    missed = Counter()
    for _ in range(runs):
        site = make_site(rng, int(rng.integers(6, 31)))
        names = rng.choice(PATTERNS, 2, replace=False)
        whats = tuple(wrong(name, site) for name in names)
        sizes = tuple(drawn_size(rng, site, what, LEAST)[0] for what in whats)
        findings, _ = examined(make_case(site, whats, sizes))
        found = present(findings)
        first += bool(found) and bool(found[0][1] & set(names))
        hits = [any(name in group for _, group, _ in found) for name in names]
        both += all(hits)
        if not all(hits):
            missed[tuple(sorted(str(name) for name in names))] += 1
    return first / runs, both / runs, missed


def clean(runs, seed):
    rng = np.random.default_rng([seed, 2000])
    alarms = Counter()
    for _ in range(runs):
        site = make_site(rng, int(rng.integers(6, 31)))
        found = present(examined(make_case(site, (), ()))[0])
        alarms[found[0][0] if found else CLEAN] += 1
    return 1 - alarms[CLEAN] / runs, alarms


def main():
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    start = time.perf_counter()
    matrix, first, among, tried, cures = singles(runs, seed)
    for cause in MAKERS:
        n = max(tried[cause], 1)
        wrong_ones = ", ".join(f"{k} {v}" for k, v in matrix[cause].most_common() if k != cause)
        print(
            f"{cause:20s} n {tried[cause]:4d}  first {first[cause] / n:5.0%}  three "
            f"{among[cause] / n:5.0%}  {wrong_ones}"
        )
    total = sum(tried.values())
    print(f"all: first {sum(first.values()) / total:.1%}, among three {sum(among.values()) / total:.1%}")
    firm = [item for item in cures if item[3]]
    fitted = [item for item in cures if not item[3]]
    print(f"cures known: within 15 % {np.mean([item[1] for item in firm]):.1%} of {len(firm)}")
    print(
        f"cures fitted: interval covers {np.mean([item[2] for item in fitted]):.1%}, within 15 % "
        f"{np.mean([item[1] for item in fitted]):.1%} of {len(fitted)}"
    )
    print("intervals missed:", Counter(item[0] for item in fitted if not item[2]).most_common())
    by_first, by_both, missed = pairs(runs * 3, seed)
    print(f"pairs: first {by_first:.1%}, both {by_both:.1%}", missed.most_common(12))
    share, alarms = clean(runs * 5, seed)
    print(f"clean: {share:.1%} false alarms", dict(alarms))
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
