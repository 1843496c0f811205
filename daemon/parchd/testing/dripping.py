"""A server on loopback that takes its time: it says something at once and the rest drop by drop."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain, repeat

MOST_BYTES = 65_536


@contextmanager
def dripping(*said: bytes, drops: bytes, pause_s: float, endless: bool = False) -> Iterator[int]:
    """Serve one connection; yield the port.

    Args:
        said: what it says at once, the first when somebody connects, each other after something came in. An empty first
            piece lets the client begin.
        drops: then it says these, byte by byte, and hangs up.
        pause_s: before each drop.
        endless: begin again with the drops instead of hanging up.
    """
    over = threading.Event()

    def serve(listener: socket.socket) -> None:
        connection, _ = listener.accept()
        with connection:
            connection.sendall(said[0])
            for piece in said[1:]:
                connection.recv(MOST_BYTES)
                connection.sendall(piece)
            for drop in chain.from_iterable(repeat(drops) if endless else (drops,)):
                if over.wait(pause_s) or not _say(connection, bytes([drop])):
                    return

    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=serve, args=(listener,), name="dripping")
        thread.start()
        try:
            yield listener.getsockname()[1]
        finally:
            over.set()
            thread.join()


def _say(connection: socket.socket, drop: bytes) -> bool:
    try:
        connection.sendall(drop)
    except OSError:
        return False
    return True
