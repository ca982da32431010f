"""A picture of each target: window of the orthomosaic, surveyed position, centre found, verdict."""

from pathlib import Path

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.writers import Writer
from geoqa.writers._chip_names import FOLDER, chip_paths


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write one PNG a target sought, and return the paths; no target, no folder.

    They are drawn with Pillow, which matplotlib brings along and which is quicker for pixels.
    """
    from geoqa.writers._chip_drawing import chip

    paths = chip_paths(assessment)
    if not paths:
        return ()
    (folder / FOLDER).mkdir(exist_ok=True)
    surveyed, axes_m = ground_of_pixels(assessment)
    for row, path in paths.items():
        picture = chip(assessment, row, surveyed[row], axes_m[row])
        picture.save(folder / path, format="PNG", compress_level=3)
    return tuple(paths.values())


def ground_of_pixels(assessment: Assessment) -> tuple[FloatArray, FloatArray]:
    """Return the surveyed places in the orthomosaic and what a pixel is on the ground there.

    Returns
    -------
    array, shape (n, 2)
        Row and col of the surveyed places; NaN where unknown.
    array, shape (n, 2, 2)
        From steps in (row, col) to (east, north) in metres, at each place.
    """
    from geoqa.frame.rasters import from_pixels, to_pixels

    frame, info = assessment.frame, assessment.orthomosaic
    plan = np.asarray(assessment.residuals.survey_m[:, :2])
    if info is None:
        return np.full(plan.shape, np.nan), np.full((len(plan), 2, 2), np.nan)
    places = to_pixels(plan, frame, info)
    here, below, beside = (from_pixels(places + step, frame, info) for step in ((0, 0), (1, 0), (0, 1)))
    return places, np.stack([below - here, beside - here], axis=-1)


WRITER = Writer(
    id="chips",
    title="Pictures of the targets",
    media_type="image/png",
    write=write,
    picture=True,
    order=45,
)
