"""Copies of the products, moved and raised, with a record of what was done."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from affine import Affine

from geoqa.errors import InputError, OutputError
from geoqa.frame.axes import crs_name
from geoqa.frame.datums import geographic
from geoqa.frame.geocentric import translated
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.processes._moved_geotiff import moved_copy
from geoqa.processes._raised_surface import raised_copy
from geoqa.processes._recorded import located, read_record
from geoqa.readers.provenance import fingerprint, time_stamp, whole_sha256
from geoqa.readers.rasters import read_info
from geoqa.records.measurements import RasterInfo
from geoqa.records.settings import is_remote
from geoqa.units import LinearUnit
from geoqa.version import VERSION
from geoqa.writers._fingerprint import short

# Within this the copy lies where it should: rounding of coordinates of ten million in double precision.
_ROUNDING_M = 1e-6


@dataclass(frozen=True, eq=False)
class Asked:
    """By how much the products are to be moved, and why.

    Attributes
    ----------
    grid_m
        East and north along the grid of a raster, and up, metres; None where the shift is geocentric.
    geocentric_m
        One vector for all that rests on the base; None where the shift is along the grid.
    height_m
        Of the ground, metres: the geocentric vector is turned to the grid there.
    """

    orthomosaic: str | None
    elevation: str | None
    elevation_unit: LinearUnit | None
    reason: str
    grid_m: tuple[float, float, float] | None = None
    geocentric_m: FloatArray | None = None
    height_m: float = 0.0
    crs: Mapping[str, str | None] | None = None


def asked_by_results(folder: Path, inputs: Path | None) -> Asked:
    """Return what the base correction of a check asks for.

    Raises
    ------
    InputError
        Where the products lack no correction, or are in coordinates of a site.
    """
    record = read_record(folder)
    document = record.document
    lacking = [item for item in document["base"] if item["products_use"] == "assumed"]
    if not lacking:
        message = (
            f"{folder}: by its results no correction of a base is missing from the products. Give the shift "
            "by --east, --north and --up where something else asks for it."
        )
        raise InputError(message)
    place = located(record, inputs)
    settings = place.settings
    if "products" in settings.get("site_grid", {}).get("applies_to", ()):
        message = (
            f"{folder}: the products are in coordinates of a site, which a base does not move. Move the grid."
        )
        raise InputError(message)
    heights = [item["survey_m"][2] for item in document["points"] if item["survey_m"][2] is not None]
    named = {name: settings[name] for name in ("orthomosaic", "elevation") if name in settings}
    unit = named.get("elevation", {}).get("unit")
    paths = {name: str(place.folder / table["path"]) for name, table in named.items()}
    return Asked(
        paths.get("orthomosaic"),
        paths.get("elevation"),
        elevation_unit=None if unit is None else LinearUnit(unit),
        reason=f"base correction, {lacking[0]['source']}; results {short(document['fingerprint'])}",
        geocentric_m=np.array(lacking[0]["shift_geocentric_m"]),
        height_m=float(np.median(heights)) if heights else 0.0,
        crs={name: table.get("crs") for name, table in named.items()},
    )


def corrected_products(asked: Asked, out: Path, created: str | None) -> list[dict[str, Any]]:
    """Write the copies and their records into a folder, and return the records.

    Raises
    ------
    InputError
        Where a product cannot be moved without touching its pixels, or lies where the copy is to go.
    OutputError
        Where the copy cannot be written.
    """
    stamp = time_stamp(created)
    records = []
    for use, path in (("orthomosaic", asked.orthomosaic), ("elevation", asked.elevation)):
        if path is not None:
            _refuse(path, out)
            records.append(_corrected(asked, use, path, out, stamp))
    return records


def _refuse(path: str, out: Path) -> None:
    if is_remote(path) or not Path(path).is_file():
        message = f"{path}: only a file on this disk can be copied and moved. Fetch it first."
        raise InputError(message)
    target = out / Path(path).name
    if target.exists() and target.samefile(path):
        message = f"{path}: the copy would overwrite the product. Name another folder with --out."
        raise InputError(message)


def _corrected(asked: Asked, use: str, path: str, out: Path, stamp: str) -> dict[str, Any]:
    info = read_info(path, crs=(asked.crs or {}).get(use))
    east, north, up = _shift(asked, info)
    target = out / Path(path).name
    partial = out / f".{target.name}.partial"
    try:
        out.mkdir(parents=True, exist_ok=True)
        done = _write(asked, use, info, partial, (east, north, up))
        partial.replace(target)
        _copy_side_files(Path(path), target)
    except OSError as reason:
        message = (
            f"{target}: the copy cannot be written ({reason.strerror or reason}). Make room, or use --out."
        )
        raise OutputError(message) from reason
    finally:
        partial.unlink(missing_ok=True)
    before = fingerprint(path, use)
    record = {
        "use": use,
        "file": target.name,
        "sha256": whole_sha256(target),
        "source": path,
        "source_sha256": before.sha256,
        "source_sample_sha256": before.sample_sha256,
        "crs": crs_name(info.crs),
        "unit": None if info.unit is None else info.unit.value,
        "shift": [east, north],
        "height_offset_m": up if use == "elevation" else 0.0,
        "reason": asked.reason,
        **done,
        "geoqa": VERSION,
        "created": stamp,
    }
    lineage = target.with_name(f"{target.stem}-lineage.json")
    lineage.write_text(json.dumps(record, indent=2, ensure_ascii=False) + "\n", "utf-8", newline="\n")
    return {**record, "path": str(target), "lineage": str(lineage)}


def _write(
    asked: Asked, use: str, info: RasterInfo, partial: Path, shift: tuple[float, float, float]
) -> dict[str, Any]:
    east, north, up = shift
    t = info.transform
    moved = Affine(t.a, t.b, t.c + east, t.d, t.e, t.f + north)
    if use == "elevation" and up:
        unit = _height_unit(asked, info)
        cells = raised_copy(info, partial, moved, up / unit.metres)
        done: dict[str, Any] = {"raised_cells": cells, "changed_bytes": None}
    else:
        done = {
            "raised_cells": 0,
            "changed_bytes": 8 * len(moved_copy(Path(info.path), partial, east, north)),
        }
    _check(info, read_info(str(partial), crs=None if asked.crs is None else asked.crs.get(use)), moved)
    return done


def _check(before: RasterInfo, after: RasterInfo, moved: Affine) -> None:
    """Raise `InputError` where GDAL does not find the copy where it was to go."""
    off = max(abs(a - b) for a, b in zip(after.transform, moved, strict=True)) * before.unit_m
    if off > _ROUNDING_M or after.crs != before.crs or after.vertical != before.vertical:
        message = (
            f"{before.path}: a file beside the raster says where it lies, or its CRS cannot be written into "
            "a GeoTIFF, so that a copy would not lie right. Write it as one GeoTIFF (`gdal_translate`) first."
        )
        raise InputError(message)


def _shift(asked: Asked, info: RasterInfo) -> tuple[float, float, float]:
    """Return east and north in the unit of the CRS, and up in metres, in the middle of the raster."""
    if asked.grid_m is not None:
        if info.unit is None:
            message = (
                f"{info.path}: the raster counts degrees and has no grid to move along. Project it first."
            )
            raise InputError(message)
        east, north, up = asked.grid_m
        return east / info.unit.metres, north / info.unit.metres, up
    rows, cols = info.shape
    t, row, col = info.transform, rows / 2, cols / 2
    middle = np.array([[t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f]])
    place = np.column_stack([to_geographic(middle, info.crs), [asked.height_m]])
    moved = translated(place, np.asarray(asked.geocentric_m), geographic(info.crs, info.path))
    east, north = (from_geographic(moved[:, :2], info.crs) - middle)[0].tolist()
    return east, north, float(moved[0, 2] - asked.height_m)


def _height_unit(asked: Asked, info: RasterInfo) -> LinearUnit:
    unit = info.value_unit or asked.elevation_unit
    if unit is None and info.unit is LinearUnit.METRE:
        return LinearUnit.METRE
    if unit is None:
        message = f"{info.path}: nothing says in which unit the heights are. Name it with --elevation-unit."
        raise InputError(message)
    return unit


def _copy_side_files(source: Path, target: Path) -> None:
    """Copy what stands beside the raster and belongs to its pixels: overviews and a mask."""
    for suffix in (".ovr", ".msk"):
        side = source.with_name(source.name + suffix)
        if side.is_file():
            target.with_name(target.name + suffix).write_bytes(side.read_bytes())
