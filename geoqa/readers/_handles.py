"""Windows of a raster read one after the other, or over a network several at a time."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from itertools import islice
from queue import SimpleQueue
from typing import TypeVar

from geoqa.numerics.tiling import Visit, Window
from geoqa.readers._dataset import Source, opened_source
from geoqa.readers._gdal import over_network
from geoqa.records.measurements import RasterInfo

T = TypeVar("T")

# While one waits for a server's answer the others ask; a dataset must not be read by two threads at once.
_REMOTE_HANDLES = 6


class Handles:
    """The same raster, opened once or several times.

    Attributes
    ----------
    first
        For what is asked once.
    """

    def __init__(self, sources: Sequence[Source]) -> None:
        self.first = sources[0]
        self._sources = sources

    def batches(self, visits: Iterable[Visit]) -> Iterator[list[Visit]]:
        """Yield the visits in their order, as many together as are read at a time."""
        left = iter(visits)
        while some := list(islice(left, len(self._sources))):
            yield some

    def read(self, windows: Sequence[Window], how: Callable[[Source, Window], T]) -> list[T]:
        """Return what each window gives, in their order; to be called while `first` is reading.

        Raises
        ------
        InputError
            Of the first window that cannot be decoded, however fast the others were.
        """
        if len(windows) == 1:
            return [how(self.first, windows[0])]
        free: SimpleQueue[Source] = SimpleQueue()
        for source in self._sources:
            free.put(source)

        def read(window: Window) -> T:
            source = free.get()
            try:
                with source.reading_beside():
                    return how(source, window)
            finally:
                free.put(source)

        with ThreadPoolExecutor(len(self._sources)) as pool:
            return list(pool.map(read, windows))


@contextmanager
def opened_handles(info: RasterInfo, most_bands: int = 3) -> Iterator[Handles]:
    """Yield the raster that was described before, open for reading its values.

    Raises
    ------
    InputError
        Where it cannot be opened, or is no longer what was described.
    """
    with ExitStack() as stack:
        count = _REMOTE_HANDLES if over_network(info.path) else 1
        yield Handles([stack.enter_context(opened_source(info, most_bands)) for _ in range(count)])
