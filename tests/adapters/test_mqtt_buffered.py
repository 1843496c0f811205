"""The socket below the library: what comes and goes in large pieces is the same as in small ones."""

import random
import socket
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd_adapters.mqtt.buffered import PIECE_BYTES, BufferedSocket
from parchd_adapters.mqtt.library import make_client
from parchd_adapters.mqtt.options import MqttOptions, Rule


class ScriptedSocket:
    """Gives pieces as they are written down, takes so many bytes at once, and counts the calls."""

    def __init__(self, pieces: list[bytes | OSError] | None = None, room: list[int] | None = None) -> None:
        self.sent = b""
        self.calls = 0
        self.closed = False
        self._pieces = pieces or []
        self._room = room or []

    def recv(self, buffer_size: int) -> bytes:
        self.calls += 1
        if not self._pieces:
            raise BlockingIOError
        piece = self._pieces.pop(0)
        if isinstance(piece, OSError):
            raise piece
        assert len(piece) <= buffer_size
        return piece

    def send(self, buffer: bytes | bytearray) -> int:
        self.calls += 1
        room = self._room.pop(0) if self._room else len(buffer)
        if not room:
            raise BlockingIOError
        self.sent += bytes(buffer[:room])
        return min(room, len(buffer))

    def close(self) -> None:
        self.closed = True

    def fileno(self) -> int:
        return 7

    def setblocking(self, flag: bool) -> None:
        del flag


@pytest.fixture
def pair() -> Iterator[tuple[socket.socket, socket.socket]]:
    ours, theirs = socket.socketpair()
    with ours, theirs:
        ours.setblocking(False)
        yield ours, theirs


@given(st.lists(st.binary(min_size=1, max_size=40), max_size=20), st.randoms(use_true_random=False))
def test_whatever_is_asked_for_the_bytes_come_in_order_and_none_is_missing(
    pieces: list[bytes], chance: random.Random
) -> None:
    sock = BufferedSocket(ScriptedSocket(list(pieces)))
    got, wanted = b"", b"".join(pieces)
    while len(got) < len(wanted):
        size = chance.randint(1, 50)
        part = sock.recv(size)
        assert 0 < len(part) <= size
        got += part
    assert got == wanted
    with pytest.raises(BlockingIOError):
        sock.recv(1)


def test_one_call_of_the_system_serves_many_small_reads() -> None:
    inner = ScriptedSocket([b"0123456789"])
    sock = BufferedSocket(inner)
    assert [sock.recv(1), sock.recv(2), sock.pending(), sock.recv(99)] == [b"0", b"12", 7, b"3456789"]
    assert (inner.calls, sock.pending()) == (1, 0)


def test_the_end_of_the_connection_is_seen_after_the_last_byte() -> None:
    sock = BufferedSocket(ScriptedSocket([b"ab", b"", b""]))
    assert [sock.recv(1), sock.recv(1), sock.recv(1), sock.recv(1)] == [b"a", b"b", b"", b""]


def test_what_is_received_before_an_error_is_not_lost() -> None:
    sock = BufferedSocket(ScriptedSocket([b"ab", ConnectionResetError("reset by peer")]))
    assert sock.recv(1) == b"a"
    assert sock.recv(9) == b"b"
    with pytest.raises(ConnectionResetError):
        sock.recv(1)
    assert sock.trouble == "reset by peer"


def test_nothing_there_yet_is_no_trouble() -> None:
    sock = BufferedSocket(ScriptedSocket([]))
    with pytest.raises(BlockingIOError):
        sock.recv(1)
    assert sock.trouble == ""


@given(st.lists(st.binary(max_size=40), max_size=20), st.lists(st.integers(0, 30), max_size=20))
def test_whatever_the_system_takes_at_once_all_is_sent_in_order(packets: list[bytes], room: list[int]) -> None:
    inner = ScriptedSocket(room=list(room))
    sock = BufferedSocket(inner)
    for packet in packets:
        assert sock.send(packet) == len(packet)
        sock.flush()
    while sock.has_unsent:
        sock.flush()
    assert inner.sent == b"".join(packets)


def test_nothing_leaves_before_the_flush_and_then_all_of_it_at_once() -> None:
    inner = ScriptedSocket()
    sock = BufferedSocket(inner)
    for mid in range(100):
        sock.send(b"@\x02" + mid.to_bytes(2, "big"))
    assert (inner.calls, sock.has_unsent) == (0, True)
    sock.flush()
    assert (inner.calls, len(inner.sent), sock.has_unsent) == (1, 400, False)


def test_a_reader_that_takes_nothing_cannot_fill_the_memory() -> None:
    inner = ScriptedSocket(room=[0])
    sock = BufferedSocket(inner)
    sock.send(bytes(PIECE_BYTES))
    sock.flush()
    with pytest.raises(BlockingIOError):
        sock.send(b"x")
    sock.flush()
    assert (sock.send(b"x"), len(inner.sent)) == (1, PIECE_BYTES)


def test_a_failed_flush_keeps_what_the_system_said() -> None:
    class Broken(ScriptedSocket):
        def send(self, buffer: bytes | bytearray) -> int:
            raise BrokenPipeError("broken pipe")

    sock = BufferedSocket(Broken())
    sock.send(b"x")
    with pytest.raises(BrokenPipeError):
        sock.flush()
    assert sock.trouble == "broken pipe"


def test_the_last_words_are_sent_when_it_is_closed(pair: tuple[socket.socket, socket.socket]) -> None:
    ours, theirs = pair
    sock = BufferedSocket(ours)
    sock.send(b"\xe0\x00")
    sock.close()
    assert (theirs.recv(10), theirs.recv(10)) == (b"\xe0\x00", b"")


def test_it_closes_even_when_nobody_hears_the_last_words() -> None:
    inner = ScriptedSocket(room=[0])
    sock = BufferedSocket(inner)
    sock.send(b"x")
    sock.close()
    assert inner.closed


def test_the_library_still_makes_its_socket_where_we_take_hold_of_it() -> None:
    """The hook is not a public one: if this fails, messages still arrive, but each takes twice the time."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        options = MqttOptions(host="127.0.0.1", port=port, subscribe={"all": Rule(filter="#")})
        client = make_client(options, "probe")
        client.connect(options.host, port)
        try:
            assert isinstance(client.socket(), BufferedSocket)
        finally:
            client.disconnect()
