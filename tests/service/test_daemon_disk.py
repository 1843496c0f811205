"""A full disk: nothing that was acknowledged is lost, memory stays bounded, work goes on when there is room again."""

import json
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.clock import US_PER_S, SystemClock
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mqtt_source, serial_source, webhook
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import HttpReceiver

pytestmark = [
    pytest.mark.needs("mosquitto"),
    pytest.mark.skipif(os.getuid() != 0, reason="only root may mount a small disk to fill; CI is root"),
]

START_S = SystemClock().now_us() // US_PER_S - 3600
"""Recent: what is hours old judges no alarm."""
GROWTH_BYTES = 30_000_000


class SmallDisk:
    """A disk of a few megabytes that can be filled to the last byte."""

    def __init__(self, folder: Path, megabytes: int) -> None:
        self.folder = folder
        self._ballast = folder / "ballast"
        folder.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", folder], check=True)

    def fill(self) -> None:
        with self._ballast.open("wb", buffering=0) as file:
            for size in (65_536, 4096):
                try:
                    while file.write(bytes(size)):
                        pass
                except OSError:
                    continue

    def free(self) -> None:
        self._ballast.unlink(missing_ok=True)

    def close(self) -> None:
        subprocess.run(["umount", self.folder], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    disk = SmallDisk(tmp_path / "disk", megabytes=16)
    yield disk
    disk.close()


@pytest.fixture
def journal(disk: SmallDisk) -> Path:
    return disk.folder / "parchd.db"


def config_on(disk: SmallDisk, *parts: str) -> Path:
    path = disk.folder.with_name("farm.toml")
    path.write_text(farm(*parts, f'[store]\npath = "{disk.folder}/parchd.db"\n'))
    return path


def publish(broker: Mosquitto, first: int, last: int, kpa: float = 20.0) -> None:
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish(
            (f"farm/c{n % 4}", json.dumps({"t": START_S + n / 4, "v": kpa}).encode()) for n in range(first, last)
        )


def stored(journal: Path) -> set[int]:
    return {round((second - START_S) * 4) for (second,) in query(journal, "SELECT time_us / 1e6 FROM journal")}


def test_messages_wait_at_the_broker_while_the_disk_is_full_and_come_when_it_is_not(
    disk: SmallDisk, journal: Path, broker: Mosquitto
) -> None:
    with HttpReceiver() as hooks, DaemonProcess(config_on(disk, mqtt_source(broker.port), webhook(hooks))) as daemon:
        daemon.wait_for("source.connected")
        publish(broker, 0, 100)
        assert wait_until(lambda: len(stored(journal)) == 100)
        before_bytes = daemon.resident_bytes
        disk.fill()
        publish(broker, 100, 20_000, kpa=55)
        daemon.wait_for("store.failed", times=2)
        assert daemon.resident_bytes - before_bytes < GROWTH_BYTES
        seen = len(stored(journal))
        assert seen < 20_000
        disk.free()
        assert wait_until(lambda: stored(journal) == set(range(20_000)), 30.0), len(stored(journal))
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1), "the alarm of the missing hours is told"
        assert daemon.stop() == 0
    assert query(journal, "PRAGMA integrity_check") == [("ok",)]


def test_a_daemon_that_is_killed_while_the_disk_is_full_loses_nothing_it_acknowledged(
    disk: SmallDisk, journal: Path, broker: Mosquitto
) -> None:
    config = config_on(disk, mqtt_source(broker.port))
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        publish(broker, 0, 100)
        assert wait_until(lambda: len(stored(journal)) == 100)
        disk.fill()
        publish(broker, 100, 5000)
        daemon.wait_for("store.failed")
        daemon.kill()
    with DaemonProcess(config) as daemon:
        assert daemon.wait() == 74, "there is no room to start; the service manager tries again"
        assert "cannot be written" in daemon.log or "not a usable journal" in daemon.log
    disk.free()
    with DaemonProcess(config) as daemon:
        assert wait_until(lambda: stored(journal) == set(range(5000))), len(stored(journal))
        daemon.wait_for("daemon.started")
        assert daemon.stop() == 0
    assert query(journal, "PRAGMA integrity_check") == [("ok",)]


def test_it_stops_in_time_while_the_disk_is_full_and_says_that_not_all_is_written(
    disk: SmallDisk, journal: Path
) -> None:
    with PtyLine() as line, DaemonProcess(config_on(disk, serial_source(line.path, "c0", name="field"))) as daemon:
        daemon.wait_for("source.connected")
        line.write(b"12\n")
        assert wait_until(lambda: query(journal, "SELECT value FROM journal") == [(12.0,)])
        disk.fill()
        for value in range(20_000):
            if "store.failed" in daemon.events:
                break
            line.write(b"%d\n" % (value % 30))
        daemon.wait_for("store.failed")
        assert daemon.stop(timeout_s=6.0) == 70
    disk.free()
    assert query(journal, "PRAGMA integrity_check") == [("ok",)]


def test_people_hear_of_a_full_disk_by_a_message_that_is_written_in_the_room_of_the_reserve(
    disk: SmallDisk, journal: Path, broker: Mosquitto, hooks: HttpReceiver
) -> None:
    config = config_on(disk, mqtt_source(broker.port), webhook(hooks))
    config.write_text(config.read_text() + "reserve_mb = 1\n")
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        reserve = journal.with_name("parchd.db.reserve")
        assert wait_until(lambda: reserve.exists() and reserve.stat().st_blocks * 512 >= 1_000_000)
        disk.fill()
        publish(broker, 0, 2000)
        daemon.wait_for("store.full")
        assert hooks.wait_for(lambda hooks: "disk-full" in told(hooks)), told(hooks)
        assert not reserve.exists()
        disk.free()
        assert daemon.stop() == 0
    with DaemonProcess(config) as daemon:
        assert wait_until(reserve.exists), "there is room for it again"
        assert hooks.wait_for(lambda hooks: told(hooks).count("disk-full") == 2), "and people hear of that too"
        assert daemon.stop() == 0


def test_a_daemon_that_starts_on_a_full_disk_starts_in_the_room_of_the_reserve_and_says_so(
    disk: SmallDisk, journal: Path, broker: Mosquitto, hooks: HttpReceiver
) -> None:
    config = config_on(disk, mqtt_source(broker.port), webhook(hooks))
    config.write_text(config.read_text() + "reserve_mb = 1\n")
    with DaemonProcess(config) as daemon:
        assert wait_until(journal.with_name("parchd.db.reserve").exists)
        daemon.wait_for("source.connected")
        assert daemon.stop() == 0
    disk.fill()
    with DaemonProcess(config) as daemon:
        daemon.wait_for("store.full")
        assert hooks.wait_for(lambda hooks: "disk-full" in told(hooks)), told(hooks)
        daemon.kill()


def told(hooks: HttpReceiver) -> list[str]:
    """Kinds of alarms that were told, in order."""
    bodies = [json.loads(request.body) for request in hooks.deliveries.values()]
    return [str(body["data"]["details"].get("alarm")) for body in bodies]
