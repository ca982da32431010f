"""GDAL set up for reading, and what it says meanwhile kept from the user's terminal."""

import logging
import re
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import rasterio
from rasterio._err import CPLE_BaseError
from rasterio.errors import NodataShadowWarning, NotGeoreferencedWarning, RasterioError

# Texts of a damaged file need not be UTF-8.
GDAL_ERRORS = (RasterioError, CPLE_BaseError, UnicodeDecodeError)

# Enough where blocks are read in their own order; GDAL's default is a share of the computer's memory.
# `rasterio.Env` counts bytes, the environment variable of the same name megabytes.
LEAST_CACHE_BYTES = 16 << 20
# One request for the header, none for files that may stand beside it; a server that falls silent is given up.
_REMOTE_SETTINGS = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_INGESTED_BYTES_AT_OPEN": 1 << 18,
    "GDAL_HTTP_CONNECTTIMEOUT": 20,
    "GDAL_HTTP_LOW_SPEED_TIME": 30,
    "GDAL_HTTP_LOW_SPEED_LIMIT": 100,
}


# GDAL, virtual file systems: the network ones; and what rasterio calls the others.
_NETWORK = re.compile(r"/vsi(curl|s3|gs|az|adls|oss|swift|hdfs|webhdfs)\b|://")
_LOCAL_SCHEMES = re.compile(r"^(file|zip|tar|gzip|memory)(\+file)?://", re.IGNORECASE)


def over_network(path: str) -> bool:
    """Return whether a path leads over a network; archives of this computer do not.

    Examples
    --------
    >>> over_network("https://example.org/ortho.tif"), over_network("/vsizip//vsis3/bucket/ortho.zip")
    (True, True)
    >>> over_network("/vsizip/ortho.zip/ortho.tif")
    False
    """
    return bool(_NETWORK.search(path)) and not _LOCAL_SCHEMES.match(path)


@contextmanager
def quiet_gdal(path: str, cache_bytes: int = LEAST_CACHE_BYTES) -> Iterator[list[str]]:
    """Set GDAL up and keep its messages from the user; yield the list that they are collected in."""
    logger = logging.getLogger("rasterio")
    with warnings.catch_warnings(), _no_stray_words(), listening(path, cache_bytes) as messages:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        warnings.simplefilter("ignore", NodataShadowWarning)
        passed_on, logger.propagate = logger.propagate, False
        try:
            yield messages
        finally:
            logger.propagate = passed_on


@contextmanager
def listening(path: str, cache_bytes: int | None = None) -> Iterator[list[str]]:
    """Set GDAL up in this thread; yield the list that its messages are collected in.

    They go to the user as well unless a `quiet_gdal` is around it, in whatever thread.
    """
    settings: dict[str, Any] = _REMOTE_SETTINGS if over_network(path) else {}
    if cache_bytes is not None:
        settings = settings | {"GDAL_CACHEMAX": cache_bytes}
    listener = _Listener()
    logger = logging.getLogger("rasterio")
    with rasterio.Env(**settings):
        logger.addHandler(listener)
        try:
            yield listener.messages
        finally:
            logger.removeHandler(listener)


class _Listener(logging.Handler):
    """Keeps what is said in the thread that it is made in."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.messages: list[str] = []
        self._thread = threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.messages.append(record.getMessage())


@contextmanager
def _no_stray_words() -> Iterator[None]:
    """Drop what Cython prints where rasterio fails to log a message of GDAL that is not UTF-8."""
    at_end, unraisable = sys.excepthook, sys.unraisablehook

    def pass_on(stray: Any) -> None:
        if stray.object != "rasterio._env.log_error":
            unraisable(stray)

    # An error that ends the program gets past this block first.
    sys.excepthook, sys.unraisablehook = lambda *_: None, pass_on
    try:
        yield
    finally:
        sys.excepthook, sys.unraisablehook = at_end, unraisable
