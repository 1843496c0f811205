"""A small HTTP server on loopback for fakes: it takes POSTs, and can hang or break a connection."""

import gzip
import socket
import ssl
import struct
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit


@dataclass(frozen=True, slots=True)
class Reply:
    """Answer with this."""

    status: int
    body: str | bytes = ""
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Hang:
    """Do not answer until the server is closed."""


@dataclass(frozen=True, slots=True)
class Reset:
    """Break the connection; ``after_storing``: only the answer is lost."""

    after_storing: bool = False


Step = Reply | Hang | Reset


@dataclass(frozen=True, slots=True)
class Post:
    """One POST: the body as it came, and unpacked as text."""

    path: str
    query: Mapping[str, str]
    headers: Mapping[str, str]
    body: bytes
    text: str


class PostServer:
    """Listens from `start` to `stop`; again on the same port when it is started again.

    Args:
        answer: called for each POST, in threads of the server.
        certificate, key: serve https with these files.
    """

    def __init__(
        self, answer: Callable[[Post], Step], certificate: Path | None = None, key: Path | None = None
    ) -> None:
        self._answer = answer
        self._tls = None if certificate is None else _tls_context(certificate, key)
        self._address = ("127.0.0.1", 0)
        self._http: _HttpServer | None = None
        self._thread: threading.Thread | None = None

    @property
    def url(self) -> str:
        scheme = "http" if self._tls is None else "https"
        return f"{scheme}://127.0.0.1:{self._address[1]}"

    def start(self) -> None:
        self._http = _HttpServer(self._address, self._answer, self._tls)
        self._address = ("127.0.0.1", self._http.server_address[1])
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.01,), name="post-server")
        self._thread.start()

    def stop(self) -> None:
        """Close all connections and end all threads."""
        http, thread = self._http, self._thread
        self._http = self._thread = None
        if http is not None and thread is not None:
            http.shutdown()
            thread.join()
            http.hang_up()
            http.server_close()


def _tls_context(certificate: Path, key: Path | None) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    return context


class _HttpServer(ThreadingHTTPServer):
    daemon_threads = False
    allow_reuse_address = True

    def __init__(self, address: tuple[str, int], answer: Callable[[Post], Step], tls: ssl.SSLContext | None) -> None:
        self.answer = answer
        self.released = threading.Event()
        self._tls = tls
        self.rude: set[socket.socket] = set()
        self._open: set[socket.socket] = set()
        super().__init__(address, _Handler)

    def finish_request(self, request: socket.socket | tuple[bytes, socket.socket], client_address: object) -> None:
        assert isinstance(request, socket.socket)
        self._open.add(request)
        try:
            if self._tls is None:
                _Handler(request, client_address, self)
            else:
                with self._tls.wrap_socket(request, server_side=True) as wrapped:
                    self._open.add(wrapped)
                    _Handler(wrapped, client_address, self)
        except OSError:
            pass  # the client went away, or does not trust us: both belong to the tests

    def shutdown_request(self, request: socket.socket | tuple[bytes, socket.socket]) -> None:
        if request in self.rude:
            self.close_request(request)
        else:
            super().shutdown_request(request)

    def hang_up(self) -> None:
        self.released.set()
        for connection in tuple(self._open):
            try:
                connection.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    wbufsize = -1
    server: _HttpServer

    def do_POST(self) -> None:
        step = self.server.answer(self._read())
        if isinstance(step, Reply):
            self._reply(step)
        else:
            self._vanish(step)

    def _read(self) -> Post:
        size = int(self.headers["Content-Length"] or 0)
        body = self.rfile.read(size)
        if len(body) < size:
            raise ConnectionError("the client went away amid its body")
        plain = gzip.decompress(body) if self.headers.get("Content-Encoding") == "gzip" else body
        parts = urlsplit(self.path)
        query = {key: values[-1] for key, values in parse_qs(parts.query).items()}
        return Post(parts.path, query, dict(self.headers.items()), body, plain.decode())

    def _reply(self, reply: Reply) -> None:
        body = reply.body.encode() if isinstance(reply.body, str) else reply.body
        self.send_response(reply.status)
        for name, value in reply.headers.items():
            self.send_header(name, value)
        if reply.status != 204:
            self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body if reply.status != 204 else b"")

    def _vanish(self, step: Hang | Reset) -> None:
        self.close_connection = True
        if isinstance(step, Hang):
            self.server.released.wait()
        # With this a close without a shutdown sends RST instead of FIN.
        self.server.rude.add(self.connection)
        self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 -- the name is inherited
        """Stay silent."""
