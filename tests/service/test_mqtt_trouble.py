"""Locked doors, floods, giants, and brokers that do not behave."""

import contextlib
import logging
import socket
import struct
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest

from parchd.clock import Clock, SystemClock
from parchd.contract import SampleBatch, Services, Source, SourceLost
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.broker import BrokerTls, Mosquitto
from parchd.testing.certificates import Authority
from parchd.testing.committer import Committer
from parchd.testing.publisher import Publisher
from parchd.testing.running import Running
from parchd_adapters.mqtt import KIND, reasons

RULES = {
    "bare": {"filter": "farm/+/volts", "channel": "{1}"},
    "json": {"filter": "farm/+/json", "channel": "{1}", "value": "v"},
}
MIB = 1024 * 1024
PROTOCOLS = pytest.mark.parametrize("protocol", ["3.1.1", "5"])
mosquitto = pytest.mark.needs("mosquitto")


def source(port: int, *, clock: Clock | None = None, **given: Any) -> Source:
    options = {"host": "127.0.0.1", "port": port, "subscribe": RULES, "gather_s": 0, **given}
    services = Services("field", "Quillmere Orchard", clock or SystemClock())
    return KIND.build(KIND.options.model_validate(options), services)


def connects(port: int, **given: Any) -> str:
    """Run the source until it is connected, and return what it says about it."""
    intake = FakeIntake()
    with Running(source(port, **given), intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
    return intake.details[0]


def fails(port: int, **given: Any) -> str:
    """Run the source until it gives up, and return why."""
    with Running(source(port, **given), FakeIntake()) as running:
        assert running.ended(within_s=10.0)
        assert isinstance(running.error, SourceLost), running.error
    return str(running.error)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    return Authority(tmp_path)


@pytest.fixture
def tls_broker(tmp_path: Path, authority: Authority) -> Iterator[Mosquitto]:
    server = authority.server()
    files = BrokerTls(authority.ca_file, server.cert_file, server.key_file, require_certificate=True)
    with Mosquitto(tmp_path / "broker", tls=files) as running:
        yield running


@mosquitto
@PROTOCOLS
def test_tls_with_a_client_certificate_delivers(tls_broker: Mosquitto, authority: Authority, protocol: str) -> None:
    ours = authority.client(password="quiet water")
    tls = {
        "ca_file": authority.ca_file,
        "cert_file": ours.cert_file,
        "key_file": ours.key_file,
        "key_password": "quiet water",
    }
    intake = FakeIntake()
    with Running(source(tls_broker.port, tls=tls, protocol=protocol), intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
        publish_over_tls(tls_broker.port, tls, 3000)
        assert intake.wait_for(lambda intake: len(intake.samples) == 3000), len(intake.samples)
    assert [sample.value for sample in intake.samples] == list(range(3000))


def publish_over_tls(port: int, tls: dict[str, Any], count: int) -> None:
    from paho.mqtt.client import Client
    from paho.mqtt.enums import CallbackAPIVersion

    from parchd_adapters.mqtt.options import Tls
    from parchd_adapters.mqtt.security import make_context

    client = Client(CallbackAPIVersion.VERSION2)
    client.tls_set_context(make_context(Tls.model_validate(tls)))
    client.connect("localhost", port)
    client.loop_start()
    infos = [client.publish("farm/north/volts", b"%d" % number, qos=1) for number in range(count)]
    infos[-1].wait_for_publish(10.0)
    client.disconnect()
    client.loop_stop()


@mosquitto
def test_a_broker_whose_authority_is_unknown_is_refused(tls_broker: Mosquitto, tmp_path: Path) -> None:
    stranger = Authority(tmp_path, "stranger")
    assert "Check ca_file" in fails(tls_broker.port, tls={"ca_file": stranger.ca_file})
    assert "Check ca_file" in fails(tls_broker.port, tls={})


@mosquitto
def test_a_broker_with_another_name_in_its_certificate_is_refused(tmp_path: Path, authority: Authority) -> None:
    server = authority.server("broker.lan")
    with Mosquitto(tmp_path / "broker", tls=BrokerTls(authority.ca_file, server.cert_file, server.key_file)) as broker:
        assert "'host' is a name in the certificate" in fails(broker.port, tls={"ca_file": authority.ca_file})


@mosquitto
def test_a_client_certificate_that_is_missing_or_foreign_is_explained(
    tls_broker: Mosquitto, authority: Authority, tmp_path: Path
) -> None:
    foreign = Authority(tmp_path, "stranger").client()
    tls = {"ca_file": authority.ca_file}
    assert "check cert_file and key_file" in fails(tls_broker.port, tls=tls).lower()
    theirs = {**tls, "cert_file": foreign.cert_file, "key_file": foreign.key_file}
    assert "check cert_file and key_file" in fails(tls_broker.port, tls=theirs).lower()


@mosquitto
def test_tls_to_a_plain_port_and_plain_to_a_tls_port_are_explained(tls_broker: Mosquitto, tmp_path: Path) -> None:
    assert "add the table 'tls'" in fails(tls_broker.port)
    with Mosquitto(tmp_path / "plain") as plain:
        assert "expect TLS on this port" in fails(plain.port, tls={}, connect_timeout_s=0.5)


@mosquitto
@PROTOCOLS
def test_user_and_password_open_the_door_and_wrong_ones_are_explained(tmp_path: Path, protocol: str) -> None:
    with Mosquitto(tmp_path, users={"parchd": "quiet water"}) as broker:
        assert "new session" in connects(broker.port, username="parchd", password="quiet water", protocol=protocol)
        for wrong in ({"username": "parchd", "password": "loud water"}, {"username": "nobody", "password": "x"}, {}):
            said = fails(broker.port, protocol=protocol, **wrong)
            assert "'username'" in said
            assert "loud water" not in said


@mosquitto
@PROTOCOLS
def test_a_payload_of_ten_megabytes_is_counted_and_those_behind_it_arrive(tmp_path: Path, protocol: str) -> None:
    with Mosquitto(tmp_path) as broker:
        intake = FakeIntake()
        with Running(source(broker.port, protocol=protocol), intake):
            assert intake.wait_for(lambda intake: bool(intake.details))
            began = time.monotonic()
            with Publisher(broker.host, broker.port) as publisher:
                publisher.publish(
                    [
                        ("farm/north/json", b'{"v":"' + 10 * MIB * b"x" + b'"}'),
                        ("farm/north/json", b'{"v":2.5,"x":"' + 100_000 * b"x" + b'"}'),
                        ("farm/north/volts", b"2.5"),
                    ]
                )
            assert intake.wait_for(lambda intake: bool(intake.samples))
            took_s = time.monotonic() - began
    assert [sample.value for sample in intake.samples] == [2.5]
    assert intake.rejects == {reasons.TOO_LARGE: 1 if protocol == "5" else 2}  # MQTT 5: the broker keeps it from us
    assert took_s < 5.0


@mosquitto
@PROTOCOLS
def test_a_flood_of_malformed_messages_is_counted_and_memory_stays(broker: Mosquitto, protocol: str) -> None:
    broken = [b"", b"NaN", b"\xff\xfe", b"[" * 500, b'{"v":', b'{"w":1}', b'{"v":"?"}', b"{}", b"x" * 2000, b"1e999"]
    count = 50_000
    good = {n: (f"farm/s{n % 40}/volts", b"%d" % n) for n in range(0, count, 100)}
    bad = [(f"farm/s{n % 40}/{('volts', 'json')[n % 2]}", broken[n // 2 % len(broken)]) for n in range(count)]
    messages = [good.get(n, bad[n]) for n in range(count)]
    field = source(broker.port, protocol=protocol)
    with Committer() as intake, Running(field, intake):
        assert intake.wait_for(lambda intake: bool(intake.detail))
        before = psutil.Process().memory_info().rss
        with Publisher(broker.host, broker.port) as publisher:
            publisher.publish(messages)
        assert intake.wait_for(lambda intake: len(intake.samples) + intake.rejects.total() == count, 30.0)
        grown = psutil.Process().memory_info().rss - before
    assert intake.values == list(good)
    assert intake.reports < count / 20, "they are counted together, not reported one by one"
    assert grown < 32 * MIB


class Stuck(FakeIntake):
    """An intake that takes nothing until it is opened."""

    is_open = False

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        if not self.is_open:
            time.sleep(timeout_s)
            return False
        return super().offer(batch, timeout_s)


@mosquitto
def test_a_daemon_that_is_behind_gets_all_of_it_later_and_in_order(tmp_path: Path) -> None:
    intake = Stuck()
    with Mosquitto(tmp_path, max_inflight=200) as broker, Running(source(broker.port), intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details))
        with Publisher(broker.host, broker.port) as publisher:
            publisher.publish([("farm/north/volts", b"%d" % number) for number in range(1000)])
        assert not running.ended(within_s=0.3), running.error
        assert not intake.samples
        intake.is_open = True
        assert intake.wait_for(lambda intake: len(intake.samples) == 1000)
    assert [sample.value for sample in intake.samples] == list(range(1000))


@mosquitto
def test_a_broker_without_an_inflight_limit_cannot_fill_the_memory(tmp_path: Path) -> None:
    intake = FakeIntake(hold=True)
    with Mosquitto(tmp_path, max_inflight=0) as broker, Running(source(broker.port), intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details))
        with Publisher(broker.host, broker.port) as publisher:
            publisher.publish([("farm/north/volts", b"%d" % number) for number in range(12_000)])
        assert intake.wait_for(lambda intake: len(intake.samples) >= 5000)
        assert not running.ended(within_s=0.2), running.error
        assert len(intake.samples) < 5500
        while len(intake.samples) < 12_000:
            seen = len(intake.samples)
            intake.commit()
            assert intake.wait_for(lambda intake, seen=seen: len(intake.samples) > seen)  # type: ignore[misc] # mypy cannot infer a lambda with a default
    assert [sample.value for sample in intake.samples] == list(range(12_000))


class ScriptedBroker:
    """Accepts one client, says what it is told to, and keeps what it hears."""

    def __init__(self, *answers: bytes) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self.heard = bytearray()
        self._answers = answers
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="scripted broker")

    def __enter__(self) -> "ScriptedBroker":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()
        self._server.close()

    def hears(self, wanted: bytes, timeout_s: float = 5.0) -> bool:
        deadline_s = time.monotonic() + timeout_s
        while wanted not in bytes(self.heard):
            if time.monotonic() > deadline_s:
                return False
            time.sleep(0.01)
        return True

    def _serve(self) -> None:
        self._server.settimeout(5.0)
        with contextlib.suppress(OSError):
            client, _ = self._server.accept()
            with client:
                client.settimeout(0.05)
                for answer in self._answers:
                    self._listen(client, once=True)
                    client.sendall(answer)
                self._listen(client, once=False)

    def _listen(self, client: socket.socket, *, once: bool) -> None:
        while not self._done.is_set():
            with contextlib.suppress(TimeoutError):
                data = client.recv(65536)
                self.heard += data
                if once or not data:
                    return


CONNACK = b"\x20\x02\x00\x00"
SUBACK = b"\x90\x04\x00\x01\x01\x01"
SUBACK_QOS_0 = b"\x90\x04\x00\x01\x00\x01"


def message(topic: bytes, payload: bytes, mid: int) -> bytes:
    body = struct.pack("!H", len(topic)) + topic + struct.pack("!H", mid) + payload
    return bytes([0x32, len(body)]) + body


def test_what_is_no_broker_is_given_up() -> None:
    clock = FakeClock()
    with ScriptedBroker() as broker, Running(source(broker.port, clock=clock), FakeIntake()) as running:
        assert broker.hears(b"MQTT")
        clock.advance(11.0)
        assert running.ended(within_s=5.0)
        assert "does not answer as an MQTT broker does" in str(running.error)


@pytest.mark.parametrize(
    "answer",
    [
        b"HTTP/1.1 400 Bad Request\r\n\r\n" + 200 * b" ",
        b"\x20\xff\xff\xff\xff\xff",
        b"\x20\x00",
        CONNACK + b"\x30\x01\x00",
        CONNACK + b"\x32\x03\x00\x01a",
        CONNACK + b"\x36\x05\x00\x01a\x00\x01",
        CONNACK + b"\xf0\x00",
    ],
)
def test_bytes_that_are_no_mqtt_end_the_connection_and_nothing_else(answer: bytes) -> None:
    with ScriptedBroker(answer) as broker:
        assert fails(broker.port)


def test_whatever_the_library_stumbles_over_ends_the_connection_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Version 2.1 of the library lets the errors of its decoder through; 2.2 does not."""
    from paho.mqtt.client import Client

    def stumbles(*_: object) -> None:
        raise struct.error("unpack requires a buffer of 2 bytes")

    monkeypatch.setattr(Client, "loop_read", stumbles)
    with ScriptedBroker(CONNACK) as broker:
        assert "sent what is not MQTT" in fails(broker.port)


def test_a_daemon_that_is_behind_still_tells_the_broker_that_it_lives() -> None:
    script = SUBACK + message(b"farm/north/volts", b"2.5", 5)
    with ScriptedBroker(CONNACK, script) as broker, Running(source(broker.port, keepalive_s=1), Stuck()):
        assert broker.hears(b"\xc0\x00"), "PINGREQ"


def test_a_topic_that_is_no_text_is_counted_and_acknowledged() -> None:
    script = SUBACK + message(b"farm/\xff/volts", b"1", 5) + message(b"farm/north/volts", b"2.5", 6)
    intake = FakeIntake()
    with ScriptedBroker(CONNACK, script) as broker, Running(source(broker.port), intake):
        assert intake.wait_for(lambda intake: bool(intake.samples))
        assert broker.hears(b"\x40\x02\x00\x05\x40\x02\x00\x06")
    assert intake.rejects == {reasons.NOT_UTF8: 1}


def test_a_subscription_with_less_than_qos_1_is_reported(caplog: pytest.LogCaptureFixture) -> None:
    with ScriptedBroker(CONNACK, SUBACK_QOS_0) as broker, caplog.at_level(logging.WARNING):
        connects(broker.port)
    assert [getattr(record, "event", "") for record in caplog.records] == ["mqtt.qos-lowered"]


@pytest.mark.parametrize(
    ("protocol", "connack", "suback"),
    [
        ("3.1.1", CONNACK, b"\x90\x04\x00\x01%c%c"),
        ("5", b"\x20\x03\x00\x00\x00", b"\x90\x05\x00\x01\x00%c%c"),
    ],
)
def test_a_refused_subscription_is_an_error_that_names_the_filter(
    protocol: str, connack: bytes, suback: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    with ScriptedBroker(connack, suback % (1, 0x80)) as broker:
        assert connects(broker.port, protocol=protocol).endswith(", refused: farm/+/json")
    (record,) = [record for record in caplog.records if getattr(record, "event", "") == "mqtt.subscribe-refused"]
    assert record.levelno == logging.ERROR
    assert "farm/+/json" in record.getMessage()
    with ScriptedBroker(connack, suback % (0x87, 0x87)) as broker:
        assert "refused every subscription: farm/+/volts, farm/+/json" in fails(broker.port, protocol=protocol)


def test_a_session_that_will_be_kept_for_less_than_asked_is_reported(caplog: pytest.LogCaptureFixture) -> None:
    connack = b"\x20\x08\x00\x00\x05\x11\x00\x00\x00\x3c"  # session expiry interval: 60 s
    suback = b"\x90\x05\x00\x01\x00\x01\x01"
    with ScriptedBroker(connack, suback) as broker, caplog.at_level(logging.WARNING):
        connects(broker.port, protocol="5")
        heard = bytes(broker.heard)
    assert [getattr(record, "event", "") for record in caplog.records] == ["mqtt.session-shortened"]
    assert b"\x21\x03\xe8" in heard, "our receive maximum of 1000"
    assert b"\x11\x00\x27\x8d\x00" in heard, "30 days in seconds"


def test_a_session_taken_over_by_another_program_is_explained() -> None:
    taken_over = b"\x20\x03\x00\x00\x00" + b"\xe0\x02\x8e\x00"
    with ScriptedBroker(taken_over) as broker:
        assert "'client_id' must be used by one program only" in fails(broker.port, protocol="5")


def test_a_decoder_that_fails_is_reported_once_and_stops_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from parchd_adapters.mqtt.decode import BareNumber

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(BareNumber, "decode", broken)
    script = SUBACK + message(b"farm/a/volts", b"1", 5) + message(b"farm/a/volts", b"1", 6)
    script += message(b"farm/a/json", b'{"v":1}', 7)
    intake = FakeIntake()
    with ScriptedBroker(CONNACK, script) as broker, Running(source(broker.port), intake):
        assert intake.wait_for(lambda intake: bool(intake.samples))
        assert broker.hears(b"\x40\x02\x00\x07")
    assert intake.rejects == {reasons.BROKEN: 2}
    assert [getattr(record, "event", "") for record in caplog.records] == ["mqtt.decoder-failed"]
