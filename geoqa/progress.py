"""How far a long piece of work has come, told to whoever listens to this logger."""

import logging
from collections.abc import Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")

LOG = logging.getLogger("geoqa.progress")


def counted(items: Iterable[T], total: int, title: str) -> Iterator[T]:
    """Yield the items and tell before the first, and after each, how many of the total are done."""
    _tell(title, 0, total)
    for number, item in enumerate(items, start=1):
        yield item
        _tell(title, number, total)


def _tell(title: str, done: int, total: int) -> None:
    LOG.debug("%s: %d of %d", title, done, total, extra={"title": title, "done": done, "total": total})
