"""The matrix of a SINEX estimate: covariances, correlations or normal equations, as a triangle."""

import re
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray

_ROW, _COLUMN = slice(1, 6), slice(7, 12)
# The elements at the column named, and at the two behind it.
_ELEMENTS = (slice(13, 34), slice(35, 56), slice(57, 78))
# A matrix of normal equations has to be inverted as a whole.
_MOST_PARAMETERS = 3000

Numbered = tuple[int, str]


def covariance_of(
    name: str,
    title: str | None,
    lines: Sequence[Numbered],
    wanted: Sequence[int],
    sigmas: Mapping[int, float],
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the covariance of some parameters, shape (k, k), and what is to be said of it.

    Elements that are not written are zero, as the format has it. Of a matrix of correlations the standard
    deviations are taken from the estimates, since files differ in what they put on its diagonal.

    Parameters
    ----------
    title
        Of the block, which says what its elements are; None where there is none.
    lines
        Its numbered data lines.
    wanted
        Indices of the parameters.
    sigmas
        Standard deviations of all parameters by their index.

    Raises
    ------
    InputError
        Where a line cannot be read or the matrix is no covariance.
    """
    given = np.array([sigmas[index] for index in wanted])
    if title is None:
        note = (
            f"{name}: there is no matrix in the file, so the correlations of x, y and z are taken to be none."
        )
        return np.diag(given**2), (note,)
    kind = title.split()[-1]
    if kind not in ("COVA", "CORR", "INFO") or title.split()[-2] not in ("L", "U"):
        message = (
            f"{name}: “{title}” is no matrix of the kinds L or U, COVA, CORR or INFO. Fetch the file again."
        )
        raise InputError(message)
    places = {index: place for place, index in enumerate(sorted(sigmas) if kind == "INFO" else wanted)}
    if len(places) > _MOST_PARAMETERS:
        message = (
            f"{name}: the normal equations of {len(places)} parameters are not inverted. Ask for a file with "
            "covariances (COVA)."
        )
        raise InputError(message)
    matrix = np.zeros((len(places), len(places)))
    for row, column, value in _elements(name, lines):
        if row in places and column in places:
            matrix[places[row], places[column]] = matrix[places[column], places[row]] = value
    if kind == "INFO":
        matrix = _inverted(name, matrix)
        rows = [places[index] for index in wanted]
        matrix = matrix[np.ix_(rows, rows)]
    if kind == "CORR":
        np.fill_diagonal(matrix, 1.0)
        matrix = matrix * np.outer(given, given)
    return _checked(name, matrix), ()


def number_in(cell: str, name: str, line: int) -> float:
    """Return the number in a cell, whose exponent may be written with D; raise `InputError` otherwise."""
    try:
        value = float(re.sub("[dD]", "E", cell))
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        message = f"{name}, line {line}: “{cell}” is no number. Fetch the file again."
        raise InputError(message)
    return value


def _elements(name: str, lines: Sequence[Numbered]) -> Iterator[tuple[int, int, float]]:
    for number, line in lines:
        row, column = (_index(line[part], name, number) for part in (_ROW, _COLUMN))
        for further, part in enumerate(_ELEMENTS):
            cell = line[part].strip()
            if cell:
                yield row, column + further, number_in(cell, name, number)


def _index(cell: str, name: str, line: int) -> int:
    if not cell.strip().isdigit():
        message = f"{name}, line {line}: “{cell.strip()}” is no number of a parameter. Fetch the file again."
        raise InputError(message)
    return int(cell)


def _inverted(name: str, matrix: FloatArray) -> FloatArray:
    try:
        inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    except np.linalg.LinAlgError:
        inverse = np.full(matrix.shape, np.nan)
    if not np.isfinite(inverse).all():
        message = f"{name}: the normal equations cannot be inverted. Ask for a file with covariances (COVA)."
        raise InputError(message)
    return inverse


def _checked(name: str, matrix: FloatArray) -> FloatArray:
    variances = np.diagonal(matrix)
    scale = np.sqrt(np.where(variances > 0, variances, np.nan))
    correlation = matrix / np.outer(scale, scale)
    if not np.isfinite(scale).all() or np.linalg.eigvalsh(correlation).min() < -1e-6:
        message = (
            f"{name}: the matrix of the station is no covariance (a variance is missing or below zero, or "
            "the correlations contradict each other). Fetch the file again, or give sigma_m beside a "
            "position in numbers."
        )
        raise InputError(message)
    return matrix
