"""Commands about alarms through a real broker: done once, answered, and acknowledged only then."""

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from parchd.clock import SystemClock
from parchd.contract import Command, Reply, Services, Source, Verdict
from parchd.testing import FakeIntake
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mqtt_source
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.running import Running
from parchd_adapters.mqtt import KIND

pytestmark = pytest.mark.needs("mosquitto")

TOPIC = "parchd/quillmere/commands"
RULES = {"raw": {"filter": "farm/+", "channel": "{1}", "value": "v", "time_field": "t", "unit": "kPa"}}
GIVEN: dict[str, Any] = {"id": "7", "do": "acknowledge", "alarm": "irrigate-now.zone.north", "by": "Ines"}


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


class Daemon:
    """Takes commands, and answers them at once or when told."""

    def __init__(self, *, answers: bool = True) -> None:
        self.asked: list[Command] = []
        self.waiting: list[Callable[[Reply], None]] = []
        self._answers = answers

    def __call__(self, command: Command, answer: Callable[[Reply], None], /) -> None:
        self.asked.append(command)
        self.waiting.append(answer)
        if self._answers:
            answer(Reply(Verdict.DONE, "done", "acknowledged"))


class Listener:
    """Hears the replies."""

    def __init__(self, broker: Mosquitto, topic: str = f"{TOPIC}/replies") -> None:
        self.replies: list[dict[str, Any]] = []
        ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, "listener")
        self._client.on_message = lambda _c, _u, message: self.replies.append(json.loads(message.payload))
        self._client.on_subscribe = lambda *_: ready.set()
        self._client.connect(broker.host, broker.port)
        self._client.subscribe(topic, 1)
        self._client.loop_start()
        assert ready.wait(10.0)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def hears(self, count: int) -> list[dict[str, Any]]:
        assert wait_until(lambda: len(self.replies) >= count), self.replies
        return self.replies

    def hears_of(self, name: str) -> dict[str, Any]:
        """The first reply to a command."""
        assert wait_until(lambda: any(reply["id"] == name for reply in self.replies)), self.replies
        return next(reply for reply in self.replies if reply["id"] == name)


def unshelved(broker: Mosquitto, listener: Listener, name: str) -> bool:
    """Take the alarm off the shelf; in the first moments nobody knows whether what comes is new."""
    give(broker, id=name, do="unshelve")
    outcome = listener.hears_of(name)["outcome"]
    assert outcome in ("done", "late")
    return bool(outcome == "done")


def source(broker: Mosquitto, daemon: Daemon, **given: Any) -> Source:
    options = {"host": broker.host, "port": broker.port, "subscribe": RULES, "commands": TOPIC, **given}
    return KIND.build(KIND.options.model_validate(options), Services("field", "Quillmere", SystemClock(), daemon))


@contextmanager
def reading(source: Source) -> Iterator[FakeIntake]:
    intake = FakeIntake()
    with Running(source, intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
        yield intake


def give(broker: Mosquitto, *, retain: bool = False, qos: int = 1, **changed: Any) -> None:
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish([(TOPIC, json.dumps({**GIVEN, **changed}).encode())], retain=retain, qos=qos)


@pytest.mark.parametrize("protocol", ["3.1.1", "5"])
def test_a_command_is_asked_and_its_reply_is_published(broker: Mosquitto, protocol: str) -> None:
    daemon = Daemon()
    with closing(Listener(broker)) as listener, reading(source(broker, daemon, protocol=protocol)):
        give(broker)
        (reply,) = listener.hears(1)
    assert [command.id for command in daemon.asked] == ["7"]
    assert (reply["id"], reply["outcome"], reply["state"]) == ("7", "done", "acknowledged")


def test_replies_may_have_a_topic_of_their_own(broker: Mosquitto) -> None:
    with closing(Listener(broker, "elsewhere")) as listener, reading(source(broker, Daemon(), replies="elsewhere")):
        give(broker, qos=0)
        listener.hears(1)


def test_a_command_that_was_not_answered_comes_again_and_samples_behind_it_too(broker: Mosquitto) -> None:
    """Nothing is acknowledged before it is on disk, and nothing out of order."""
    silent = Daemon(answers=False)
    field = source(broker, silent, gather_s=0)
    with reading(field) as intake:
        give(broker)
        assert wait_until(lambda: bool(silent.asked))
        with Publisher(broker.host, broker.port) as publisher:
            publisher.publish([("farm/c0", b'{"t": 1780000000, "v": 5}')])
        assert intake.wait_for(lambda intake: len(intake.samples) == 1)
    again = Daemon()
    with closing(Listener(broker)) as listener, reading(source(broker, again, gather_s=0)) as intake:
        assert intake.wait_for(lambda intake: len(intake.samples) == 1)
        listener.hears(1)
    assert [(command.id, command.waited) for command in again.asked] == [("7", True)]
    nothing = Daemon()
    with reading(source(broker, nothing)) as intake:
        assert not intake.wait_for(lambda intake: bool(intake.samples), 0.3)
    assert nothing.asked == []


def test_a_retained_command_is_not_done_at_each_connection(broker: Mosquitto) -> None:
    give(broker, retain=True)
    daemon = Daemon()
    for _ in range(2):
        with reading(source(broker, daemon)) as intake:
            assert intake.wait_for(lambda intake: bool(intake.rejects))
    assert daemon.asked == []


def test_commands_are_off_unless_a_topic_is_named(broker: Mosquitto) -> None:
    daemon = Daemon()
    with reading(source(broker, daemon, commands=None)) as intake:
        give(broker)
        assert not intake.wait_for(lambda intake: bool(intake.rejects), 0.3)
    assert daemon.asked == []


def test_samples_go_on_while_a_command_waits(broker: Mosquitto) -> None:
    silent = Daemon(answers=False)
    with reading(source(broker, silent, gather_s=0)) as intake:
        give(broker)
        with Publisher(broker.host, broker.port) as publisher:
            publisher.publish([("farm/c0", json.dumps({"t": n, "v": 5}).encode()) for n in range(1, 16)])
        assert intake.wait_for(lambda intake: len(intake.samples) == 15)
        silent.waiting[0](Reply(Verdict.DONE, "", ""))


# --- with the whole daemon


def raise_alarm(broker: Mosquitto) -> None:
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish([("farm/c0", json.dumps({"t": time.time(), "v": 60.0}).encode())])


def test_a_daemon_does_commands_once_over_a_kill_and_says_late_to_those_that_waited(
    tmp_path: Path, broker: Mosquitto
) -> None:
    journal, config = tmp_path / "parchd.db", tmp_path / "farm.toml"
    config.write_text(farm(mqtt_source(broker.port, commands=TOPIC), tensiometers=1))
    shelve: dict[str, Any] = {"do": "shelve", "hours": 4, "why": "harvest"}
    with closing(Listener(broker)) as listener, DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        raise_alarm(broker)
        daemon.wait_for("alarm.raised")
        give(broker, id="1", **shelve)
        (first,) = listener.hears(1)
        assert (first["outcome"], first["state"]) == ("done", "shelved")
        daemon.kill()
        give(broker, id="1", **shelve)
        give(broker, id="2", do="unshelve")
        daemon.start()
        daemon.wait_for("source.connected")
        assert listener.hears_of("2")["outcome"] == "late"
        again = [reply for reply in listener.replies if reply["id"] == "1"]
        assert len(again) > 1, "the broker may give it once more of its own accord"
        assert all(reply == first for reply in again)
        give(broker, id="3", do="open")
        assert listener.hears_of("3")["outcome"] == "invalid"
        ids = map(str, range(4, 100))
        assert wait_until(lambda: unshelved(broker, listener, next(ids))), "what comes anew is done"
        assert daemon.stop() == 0
    steps = query(journal, "SELECT happening, by, via FROM alarm_transition ORDER BY id")
    assert steps == [("raised", "", "judge"), ("shelved", "Ines", "mqtt"), ("unshelved", "Ines", "mqtt")]
