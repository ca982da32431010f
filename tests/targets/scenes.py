"""Invented windows of an orthomosaic with a target whose centre is known, and windows without one."""

import io
from dataclasses import dataclass, field, replace

import numpy as np
from PIL import Image
from scipy import ndimage, special

from geoqa.demo.render import render_target
from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import locate, window_half_px

# The window lies somewhere in a large mosaic.
ROW0, COL0 = 11_000, 23_000
RADIUS_PX = 25.0
# Where in a window look-alikes stand, in its sides.
MIDDLE = (0.25, 0.75)


@dataclass(frozen=True)
class Look:
    """How a scene looks; grey values of 8 bit.

    `texture` is the scatter of the ground, `things` whether stones and edges lie on it.
    """

    size_px: float = 24.0
    angle_deg: float = 20.0
    snr: float = 30.0
    blur_px: float = 0.8
    dark: float = 60.0
    bright: float = 190.0
    ground: float | FloatArray = 120.0
    texture: float = 8.0
    jpeg: int | None = None
    things: bool = False


@dataclass(frozen=True)
class Scene:
    """A window, where a target is expected in it, and where it is."""

    patch: RasterPatch
    search: TargetSearch
    row: float
    col: float

    def locate(self, kind: str) -> TargetFix:
        """Return what the locator makes of it."""
        return locate(self.patch, self.search, kind)

    def error(self, fix: TargetFix) -> FloatArray:
        """Return found minus true centre, row and col."""
        return np.array([fix.row - self.row, fix.col - self.col])


@dataclass
class Outcomes:
    """Errors and statuses of many scenes."""

    errors: list[FloatArray] = field(default_factory=list)
    distances: list[float] = field(default_factory=list)
    statuses: list[str] = field(default_factory=list)

    def add(self, scene: Scene, fix: TargetFix) -> None:
        """Count one scene; errors only of what is found or suspect."""
        self.statuses.append(str(fix.status))
        error = scene.error(fix)
        if np.isfinite(error).all():
            self.errors.append(error)
            self.distances.append(float(error @ np.linalg.solve(fix.covariance_px2, error)))

    def rmse_px(self) -> float:
        """Return the RMSE per coordinate."""
        return float(np.sqrt(np.mean(np.square(self.errors))))

    def inside_95(self) -> float:
        """Return the share of errors inside their own 95 % ellipse; 5.991 is χ²(2) at 0.95."""
        return float(np.mean(np.array(self.distances) < 5.991))

    def share(self, status: str) -> float:
        """Return the share of scenes with this status."""
        return self.statuses.count(status) / len(self.statuses)


def textured(shape: tuple[int, int], rng: np.random.Generator, exponent: float = 1.0) -> FloatArray:
    """Return ground texture of unit scatter whose amplitude falls with this power of the frequency."""
    frequency = np.hypot(np.fft.fftfreq(shape[0])[:, None], np.fft.rfftfreq(shape[1]))
    amplitude = (frequency + 0.01) ** -exponent
    amplitude[0, 0] = 0.0
    waves = np.fft.irfft2(amplitude * np.fft.rfft2(rng.standard_normal(shape)), shape)
    return waves / waves.std()


def as_jpeg(picture: FloatArray, quality: int) -> FloatArray:
    """Return the picture as it comes back from a JPEG of this quality."""
    stream = io.BytesIO()
    Image.fromarray(in_8_bit(picture)).save(stream, "JPEG", quality=quality)
    return np.asarray(Image.open(stream), dtype=float)


def in_8_bit(picture: FloatArray) -> np.ndarray:
    """Return whole grey values from 0 to 255."""
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def with_noise(picture: FloatArray, look: Look, rng: np.random.Generator) -> np.ndarray:
    """Return the picture with sensor noise, in 8 bit, through JPEG where the look asks for it."""
    sigma = abs(look.bright - look.dark) / look.snr
    noisy = in_8_bit(picture + rng.normal(0.0, sigma, picture.shape))
    return noisy if look.jpeg is None else in_8_bit(as_jpeg(noisy, look.jpeg))


def scene_of(picture: np.ndarray, row: float, col: float, size_px: float | None, **search: float) -> Scene:
    """Return the scene of a picture, whose middle is the surveyed place, with a target at row, col in it."""
    bands = picture[None] if picture.ndim == 2 else picture
    patch = RasterPatch(bands, np.ones(bands.shape[1:], dtype=bool), ROW0, COL0)
    middle = {"row": ROW0 + bands.shape[1] / 2, "col": COL0 + bands.shape[2] / 2, "radius_px": RADIUS_PX}
    return Scene(patch, TargetSearch(**(middle | search), size_px=size_px), ROW0 + row, COL0 + col)


def window_side(size_px: float | None, radius_px: float = RADIUS_PX) -> int:
    """Return the side of the window that the reader cuts."""
    return 2 * window_half_px(radius_px, size_px)


PAINTED = {"disc", "painted-cross", "l-mark-outer", "l-mark-inner"}


def target_picture(
    kind: str, look: Look, row: float, col: float, side: int, rng: np.random.Generator
) -> FloatArray:
    """Return a picture of a target on ground, free of noise; a seed draws the same ground and panel again."""
    ground = look.ground + look.texture * textured((side, side), rng)
    if look.things:
        scattered_things(ground, rng, look)
    grey = {"dark": look.dark, "bright": look.bright, "ground": ground, "blur_px": look.blur_px}
    return render_target((side, side), row, col, kind, look.size_px, look.angle_deg, **grey, rng=rng)


def plain_look(kind: str, **wanted: float | None) -> Look:
    """Return how a clean target looks on nearly even ground; that of paint is its dark tone."""
    ground = 60.0 if kind in PAINTED else 120.0
    return Look(**({"ground": ground, "texture": 0.5, "dark": 60.0, "bright": 190.0} | wanted))


def noise_free_scene(
    kind: str, size_px: float, angle_deg: float, phase: tuple[float, float], rng: np.random.Generator
) -> Scene:
    """Return a scene of a clean target free of noise, not even rounded; `phase` is its place in its pixel."""
    look, side = plain_look(kind, size_px=size_px, angle_deg=angle_deg, texture=0.0), window_side(size_px)
    row, col = side // 2 + phase[0], side // 2 + phase[1]
    return scene_of(target_picture(kind, look, row, col, side, rng), row, col, size_px)


def scattered_things(ground: FloatArray, rng: np.random.Generator, look: Look) -> None:
    """Draw stones and edges of less contrast than the target all over the ground, in place."""
    reach = 0.5 * abs(look.bright - look.dark)
    for _ in range(rng.integers(3, 12)):
        thing = (_stone, _stripes, _box_corner)[rng.integers(3)]
        greys = look.ground + rng.uniform(-0.6, 0.6, 2) * reach
        thing(ground, rng, rng.uniform(0.2, 0.8) * look.size_px, greys, (0.0, 1.0))


def middle_of(kind: str, look: Look, row: float, col: float) -> tuple[float, float]:
    """Return the middle of a target whose point is given; they differ for L marks only."""
    if not kind.startswith("l-mark"):
        return row, col
    away = (0.5 if kind.endswith("outer") else 0.3) * look.size_px
    turn = np.radians(look.angle_deg)
    across, down = away * (np.cos(turn) - np.sin(turn)), away * (np.sin(turn) + np.cos(turn))
    return row + down, col + across


def target_scene(
    kind: str,
    look: Look,
    rng: np.random.Generator,
    condition: str = "clean",
    *,
    known: bool = True,
    off_px: float = 10.0,
) -> Scene:
    """Return a scene with one target up to `off_px` from the surveyed place in row and in col.

    `condition` is a key of `CONDITIONS`: what is wrong with the target or its picture.
    """
    size_px = look.size_px if known else None
    side = window_side(size_px)
    row, col = side / 2 + rng.uniform(-off_px, off_px, 2)
    picture = CONDITIONS[condition](kind, look, row, col, side, rng)
    return scene_of(with_noise(picture, look, rng), row, col, size_px)


def _clean(kind, look, row, col, side, rng):
    return target_picture(kind, look, row, col, side, rng)


def _half_plane(side, place, rng, softness):
    """Return 0 on one side of a line and 1 on the other, with a soft edge."""
    rows, cols = np.mgrid[:side, :side] + 0.5
    turn = rng.uniform(0.0, 2.0 * np.pi)
    beyond = (rows - place[0]) * np.sin(turn) + (cols - place[1]) * np.cos(turn)
    return 0.5 * special.erfc(-beyond / (softness * 2**0.5))


def _near(kind, look, row, col, rng, share):
    """Return a place within this share of a side of the target's middle."""
    return np.array(middle_of(kind, look, row, col)) + rng.uniform(-share, share, 2) * look.size_px


def _shadow(kind, look, row, col, side, rng):
    """An edge of shadow across the target, 35 to 65 % darker."""
    picture = target_picture(kind, look, row, col, side, rng)
    edge = _half_plane(side, _near(kind, look, row, col, rng, 0.25), rng, rng.uniform(0.8, 2.0))
    return picture * (1.0 - rng.uniform(0.35, 0.65) * edge)


def _over_exposed(kind, look, row, col, side, rng):
    """The bright tone is beyond the scale."""
    picture = target_picture(kind, look, row, col, side, rng)
    return picture * rng.uniform(1.05, 1.3) * 255.0 / look.bright


def _low_contrast(kind, look, row, col, side, rng):
    """A difference of 44 grey values of 256 at the noise of the usual contrast over 30."""
    lower = replace(look, dark=look.ground - 22.0, bright=look.ground + 22.0, texture=look.texture / 4)
    return target_picture(kind, lower, row, col, side, rng)


def _covered(kind, look, row, col, side, rng):
    """Ground lies over 10 to 35 % of the target."""
    picture = target_picture(kind, look, row, col, side, rng)
    rows, cols = np.mgrid[:side, :side] + 0.5
    turn, share = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.10, 0.35)
    middle = np.array(middle_of(kind, look, row, col))
    away = 0.45 * look.size_px
    place = middle + away * np.array([np.sin(turn), np.cos(turn)])
    radius = look.size_px * (share / np.pi) ** 0.5 * 1.5
    wavy = 0.15 * radius * np.sin(5 * np.arctan2(rows - place[0], cols - place[1]))
    lid = np.clip(0.5 - (np.hypot(rows - place[0], cols - place[1]) - radius - wavy), 0.0, 1.0)
    return picture + lid * (look.ground + look.texture * textured((side, side), rng) - picture)


def _wrinkled(kind, look, row, col, side, rng):
    """The cloth is displaced by 2 % of its side, smoothly over a third of it."""
    picture = target_picture(kind, look, row, col, side, rng)
    waves = [ndimage.gaussian_filter(rng.standard_normal((side, side)), look.size_px / 3) for _ in range(2)]
    moved = [0.02 * look.size_px * wave / wave.std() for wave in waves]
    # The point itself stays where it is.
    moved = [field - field[int(row), int(col)] for field in moved]
    places = np.mgrid[:side, :side] + np.array(moved)
    return ndimage.map_coordinates(picture, places, order=3, mode="nearest")


def _pole(kind, look, row, col, side, rng):
    """A pole stands on the point and leans over the target."""
    picture = target_picture(kind, look, row, col, side, rng)
    rows, cols = np.mgrid[:side, :side] + 0.5
    turn = rng.uniform(0.0, 2.0 * np.pi)
    along = (rows - row) * np.sin(turn) + (cols - col) * np.cos(turn)
    beside = (rows - row) * np.cos(turn) - (cols - col) * np.sin(turn)
    width = max(0.04 * look.size_px, 0.7)
    beyond = np.maximum(np.maximum(-along, along - 1.5 * look.size_px), np.abs(beside) - width)
    share = ndimage.gaussian_filter(np.clip(0.5 - beyond, 0.0, 1.0), look.blur_px)
    return picture + share * (rng.uniform(20.0, 230.0) - picture)


def _twice(kind, look, row, col, side, rng, offset_sides):
    """Return two pictures of one scene, the second moved by at least 0.3 px."""
    length = max(rng.uniform(*offset_sides) * look.size_px, 0.3)
    turn = rng.uniform(0.0, 2.0 * np.pi)
    away = length * np.array([np.sin(turn), np.cos(turn)])
    seed = int(rng.integers(2**31))
    first = target_picture(kind, look, row, col, side, np.random.default_rng(seed))
    second = target_picture(kind, look, row + away[0], col + away[1], side, np.random.default_rng(seed))
    return first, second


def _ghost(kind, look, row, col, side, rng):
    """Two photographs are blended, one of them moved by 6 to 20 % of the side."""
    first, second = _twice(kind, look, row, col, side, rng, (0.06, 0.20))
    return first + rng.uniform(0.3, 0.5) * (second - first)


def _seam(kind, look, row, col, side, rng):
    """Two photographs meet along a line across the target, one of them moved by 4 to 20 % of the side."""
    first, second = _twice(kind, look, row, col, side, rng, (0.04, 0.20))
    return first + _half_plane(side, _near(kind, look, row, col, rng, 0.15), rng, 0.3) * (second - first)


def _twin(kind, look, row, col, side, rng):
    """A second target like the first stands 1.3 sides away: up to 24 px wide, within the search radius."""
    picture = target_picture(kind, look, row, col, side, rng)
    turn = np.arctan2(side / 2 - row, side / 2 - col)
    away = 1.3 * look.size_px * np.array([np.sin(turn), np.cos(turn)])
    grey = {"dark": look.dark, "bright": look.bright, "ground": picture, "blur_px": 0.0}
    place = row + away[0], col + away[1]
    return render_target((side, side), *place, kind, look.size_px, look.angle_deg + 33.0, **grey, rng=rng)


CONDITIONS = {
    "clean": _clean,
    "shadow": _shadow,
    "over-exposed": _over_exposed,
    "low contrast": _low_contrast,
    "covered": _covered,
    "wrinkled": _wrinkled,
    "pole": _pole,
    "ghost": _ghost,
    "seam": _seam,
    "twin": _twin,
}


def mosaic_scene(kind: str, look: Look, rng: np.random.Generator, shear: float = 0.0) -> Scene:
    """Return a target as a mosaic shows it: photographed, turned and scaled bilinearly, stored as JPEG.

    The photograph has a JPEG quality of 92, the mosaic that of the look. `shear` also makes the pixels
    oblong by as much.
    """
    side = window_side(look.size_px * 1.3) + 30
    row, col = side / 2 + rng.uniform(-6.0, 6.0, 2)
    photograph = as_jpeg(with_noise(target_picture(kind, look, row, col, side, rng), look, rng), 92)
    turn, scale = rng.uniform(0.0, np.pi), rng.uniform(0.9, 1.1)
    cosine, sine = np.cos(turn) * scale, np.sin(turn) * scale
    to_photograph = np.array([[cosine, -sine], [sine, cosine]]) @ [[1.0 + shear, shear], [0.0, 1.0]]
    out = window_side(look.size_px * 1.3)
    # Array indices: pixel centres at whole numbers.
    offset = np.array([side, side]) / 2 - 0.5 - to_photograph @ (np.array([out, out]) / 2 - 0.5)
    mosaic = ndimage.affine_transform(photograph, to_photograph, offset, (out, out), order=1, mode="nearest")
    there = np.linalg.solve(to_photograph, np.array([row, col]) - 0.5 - offset) + 0.5
    stored = mosaic if look.jpeg is None else as_jpeg(mosaic, look.jpeg)
    size_px = look.size_px / abs(np.linalg.det(to_photograph)) ** 0.5
    return scene_of(in_8_bit(stored), float(there[0]), float(there[1]), size_px)


def random_look(
    rng: np.random.Generator, *, kind: str = "", sizes: tuple[float, float] = (16.0, 48.0), **fixed: object
) -> Look:
    """Return a look with a random size, turn, ground and, unless fixed, signal to noise of 20 to 50."""
    drawn: dict[str, object] = {
        "size_px": float(np.exp(rng.uniform(*np.log(sizes)))),
        "angle_deg": float(rng.uniform(0.0, 360.0)),
        "snr": float(rng.uniform(20.0, 50.0)),
        "blur_px": float(rng.uniform(0.6, 1.1)),
        "ground": float(rng.uniform(70.0, 110.0) if kind in PAINTED else rng.uniform(70.0, 180.0)),
        "texture": float(rng.uniform(3.0, 8.0) if kind in PAINTED else rng.uniform(3.0, 15.0)),
        "things": bool(rng.random() < 0.5),
    }
    return Look(**(drawn | fixed))  # type: ignore[arg-type]


def look_alike(rng: np.random.Generator, size_px: float, side: int) -> FloatArray:
    """Return a window with up to three things on textured ground that may pass for a target."""
    level = rng.uniform(80.0, 170.0)
    picture = level + rng.uniform(2.0, 20.0) * textured((side, side), rng, rng.uniform(0.5, 1.5))
    for _ in range(rng.integers(1, 4)):
        thing = _THINGS[rng.integers(len(_THINGS))]
        thing(picture, rng, size_px * rng.uniform(0.7, 1.4), rng.uniform(-0.6, 0.6, 2) * 255.0 + level)
    return ndimage.gaussian_filter(picture, rng.uniform(0.5, 1.2))


def _axes(
    picture: FloatArray, rng: np.random.Generator, where: tuple[float, float] = MIDDLE
) -> tuple[FloatArray, FloatArray]:
    rows, cols = np.mgrid[: picture.shape[0], : picture.shape[1]] + 0.5
    row, col = rng.uniform(*where, 2) * picture.shape
    turn = rng.uniform(0.0, np.pi)
    down, across = rows - row, cols - col
    return np.cos(turn) * across + np.sin(turn) * down, np.cos(turn) * down - np.sin(turn) * across


def _paint(picture: FloatArray, beyond: FloatArray, grey: float) -> None:
    """Paint where the signed distance from an outline is negative."""
    share = np.clip(0.5 - beyond, 0.0, 1.0)
    picture += share * (grey - picture)


def _stone(
    picture: FloatArray,
    rng: np.random.Generator,
    size: float,
    greys: FloatArray,
    where: tuple[float, float] = MIDDLE,
) -> None:
    u, v = _axes(picture, rng, where)
    _paint(picture, np.hypot(u, v / rng.uniform(0.6, 0.85)) - size / 2, greys[0])


def _stripes(
    picture: FloatArray,
    rng: np.random.Generator,
    size: float,
    greys: FloatArray,
    where: tuple[float, float] = MIDDLE,
) -> None:
    u, v = _axes(picture, rng, where)
    width, length = size * rng.uniform(0.15, 0.5), size * rng.uniform(0.5, 2.0)
    _paint(picture, np.maximum(np.abs(u) - width, np.abs(v) - length), greys[0])
    _paint(picture, np.maximum(np.abs(u - width / 2) - width / 2, np.abs(v) - length), greys[1])


def _crossing_lines(picture, rng, size, greys):
    u, v = _axes(picture, rng)
    half = size * rng.uniform(0.05, 0.2)
    _paint(picture, np.minimum(np.abs(u), np.abs(v + rng.normal(0.0, 0.05) * u)) - half, greys[0])


def _box_corner(
    picture: FloatArray,
    rng: np.random.Generator,
    size: float,
    greys: FloatArray,
    where: tuple[float, float] = MIDDLE,
) -> None:
    u, v = _axes(picture, rng, where)
    _paint(picture, np.maximum(-u, -v), greys[0])
    _paint(picture, np.maximum(np.maximum(u, -v), -u - size), greys[1])


def _parking_lines(picture, rng, size, greys):
    u, v = _axes(picture, rng)
    for bay in range(-3, 4):
        _paint(picture, np.maximum(np.abs(u - bay * size) - 0.08 * size, -v), greys[0])
    _paint(picture, np.abs(v) - 0.08 * size, greys[0])


def _two_tone_box(picture, rng, size, greys):
    u, v = _axes(picture, rng)
    _paint(picture, np.maximum(np.abs(u), np.abs(v)) - size / 2, greys[0])
    _paint(picture, np.maximum(np.abs(u + size / 4) - size / 4, np.abs(v) - size / 2), greys[1])


def _chequered_floor(picture, rng, size, greys):
    u, v = _axes(picture, rng)
    odd = (np.floor(2.0 * u / size) + np.floor(2.0 * v / size)) % 2.0
    picture += odd * (greys[0] - greys[1])


_THINGS = (
    _stone,
    _stripes,
    _crossing_lines,
    _box_corner,
    _parking_lines,
    _two_tone_box,
)
