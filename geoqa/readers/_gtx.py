"""Grids of separations as files that PROJ reads: whether one is, and how to write one."""

import re
import struct
from pathlib import Path, PurePath

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.settings import is_remote

_SUFFIXES = {".gtx", ".tif", ".tiff"}
# PROJ divides lists of grids at commas, and parameters at blanks.
_PLAIN = re.compile(r"[\w./\\:~+-]+", re.ASCII)
_MISSING = -88.8888


def proj_reads(path: str) -> bool:
    """Return whether PROJ knows the format of a file and can take its path."""
    if is_remote(path) or PurePath(path).suffix.lower() not in _SUFFIXES:
        return False
    return _PLAIN.fullmatch(str(Path(path).resolve())) is not None


def write_gtx(nodes: FloatArray, first: tuple[float, float], step: tuple[float, float], folder: Path) -> str:
    """Write the nodes as GTX, rows from south to north, and return the path as PROJ takes it.

    Format: big-endian; latitude and longitude of the south-western node, steps in latitude and
    longitude as doubles, rows and columns as 32-bit integers, then 32-bit floats.
    """
    rows, cols = nodes.shape
    south = first[1] - (rows - 1) * step[1]
    header = struct.pack(">4d2i", south, first[0], step[1], step[0], rows, cols)
    values = np.where(np.isfinite(nodes), nodes, _MISSING)[::-1].astype(">f4")
    path = folder / "geoid.gtx"
    path.write_bytes(header + values.tobytes())
    text = path.resolve().as_posix()
    if "," in text or '"' in text:
        message = (
            f"{folder}: PROJ cannot read files in a folder with a comma or a quotation mark in its name. Set "
            "the environment variable TMPDIR to a folder without."
        )
        raise InputError(message)
    return f'"{text}"' if " " in text else text
