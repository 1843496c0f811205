"""Tell the service manager how the daemon is doing: the protocol of sd_notify(3), in datagrams."""

import logging
import os
import socket
from collections.abc import Mapping

logger = logging.getLogger(__name__)

_SEND_TIMEOUT_S = 1.0
_BEATS_PER_LIMIT = 3


class ServiceManager:
    """The service manager that started this process; without one, every message is a no-op.

    A message that cannot be sent never disturbs the daemon: the first failure in a row is logged.

    Args:
        environ: where ``NOTIFY_SOCKET``, ``WATCHDOG_USEC`` and ``WATCHDOG_PID`` stand; ``None``: the process's own.
        pid: this process; a watchdog that is meant for another one does not concern us.
    """

    def __init__(self, environ: Mapping[str, str] | None = None, pid: int | None = None) -> None:
        environ = os.environ if environ is None else environ
        self._address = socket_address(environ.get("NOTIFY_SOCKET", ""))
        self._interval_s = _interval_s(environ, os.getpid() if pid is None else pid) if self._address else None
        self._failing = False

    @property
    def watchdog_interval_s(self) -> float | None:
        """Seconds between two beats, a third of the limit; ``None``: nobody waits for beats."""
        return self._interval_s

    def ready(self, status: str = "") -> None:
        """Say that start-up, or a reload, is over."""
        self._send("READY=1", *_status(status))

    def status(self, text: str) -> None:
        """Show one line of words in ``systemctl status``."""
        self._send(*_status(text))

    def reloading(self, monotonic_us: int) -> None:
        """Say that a reload begins; ``ready`` ends it.

        Args:
            monotonic_us: CLOCK_MONOTONIC in microseconds, taken when the request arrived.
        """
        self._send("RELOADING=1", f"MONOTONIC_USEC={monotonic_us}")

    def stopping(self) -> None:
        """Say that shutdown begins."""
        self._send("STOPPING=1")

    def watchdog(self) -> None:
        """Send one beat. Call it only while everything that must be alive is alive."""
        if self._interval_s is not None:
            self._send("WATCHDOG=1")

    def _send(self, *assignments: str) -> None:
        if not self._address or not assignments:
            return
        try:
            _send_datagram(self._address, "\n".join(assignments).encode(errors="replace"))
        except OSError as error:
            self._note_failure(error)
        else:
            self._failing = False

    def _note_failure(self, error: OSError) -> None:
        if not self._failing:
            logger.warning("the service manager takes no messages: %s", error, extra={"event": "service.notify_failed"})
        self._failing = True


def socket_address(text: str) -> str:
    r"""Turn ``NOTIFY_SOCKET`` into an address for ``connect``; empty for kinds that are not known.

    >>> socket_address("/run/systemd/notify")
    '/run/systemd/notify'
    >>> socket_address("@notify")
    '\x00notify'
    >>> socket_address("vsock:2:1234")
    ''
    """
    if text.startswith("@"):
        return "\0" + text[1:]
    return text if text.startswith("/") else ""


def _interval_s(environ: Mapping[str, str], pid: int) -> float | None:
    limit, owner = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if owner not in ("", str(pid)) or not (limit.isascii() and limit.isdigit()) or int(limit) == 0:
        return None
    return int(limit) / 1_000_000 / _BEATS_PER_LIMIT


def _status(text: str) -> tuple[str, ...]:
    """A line break would start a second assignment, so words are joined by blanks."""
    line = " ".join(text.split())
    return (f"STATUS={line}",) if line else ()


def _send_datagram(address: str, payload: bytes) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.settimeout(_SEND_TIMEOUT_S)
        sender.connect(address)
        sender.send(payload)
