"""Figures of groups of rows, all groups at once.

`groups` gives the number of the group of each row, from 0. A NaN is left out, column by column; a
group without a number in a column has NaN there.
"""

import numpy as np

from geoqa.numerics.arrays import FloatArray, IntArray


def group_sums(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return the sums, shape (count, k), of values of shape (n, k).

    Examples
    --------
    >>> group_sums(np.array([[1.0], [2.0], [4.0]]), np.array([0, 1, 0]), 2).tolist()
    [[5.0], [2.0]]
    """
    present = np.where(np.isfinite(values), values, 0.0)
    columns = [np.bincount(groups, weights=column, minlength=count) for column in present.T]
    return np.column_stack(columns)


def group_numbers(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return how many values are there, shape (count, k)."""
    return group_sums(np.isfinite(values).astype(np.float64), groups, count)


def group_means(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return the means, shape (count, k).

    Examples
    --------
    >>> group_means(np.array([[1.0], [2.0], [np.nan]]), np.array([0, 0, 1]), 2).tolist()
    [[1.5], [nan]]
    """
    return ratio(group_sums(values, groups, count), group_numbers(values, groups, count))


def ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """Return the quotient, NaN where the lower number is not above zero."""
    quotient: FloatArray = np.divide(above, below, out=np.full(above.shape, np.nan), where=below > 0)
    return quotient


def group_medians(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return the medians, shape (count, k); of an even number the mean of the middle two.

    Examples
    --------
    >>> group_medians(np.array([[1.0], [9.0], [2.0], [4.0]]), np.array([0, 0, 0, 1]), 2).tolist()
    [[2.0], [4.0]]
    """
    starts = np.concatenate([[0], np.cumsum(np.bincount(groups, minlength=count))[:-1]])
    numbers = group_numbers(values, groups, count).astype(np.int64)
    medians = np.full((count, values.shape[1]), np.nan)
    for place, column in enumerate(values.T):
        # NaN sorts behind the numbers of its group.
        ordered = column[np.lexsort((column, groups))]
        some = numbers[:, place] > 0
        low = starts[some] + (numbers[some, place] - 1) // 2
        high = starts[some] + numbers[some, place] // 2
        medians[some, place] = (ordered[low] + ordered[high]) / 2
    return medians


def group_largest(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return the largest values, shape (count, k)."""
    largest = np.full((count, values.shape[1]), np.nan)
    if len(values):
        order = np.argsort(groups, kind="stable")
        present, starts = np.unique(groups[order], return_index=True)
        largest[present] = np.fmax.reduceat(values[order], starts)
    return largest


def group_ranges(values: FloatArray, groups: IntArray, count: int) -> FloatArray:
    """Return the largest minus the smallest value, shape (count, k); NaN for fewer than two.

    Examples
    --------
    >>> group_ranges(np.array([[1.0], [4.0], [2.0]]), np.array([0, 0, 1]), 2).tolist()
    [[3.0], [nan]]
    """
    ranges = group_largest(values, groups, count) + group_largest(-values, groups, count)
    return np.where(group_numbers(values, groups, count) > 1, ranges, np.nan)
