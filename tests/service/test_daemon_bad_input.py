"""More than a hundred thousand broken lines and messages: no crash, bounded memory, the good ones among them stored."""

import json
import random
import re
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mqtt_source
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher

SEED = 20260613
START_S = 1_780_000_000
GROWTH_BYTES = 20_000_000
SUMMED = re.compile(r"source (\w+): (\d+) inputs made no sample: (.*); the last")

LINES = """\
[sources.field]
kind = "serial-lines"
port = "{port}"
format = "key-value"
fields = {{ c0 = "A", c1 = "B", c2 = "C", c3 = "D" }}
time_field = "T"
unit = "kPa"
"""


def good_line(number: int) -> bytes:
    return b"T=%d A=%d.5 B=12.25 C=-3.5 D=80\n" % (START_S + number, number % 60)


def good_payload(number: int) -> bytes:
    return json.dumps({"t": START_S + number, "v": number % 60 + 0.5}).encode()


class Fuzzer:
    """Broken input from good: bytes changed, cut, doubled, put in, or nothing but chance."""

    def __init__(self, seed: int, good: Callable[[int], bytes]) -> None:
        self._chance = random.Random(seed)
        self._good = good

    def broken(self) -> bytes:
        make = self._chance.choices((self._mutated, self._random, self._long, self._odd), weights=(50, 40, 1, 9))[0]
        return make()

    def _mutated(self) -> bytes:
        data = bytearray(self._good(-self._chance.randrange(1, 10_000_000)))
        for _ in range(self._chance.randrange(1, 5)):
            at = self._chance.randrange(len(data))
            match self._chance.randrange(4):
                case 0:
                    data[at] = self._chance.randrange(256)
                case 1:
                    del data[at : at + self._chance.randrange(1, 8)]
                case 2:
                    data[at:at] = data[: self._chance.randrange(1, 12)]
                case _:
                    data[at:at] = self._chance.randbytes(self._chance.randrange(1, 6))
            if not data:
                return b"\0"
        return bytes(data)

    def _random(self) -> bytes:
        return self._chance.randbytes(self._chance.randrange(1, 60))

    def _long(self) -> bytes:
        return self._chance.choice((b"7", b"[", b"\xff", b"A=1 ")) * self._chance.randrange(500, 20_000)

    def _odd(self) -> bytes:
        """Numbers, times and nestings at the ends of what machines can hold."""
        number = self._chance.choice(
            (b"nan", b"inf", b"-inf", b"1e999", b"-1e999", b"9" * 400, b"1e308", b"-1e308", b"5e-324", b"0x1f", b"1_0",
             b"\xd9\xa1", b"--5", b"+", b"null", b"true", b"1e-400", b"-0.0", b"9223372036854775808", b"1e18", b"-1e18")
        )  # fmt: skip
        time = self._chance.choice(
            (b"0", b"-1", b"1e15", b"253402300800", b"99999999999999999999", b"-62135596801", number)
        )
        return self._shape(time, number)

    def _shape(self, time: bytes, number: bytes) -> bytes:
        return b"T=%s A=%s B=%s" % (time, number, number)


class PayloadFuzzer(Fuzzer):
    def _shape(self, time: bytes, number: bytes) -> bytes:
        return b'{"t": %s, "v": %s}' % (time, number)


def journal_of(config: Path) -> Path:
    return config.parent / "parchd.db"


def good_rows(config: Path, count: int) -> list[tuple[str, int, float]]:
    return query(
        journal_of(config),
        "SELECT name, time_us / 1000000 - ?, value FROM journal JOIN channel ON channel.id = channel_id"
        " WHERE time_us >= ? AND time_us < ? AND time_us % 1000000 = 0 ORDER BY time_us, name",
        START_S,
        START_S * 1_000_000,
        (START_S + count) * 1_000_000,
    )


def have_come(config: Path, count: int, *, rows: int) -> bool:
    return wait_until(lambda: len(good_rows(config, count)) == rows)


class Memory:
    """Watches how much memory a process has in use."""

    def __init__(self, daemon: DaemonProcess) -> None:
        self._daemon = daemon
        self.first_bytes = self.most_bytes = daemon.resident_bytes

    def look(self) -> None:
        self.most_bytes = max(self.most_bytes, self._daemon.resident_bytes)

    @property
    def growth_bytes(self) -> int:
        return self.most_bytes - self.first_bytes


def summed(daemon: DaemonProcess) -> tuple[int, set[str]]:
    """How many inputs the log says made no sample, and for which reasons."""
    found = SUMMED.findall(daemon.log)
    reasons = {re.sub(r" \(\d+\)$", "", reason) for _, _, text in found for reason in text.split(", ")}
    return sum(int(count) for _, count, _ in found), reasons


class TcpDevice:
    """A device server that takes one client."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(20)
        self.port = self._server.getsockname()[1]

    def accept(self) -> socket.socket:
        peer, _ = self._server.accept()
        peer.settimeout(60)
        return peer

    def close(self) -> None:
        self._server.close()


@pytest.fixture
def device() -> Iterator[TcpDevice]:
    device = TcpDevice()
    yield device
    device.close()


def test_a_hundred_thousand_broken_lines_do_no_harm(tmp_path: Path, device: TcpDevice) -> None:
    config = tmp_path / "farm.toml"
    config.write_text(farm(LINES.format(port=f"socket://127.0.0.1:{device.port}")))
    fuzzer = Fuzzer(SEED, good_line)
    goods, pieces = 0, 100
    with DaemonProcess(config) as daemon, device.accept() as peer:
        daemon.wait_for("source.connected")
        memory = None
        for piece in range(pieces):
            broken = [fuzzer.broken().replace(b"\n", b" ").replace(b"\r", b" ") for _ in range(1020)]
            peer.sendall(b"\n".join(broken) + b"\n" + good_line(goods) + good_line(goods + 1))
            goods += 2
            if piece % 10 == 9:
                assert have_come(config, goods, rows=4 * goods), daemon.log[-2000:]
                memory = memory or Memory(daemon)
                memory.look()
        assert memory is not None
        assert memory.growth_bytes < GROWTH_BYTES
        assert daemon.stop() == 0
        rejected, reasons = summed(daemon)
        print(f"{rejected} of {1020 * pieces} rejected, memory grew by {memory.growth_bytes / 1e6:.1f} MB: {reasons}")
        check_log(daemon)
    assert rejected > 90_000
    assert {"line is not text", "line is longer than max_line_bytes", "time cannot be read"} <= reasons
    assert [value for name, _, value in good_rows(config, goods) if name == "field/c0"] == [
        number % 60 + 0.5 for number in range(goods)
    ]
    assert query(journal_of(config), "PRAGMA integrity_check") == [("ok",)]


def check_log(daemon: DaemonProcess) -> None:
    """Nothing broke, and a flood of input is no flood of lines."""
    assert "Traceback" not in daemon.log
    assert not {"source.failed", "engine.dropped", "store.failed", "mqtt.decoder-failed"} & set(daemon.events)
    assert len(daemon.log.splitlines()) < 100


@pytest.mark.needs("mosquitto")
def test_a_hundred_thousand_broken_payloads_do_no_harm(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    fuzzer = PayloadFuzzer(SEED, good_payload)
    goods, pieces = 0, 100
    with Mosquitto(tmp_path / "broker", max_inflight=0) as broker, Publisher(broker.host, broker.port) as publisher:
        config.write_text(farm(mqtt_source(broker.port)))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            memory = None
            for piece in range(pieces):
                publisher.publish((f"farm/c{number % 4}", fuzzer.broken()) for number in range(1020))
                publisher.publish((f"farm/c{n % 4}", good_payload(n)) for n in range(goods, goods + 8))
                goods += 8
                if piece % 10 == 9:
                    assert have_come(config, goods, rows=goods), daemon.log[-2000:]
                    memory = memory or Memory(daemon)
                    memory.look()
            assert memory is not None
            assert memory.growth_bytes < GROWTH_BYTES
            assert daemon.stop() == 0
            rejected, reasons = summed(daemon)
            print(
                f"{rejected} of {1020 * pieces} rejected, memory grew by {memory.growth_bytes / 1e6:.1f} MB: {reasons}"
            )
            check_log(daemon)
    assert rejected > 90_000
    assert len(reasons) >= 3
    assert query(journal_of(config), "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.needs("mosquitto")
def test_huge_payloads_and_strange_topics_do_no_harm(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker") as broker, Publisher(broker.host, broker.port) as publisher:
        config.write_text(farm(mqtt_source(broker.port)))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            publisher.publish([("farm/c0", good_payload(0))])
            assert wait_until(lambda: len(good_rows(config, 10)) == 1)
            memory = Memory(daemon)
            for number in range(1, 6):
                publisher.publish([("farm/c1", b'{"t": 1, "v": "%s"}' % (b"9" * 10_000_000))])
                publisher.publish([("farm/c1", b"[" * 60_000)])
                strange = (
                    "farm/",
                    "farm/ä",
                    "farm/" + "x" * 300,
                    "farm/a b",
                    'farm/"',
                    "farm/\N{RIGHT-TO-LEFT OVERRIDE}",
                )
                publisher.publish((topic, good_payload(number)) for topic in strange)
                publisher.publish([("farm/c0", good_payload(number))])
                assert have_come(config, 10, rows=number + 1)
            memory.look()
            assert daemon.stop() == 0
            check_log(daemon)
    assert memory.growth_bytes < 2 * GROWTH_BYTES, "one message of 10 MB is in memory until it is refused"
    names = {name for (name,) in query(journal_of(config), "SELECT name FROM channel")}
    assert names == {"field/c0"}


def test_broken_lines_on_a_pty_do_no_harm(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    fuzzer = Fuzzer(SEED + 1, good_line)
    with PtyLine() as line:
        config.write_text(farm(LINES.format(port=line.path)))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            for number in range(200):
                broken = [fuzzer.broken().replace(b"\n", b" ") for _ in range(20)]
                line.write(b"\n".join(broken) + b"\n" + good_line(number))
            assert wait_until(lambda: len(good_rows(config, 200)) == 800), daemon.log[-2000:]
            assert daemon.stop() == 0
            check_log(daemon)


@pytest.mark.needs("mosquitto")
def test_a_device_that_invents_names_fills_neither_memory_nor_disk(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker", max_inflight=0) as broker, Publisher(broker.host, broker.port) as publisher:
        config.write_text(farm(mqtt_source(broker.port)))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            memory = Memory(daemon)
            publisher.publish((f"farm/x{number}", good_payload(number)) for number in range(20_000))
            publisher.publish([("farm/x0", good_payload(20_001))])
            assert wait_until(
                lambda: bool(
                    query(journal_of(config), "SELECT 1 FROM journal WHERE time_us = ?", (START_S + 20_001) * 1_000_000)
                )
            )
            memory.look()
            assert daemon.stop() == 0
    assert memory.growth_bytes < GROWTH_BYTES
    assert query(journal_of(config), "SELECT count(*) FROM channel") == [(1000,)], "max_channels of the source"
