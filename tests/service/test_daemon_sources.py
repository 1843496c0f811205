"""Sources of a running daemon that lose their line: each on its own, none disturbs the other."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import pytest

from parchd.testing.background import Background
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mqtt_source, serial_source
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher

pytestmark = pytest.mark.needs("mosquitto")

START_S = 1_780_000_000


class Say(Protocol):
    """Says one number; false when it could not."""

    def __call__(self, number: int) -> bool: ...


class Talk(Background):
    """Calls something with growing numbers, some hundred a second, until stopped; what raises is tried again."""

    def __init__(self, say: Say) -> None:
        self.said = 0
        self._say = say
        super().__init__()

    def goes_on(self, more: int) -> None:
        """Wait until so much more is said."""
        seen = self.said
        assert wait_until(lambda: self.said >= seen + more)

    def work(self) -> None:
        while not self.ends.wait(0.005):
            if self._say(self.said):
                self.said += 1


class Publish(Say):
    """Publishes a message in QoS 1; a broker that is away gets it later."""

    def __init__(self, broker: Mosquitto) -> None:
        self._broker = broker
        self._publisher: Publisher | None = None

    def __call__(self, number: int) -> bool:
        try:
            if self._publisher is None:
                self._publisher = Publisher(self._broker.host, self._broker.port)
            self._publisher.publish([(f"farm/c{number % 4}", json.dumps({"t": START_S + number, "v": 20}).encode())])
        except OSError:
            self.close()
            return False
        return True

    def close(self) -> None:
        if self._publisher is not None:
            self._publisher.__exit__()
            self._publisher = None


class Write(Say):
    """Writes a line with the number; what is written while nobody listens is lost, as on a wire."""

    def __init__(self, line: PtyLine) -> None:
        self._line = line
        self.lost: list[int] = []

    def __call__(self, number: int) -> bool:
        text = b"%d.25\n" % number
        if self._line.write(text, timeout_s=0.05) < len(text):
            self.lost.append(number)
        return True


@pytest.fixture
def publish(broker: Mosquitto) -> Iterator[Publish]:
    publish = Publish(broker)
    yield publish
    publish.close()


@pytest.fixture
def config(tmp_path: Path, broker: Mosquitto, line: PtyLine) -> Path:
    path = tmp_path / "farm.toml"
    path.write_text(farm(mqtt_source(broker.port), serial_source(line.path, "a0")))
    return path


def seconds(config: Path) -> set[int]:
    """Which messages are stored, by the time in them."""
    rows = query(
        config.parent / "parchd.db",
        "SELECT time_us / 1000000 FROM journal JOIN channel ON channel.id = channel_id WHERE name LIKE 'field/%'",
    )
    return {second - START_S for (second,) in rows}


def lines(config: Path) -> list[int]:
    """Which lines are stored, in the order of their times."""
    rows = query(
        config.parent / "parchd.db",
        "SELECT value FROM journal JOIN channel ON channel.id = channel_id WHERE name = 'bus1/a0' ORDER BY time_us",
    )
    return [int(value) for (value,) in rows]


def comes_more(config: Path) -> None:
    seen = len(lines(config))
    assert wait_until(lambda: len(lines(config)) > seen)


def test_a_broker_that_restarts_in_the_middle_costs_no_message_and_leaves_the_serial_line_alone(
    config: Path, broker: Mosquitto, publish: Publish, line: PtyLine
) -> None:
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected", times=2)
        with Talk(publish) as messages, Talk(write := Write(line)) as talk:
            for times in (3, 4):
                messages.goes_on(50)
                broker.restart()
                daemon.wait_for("source.connected", times=times)
            messages.goes_on(50)
            talk.goes_on(20)
            messages.stop()
            talk.stop()
            assert wait_until(lambda: seconds(config) >= set(range(messages.said)))
            assert wait_until(lambda: lines(config) == list(range(talk.said)))
        assert not write.lost
        assert daemon.log.count("source bus1: connected") == 1
        assert "source.failed" not in daemon.events
        assert daemon.stop() == 0


def test_an_adapter_that_is_pulled_out_and_put_back_goes_on_and_leaves_the_broker_alone(
    config: Path, publish: Publish, line: PtyLine
) -> None:
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected", times=2)
        with Talk(publish) as messages, Talk(Write(line)) as talk:
            for times in (3, 4):
                talk.goes_on(50)
                line.unplug()
                daemon.wait_for("source.lost", times=times - 2)
                messages.goes_on(20)
                line.replug()
                daemon.wait_for("source.connected", times=times)
                comes_more(config)
            messages.stop()
            talk.stop()
            assert wait_until(lambda: seconds(config) == set(range(messages.said)))
        heard = lines(config)
        assert heard == sorted(set(heard)), "no line twice, none out of order"
        assert "source field: " not in "".join(row for row in daemon.log.splitlines(True) if "source.lost" in row)
        assert daemon.stop() == 0


def test_a_source_that_never_comes_up_is_tried_again_and_again_while_the_other_works(
    tmp_path: Path, line: PtyLine
) -> None:
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker") as away:
        port = away.port
    config.write_text(farm(mqtt_source(port), serial_source(line.path, "a0")))
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        with Talk(Write(line)) as talk:
            daemon.wait_for("source.lost", times=3)
            talk.stop()
            assert wait_until(lambda: lines(config) == list(range(talk.said)))
        assert daemon.stop() == 0


def test_a_broker_that_is_away_and_an_adapter_that_is_missing_at_the_start_come_later(
    tmp_path: Path, line: PtyLine
) -> None:
    config = tmp_path / "farm.toml"
    line.unplug()
    broker = Mosquitto(tmp_path / "broker")
    config.write_text(farm(mqtt_source(broker.port), serial_source(line.path, "a0")))
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.lost", times=2)
        line.replug()
        with broker:
            daemon.wait_for("source.connected", times=2)
            line.write(b"7.25\n")
            with Publisher(broker.host, broker.port) as publisher:
                publisher.publish([("farm/c0", b'{"t": %d, "v": 1}' % START_S)])
            assert wait_until(lambda: lines(config) == [7] and seconds(config) == {0})
        assert daemon.stop() == 0
