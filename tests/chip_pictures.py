"""Draw docs/gallery/chips.png for docs/explanation/chips.md: `python -m tests.chip_pictures`.

An invented site: each target has one thing wrong, the pictures are those that `geoqa check` leaves.
"""

import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from tests.scenes import ORIGIN, write_points, write_raster
from tests.site import geoqa
from tests.targets.scenes import CONDITIONS, PAINTED, Look, in_8_bit, textured

GALLERY = Path(__file__).parents[1] / "docs" / "gallery"
CELL_M, SIDE_PX, SIZE_PX = 0.02, 170, 24.0
COLUMNS = 4
# Name, kind, condition, seed.
SHOWN = (
    ("clean", "quadrant-panel", "clean", 1),
    ("painted", "painted-cross", "clean", 2),
    ("L mark", "l-mark-outer", "clean", 3),
    ("shadow", "quadrant-panel", "shadow", 4),
    ("over-exposed", "x-panel", "over-exposed", 5),
    ("seam", "bow-tie-panel", "seam", 1),
    ("ghost", "quadrant-panel", "ghost", 7),
    ("wrinkled", "round-quadrant-panel", "wrinkled", 2),
    ("covered", "concentric-rings", "covered", 9),
    ("pole", "quadrant-panel", "pole", 17),
    ("twin", "x-panel", "twin", 11),
    ("gone", "disc", "gone", 12),
)


def look_of(kind: str, rng: np.random.Generator) -> Look:
    """Return a look with a random turn, on ground of its own."""
    ground = 80.0 if kind in PAINTED else 115.0
    size_px = 16.0 if kind == "x-panel" else SIZE_PX
    return Look(size_px=size_px, angle_deg=float(rng.uniform(0, 360)), ground=ground, texture=6.0)


def mosaic() -> tuple[np.ndarray, list[tuple[float, float]]]:
    """Return a picture with all targets side by side, and row and col of the surveyed places."""
    rows = -(-len(SHOWN) // COLUMNS)
    picture = np.zeros((rows * SIDE_PX, COLUMNS * SIDE_PX))
    places = []
    for index, (_, kind, condition, seed) in enumerate(SHOWN):
        rng = np.random.default_rng([seed, 31])
        look = look_of(kind, rng)
        top, left = (SIDE_PX * part for part in divmod(index, COLUMNS))
        row, col = SIDE_PX / 2 + rng.uniform(-4.0, 4.0, 2)
        if condition == "gone":
            part = look.ground + look.texture * textured((SIDE_PX, SIDE_PX), rng)
        else:
            part = CONDITIONS[condition](kind, look, row, col, SIDE_PX, rng)
        picture[top : top + SIDE_PX, left : left + SIDE_PX] = part + rng.normal(0.0, 3.0, part.shape)
        places.append((top + row + rng.uniform(-6.0, 6.0), left + col + rng.uniform(-6.0, 6.0)))
    return in_8_bit(picture), places


def main() -> None:
    """Write docs/gallery/chips.png."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        picture, places = mosaic()
        write_raster(folder / "ortho.tif", picture[None], CELL_M)
        positions = [(ORIGIN[0] + col * CELL_M, ORIGIN[1] - row * CELL_M) for row, col in places]
        ids = [shown[0] for shown in SHOWN]
        write_points(folder / "points.csv", ids, np.array(positions), target=[shown[1] for shown in SHOWN])
        (folder / "site.toml").write_text(
            "[orthomosaic]\npath = 'ortho.tif'\n[points]\npath = 'points.csv'\n"
        )
        answer = geoqa("check", str(folder / "site.toml"), "--quiet")
        if answer.exit_code == 2:
            raise RuntimeError(answer.stderr)
        files = {path.stem: path for path in (folder / "site-accuracy" / "chips").glob("*.png")}
        chips = [Image.open(files[name.replace(" ", "_")]).convert("RGB") for name in ids]
        wide, high = chips[0].size
        sheet = Image.new("RGB", (wide * COLUMNS, high * -(-len(chips) // COLUMNS)), "white")
        for index, chip in enumerate(chips):
            sheet.paste(chip, (wide * (index % COLUMNS), high * (index // COLUMNS)))
        sheet.quantize(96, dither=Image.Dither.NONE).save(GALLERY / "chips.png", optimize=True)


if __name__ == "__main__":
    main()
