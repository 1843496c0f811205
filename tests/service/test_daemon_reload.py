"""SIGHUP under load: the new configuration holds, nothing is lost, what did not change is left alone."""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import pytest

from parchd.clock import US_PER_S, SystemClock
from parchd.testing.background import Background
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mqtt_source, serial_source, webhook
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import HttpReceiver

pytestmark = pytest.mark.needs("mosquitto")

START_S = SystemClock().now_us() // US_PER_S - 3600
"""Recent: what is hours old judges no alarm."""
CHANNELS = 4
PIECE_S = 10


class Load(Background):
    """Publishes without a pause: a sample for each second and channel."""

    def __init__(self, broker: Mosquitto, tension_kpa: Callable[[], float] = lambda: 20.0) -> None:
        self.published = 0
        self._broker = broker
        self._tension_kpa = tension_kpa
        super().__init__()

    def goes_on(self, more: int = 200) -> None:
        """Wait until so many messages more are published."""
        seen = self.published
        assert wait_until(lambda: self.published >= seen + more)

    def work(self) -> None:
        with Publisher(self._broker.host, self._broker.port) as publisher:
            for second in count(START_S, PIECE_S):
                if self.ends.wait(0.002):
                    return
                self.published += publisher.publish(self._piece(second))

    def _piece(self, start_s: int) -> Iterator[tuple[str, bytes]]:
        for second in range(start_s, start_s + PIECE_S):
            payload = json.dumps({"t": second, "v": self._tension_kpa()}).encode()
            yield from ((f"farm/c{channel}", payload) for channel in range(CHANNELS))


@contextmanager
def running(config: Path, text: str) -> Iterator[DaemonProcess]:
    config.write_text(text)
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        daemon.wait_for("daemon.started")
        yield daemon


def reload(daemon: DaemonProcess, config: Path, text: str) -> None:
    """Write the file anew and let it be read."""
    before = daemon.events.count("daemon.reloaded")
    config.write_text(text)
    daemon.hang_up()
    daemon.wait_for("daemon.reloaded", times=before + 1)


def connections(broker: Mosquitto) -> int:
    """How often the daemon's client has come to the broker."""
    return len(re.findall(r"New client connected from \S+ as parchd", broker.log))


def stored(config: Path) -> list[tuple[str, int]]:
    rows = query(
        config.parent / "parchd.db",
        "SELECT name, time_us / 1000000 FROM journal JOIN channel ON channel.id = channel_id WHERE name LIKE 'field/%'",
    )
    return [(name, second) for name, second in rows]


def all_is_stored(config: Path, published: int) -> bool:
    return wait_until(lambda: len(stored(config)) >= published) and set(stored(config)) == {
        (f"field/c{number % CHANNELS}", START_S + number // CHANNELS) for number in range(published)
    }


def test_new_limits_hold_at_once_and_no_sample_is_lost(tmp_path: Path, broker: Mosquitto, hooks: HttpReceiver) -> None:
    config = tmp_path / "farm.toml"
    text = farm(mqtt_source(broker.port), webhook(hooks), tensiometers=CHANNELS)
    with running(config, text) as daemon, Load(broker) as load:
        load.goes_on()
        assert not hooks.requests, "20 kPa is below the limit of 40"
        reload(daemon, config, text.replace("now_kpa = 40", "now_kpa = 15"))
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
        for limit in range(16, 20):
            load.goes_on()
            reload(daemon, config, text.replace("now_kpa = 40", f"now_kpa = {limit}"))
        load.goes_on()
        load.stop()
        assert all_is_stored(config, load.published)
        assert daemon.stop() == 0
    (request,) = hooks.requests
    assert json.loads(request.body)["data"]["details"]["limit_kpa"] == 15
    assert connections(broker) == 1, "the source did not change, so its connection stays"
    assert query(tmp_path / "parchd.db", "SELECT count(*) FROM alarm_event") == [(1,)], "a raised alarm stays raised"


def test_a_tensiometer_that_is_added_is_converted_from_then_on(tmp_path: Path, broker: Mosquitto) -> None:
    config = tmp_path / "farm.toml"
    with running(config, farm(mqtt_source(broker.port), tensiometers=2)) as daemon, Load(broker) as load:
        load.goes_on()
        assert wait_until(lambda: bool(stored(config)))
        reload(daemon, config, farm(mqtt_source(broker.port), tensiometers=CHANNELS))
        load.goes_on()
        load.stop()
        assert all_is_stored(config, load.published)
        assert daemon.stop() == 0
    converted = query(
        tmp_path / "parchd.db",
        "SELECT name, count(tension_kpa), count(*) FROM journal JOIN channel ON channel.id = channel_id"
        " GROUP BY name ORDER BY name",
    )
    shares = {name: (with_tension, rows) for name, with_tension, rows in converted}
    assert shares["field/c0"][0] == shares["field/c0"][1]
    assert 0 < shares["field/c3"][0] < shares["field/c3"][1]
    assert connections(broker) == 1


def test_a_source_with_new_options_starts_anew_and_loses_nothing(
    tmp_path: Path, broker: Mosquitto, line: PtyLine
) -> None:
    config = tmp_path / "farm.toml"

    def text(keepalive_s: int) -> str:
        return farm(mqtt_source(broker.port, keepalive_s=keepalive_s), serial_source(line.path, "a0"))

    with running(config, text(60)) as daemon, Load(broker) as load:
        daemon.wait_for("source.connected", times=2)
        for keepalive_s in (50, 40, 30):
            load.goes_on()
            reload(daemon, config, text(keepalive_s))
        load.goes_on()
        load.stop()
        assert all_is_stored(config, load.published)
        line.write(b"12.5\n")
        assert wait_until(lambda: query(tmp_path / "parchd.db", "SELECT 1 FROM journal WHERE value = 12.5") == [(1,)])
        daemon.wait_for("source.connected", times=5)
        assert daemon.log.count("source bus1: connected") == 1, "the other source is left alone"
        assert daemon.stop() == 0
    assert connections(broker) == 4


def test_a_source_that_is_taken_out_is_stopped(tmp_path: Path, broker: Mosquitto, line: PtyLine) -> None:
    config = tmp_path / "farm.toml"
    serial = serial_source(line.path, "c0")
    with running(config, farm(mqtt_source(broker.port), serial, tensiometers=1, source="bus1")) as daemon:
        daemon.wait_for("source.connected", times=2)
        reload(daemon, config, farm(serial, tensiometers=1, source="bus1"))
        assert wait_until(lambda: "disconnected" in broker.log)
        line.write(b"12.5\n")
        assert wait_until(lambda: query(tmp_path / "parchd.db", "SELECT value FROM journal") == [(12.5,)])
        assert daemon.stop() == 0


def test_messages_go_to_the_new_address_once_it_changed(tmp_path: Path, broker: Mosquitto, hooks: HttpReceiver) -> None:
    config = tmp_path / "farm.toml"
    tension_kpa = 20.0
    with HttpReceiver() as old:
        with (
            running(config, farm(mqtt_source(broker.port), webhook(old))) as daemon,
            Load(broker, lambda: tension_kpa) as load,
        ):
            tension_kpa = 50.0
            assert old.wait_for(lambda old: len(old.deliveries) == 1)
            reload(daemon, config, farm(mqtt_source(broker.port), webhook(hooks)))
            tension_kpa = 20.0
            assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
            load.stop()
            assert daemon.stop() == 0
        assert len(old.requests) == 1
    (request,) = hooks.requests
    assert json.loads(request.body)["type"] == "alarm.cleared"


@pytest.mark.parametrize("broken", ["half a file", "impossible limits", "no file"])
def test_a_broken_file_leaves_the_old_configuration_running_and_names_every_problem(
    tmp_path: Path, broker: Mosquitto, hooks: HttpReceiver, broken: str
) -> None:
    config = tmp_path / "farm.toml"
    text = farm(mqtt_source(broker.port), webhook(hooks), tensiometers=CHANNELS)
    tension_kpa = 20.0
    with running(config, text) as daemon, Load(broker, lambda: tension_kpa) as load:
        load.goes_on()
        problems = spoil(config, text, broken)
        daemon.hang_up()
        daemon.wait_for("config.refused")
        assert daemon.events.count("config.problem") == len(problems)
        for problem in problems:
            assert problem in daemon.log
        tension_kpa = 50.0
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1), "the old limits still hold"
        reload(daemon, config, text)
        load.goes_on()
        load.stop()
        assert all_is_stored(config, load.published)
        assert daemon.stop() == 0
    assert connections(broker) == 1


def spoil(config: Path, text: str, how: str) -> tuple[str, ...]:
    """Break the file; return what the log must name."""
    if how == "half a file":
        config.write_text(text[: text.index('name = "Quillmere') + 10])
        return ("farm.toml:2",)
    if how == "no file":
        config.unlink()
        return ("farm.toml",)
    worse = text.replace("now_kpa = 40", "now_kpa = 400").replace("depth_cm = 30", "depth_cm = -1")
    config.write_text(worse.replace('kind = "webhook"', 'kind = "webhok"'))
    return ("defaults.depth_cm", "notifiers.hook.kind")
