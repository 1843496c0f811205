"""A real Mosquitto broker on the loopback interface, for tests and for the demo."""

import base64
import contextlib
import hashlib
import os
import pwd
import secrets
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from parchd.clock import SystemClock

_SLICE_S = 0.01
_PATIENCE_S = 10.0
_ROUNDS = 101


@dataclass(frozen=True, slots=True)
class BrokerTls:
    """Files of an encrypted listener, PEM.

    Args:
        ca_file: whose certificates clients may bring.
        require_certificate: whether they must.
    """

    ca_file: Path
    cert_file: Path
    key_file: Path
    require_certificate: bool = False


def find_mosquitto() -> str:
    """Find the program.

    Raises:
        FileNotFoundError: it is not installed; the text names the command that installs it.
    """
    found = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/sbin")
    if found is None:
        raise FileNotFoundError("mosquitto is not installed: apt-get install mosquitto")
    return found


class Mosquitto:
    """Starts on `start` or ``with``, keeps its messages over `restart`, and is gone after `stop`.

    Args:
        folder: where configuration, log and messages are kept; a temporary folder when left out.
        port: where to listen; a free one when left out.
        users: passwords by name; empty: everybody may come in.
        tls: makes the listener an encrypted one.
        max_inflight: messages on their way to one client; 0: no limit.
        settings: further lines of the configuration.
    """

    def __init__(
        self,
        folder: Path | None = None,
        *,
        port: int | None = None,
        users: Mapping[str, str] | None = None,
        tls: BrokerTls | None = None,
        max_inflight: int = 20,
        settings: Sequence[str] = (),
    ) -> None:
        self._program = find_mosquitto()
        self._own_folder = tempfile.TemporaryDirectory(prefix="parchd-broker-") if folder is None else None
        self.folder = folder or Path(self._own_folder.name if self._own_folder else "")
        self.host = "127.0.0.1"
        self.port = port or _free_port()
        self._users = dict(users or {})
        self._tls = tls
        self._max_inflight = max_inflight
        self._settings = tuple(settings)
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        if self._own_folder is not None:
            self._own_folder.cleanup()

    @property
    def log(self) -> str:
        """What it has logged so far."""
        path = self.folder / "mosquitto.log"
        return path.read_text(errors="replace") if path.exists() else ""

    def start(self) -> None:
        """Start, and return once it accepts connections.

        Raises:
            RuntimeError: it ended at once; the text has the end of its log.
        """
        self._write_files()
        with (self.folder / "mosquitto.log").open("ab") as log:
            command = [self._program, "-c", str(self.folder / "mosquitto.conf")]
            self._process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)  # noqa: S603 - our own arguments
        self._wait_until_it_listens()

    def stop(self) -> None:
        """End it in peace: it writes down the messages it keeps."""
        self._end(kill=False)

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        self._end(kill=True)

    def restart(self) -> None:
        self.stop()
        self.start()

    def _end(self, *, kill: bool) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            process.kill() if kill else process.terminate()
        try:
            process.wait(_PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def _wait_until_it_listens(self) -> None:
        assert self._process is not None
        clock = SystemClock()
        deadline_s = clock.monotonic_s() + _PATIENCE_S
        while not _listens(self.host, self.port):
            if self._process.poll() is not None or clock.monotonic_s() > deadline_s:
                self.stop()
                raise RuntimeError(f"mosquitto does not start: {self.log[-500:]}")
            time.sleep(_SLICE_S)

    def _write_files(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / "mosquitto.conf").write_text("\n".join(self._lines()) + "\n")
        if self._users:
            path = self.folder / "users"
            path.touch(mode=0o600)
            path.write_text("".join(f"{name}:{_hashed(password)}\n" for name, password in self._users.items()))

    def _lines(self) -> list[str]:
        return [
            f"user {pwd.getpwuid(os.getuid()).pw_name}",  # else it would change to one that may not write here
            "per_listener_settings false",
            f"listener {self.port} {self.host}",
            *(_tls_lines(self._tls) if self._tls else ()),
            *([f"password_file {self.folder / 'users'}"] if self._users else []),
            f"allow_anonymous {str(not self._users).lower()}",
            "persistence true",
            f"persistence_location {self.folder}/",
            "autosave_interval 5",
            f"max_inflight_messages {self._max_inflight}",
            "max_queued_messages 0",
            *self._settings,
        ]


def _tls_lines(tls: BrokerTls) -> list[str]:
    return [
        f"cafile {tls.ca_file}",
        f"certfile {tls.cert_file}",
        f"keyfile {tls.key_file}",
        f"require_certificate {str(tls.require_certificate).lower()}",
    ]


def _hashed(password: str) -> str:
    """Hash a password the way Mosquitto's password files want it (``$7$``: PBKDF2 with SHA-512)."""
    salt = secrets.token_bytes(12)
    digest = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, _ROUNDS)
    return f"$7${_ROUNDS}${base64.b64encode(salt).decode()}${base64.b64encode(digest).decode()}"


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
        return port


def _listens(host: str, port: int) -> bool:
    try:
        with socket.create_connection((host, port), timeout=1.0):
            return True
    except OSError:
        return False
