"""The behaviour of every source, shown by ``mqtt`` with a real broker, in both versions of the protocol."""

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import ClassVar

import pytest

from parchd.clock import SystemClock
from parchd.contract import Services, Source, Unit
from parchd.testing.broker import Mosquitto
from parchd.testing.publisher import Publisher
from parchd.testing.source_suite import ConnectedSourceSuite, Sent
from parchd_adapters.mqtt import KIND

SUBSCRIBE = {
    "bare": {"filter": "farm/+/volts", "channel": "{1}", "unit": "V"},
    "nodes": {
        "filter": "farm/nodes/+",
        "values": {"{1}.p": "/p", "{1}.soil": {"value": "/soil", "unit": "degC"}},
        "unit": "counts",
        "time_field": "/at",
    },
}
FIRST_US = 1_780_000_000_000_000


class MqttRig:
    """A broker, a publisher, and the source between them and the daemon."""

    name = "field"

    def __init__(self, folder: Path, protocol: str) -> None:
        self.broker = Mosquitto(folder)
        self.broker.start()
        options = {"host": self.broker.host, "port": self.broker.port, "protocol": protocol}
        options |= {"subscribe": SUBSCRIBE, "gather_s": 0}
        services = Services(self.name, "Quillmere Orchard", SystemClock())
        self.source: Source = KIND.build(KIND.options.model_validate(options), services)
        self._count = 0

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        sent, messages = [], []
        for _ in range(groups):
            self._count += 1
            value = 2.5 + self._count / 7
            if self._count % 3 == 0:
                sent.append([Sent("north", value, Unit.V)])
                messages.append(("farm/north/volts", repr(value).encode()))
                continue
            time_us = FIRST_US + self._count * 1_000_000
            sent.append([Sent("creek.p", value, Unit.COUNTS, time_us), Sent("creek.soil", None, Unit.CELSIUS, time_us)])
            payload = {"p": value, "soil": None, "at": time_us // 1000}
            messages.append(("farm/nodes/creek", json.dumps(payload).encode()))
        self._publish(messages)
        return sent

    def feed_garbage(self) -> None:
        self._publish(
            [
                ("farm/north/volts", b"NaN"),
                ("farm/nodes/creek", b"\xff\0{"),
                ("farm/a b/volts", b"1"),
                ("farm/x/volts", b""),
            ]
        )

    def lose(self) -> None:
        self.broker.stop()

    def restore(self) -> None:
        self.broker.start()

    def _publish(self, messages: Sequence[tuple[str, bytes]]) -> None:
        with Publisher(self.broker.host, self.broker.port) as publisher:
            publisher.publish(messages)


class MqttSuite(ConnectedSourceSuite):
    kind = KIND
    options: ClassVar = {"host": "127.0.0.1", "port": 9, "subscribe": SUBSCRIBE}
    protocol: ClassVar[str]

    @pytest.fixture
    def rig(self, tmp_path: Path) -> Iterator[MqttRig]:
        rig = MqttRig(tmp_path, self.protocol)
        yield rig
        rig.broker.stop()


@pytest.mark.needs("mosquitto")
class TestMqtt311(MqttSuite):
    protocol = "3.1.1"


@pytest.mark.needs("mosquitto")
class TestMqtt5(MqttSuite):
    protocol = "5"
