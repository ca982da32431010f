"""Spoiled rasters: bytes of every layout changed, and rasters whose content makes no sense."""

import tempfile
import warnings
from collections.abc import Callable, Iterator
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from rasterio.errors import NotGeoreferencedWarning
from rasterio.shutil import copy

from tests.site import FIXTURE
from tests.spoiled import Case, settings_text
from tests.spoiled.mutations import OF_BYTES, OF_TEXT, spoiled

COUNT = 10
ABOUT_POINTS = 'crs = "EPSG:25832"\nheight_system = "EPSG:7837"\n'
ORTHO, SURFACE = "orthomosaic.tif", "surface.tif"

# Name → the sound raster that is copied, driver, creation options.
LAYOUTS: dict[str, tuple[str, str, dict[str, str]]] = {
    "as it is": (ORTHO, "", {}),
    "surface as it is": (SURFACE, "", {}),
    "strips": (SURFACE, "GTiff", {"BLOCKYSIZE": "3", "COMPRESS": "LZW"}),
    "plain": (SURFACE, "GTiff", {"COMPRESS": "NONE"}),
    "BigTIFF": (SURFACE, "GTiff", {"BIGTIFF": "YES", "TILED": "YES", "COMPRESS": "ZSTD"}),
    "cloud-optimised": (ORTHO, "COG", {"COMPRESS": "JPEG", "BLOCKSIZE": "128"}),
    "cloud-optimised surface": (SURFACE, "COG", {"COMPRESS": "LERC"}),
    "PNG": (ORTHO, "PNG", {}),
    "VRT": (SURFACE, "VRT", {}),
}


@cache
def sound(name: str) -> bytes:
    """Return the content of a sound raster."""
    source, driver, options = LAYOUTS[name]
    if not driver:
        return (FIXTURE / source).read_bytes()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "raster"
        copy(FIXTURE / source, path, driver=driver, **options)
        # A VRT names its source; in the site that lies beside it.
        return path.read_bytes().replace(str(FIXTURE / source).encode(), b"sound.tif")


def _put_spoiled(site: Path, *, name: str, way: int) -> None:
    source, driver, _ = LAYOUTS[name]
    ways = OF_TEXT if driver == "VRT" else OF_BYTES
    content = dict(enumerate(spoiled(sound(name), ways, COUNT, seed=200 + list(LAYOUTS).index(name))))[way][1]
    (site / "sound.tif").write_bytes((site / source).read_bytes())
    (site / source).write_bytes(content)
    (site / "check.toml").write_text(settings_text(about_points=ABOUT_POINTS))


def _rewritten(site: Path, *, source: str, change: Callable[[Any, Any], tuple[Any, dict[str, Any]]]) -> None:
    with rasterio.open(site / source) as dataset:
        profile, values = dict(dataset.profile), dataset.read()
    values, more = change(values, profile)
    profile.update(
        count=len(values), height=values.shape[1], width=values.shape[2], dtype=values.dtype, **more
    )
    for key in ("photometric", "interleave", "compress", "tiled", "blockxsize", "blockysize"):
        profile.pop(key, None)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(site / source, "w", **profile) as target:
            target.write(values)
    (site / "check.toml").write_text(settings_text(about_points=ABOUT_POINTS))


def _filled(number: float) -> Callable[[Any, Any], tuple[Any, dict[str, Any]]]:
    return lambda values, profile: (np.full_like(values, number), {})


def _as_type(name: str) -> Callable[[Any, Any], tuple[Any, dict[str, Any]]]:
    return lambda values, profile: (values.astype(name), {"nodata": None})


def _with(**more: Any) -> Callable[[Any, Any], tuple[Any, dict[str, Any]]]:
    return lambda values, profile: (values, more)


def _part(rows: int, cols: int) -> Callable[[Any, Any], tuple[Any, dict[str, Any]]]:
    return lambda values, profile: (values[:, :rows, :cols], {})


# What makes no sense, or little: name → raster, change.
CONTENT: dict[str, tuple[str, Callable[[Any, Any], tuple[Any, dict[str, Any]]]]] = {
    "all nodata": (SURFACE, _filled(-9999.0)),
    "all NaN": (SURFACE, _filled(np.nan)),
    "all infinite": (SURFACE, _filled(np.inf)),
    "all 1e38": (SURFACE, _filled(1e38)),
    "all zero": (SURFACE, _filled(0.0)),
    "heights of 8 bits": (SURFACE, _as_type("uint8")),
    "heights of 32 bits": (SURFACE, _as_type("int32")),
    "heights of 64 bits": (SURFACE, _as_type("float64")),
    "complex heights": (SURFACE, _as_type("complex64")),
    "no nodata": (SURFACE, _with(nodata=None)),
    "nodata NaN": (SURFACE, _with(nodata=float("nan"))),
    "one pixel": (SURFACE, _part(1, 1)),
    "one row": (SURFACE, _part(1, 60)),
    "two by two": (SURFACE, _part(2, 2)),
    "no CRS": (SURFACE, _with(crs=None)),
    "degrees": (SURFACE, _with(crs="EPSG:4326")),
    "other zone": (SURFACE, _with(crs="EPSG:25833")),
    "feet": (SURFACE, _with(crs="EPSG:2264")),
    "not georeferenced": (SURFACE, _with(transform=Affine.identity())),
    "no area": (SURFACE, _with(transform=Affine(0.25, 0.5, 571300.0, 0.125, 0.25, 5713175.0))),
    "mirrored": (SURFACE, _with(transform=Affine(-0.25, 0, 571335.0, 0, 0.25, 5713150.0))),
    "a millimetre wide": (SURFACE, _with(transform=Affine(1e-3, 0, 571310.0, 0, -1e-3, 5713165.0))),
    "a micrometre wide": (SURFACE, _with(transform=Affine(1e-6, 0, 571305.137, 0, -1e-6, 5713158.442))),
    "a kilometre wide": (SURFACE, _with(transform=Affine(1e3, 0, 500000.0, 0, -1e3, 5760000.0))),
    "elsewhere": (SURFACE, _with(transform=Affine(0.25, 0, 0.0, 0, -0.25, 0.0))),
    "black picture": (ORTHO, _filled(0)),
    "white picture": (ORTHO, _filled(255)),
    "picture of one band": (ORTHO, lambda values, profile: (values[:1], {})),
    "picture of two bands": (ORTHO, lambda values, profile: (values[:2], {})),
    "picture of seven bands": (
        ORTHO,
        lambda values, profile: (np.concatenate([values, values, values[:1]]), {}),
    ),
    "picture of 16 bits": (ORTHO, lambda values, profile: (values.astype("uint16") * 257, {})),
    "picture of floats": (ORTHO, lambda values, profile: (values.astype("float32") * 1e30, {})),
    "picture of noise": (
        ORTHO,
        lambda values, profile: (np.random.default_rng(9).integers(0, 256, values.shape).astype("uint8"), {}),
    ),
    "picture of one row": (ORTHO, _part(1, 300)),
    "picture of three pixels": (ORTHO, _part(1, 3)),
    "picture turned": (ORTHO, _with(transform=Affine(0.03, 0.04, 571300.0, 0.04, -0.03, 5713170.0))),
    "picture nodata 255": (ORTHO, _with(nodata=255)),
}


def cases() -> Iterator[Case]:
    """Yield the spoiled rasters."""
    for name in LAYOUTS:
        for way in range(COUNT):
            yield Case(f"raster, {name}, {way}", partial(_put_spoiled, name=name, way=way))
    for name, (source, change) in CONTENT.items():
        yield Case(f"raster, {name}", partial(_rewritten, source=source, change=change))
