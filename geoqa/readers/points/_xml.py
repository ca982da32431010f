"""XML files from anywhere: no entity is unfolded, nothing is fetched."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import InputError
from geoqa.readers.points._cells import brief
from geoqa.readers.points._files import content_of

if TYPE_CHECKING:
    from lxml.etree import _Element


def root_of(path: Path) -> "_Element":
    """Return the outermost element of an XML file, without remarks and processing instructions.

    Raises
    ------
    InputError
        Where the file cannot be read, is no well-formed XML, or declares a document type: its
        entities could unfold into anything or point anywhere.
    """
    from lxml import etree

    parser = etree.XMLParser(
        resolve_entities=False, load_dtd=False, no_network=True, remove_comments=True, remove_pis=True
    )
    try:
        root = etree.fromstring(content_of(path), parser)
    except etree.XMLSyntaxError as reason:
        message = f"{path.name}: this is no well-formed XML ({brief(reason.msg, 160)}). Export it again."
        raise InputError(message) from None
    about: Any = root.getroottree().docinfo
    if about.doctype:
        message = (
            f"{path.name}: the file declares a document type, which no file of points needs. Take the "
            f"<!DOCTYPE …> out."
        )
        raise InputError(message)
    return root


def local_name(element: "_Element") -> str:
    """Return the name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]


def elements_of(root: "_Element", name: str) -> Iterator["_Element"]:
    """Yield the elements of a name, whatever their namespace."""
    return root.iter(f"{{*}}{name}")
