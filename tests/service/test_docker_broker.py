"""docker/mosquitto.conf under a real Mosquitto: does it keep what it promises?"""

import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

DOCKER = Path(__file__).parents[2] / "docker"


class Broker:
    """A real Mosquitto with our configuration, its folders and port changed."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self.users = folder / "users"
        self._config = folder / "mosquitto.conf"
        self._config.write_text(moved(folder, self.port))
        self._log = folder / "log"
        self._process: subprocess.Popen[bytes] | None = None

    def add_user(self, name: str, password: str) -> None:
        create = [] if self.users.exists() else ["-c"]
        subprocess.run(["mosquitto_passwd", *create, "-b", self.users, name, password], check=True, timeout=20)

    def start(self) -> None:
        with self._log.open("ab") as log:
            self._process = subprocess.Popen([mosquitto(), "-c", self._config], stderr=log)
        wait_until(lambda: listens(self.port), self._log.read_text)

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(timeout=10)
            self._process = None


def moved(folder: Path, port: int) -> str:
    text = (DOCKER / "mosquitto.conf").read_text()
    for old, new in {
        "listener 1883": f"listener {port} 127.0.0.1\nuser root",
        "/run/secrets/broker_users": f"{folder}/users",
        "/mosquitto/data/": f"{folder}/",
    }.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def mosquitto() -> str:
    return next(str(path) for path in map(Path, ("/usr/sbin/mosquitto", "/usr/bin/mosquitto")) if path.exists())


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def wait_until(condition: Callable[[], bool], why: Callable[[], str] = lambda: "nothing happened") -> None:
    deadline = time.monotonic() + 10.0
    while not condition():
        assert time.monotonic() < deadline, why()
        time.sleep(0.02)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    server = Broker(tmp_path)
    server.add_user("parchd", "a password")
    server.start()
    yield server
    server.stop()


class Client:
    """An MQTT client with a kept session."""

    def __init__(self, broker: Broker, name: str, password: str | None) -> None:
        self.refused: bool | None = None
        self.session_present = False
        self.payloads: list[bytes] = []
        self.subscribed = False
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, name, clean_session=False)
        if password is not None:
            self._client.username_pw_set("parchd", password)
        self._client.on_connect = self._on_connect
        self._client.on_subscribe = lambda *_: setattr(self, "subscribed", True)
        self._client.on_message = lambda _client, _data, message: self.payloads.append(bytes(message.payload))
        self._client.connect("127.0.0.1", broker.port)
        self._client.loop_start()
        wait_until(lambda: self.refused is not None)

    def _on_connect(
        self, _client: mqtt.Client, _data: object, flags: mqtt.ConnectFlags, reason: ReasonCode, *_: object
    ) -> None:
        self.session_present = flags.session_present
        self.refused = bool(reason.is_failure)

    def subscribe(self, topic: str) -> None:
        self._client.subscribe(topic, qos=1)
        wait_until(lambda: self.subscribed)

    def publish(self, topic: str, payloads: list[bytes]) -> None:
        sent = [self._client.publish(topic, payload, qos=1) for payload in payloads]
        for info in sent:
            info.wait_for_publish(timeout=30)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


@pytest.mark.needs("mosquitto")
@pytest.mark.parametrize("password", [None, "a wrong one"])
def test_our_broker_lets_nobody_in_without_the_password(broker: Broker, password: str | None) -> None:
    client = Client(broker, "stranger", password)
    client.close()
    assert client.refused


@pytest.mark.needs("mosquitto")
def test_our_broker_keeps_more_than_a_thousand_messages_over_its_own_restart(broker: Broker) -> None:
    """mosquitto.conf(5): by default 1000 are queued, and nothing is persisted."""
    payloads = [b"%d" % number for number in range(1500)]
    subscriber = Client(broker, "parchd-test", "a password")
    subscriber.subscribe("farm/#")
    subscriber.close()
    sender = Client(broker, "sensor", "a password")
    sender.publish("farm/north-block", payloads)
    sender.close()
    broker.stop()

    broker.start()
    subscriber = Client(broker, "parchd-test", "a password")
    assert subscriber.session_present
    wait_until(lambda: len(subscriber.payloads) >= len(payloads))
    subscriber.close()
    assert subscriber.payloads == payloads
