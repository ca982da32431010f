"""Types of arrays, and arrays that nobody can change."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]


def frozen(values: ArrayLike, dtype: type[Any] = np.float64) -> NDArray[Any]:
    """Return a read-only array of these values; the caller's own array stays writable.

    Examples
    --------
    >>> frozen([1.0, 2.0]).flags.writeable
    False
    """
    array = np.array(values, dtype=dtype)
    array.flags.writeable = False
    return array
