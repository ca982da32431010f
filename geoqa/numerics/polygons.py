"""Points in polygons."""

import shapely

from geoqa.numerics.arrays import BoolArray, FloatArray


def inside(positions: FloatArray, ring: FloatArray) -> BoolArray:
    """Return for each position, shape (n, 2), whether it lies in the ring, shape (k, 2), or on its edge.

    Examples
    --------
    >>> import numpy as np
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> inside(np.array([[0.5, 0.5], [2.0, 0.5]]), square).tolist()
    [True, False]
    """
    polygon = shapely.Polygon(ring)
    shapely.prepare(polygon)
    return shapely.intersects_xy(polygon, positions[:, 0], positions[:, 1])
