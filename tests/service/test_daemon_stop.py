"""The process and its surroundings: signals, exit codes, the service manager."""

import signal
import socket
import sqlite3
import threading
import time
from pathlib import Path

import pytest

from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, influx, mail, mqtt_source, serial_source, webhook
from parchd.testing.influx_fake import FakeInflux, Hang
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import Answer, HttpReceiver, MailSandbox

STOP_S = 5.0


@pytest.fixture
def config(tmp_path: Path, line: PtyLine) -> Path:
    """A farm whose only sensor stands at the end of a serial line."""
    path = tmp_path / "farm.toml"
    path.write_text(farm(serial_source(line.path, "c0"), tensiometers=1, source="bus1"))
    return path


def journal_of(config: Path) -> Path:
    return config.parent / "parchd.db"


def stored(config: Path) -> int:
    return int(query(journal_of(config), "SELECT count(*) FROM journal")[0][0])


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_to_stop_ends_it_within_five_seconds_with_all_it_read_on_disk(
    config: Path, line: PtyLine, number: signal.Signals
) -> None:
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        line.write(b"".join(b"%d\n" % (n % 30) for n in range(1000)))
        assert wait_until(lambda: stored(config) > 0)
        line.write(b"31.5\n")
        assert wait_until(lambda: (31.5,) in query(journal_of(config), "SELECT value FROM journal WHERE value > 31"))
        began = time.monotonic()
        daemon.send(number)
        assert daemon.wait() == 0
        assert time.monotonic() - began < STOP_S
        assert daemon.events[-1] == "daemon.stopped"
    assert not list(config.parent.glob("parchd.db-*")), "the write-ahead log is folded in"
    assert stored(config) == 1001


def raise_an_alarm(line: PtyLine) -> None:
    line.write(b"55\n56\n57\n")


def test_it_stops_in_time_while_the_mail_server_and_the_webhook_hang(tmp_path: Path, line: PtyLine) -> None:
    config = tmp_path / "farm.toml"
    with MailSandbox() as mails, HttpReceiver() as hooks:
        mails.script("", delay_s=60.0)
        hooks.script(Answer(hang=True))
        sources = serial_source(line.path, "c0")
        config.write_text(farm(sources, mail(mails), webhook(hooks), tensiometers=1, source="bus1"))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            raise_an_alarm(line)
            assert hooks.wait_for(lambda hooks: len(hooks.requests) == 1)
            began = time.monotonic()
            assert daemon.stop() == 0
            assert time.monotonic() - began < STOP_S
    assert query(journal_of(config), "SELECT DISTINCT state FROM outbox") == [("ready",)], "nothing is given up"
    told_after_the_next_start(config, mails, hooks)


def told_after_the_next_start(config: Path, mails: MailSandbox, hooks: HttpReceiver) -> None:
    with mails, hooks, DaemonProcess(config) as daemon:
        assert mails.wait_for(lambda mails: len(mails.mails) == 1)
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
        ids = {request.headers["webhook-id"] for request in hooks.requests}
        assert len(ids) == 1, "the one that was on its way came again with its id"
        assert daemon.stop() == 0


def test_it_stops_in_time_while_the_time_series_server_hangs(tmp_path: Path, line: PtyLine) -> None:
    config = tmp_path / "farm.toml"
    with FakeInflux(token="") as server:
        server.script(Hang())
        sink = influx(server.url, timeout_s=60)
        config.write_text(farm(serial_source(line.path, "c0"), sink, tensiometers=1, source="bus1"))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            line.write(b"12\n13\n")
            assert wait_until(lambda: bool(server.requests))
            began = time.monotonic()
            assert daemon.stop() == 0
            assert time.monotonic() - began < STOP_S
        with DaemonProcess(config) as daemon:
            assert wait_until(lambda: len(server.lines) == 2), server.requests
            assert daemon.stop() == 0


class Manager:
    """A service manager that listens to one service."""

    def __init__(self, path: Path) -> None:
        self.messages: list[str] = []
        self._path = path
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(path))
        self._socket.settimeout(0.05)
        self._ends = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="manager")

    def __enter__(self) -> "Manager":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ends.set()
        self._thread.join()
        self._socket.close()

    @property
    def environ(self) -> dict[str, str]:
        return {"NOTIFY_SOCKET": str(self._path), "WATCHDOG_USEC": "300000"}

    @property
    def words(self) -> list[str]:
        """The first assignment of each message."""
        return [message.partition("\n")[0] for message in self.messages]

    def _listen(self) -> None:
        while not self._ends.is_set():
            try:
                self.messages.append(self._socket.recv(4096).decode())
            except TimeoutError:
                continue


def test_the_service_manager_hears_of_start_beats_reload_and_stop(config: Path) -> None:
    with Manager(config.parent / "notify") as manager, DaemonProcess(config, environ=manager.environ) as daemon:
        assert wait_until(lambda: manager.words.count("WATCHDOG=1") >= 3)
        assert manager.messages[0] == "READY=1\nSTATUS=Quillmere Orchard: 1 tensiometers, 1 sources"
        daemon.hang_up()
        assert wait_until(lambda: "RELOADING=1" in manager.words)
        assert wait_until(lambda: manager.words.count("READY=1") == 2)
        assert daemon.stop() == 0
        assert wait_until(lambda: "STOPPING=1" in manager.words)
    reloading = next(message for message in manager.messages if message.startswith("RELOADING=1"))
    assert abs(int(reloading.partition("MONOTONIC_USEC=")[2]) / 1e6 - time.clock_gettime(time.CLOCK_MONOTONIC)) < 60
    assert manager.words.index("STOPPING=1") == len(manager.words) - 1


def test_a_broken_configuration_ends_it_with_78_and_every_problem(config: Path) -> None:
    text = (
        config.read_text().replace("now_kpa = 40", "now_kpa = 400").replace("altitude_m = 100", 'altitude_m = "high"')
    )
    config.write_text(text.replace('zone = "north"', 'zone = "nowhere"'))
    with DaemonProcess(config) as daemon:
        assert daemon.wait() == 78
        for key in ("site.altitude_m", "tensiometers.t0.zone"):
            assert key in daemon.log
    assert not journal_of(config).exists()


def test_a_missing_configuration_ends_it_with_78(tmp_path: Path) -> None:
    with DaemonProcess(tmp_path / "none.toml") as daemon:
        assert daemon.wait() == 78
        assert "none.toml" in daemon.log


def test_a_second_daemon_on_one_journal_ends_with_74_and_harms_nothing(config: Path, line: PtyLine) -> None:
    second = config.with_name("second.toml")
    second.write_text(config.read_text())
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        with DaemonProcess(second) as late:
            assert late.wait() == 74
            assert "another daemon writes this journal" in late.log
        line.write(b"12\n")
        assert wait_until(lambda: stored(config) == 1)
        assert daemon.stop() == 0


def test_the_file_of_another_program_ends_it_with_74_and_stays_as_it_is(config: Path) -> None:
    with sqlite3.connect(journal_of(config)) as other:
        other.execute("CREATE TABLE invoices (n)")
    other.close()
    before = journal_of(config).read_bytes()
    with DaemonProcess(config) as daemon:
        assert daemon.wait() == 74
        assert "not a journal of parchd" in daemon.log
    assert journal_of(config).read_bytes() == before


def test_a_file_that_is_no_database_ends_it_with_74_and_stays_as_it_is(config: Path) -> None:
    journal_of(config).write_bytes(b"tension\n" * 4096)
    with DaemonProcess(config) as daemon:
        assert daemon.wait() == 74
    assert journal_of(config).read_bytes() == b"tension\n" * 4096


def test_a_file_that_is_replayed_is_stored_whole_before_the_daemon_ends_by_itself(tmp_path: Path) -> None:
    config, record = tmp_path / "farm.toml", tmp_path / "record.csv"
    rows = (f"{1_780_000_000 + n // 2},c{n % 2},{n % 50}" for n in range(20_000))
    record.write_text("\n".join(("time,channel,value", *rows, "")))
    replay = f'[sources.field]\nkind = "replay"\npath = "{record}"\nspeed = 0\nunit = "kPa"\n'
    config.write_text(farm(replay, tensiometers=2))
    with DaemonProcess(config, arguments=("--until-read", "--verbose")) as daemon:
        assert daemon.wait() == 0
        assert "source.ended" in daemon.events
    assert stored(config) == 20_000
    assert query(journal_of(config), "SELECT count(*) FROM journal WHERE late OR tension_kpa IS NULL") == [(0,)]


@pytest.mark.needs("mosquitto")
def test_what_the_broker_sent_up_to_the_stop_is_stored_or_comes_again(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker") as broker, Publisher(broker.host, broker.port) as publisher:
        config.write_text(farm(mqtt_source(broker.port)))
        messages = [(f"farm/c{n % 4}", b'{"t": %d, "v": %d}' % (1_780_000_000 + n, n % 30)) for n in range(8000)]
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            for at in range(0, 8000, 1000):
                publisher.publish(messages[at : at + 1000])
                if at == 4000:
                    assert daemon.stop() == 0
        assert stored(config) < 8000
        with DaemonProcess(config) as daemon:
            assert wait_until(lambda: stored(config) == 8000), stored(config)
            daemon.wait_for("daemon.started")
            assert daemon.stop() == 0
