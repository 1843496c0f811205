"""Messages to the service manager, on a real datagram socket."""

import logging
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.app.sd_notify import ServiceManager

ONE_MINUTE_US = "60000000"


class Mailbox:
    """The service manager's end."""

    def __init__(self, address: str, shown: str) -> None:
        self.shown = shown
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(address)
        self._socket.settimeout(2.0)

    def next(self) -> str:
        return self._socket.recv(65536).decode()

    def is_empty(self) -> bool:
        self._socket.setblocking(False)
        try:
            self._socket.recv(65536)
        except BlockingIOError:
            return True
        return False

    def close(self) -> None:
        self._socket.close()


@pytest.fixture(params=["path", "abstract"])
def mailbox(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Mailbox]:
    name = f"{tmp_path}/notify"
    abstract = request.param == "abstract"
    box = Mailbox("\0" + name if abstract else name, "@" + name if abstract else name)
    yield box
    box.close()


def manager(box: Mailbox, **more: str) -> ServiceManager:
    return ServiceManager({"NOTIFY_SOCKET": box.shown, **more}, pid=77)


# Assignments and their meaning: sd_notify(3), section "Description".
def test_ready_carries_its_status_in_the_same_message(mailbox: Mailbox) -> None:
    manager(mailbox).ready("12 tensiometers, 3 sources")
    assert mailbox.next() == "READY=1\nSTATUS=12 tensiometers, 3 sources"


def test_ready_without_words_is_one_assignment(mailbox: Mailbox) -> None:
    manager(mailbox).ready()
    assert mailbox.next() == "READY=1"


def test_a_reload_says_when_it_began(mailbox: Mailbox) -> None:
    manager(mailbox).reloading(5_000_001)
    assert mailbox.next() == "RELOADING=1\nMONOTONIC_USEC=5000001"


def test_stopping_is_announced(mailbox: Mailbox) -> None:
    manager(mailbox).stopping()
    assert mailbox.next() == "STOPPING=1"


def test_a_status_of_two_lines_cannot_smuggle_in_an_assignment(mailbox: Mailbox) -> None:
    manager(mailbox).status("source lost\nMAINPID=1")
    assert mailbox.next() == "STATUS=source lost MAINPID=1"


def test_a_beat_is_sent_when_the_watchdog_waits(mailbox: Mailbox) -> None:
    manager(mailbox, WATCHDOG_USEC=ONE_MINUTE_US, WATCHDOG_PID="77").watchdog()
    assert mailbox.next() == "WATCHDOG=1"


def test_no_beat_is_sent_when_nobody_waits(mailbox: Mailbox) -> None:
    manager(mailbox).watchdog()
    assert mailbox.is_empty()


# sd_watchdog_enabled(3): WATCHDOG_PID must be unset or be the process's own; recommended beat: half the limit or less.
@pytest.mark.parametrize(
    ("limit", "owner", "interval_s"),
    [
        (ONE_MINUTE_US, "77", 20.0),
        (ONE_MINUTE_US, "", 20.0),
        (ONE_MINUTE_US, "78", None),
        ("0", "77", None),
        ("soon", "77", None),
        ("-5", "77", None),
        ("", "", None),
    ],
)
def test_the_watchdog_is_beaten_three_times_within_its_limit(
    mailbox: Mailbox, limit: str, owner: str, interval_s: float | None
) -> None:
    service = manager(mailbox, WATCHDOG_USEC=limit, WATCHDOG_PID=owner)
    assert service.watchdog_interval_s == interval_s


def test_without_a_service_manager_nothing_happens() -> None:
    service = ServiceManager({"WATCHDOG_USEC": ONE_MINUTE_US})
    service.ready("up")
    service.watchdog()
    service.stopping()
    assert service.watchdog_interval_s is None


def test_the_process_environment_is_the_default(mailbox: Mailbox, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", mailbox.shown)
    ServiceManager().status("reading")
    assert mailbox.next() == "STATUS=reading"


def test_a_service_manager_that_is_gone_is_logged_once_for_each_absence(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    service = ServiceManager({"NOTIFY_SOCKET": f"{tmp_path}/notify"})
    with caplog.at_level(logging.WARNING):
        service.status("one")
        service.status("two")
        box = Mailbox(f"{tmp_path}/notify", "")
        service.status("three")
        assert box.next() == "STATUS=three"
        box.close()
        service.status("four")
    assert [record.__dict__["event"] for record in caplog.records] == ["service.notify_failed"] * 2


@given(st.text())
def test_any_status_is_one_assignment(text: str) -> None:
    name = f"\0parchd-test-{id(text)}"
    box = Mailbox(name, "@" + name[1:])
    try:
        manager(box).ready(text)
        message = box.next()
    finally:
        box.close()
    assert message.startswith("READY=1")
    assert message.count("\n") <= 1
