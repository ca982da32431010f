"""Another program's corners beside ours: OpenCV `cornerSubPix`, where it is installed (extra `reference`).

OpenCV documentation, "Feature Detection", cornerSubPix: every vector from the centre to a point near it is
orthogonal to the image gradient there. Its pixel centres are whole numbers, ours stand at .5.
"""

import numpy as np
import pytest

from tests.targets.scenes import Look, target_scene

cv2 = pytest.importorskip("cv2", reason="OpenCV is not installed: pip install geoqa-accuracy[reference]")


def both_errors(kind, size_px, snr, count=30):
    """Return the errors of OpenCV and ours, row and col, in the same windows."""
    rng = np.random.default_rng([31, int(size_px), int(snr)])
    theirs, ours = [], []
    for _ in range(count):
        look = Look(size_px=size_px, angle_deg=float(rng.uniform(0, 360)), snr=snr, texture=3.0)
        scene = target_scene(kind, look, rng)
        start = np.array([scene.col - scene.patch.col0, scene.row - scene.patch.row0]) - 0.5
        corners = (start + rng.uniform(-0.7, 0.7, 2)).astype(np.float32).reshape(1, 1, 2)
        half = (round(0.38 * size_px),) * 2
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
        found = cv2.cornerSubPix(scene.patch.values[0], corners, half, (-1, -1), stop).ravel()
        theirs.append((found - start)[::-1])
        ours.append(scene.error(scene.locate(kind)))
    return np.array(theirs), np.array(ours)


@pytest.mark.parametrize("kind", ["quadrant-panel", "bow-tie-panel"])
@pytest.mark.parametrize("size_px", [16.0, 30.0])
def test_both_programs_find_the_same_crossing(kind, size_px):
    theirs, ours = both_errors(kind, size_px, 50.0)
    # Median, since a corner that wanders off is OpenCV's business.
    assert np.abs(np.median(theirs - ours, axis=0)).max() < 0.03, "half a pixel would be a wrong convention"
    assert np.median(np.abs(theirs - ours)) < 0.1


@pytest.mark.parametrize("size_px", [16.0, 30.0])
def test_ours_is_not_worse(size_px):
    theirs, ours = both_errors("quadrant-panel", size_px, 20.0)
    assert np.median(np.abs(ours)) < np.median(np.abs(theirs))
