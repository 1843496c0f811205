"""A fast MQTT publisher: hundreds of thousands of messages a second, so that a test never waits for it."""

import contextlib
import socket
import struct
import threading
from collections.abc import Iterable
from typing import Self

_CHUNK_BYTES = 256 * 1024
_LAST_MID = 65535


class Publisher:
    """Speaks MQTT 3.1.1 over a plain socket, QoS 0 and 1.

    Args:
        username, password: left out: anonymous.
    """

    def __init__(self, host: str, port: int, username: str | None = None, password: str | None = None) -> None:
        self._socket = socket.create_connection((host, port), timeout=10.0)
        self._mid = 0
        self._unacknowledged = 0
        self._gone = False
        self._acknowledged = threading.Condition()
        try:
            self._introduce(username, password)
        except BaseException:
            self._socket.close()
            raise
        self._reader = threading.Thread(target=self._read, name="publisher", daemon=True)
        self._reader.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(OSError):
            self._socket.sendall(b"\xe0\x00")
            self._socket.shutdown(socket.SHUT_RDWR)
        self._reader.join(5.0)
        self._socket.close()

    def _introduce(self, username: str | None, password: str | None) -> None:
        self._socket.sendall(_connect(username, password))
        answer = self._socket.recv(4)
        if answer != b"\x20\x02\x00\x00":
            raise ConnectionError(f"the broker refused the publisher: {answer!r}")
        self._socket.settimeout(30.0)

    def publish(self, messages: Iterable[tuple[str, bytes]], *, qos: int = 1, retain: bool = False) -> int:
        """Publish topics with their payloads, and return how many there were.

        With QoS 1 it returns once the broker has acknowledged all of them.
        """
        count, chunk = 0, bytearray()
        for topic, payload in messages:
            chunk += self._packet(topic, payload, qos, retain=retain)
            count += 1
            if len(chunk) >= _CHUNK_BYTES:
                self._send(chunk)
                chunk.clear()
        self._send(chunk)
        if qos:
            self._wait()
        return count

    def _packet(self, topic: str, payload: bytes, qos: int, *, retain: bool) -> bytes:
        name = topic.encode()
        head = struct.pack("!H", len(name)) + name
        if qos:
            self._mid = self._mid % _LAST_MID + 1
            head += struct.pack("!H", self._mid)
            with self._acknowledged:
                self._unacknowledged += 1
        return bytes([0x30 | qos << 1 | retain]) + _length(len(head) + len(payload)) + head + payload

    def _send(self, chunk: bytes | bytearray) -> None:
        self._socket.sendall(chunk)

    def _wait(self) -> None:
        with self._acknowledged:
            if not self._acknowledged.wait_for(lambda: self._unacknowledged <= 0 or self._gone, 60.0):
                raise TimeoutError(f"{self._unacknowledged} messages were not acknowledged")
            if self._unacknowledged > 0:
                raise ConnectionError(f"the broker went away, {self._unacknowledged} messages were not acknowledged")

    def _read(self) -> None:
        """Count acknowledgements: 4 bytes each, and nothing else comes to a client without subscriptions."""
        rest = 0
        while got := self._receive():
            whole, rest = divmod(rest + got, 4)
            with self._acknowledged:
                self._unacknowledged -= whole
                self._acknowledged.notify_all()
        with self._acknowledged:
            self._gone = True
            self._acknowledged.notify_all()

    def _receive(self) -> int:
        while True:
            try:
                return len(self._socket.recv(65536))
            except TimeoutError:
                continue
            except OSError:
                return 0


def _connect(username: str | None, password: str | None) -> bytes:
    flags, payload = 0x02, _string("")
    for text, flag in ((username, 0x80), (password, 0x40)):
        if text is not None:
            flags |= flag
            payload += _string(text)
    head = _string("MQTT") + bytes([4, flags, 0, 0])
    return b"\x10" + _length(len(head) + len(payload)) + head + payload


def _string(text: str) -> bytes:
    data = text.encode()
    return struct.pack("!H", len(data)) + data


def _length(value: int) -> bytes:
    """Encode a remaining length (MQTT 3.1.1 section 2.2.3)."""
    encoded = bytearray()
    while True:
        value, digit = divmod(value, 128)
        encoded.append(digit | (0x80 if value else 0))
        if not value:
            return bytes(encoded)
