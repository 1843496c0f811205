"""Running in the foreground: signals, reload, watchdog."""

import os
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from parchd.app.daemon import Daemon
from parchd.app.service import serve
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.contract import ConfigError, Problem
from parchd.testing.wiring import FakeSource, loaded_site

CLOCK = SystemClock()


@pytest.fixture(autouse=True)
def handlers_come_back() -> Iterator[None]:
    signals = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    before = [signal.getsignal(number) for number in signals]
    yield
    for number, handler in zip(signals, before, strict=True):
        signal.signal(number, handler)


class Manager:
    """The service manager's end of the socket."""

    def __init__(self, path: Path) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(path))
        self._socket.settimeout(10.0)

    def wait_for(self, word: str) -> str:
        """Read messages until one has this word in it."""
        while word not in (text := self._socket.recv(4096).decode()):
            pass
        return text

    def all(self) -> list[str]:
        """What is left to read."""
        self._socket.setblocking(False)
        messages = []
        try:
            while True:
                messages.append(self._socket.recv(4096).decode())
        except BlockingIOError:
            return messages

    def close(self) -> None:
        self._socket.close()


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Manager]:
    path = tmp_path / "notify"
    made = Manager(path)
    monkeypatch.setenv("NOTIFY_SOCKET", str(path))
    monkeypatch.setenv("WATCHDOG_USEC", "300000")
    monkeypatch.delenv("WATCHDOG_PID", raising=False)
    yield made
    made.close()


@pytest.fixture
def source() -> FakeSource:
    return FakeSource()


@pytest.fixture
def loaded(tmp_path: Path, source: FakeSource) -> Loaded:
    return loaded_site(tmp_path, sources={"bus1": source})


def serving(
    loaded: Loaded, story: Callable[[Daemon], None], load: Callable[[], Loaded] | None = None, **more: Any
) -> bool:
    """Serve in this thread, the only one that gets signals, while another tells the story and then sends SIGTERM."""
    daemon = Daemon(loaded, CLOCK, tick_s=0.05)
    failures: list[BaseException] = []

    def tell() -> None:
        try:
            story(daemon)
        except BaseException as error:  # the test judges it below
            failures.append(error)
        finally:
            os.kill(os.getpid(), signal.SIGTERM)

    teller = threading.Thread(target=tell)
    teller.start()
    try:
        clean = serve(daemon, CLOCK, load or (lambda: loaded), **more)
    finally:
        teller.join(20.0)  # its signal must come while our handlers are in place
    assert failures == []
    return clean


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    wanted = ("daemon.", "config.")
    return [e for record in caplog.records if (e := str(record.__dict__.get("event"))).startswith(wanted)]


def test_a_daemon_says_that_it_is_ready_feeds_the_watchdog_and_says_that_it_stops(
    loaded: Loaded, manager: Manager, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    seen: list[str] = []

    def story(_: Daemon) -> None:
        seen.append(manager.wait_for("READY=1"))
        seen.extend(manager.wait_for("WATCHDOG=1") for _ in range(3))

    assert serving(loaded, story)
    assert "STATUS=Quillmere Orchard: 4 tensiometers, 1 sources" in seen[0]
    assert manager.all()[-1] == "STOPPING=1"
    assert events(caplog) == ["daemon.started", "daemon.stopped"]


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_either_signal_ends_it(loaded: Loaded, manager: Manager, number: signal.Signals) -> None:
    def story(_: Daemon) -> None:
        manager.wait_for("READY=1")
        os.kill(os.getpid(), number)
        manager.wait_for("STOPPING=1")

    assert serving(loaded, story)


def test_a_hangup_reloads_the_configuration(
    loaded: Loaded, manager: Manager, tmp_path: Path, source: FakeSource, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    second = loaded_site(tmp_path, sources={"bus1": source, "bus2": FakeSource()})
    seen: list[str] = []

    def story(daemon: Daemon) -> None:
        manager.wait_for("READY=1")
        os.kill(os.getpid(), signal.SIGHUP)
        seen.append(manager.wait_for("RELOADING=1"))
        seen.append(manager.wait_for("READY=1"))
        assert daemon.loaded is second

    assert serving(loaded, story, lambda: second)
    assert "MONOTONIC_USEC=" in seen[0]
    assert "2 sources" in seen[1]
    assert events(caplog) == ["daemon.started", "daemon.reloaded", "daemon.stopped"]


def test_a_broken_configuration_leaves_the_old_one_running_and_says_every_problem(
    loaded: Loaded, manager: Manager, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    problems = [Problem("farm.toml", line, "site.name", "5", "text") for line in (3, 4)]
    seen: list[str] = []

    def load() -> Loaded:
        raise ConfigError(problems)

    def story(daemon: Daemon) -> None:
        manager.wait_for("READY=1")
        os.kill(os.getpid(), signal.SIGHUP)
        manager.wait_for("RELOADING=1")
        seen.append(manager.wait_for("READY=1"))
        manager.wait_for("WATCHDOG=1")
        assert daemon.loaded is loaded

    assert serving(loaded, story, load)
    assert "refused" in seen[0]
    assert events(caplog) == ["daemon.started", "config.problem", "config.problem", "config.refused", "daemon.stopped"]
    assert str(problems[1]) in [record.getMessage() for record in caplog.records]


def test_a_daemon_that_hangs_does_not_feed_the_watchdog(
    loaded: Loaded, manager: Manager, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    hangs = threading.Event()

    def watch(_: Daemon) -> str:
        hangs.set()
        return "the engine hangs"

    monkeypatch.setattr(Daemon, "watch", watch)

    def story(_: Daemon) -> None:
        assert hangs.wait(10.0)

    serving(loaded, story)
    assert not any("WATCHDOG" in text for text in manager.all())
    assert "daemon.hangs" in events(caplog)


def test_it_ends_by_itself_when_all_is_read_if_it_was_asked_to(
    loaded: Loaded, manager: Manager, source: FakeSource
) -> None:
    def story(_: Daemon) -> None:
        source.end()
        manager.wait_for("STOPPING=1")

    assert serving(loaded, story, until_read=True)


def test_a_fault_of_the_main_thread_still_stops_the_others(
    loaded: Loaded, manager: Manager, monkeypatch: pytest.MonkeyPatch
) -> None:
    def watch(_: Daemon) -> str:
        raise ZeroDivisionError

    monkeypatch.setattr(Daemon, "watch", watch)
    with pytest.raises(ZeroDivisionError):
        serve(Daemon(loaded, CLOCK, tick_s=0.05), CLOCK, lambda: loaded)
    assert manager.all()[-1] == "STOPPING=1"
