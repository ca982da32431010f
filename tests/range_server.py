"""A small HTTP server of this computer that answers range requests, or fails to in a chosen way."""

import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import cast


class Conduct(StrEnum):
    """How the server answers."""

    RANGES = "with the range asked for, 206"
    WHOLE = "with the whole file, 200"
    BROKEN = "with the header of the file, later with half of what is promised"


# What comes before this byte is answered even by a server whose connections break.
UNBROKEN_BYTES = 1 << 18


@dataclass
class Log:
    """What was asked for: method, path and range of each request; how many were answered at one time."""

    address: str = ""
    requests: list[tuple[str, str, str]] = field(default_factory=list)
    at_once: int = 0
    most_at_once: int = 0


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    folder: Path
    conduct: Conduct
    delay_s: float
    log: Log

    def handle_error(self, request: object, client_address: object) -> None:
        """A client that goes away is none of the server's business."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_HEAD(self) -> None:
        self._answer()

    def do_GET(self) -> None:
        self._answer()

    def log_message(self, *words: object) -> None:
        """Write nothing to the terminal."""

    def _answer(self) -> None:
        server = cast("_Server", self.server)
        log = server.log
        log.requests.append((self.command, self.path, self.headers.get("Range", "")))
        log.at_once += 1
        log.most_at_once = max(log.most_at_once, log.at_once)
        time.sleep(server.delay_s)
        path = server.folder / self.path.lstrip("/")
        if path.is_file():
            self._hand_out(path, server.conduct)
        else:
            self.send_error(404)
        log.at_once -= 1

    def _hand_out(self, path: Path, conduct: Conduct) -> None:
        size = path.stat().st_size
        start, end = 0, size - 1
        found = re.fullmatch(r"bytes=(\d+)-(\d*)", self.headers.get("Range", ""))
        if found and conduct is not Conduct.WHOLE:
            start = int(found[1])
            end = min(int(found[2]) if found[2] else end, end)
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {start}-{end}/{size}")
        else:
            self.send_response(200)
        if conduct is not Conduct.WHOLE:
            self.send_header("Accept-Ranges", "bytes")
        length = end + 1 - start
        self.send_header("Content-Length", str(length))
        self.end_headers()
        if self.command == "GET":
            self.close_connection = conduct is Conduct.BROKEN and end >= UNBROKEN_BYTES
            with path.open("rb") as stream:
                stream.seek(start)
                self.wfile.write(stream.read(length // 2 if self.close_connection else length))


@contextmanager
def serving(folder: Path, conduct: Conduct = Conduct.RANGES, *, delay_s: float = 0.0) -> Iterator[Log]:
    """Serve the files of a folder on a free port while the block runs; yield the log."""
    server = _Server(("127.0.0.1", 0), _Handler)
    server.folder, server.conduct, server.delay_s = folder, conduct, delay_s
    server.log = Log(f"http://127.0.0.1:{server.server_address[1]}")
    worker = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    worker.start()
    try:
        yield server.log
    finally:
        server.shutdown()
        worker.join()
        server.server_close()
