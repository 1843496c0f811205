"""Servers that go away and come back: people hear of each once, and that it is over."""

import json
from pathlib import Path

import pytest

from parchd.clock import US_PER_S, SystemClock
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mail, mqtt_source, webhook
from parchd.testing.process import DaemonProcess
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import HttpReceiver, MailSandbox

pytestmark = pytest.mark.needs("mosquitto")

SOON = "\n[alarms.source-down]\non_delay_min = 0.02\n[alarms.notifier-down]\non_delay_min = 0.02\n"
"""A second: tests do not wait for ten minutes."""


def told(hooks: HttpReceiver) -> list[tuple[str, str, str]]:
    """Type, alarm and subject of what was told, in order."""
    bodies = [json.loads(request.body) for request in hooks.deliveries.values()]
    return [(b["type"], b["data"]["details"]["alarm"], b["data"]["details"]["subject"]) for b in bodies]


def publish(broker: Mosquitto, kpa: float = 20.0) -> None:
    """A reading of each tensiometer, taken now."""
    second = SystemClock().now_us() / US_PER_S
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish((f"farm/c{n}", json.dumps({"t": second, "v": kpa}).encode()) for n in range(4))


def test_a_broker_that_is_stopped_and_started_is_one_alarm_and_its_end(tmp_path: Path, hooks: HttpReceiver) -> None:
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker") as broker:
        config.write_text(farm(mqtt_source(broker.port), webhook(hooks), SOON))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            broker.stop()
            daemon.wait_for("source.lost")
            assert hooks.wait_for(lambda hooks: len(told(hooks)) == 1, 20.0)
            broker.start()
            daemon.wait_for("source.connected", times=2, timeout_s=20.0)
            publish(broker)
            assert hooks.wait_for(lambda hooks: len(told(hooks)) == 2, 20.0)
            assert daemon.stop() == 0
    assert told(hooks) == [
        ("alarm.raised", "source-down", "source/field"), ("alarm.cleared", "source-down", "source/field"),
    ]  # fmt: skip


def test_a_mail_server_that_is_away_is_told_by_webhook(tmp_path: Path, hooks: HttpReceiver) -> None:
    config = tmp_path / "farm.toml"
    mails, down = MailSandbox(), ("notifier-down", "notifier/people")
    with mails:  # from here on it has a port
        pass
    with Mosquitto(tmp_path / "broker") as broker:
        config.write_text(farm(mqtt_source(broker.port), mail(mails), webhook(hooks), SOON))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            publish(broker, kpa=55.0)
            assert hooks.wait_for(lambda hooks: ("alarm.raised", *down) in told(hooks), 20.0)
            with mails:
                assert hooks.wait_for(lambda hooks: ("alarm.cleared", *down) in told(hooks), 30.0)
            assert daemon.stop() == 0
    subjects = [str(received.message["Subject"]) for received in mails.mails]
    assert subjects, "what waited is delivered"
    assert not [subject for subject in subjects if "people" in subject], "it does not tell of itself"
