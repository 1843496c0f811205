"""Carrying messages from the outbox to one notifier."""

import sqlite3
import threading
from dataclasses import replace
from pathlib import Path

import pytest

from parchd.app import courier as courier_module
from parchd.app.loop import EngineLoop
from parchd.app.messages import Post
from parchd.contract import DeliveryRefused, DeliveryRetry, Notice, ParchdError, RecipientGone
from parchd.store.outbox import Letter, next_letter
from parchd.testing import office as offices
from parchd.testing.bench import Bench, engine_on
from parchd.testing.notifier import FakeNotifier
from parchd.testing.office import NOTICE
from parchd.testing.site import DAY_US, START_US


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(courier_module, "IDLE_S", 0.01)
    monkeypatch.setattr(courier_module, "UNREADABLE_PAUSE_S", 0.01)


class Office(offices.Office):
    """An office whose notifier is a fake."""

    def __init__(self, folder: Path, notifier: FakeNotifier, speed: float) -> None:
        super().__init__(folder, notifier, speed)
        self.notifier = notifier


@pytest.fixture
def office(tmp_path: Path) -> Office:
    return Office(tmp_path, FakeNotifier("anne", "ben"), speed=10_000.0)


def subjects(notifier: FakeNotifier, recipient: str) -> list[str]:
    return [notice.subject for notice, to in notifier.delivered if to == recipient]


def arrived(count: int, notifier: FakeNotifier) -> bool:
    return notifier.wait_for(lambda fake: len(fake.delivered) >= count)


def states(bench: Bench) -> list[str]:
    return [state for (state,) in bench.rows("SELECT state FROM outbox ORDER BY id")]


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if record.name == "parchd.app.courier"]


def test_each_recipient_gets_each_message_once_and_in_order(office: Office) -> None:
    with office.open(), office.courier():
        office.post("a", "b", "c")
        assert arrived(6, office.notifier)
    assert subjects(office.notifier, "anne") == subjects(office.notifier, "ben") == ["a", "b", "c"]
    assert len(office.notifier.attempts) == 6
    with engine_on(office.database, office.setup) as bench:
        assert states(bench) == ["sent"] * 6


def test_days_without_a_server_lose_nothing_and_change_no_order(tmp_path: Path) -> None:
    office = Office(tmp_path, FakeNotifier("anne", "ben"), speed=200_000.0)  # three days are a second
    office.notifier.away = DeliveryRetry("connection refused")
    with office.open(), office.courier():
        office.post("a", "b", "c", "d")
        assert office.notifier.wait_for(
            lambda fake: office.clock.now_us() > START_US + 3 * DAY_US and fake.attempts != []
        )
        office.notifier.away = None
        assert arrived(8, office.notifier)
    assert subjects(office.notifier, "anne") == subjects(office.notifier, "ben") == ["a", "b", "c", "d"]
    assert len({notice.id for notice, _ in office.notifier.delivered}) == 8


def test_one_recipient_that_is_away_does_not_hold_up_another(tmp_path: Path) -> None:
    office = Office(tmp_path, FakeNotifier("anne", "ben"), speed=200_000.0)
    office.notifier.script(DeliveryRetry("mailbox full", retry_after_s=100_000.0))
    with office.open(), office.courier():
        office.post("a", "b")
        assert office.notifier.wait_for(lambda fake: len(subjects(fake, "ben")) == 2)
        assert arrived(4, office.notifier)
    assert [to for _, to in office.notifier.delivered] == ["ben", "ben", "anne", "anne"]
    assert subjects(office.notifier, "anne") == ["a", "b"]


def test_a_message_whose_confirmation_was_lost_comes_again_with_the_same_id(office: Office) -> None:
    office.notifier.script(FakeNotifier.UNCONFIRMED)
    with office.open(), office.courier():
        office.post("a")
        assert arrived(2, office.notifier)
    ids = [notice.id for notice, to in office.notifier.arrived if to == "anne"]
    assert len(ids) == 2
    assert len(set(ids)) == 1


def test_a_crash_between_sending_and_recording_sends_the_same_id_again_and_no_other(tmp_path: Path) -> None:
    office = Office(tmp_path, FakeNotifier("anne"), speed=10_000.0)
    with office.open():
        office.post("a", "b")
    deaf = Office(tmp_path, office.notifier, speed=10_000.0)  # its engine never hears what became of the message
    with deaf.courier():
        assert arrived(1, office.notifier)
        assert not office.notifier.wait_for(lambda fake: len(fake.attempts) > 1, 0.1)
    with office.open(), office.courier():
        assert arrived(3, office.notifier)
    assert [notice.subject for notice, _ in office.notifier.delivered] == ["a", "a", "b"]
    assert office.notifier.attempts[0] == office.notifier.attempts[1]


def test_a_refused_message_is_set_aside_and_the_next_goes_out(office: Office, caplog: pytest.LogCaptureFixture) -> None:
    office.notifier.script(DeliveryRefused("no such mailbox"), None)
    with office.open(), office.courier():
        office.post("a", "b")
        assert arrived(3, office.notifier)
    assert subjects(office.notifier, "anne") == ["b"]
    assert "message.refused" in events(caplog)
    with engine_on(office.database, office.setup) as bench:
        assert states(bench) == ["refused", "sent", "sent", "sent"]
        assert bench.rows("SELECT trouble FROM outbox WHERE state = 'refused'") == [("no such mailbox",)]


def test_a_receiver_that_wants_no_more_gets_no_more(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    office = Office(tmp_path, FakeNotifier("anne"), speed=10_000.0)
    office.notifier.script(RecipientGone("410 Gone"))
    with office.open(), office.courier():
        office.post("a", "b")
        assert office.notifier.wait_for(lambda fake: len(fake.attempts) == 1)
        assert not office.notifier.wait_for(lambda fake: len(fake.attempts) > 1, 0.1)
    assert "message.gone" in events(caplog)
    with engine_on(office.database, office.setup) as bench:
        assert states(bench) == ["refused", "ready"]


def test_a_notifier_that_crashes_is_tried_again(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    class Crashing(FakeNotifier):
        def send(self, notice: Notice, recipient: str) -> None:
            if not self.attempts:
                self.attempts.append((notice.id, recipient))
                raise ZeroDivisionError
            super().send(notice, recipient)

    office = Office(tmp_path, Crashing("anne"), speed=10_000.0)
    with office.open(), office.courier():
        office.post("a")
        assert arrived(1, office.notifier)
    assert "message.failed" in events(caplog)


def test_a_courier_is_woken_for_a_new_message(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(courier_module, "IDLE_S", 60.0)
    with engine_on(office.database, office.setup) as bench:
        loop = EngineLoop(bench.engine, office.inbox, office.clock)
        loop.start()
        with office.courier() as courier:
            loop.wake_after_commit(courier.wake)
            office.post("a")
            assert arrived(2, office.notifier)
        assert loop.finish(10.0)


def test_a_courier_with_nothing_to_carry_does_not_spin(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(courier_module, "IDLE_S", 60.0)
    looked = threading.Semaphore(0)

    def nothing(*_: object) -> None:
        looked.release()

    monkeypatch.setattr(courier_module, "next_letter", nothing)
    with office.open(), office.courier() as courier:
        assert looked.acquire(timeout=10.0)
        courier.wake.set()
        assert looked.acquire(timeout=10.0)
        assert not looked.acquire(timeout=0.05)


def test_a_courier_that_waits_for_a_dead_engine_can_be_stopped(office: Office) -> None:
    with engine_on(office.database, office.setup) as bench:
        bench.turn(START_US, Post(NOTICE))
    with office.courier():
        assert arrived(1, office.notifier)


def test_a_journal_that_cannot_be_read_now_is_tried_again(office: Office, caplog: pytest.LogCaptureFixture) -> None:
    complained = threading.Event()
    with office.courier():  # there is no journal yet
        while not events(caplog):
            complained.wait(0.01)
        with office.open():
            office.post("a")
            assert arrived(2, office.notifier)
    assert set(events(caplog)) - {"message.sent"} == {"store.unreadable"}


def test_a_journal_that_breaks_while_it_is_read_is_opened_anew(
    office: Office, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    plain, calls = next_letter, iter([sqlite3.OperationalError("disk I/O error")])

    def failing(connection: sqlite3.Connection, notifier: str, now_us: int) -> Letter | None:
        for error in calls:
            raise error
        return plain(connection, notifier, now_us)

    monkeypatch.setattr(courier_module, "next_letter", failing)
    with office.open(), office.courier():
        office.post("a")
        assert arrived(2, office.notifier)
    assert "store.unreadable" in events(caplog)


@pytest.mark.parametrize("error", [DeliveryRetry("a"), DeliveryRefused("b"), RecipientGone("c")])
def test_a_log_line_names_the_recipient_and_not_the_message(
    office: Office, error: ParchdError, caplog: pytest.LogCaptureFixture
) -> None:
    office.notifier.script(error)
    with office.open(), office.courier():
        office.inbox.tell(Post(replace(NOTICE, summary="a word in confidence")))
        assert office.notifier.wait_for(lambda fake: len(fake.attempts) >= 1)
    (line,) = [r.getMessage() for r in caplog.records if r.name == "parchd.app.courier" and r.levelname == "WARNING"][
        :1
    ]
    assert "attempt 1 for anne" in line
    assert "confidence" not in line
