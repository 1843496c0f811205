"""The control socket: how commands ask a running daemon."""

import logging
import os
import queue
import socket
import socketserver
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import ValidationError

from parchd.app.messages import Ask
from parchd.app.requests import REQUESTS, Answer, AnyRequest
from parchd.contract import ParchdError

logger = logging.getLogger(__name__)

LONGEST_LINE = 64 * 1024
PATIENCE_S = 600.0


class ControlError(ParchdError, ConnectionError):
    """The daemon does not answer."""


def socket_path(database: Path) -> Path:
    """Where the daemon that writes this journal listens."""
    return database.with_name(database.name + ".control")


class ControlServer:
    """Takes one JSON request a connection, hands it to the engine, and passes its answers back, a line each.

    Only the daemon's own user and root may connect.
    """

    def __init__(self, database: Path, tell: Callable[[Ask], None]) -> None:
        self._path = socket_path(database)
        self._path.unlink(missing_ok=True)
        with _short(self._path) as address:
            self._server = _Server(address, tell)
        self._path.chmod(0o600)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.1,), name="control", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
        self._path.unlink(missing_ok=True)


def ask_daemon(database: Path, request: AnyRequest) -> Iterator[Answer]:
    """Ask the daemon that writes this journal; yield its answers, the last is ``done`` or ``failed``.

    Raises:
        ControlError: nobody listens, or it went away before the last answer.
    """
    with socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(PATIENCE_S)
        try:
            with _short(socket_path(database)) as address:
                connection.connect(address)
            connection.sendall(request.model_dump_json().encode() + b"\n")
            with connection.makefile("rb") as lines:
                for line in lines:
                    yield (answer := Answer.model_validate_json(line))
                    if answer.state != "working":
                        return
        except OSError as error:
            raise ControlError(f"the daemon does not answer on {socket_path(database)} ({error})") from error
    raise ControlError("the daemon went away before it was done; ask again when it runs")


@contextmanager
def _short(path: Path) -> Iterator[str]:
    """Give an address that fits: the kernel takes 107 bytes for a socket, less than many a path has."""
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY)
    try:
        yield f"/proc/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)


class _Server(socketserver.UnixStreamServer):
    def __init__(self, path: str, tell: Callable[[Ask], None]) -> None:
        super().__init__(path, _Handler)
        self.tell = tell


class _Handler(socketserver.StreamRequestHandler):
    server: _Server
    timeout = 10.0

    def handle(self) -> None:
        try:
            request = REQUESTS.validate_json(self.rfile.readline(LONGEST_LINE))
        except ValidationError as error:
            self._send(Answer(state="failed", text=f"not a request: {error.errors()[0]['msg']}"))
            return
        answers: queue.SimpleQueue[Answer] = queue.SimpleQueue()
        self.server.tell(Ask(request, answers.put))
        self._pass_on(answers)

    def _pass_on(self, answers: "queue.SimpleQueue[Answer]") -> None:
        while True:
            try:
                answer = answers.get(timeout=PATIENCE_S)
            except queue.Empty:
                return
            self._send(answer)
            if answer.state != "working":
                return

    def _send(self, answer: Answer) -> None:
        try:
            self.wfile.write(answer.model_dump_json().encode() + b"\n")
        except OSError:
            logger.info("who asked has gone", extra={"event": "control.gone"})
