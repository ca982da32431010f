"""Pixels of any shape, direction, depth and CRS: the residual is what was put in, to 0.03 pixels."""

from dataclasses import dataclass

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from scipy import ndimage

from geoqa.demo.target_patterns import PATTERNS
from tests.scenes import CRS, ORIGIN, textured
from tests.site import geoqa

# Goal for clean panels of 16 px and more: 0.03 px RMSE per coordinate.
GOAL_PX = 0.03
KINDS = [
    "quadrant-panel",
    "bow-tie-panel",
    "x-panel",
    "concentric-rings",
    "round-quadrant-panel",
    "quadrant-panel",
    "x-panel",
    "bow-tie-panel",
    "quadrant-panel",
]
SIZE_M, BLUR_PX, FINE = 0.6, 0.8, 4
# Each target has a square of pixels of its own, and lies in the middle part of it.
SIDE, SPACING_PX, DRAWN_PX = 3, 130, 84
DARK, BRIGHT = 35.0, 215.0
# Frankfurt (Oder) in latitude, about: a step in longitude is 0.61 of a step in latitude on the ground.
LONGITUDE, LATITUDE, CELL_DEG = 14.0, 52.3, 2e-7


@dataclass(frozen=True)
class Scene:
    """Grey values of a site with nine targets; places in the raster's CRS and pixels in metres."""

    values: np.ndarray
    transform: Affine
    crs: str
    centres: np.ndarray
    ground_axes_m: np.ndarray

    @property
    def cell_m(self):
        return np.sqrt(abs(np.linalg.det(self.ground_axes_m)))


def metres_a_degree():
    """Return the lengths of a degree of longitude and of latitude, in metres, by GeographicLib."""
    geod = pyproj.Geod(ellps="WGS84")
    east = geod.inv(LONGITUDE, LATITUDE, LONGITUDE + 1e-4, LATITUDE)[2] / 1e-4
    north = geod.inv(LONGITUDE, LATITUDE - 5e-5, LONGITUDE, LATITUDE + 5e-5)[2] / 1e-4
    return np.array([east, north])


def shares(kind, centre, axes_m, angle, rng):
    """Return the bright and dark shares of drawn pixels, blurred alike all around on the ground."""
    lengths = np.linalg.norm(axes_m, axis=0) / np.sqrt(abs(np.linalg.det(axes_m)))
    count = DRAWN_PX * FINE
    bright, dark = np.zeros((2, count, count))
    for _ in range(4):
        rows, cols = (np.mgrid[:count, :count] + rng.random((2, count, count))) / FINE - centre[:, None, None]
        east, north = np.einsum("ij,jrc->irc", axes_m, np.stack([rows, cols])) / SIZE_M
        inside, lit = PATTERNS[kind].places(
            np.cos(angle) * east + np.sin(angle) * north, np.cos(angle) * north - np.sin(angle) * east
        )
        bright += (inside & lit) / 4
        dark += (inside & ~lit) / 4
    return [
        ndimage.gaussian_filter(share, BLUR_PX * FINE / lengths)
        .reshape(DRAWN_PX, FINE, DRAWN_PX, FINE)
        .mean(axis=(1, 3))
        for share in (bright, dark)
    ]


def render(rng, transform, *, crs=CRS, unit_m=(1.0, 1.0)):
    """Render nine targets, square or round on the ground whatever the pixels are."""
    steps = np.array([[transform.b, transform.a], [transform.e, transform.d]])
    axes_m = np.asarray(unit_m)[:, None] * steps
    picture, centres = textured((SIDE * SPACING_PX,) * 2, rng), []
    for index, kind in enumerate(KINDS):
        corner = np.array(divmod(index, SIDE)) * SPACING_PX + (SPACING_PX - DRAWN_PX) // 2
        centre = DRAWN_PX / 2 + rng.uniform(-6, 6, 2)
        bright, dark = shares(kind, centre, axes_m, rng.uniform(0, 2 * np.pi), rng)
        window = tuple(slice(start, start + DRAWN_PX) for start in corner)
        picture[window] = (1 - bright - dark) * picture[window] + BRIGHT * bright + DARK * dark
        row, col = corner + centre
        centres.append(transform @ (col, row))
    noisy = picture + 2.5 * rng.standard_normal(picture.shape)
    return Scene(np.clip(noisy, 0, 255), transform, crs, np.array(centres), axes_m)


def write(path, scene, bands, **profile):
    bands = np.stack(bands)
    size = {"count": len(bands), "height": bands.shape[1], "width": bands.shape[2], "dtype": bands.dtype}
    with rasterio.open(
        path, "w", driver="GTiff", crs=scene.crs, transform=scene.transform, **size, **profile
    ) as out:
        out.write(bands)


def errors_px(folder, scene, rng, *, unit_m=(1.0, 1.0)):
    """Check the scene through the command line and return errors in pixels, east and north."""
    unit = np.asarray(unit_m)
    survey = scene.centres - rng.uniform(-0.2, 0.2, scene.centres.shape) / unit
    names = "id,longitude,latitude" if scene.crs == "EPSG:4326" else "id,easting,northing"
    lines = [f"T{index},{east:.12f},{north:.12f}" for index, (east, north) in enumerate(survey)]
    (folder / "points.csv").write_text("\n".join([names, *lines]) + "\n")
    (folder / "check.toml").write_text(
        f"[orthomosaic]\npath = 'ortho.tif'\n[points]\npath = 'points.csv'\ncrs = '{scene.crs}'\n"
        "[deliver]\npictures = false\n"
        f"[targets]\nsize_m = {SIZE_M}\nsearch_radius_m = 0.5\n"
    )
    answer = geoqa("check", str(folder / "check.toml"), "--json", "--quiet")
    assert answer.exit_code in {0, 1, 3}, answer.stderr
    points = answer.json["points"]
    seen = [(point["target"]["status"], point["target"]["kind"]) for point in points]
    assert seen == [("found", kind) for kind in KINDS]
    residuals = np.array([point["residual_m"][:2] for point in points])
    return (residuals - (scene.centres - survey) * unit) / scene.cell_m


def assert_within_the_goal(errors):
    assert np.sqrt((errors**2).mean(axis=0)).max() <= GOAL_PX
    assert np.abs(errors).max() <= 3 * GOAL_PX


CORNER = Affine.translation(*ORIGIN)
SHAPES = {
    "turned by 33°": CORNER @ Affine.rotation(33) @ Affine.scale(0.02, -0.02),
    "low pixels": CORNER @ Affine.scale(0.02, -0.014),
    "narrow pixels": CORNER @ Affine.scale(0.015, -0.027),
    "turned narrow pixels": CORNER @ Affine.rotation(-20) @ Affine.scale(0.016, -0.026),
    "south up": CORNER @ Affine.scale(0.02, 0.02),
    "west to the right": CORNER @ Affine.scale(-0.02, -0.02),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_pixels_of_any_shape_and_direction(tmp_path, shape):
    rng = np.random.default_rng([1, len(shape)])
    scene = render(rng, SHAPES[shape])
    write(tmp_path / "ortho.tif", scene, [scene.values.round().astype("uint8")])
    assert_within_the_goal(errors_px(tmp_path, scene, rng))


def test_pixels_in_degrees(tmp_path):
    rng = np.random.default_rng(2)
    unit_m = metres_a_degree()
    transform = Affine(CELL_DEG, 0, LONGITUDE, 0, -CELL_DEG, LATITUDE)
    scene = render(rng, transform, crs="EPSG:4326", unit_m=unit_m)
    write(tmp_path / "ortho.tif", scene, [scene.values.round().astype("uint8")])
    assert_within_the_goal(errors_px(tmp_path, scene, rng, unit_m=unit_m))


def upright(rng):
    return render(rng, CORNER @ Affine.scale(0.02, -0.02))


def test_four_bands_of_16_bit(tmp_path):
    rng = np.random.default_rng(3)
    scene = upright(rng)
    bands = [(scene.values * gain + 300).round().astype("uint16") for gain in (40, 45, 35, 60)]
    write(tmp_path / "ortho.tif", scene, bands, photometric="rgb", alpha="unspecified")
    assert_within_the_goal(errors_px(tmp_path, scene, rng))


def holes(scene):
    """Return where nothing is: a strip in every window, clear of the targets."""
    empty = np.zeros(scene.values.shape, dtype=bool)
    for index in range(len(KINDS)):
        row, col = np.array(divmod(index, SIDE)) * SPACING_PX
        empty[row + 97 : row + 104, col + 10 : col + 120] = True
    return empty


def test_alpha_hides_a_part_of_every_window(tmp_path):
    rng = np.random.default_rng(4)
    scene = upright(rng)
    grey, empty = scene.values.round().astype("uint8"), holes(scene)
    # What lies under a transparent pixel is no picture: here the most glaring there can be.
    grey = np.where(empty, rng.choice(np.array([0, 255], "uint8"), grey.shape), grey)
    alpha = np.where(empty, 0, 255).astype("uint8")
    write(tmp_path / "ortho.tif", scene, [grey, grey, grey, alpha], photometric="rgb", alpha="yes")
    assert_within_the_goal(errors_px(tmp_path, scene, rng))


def test_nodata_inside_the_window(tmp_path):
    rng = np.random.default_rng(5)
    scene = upright(rng)
    grey = np.where(holes(scene), -9999.0, scene.values).astype("float32")
    write(tmp_path / "ortho.tif", scene, [grey], nodata=-9999.0)
    assert_within_the_goal(errors_px(tmp_path, scene, rng))
