"""Deliverables, one file each: `write` turns an assessment into files in a folder.

A module in this folder defines `WRITER`; modules that only help others start with an underscore.
The folder given to `write` is a fresh one: what is written there is moved into place as a whole
when every writer is done.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from geoqa.records.assessment import Assessment
from geoqa.registry import Registry


@dataclass(frozen=True)
class Writer:
    """A deliverable.

    Attributes
    ----------
    media_type
        IANA media type of its main file.
    write
        From an assessment and an existing folder to the paths written, relative to the folder.
    picture
        True where `deliver.pictures = false` leaves it out.
    order
        Writers run in this order; one with a higher number may read the files of one before it.
    """

    id: str
    title: str
    media_type: str
    write: Callable[[Assessment, Path], tuple[Path, ...]]
    picture: bool = False
    order: int = 50


WRITERS = Registry("geoqa.writers", "WRITER", Writer)
