"""Height profiles of the surface through the surveyed places."""

from dataclasses import dataclass

from geoqa.numerics.arrays import FloatArray, frozen


@dataclass(frozen=True, eq=False)
class SurfaceProfiles:
    """Two profiles of the elevation raster through each of m surveyed places.

    Attributes
    ----------
    rows
        Of the m checkpoints that the profiles run through, ascending.
    step_m
        From one height of a profile to the next, metres in the common frame.
    height_m : array, shape (m, 2, k), k odd
        Heights from west to east and from south to north, the middle one at the surveyed place; metres in the
        common frame, NaN in holes and beyond the raster.
    """

    rows: tuple[int, ...]
    step_m: float
    height_m: FloatArray

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "height_m", frozen(self.height_m))
