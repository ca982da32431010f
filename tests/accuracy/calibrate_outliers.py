"""Simulate the thresholds of `geoqa.accuracy.outliers`: `python -m tests.accuracy.calibrate_outliers`.

Clean sets of n normal errors; the threshold is what the largest of them exceeds in 5 % of the sets.
"""

import numpy as np

COUNTS = (*range(5, 21), 22, 25, 30, 35, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000)
ALARMS = 0.05
SEED = 20260101
NMAD_FACTOR = 1.4826


def thresholds(count, generator, sets):
    """Return the thresholds of one number of points, and the largest NMAD of errors of sigma 1.

    In the order height by spread, plan by spread, height by sigmas, plan by sigmas, NMAD of the
    height, NMAD of the plan.
    """
    found = []
    for start in range(0, sets, 20_000):
        errors = generator.normal(size=(min(20_000, sets - start), count, 2))
        apart = errors - np.median(errors, axis=1, keepdims=True)
        size, length = np.abs(apart[:, :, 0]), np.hypot(apart[:, :, 0], apart[:, :, 1])
        height = NMAD_FACTOR * np.median(size, axis=1)
        plan = NMAD_FACTOR * np.median(np.abs(apart).reshape(len(apart), -1), axis=1)
        largest, longest = size.max(axis=1), length.max(axis=1)
        found.append([largest / height, longest / plan, largest, longest, height, plan])
    return np.quantile(np.concatenate(found, axis=1), 1 - ALARMS, axis=1)


def main():
    """Print a line a number of points."""
    generator = np.random.default_rng(SEED)
    for count in COUNTS:
        figures = thresholds(count, generator, 400_000 if count <= 60 else 60_000)
        print(f"    ({count}, " + ", ".join(f"{figure:.3f}" for figure in figures) + "),", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
