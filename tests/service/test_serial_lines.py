"""Real lines: a pty at full rate, a link that socat makes and takes away, TCP and RFC 2217 servers."""

import contextlib
import random
import select
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
import serial
import serial.rfc2217

from parchd.clock import SystemClock
from parchd.contract import Services, Source, SourceLost
from parchd.testing import FakeIntake
from parchd.testing.line import PtyLine
from parchd.testing.running import Running
from parchd_adapters.serial_lines import KIND


def source(port: str, **given: Any) -> Source:
    options = KIND.options.model_validate({"port": port, "fields": ["n", "a0", "supply:V"], **given})
    return KIND.build(options, Services("bus1", "Quillmere Orchard", SystemClock()))


@contextlib.contextmanager
def reading(port: str) -> Iterator[tuple[FakeIntake, Running]]:
    intake = FakeIntake()
    with Running(source(port), intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
        yield intake, running


def numbers(intake: FakeIntake) -> list[float | None]:
    return [sample.value for sample in intake.samples if sample.channel == "n"]


def line_of(number: int) -> bytes:
    return b"%d,%d,4.98\r\n" % (number, number % 1024)


def test_a_line_at_115200_baud_among_garbage_loses_nothing() -> None:
    chance = random.Random(20260501)
    with PtyLine() as line, reading(line.path) as (intake, _):
        data = bytearray()
        noise = 0
        for number in range(2000):
            data += line_of(number)
            if chance.random() < 0.2:
                noise += 1
                data += bytes(chance.randrange(128, 256) for _ in range(chance.randrange(1, 40))) + b"\n"
        began = time.monotonic()
        for at in range(0, len(data), 115):  # 115 bytes in 10 ms: 115200 baud with start and stop bits
            line.write(bytes(data[at : at + 115]))
            time.sleep(max(0.0, began + at / 11_520 - time.monotonic()))
        assert intake.wait_for(lambda intake: len(numbers(intake)) == 2000)
        assert numbers(intake) == list(range(2000))
        assert intake.wait_for(lambda intake: intake.rejects.total() == noise)
        assert "field is not a number" not in intake.rejects


def test_a_flood_as_fast_as_the_machine_can_is_read_whole_and_in_order() -> None:
    with PtyLine() as line, reading(line.path) as (intake, _):
        line.write(b"".join(map(line_of, range(20_000))))
        assert intake.wait_for(lambda intake: len(intake.samples) == 60_000)
        assert numbers(intake) == list(range(20_000))
        times = [sample.time_us for sample in intake.samples if sample.channel == "n"]
        assert all(a < b for a, b in pairwise(times))
        assert not intake.rejects


def test_a_line_that_comes_in_pieces_is_read_when_it_is_whole() -> None:
    with PtyLine() as line, reading(line.path) as (intake, _):
        for piece in (b"1,5", b"12,4", b".98", b"\r"):
            assert not intake.samples
            line.write(piece)
            time.sleep(0.05)
        assert intake.wait_for(lambda intake: len(intake.samples) == 3)
        assert [sample.value for sample in intake.samples] == [1, 512, 4.98]


def test_a_device_that_is_pulled_out_mid_line_and_put_back_is_read_again() -> None:
    with PtyLine() as line:
        bus = source(line.path)
        with Running(bus, first := FakeIntake()) as running:
            assert first.wait_for(lambda intake: bool(intake.details))
            line.write(line_of(1) + b"2,10")
            assert first.wait_for(lambda intake: len(intake.samples) == 3)
            line.unplug()
            assert running.ended(within_s=2)
            assert isinstance(running.error, SourceLost)
        with Running(bus, FakeIntake()) as running:
            assert running.ended(within_s=2)
            assert "the device is not there" in str(running.error)
        line.replug()
        with Running(bus, again := FakeIntake()):
            assert again.wait_for(lambda intake: bool(intake.details))
            line.write(line_of(3))
            assert again.wait_for(lambda intake: len(intake.samples) == 3)
            assert numbers(again) == [3]


@contextlib.contextmanager
def socat(device: Path, far_end: Path) -> Iterator[subprocess.Popen[bytes]]:
    program = shutil.which("socat") or "socat"
    process = subprocess.Popen([program, f"pty,raw,echo=0,link={device}", f"pty,raw,echo=0,link={far_end}"])
    try:
        deadline = time.monotonic() + 5
        while not (device.exists() and far_end.exists()):
            assert time.monotonic() < deadline
            time.sleep(0.01)
        yield process
    finally:
        process.terminate()
        process.wait(5)


@pytest.mark.needs("socat")
def test_a_by_id_link_that_goes_and_comes_is_followed(tmp_path: Path) -> None:
    device, far_end = tmp_path / "usb-quillmere-0", tmp_path / "far"
    bus = source(str(device))
    with socat(device, far_end) as process, Running(bus, intake := FakeIntake()) as running:
        assert intake.wait_for(lambda intake: bool(intake.details))
        far_end.write_bytes(line_of(1))
        assert intake.wait_for(lambda intake: numbers(intake) == [1])
        process.terminate()
        assert running.ended(within_s=2)
        assert isinstance(running.error, SourceLost)
    assert not device.exists()
    with socat(device, far_end), Running(bus, intake := FakeIntake()) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
        far_end.write_bytes(line_of(2))
        assert intake.wait_for(lambda intake: numbers(intake) == [2])


class TcpServer:
    """A serial device server: whoever connects hears what is said."""

    def __init__(self, port: int = 0) -> None:
        self._server = socket.create_server(("127.0.0.1", port))
        self.port = self._server.getsockname()[1]
        self._peer: socket.socket | None = None

    @property
    def url(self) -> str:
        return f"socket://127.0.0.1:{self.port}"

    def accept(self) -> None:
        self._server.settimeout(5)
        self._peer, _ = self._server.accept()

    def say(self, data: bytes) -> None:
        assert self._peer is not None
        self._peer.sendall(data)

    def close(self) -> None:
        for end in (self._peer, self._server):
            if end is not None:
                end.close()


def test_a_line_behind_a_tcp_server_is_read_and_its_loss_is_seen() -> None:
    server = TcpServer()
    bus = source(server.url)
    with Running(bus, intake := FakeIntake()) as running:
        server.accept()
        assert intake.wait_for(lambda intake: bool(intake.details))
        server.say(b"".join(map(line_of, range(5000))))
        assert intake.wait_for(lambda intake: len(numbers(intake)) == 5000)
        server.close()
        assert running.ended(within_s=2)
        assert isinstance(running.error, SourceLost)
    with pytest.raises(SourceLost, match="refused"):
        bus.run(FakeIntake(), threading.Event())
    server = TcpServer(server.port)
    with Running(bus, intake := FakeIntake()) as running:
        server.accept()
        assert intake.wait_for(lambda intake: bool(intake.details))
        server.say(line_of(7))
        assert intake.wait_for(lambda intake: numbers(intake) == [7])
        running.stop.set()
        assert running.ended(within_s=1)
    server.close()


def serve_rfc2217(server: socket.socket, device: Any, done: threading.Event) -> None:
    """Serve one client a serial port by RFC 2217, with the server half of pyserial."""
    peer, _ = server.accept()
    with peer:
        manager = serial.rfc2217.PortManager(device, cast("Any", SimpleNamespace(write=peer.sendall)))
        while not done.is_set():
            if select.select([peer], [], [], 0.02)[0]:
                if not (data := peer.recv(1024)):
                    return
                b"".join(manager.filter(data))
            if waiting := device.in_waiting:
                peer.sendall(b"".join(manager.escape(device.read(waiting))))


# pyserial 3.5 starts its reader thread with setDaemon and setName.
@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")
def test_a_line_behind_an_rfc2217_server_is_read() -> None:
    done = threading.Event()
    device = serial.serial_for_url("loop://")  # what is written to it can be read from it
    with device, socket.create_server(("127.0.0.1", 0)) as server:
        serving = threading.Thread(target=serve_rfc2217, args=(server, device, done), daemon=True)
        serving.start()
        with Running(source(f"rfc2217://127.0.0.1:{server.getsockname()[1]}"), intake := FakeIntake()) as running:
            assert intake.wait_for(lambda intake: bool(intake.details)), running.error
            device.write(b"".join(map(line_of, range(300))))
            assert intake.wait_for(lambda intake: len(numbers(intake)) == 300)
            running.stop.set()
            assert running.ended(within_s=2)
        done.set()
        serving.join(5)
