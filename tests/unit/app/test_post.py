"""From events to messages in the outbox, and what becomes of them."""

import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import State
from parchd.alarms.register import Register
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Standing, Transition
from parchd.app.messages import Delivery, Outcome
from parchd.app.post import GIVE_UP_US, dispatch, for_recipient, post, record
from parchd.app.setup import Route
from parchd.clock import US_PER_S
from parchd.contract import Notice, NoticeKind, Priority
from parchd.store.database import open_writer
from parchd.store.outbox import Outbox
from parchd.testing.site import DAY_US, HOUR_US, START_US, route

NOTICE = Notice("n.1", NoticeKind.RAISED, START_US, "Quillmere Orchard", "Subject", "Summary", priority=Priority.MEDIUM)


class Desk:
    """An outbox and what stands in it."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.outbox = Outbox(connection)

    def column(self, name: str) -> list[Any]:
        return [value for (value,) in self.connection.execute(f"SELECT {name} FROM outbox ORDER BY id")]

    def post(self, *names: str, to: Route | None = None, now_us: int = START_US, **changes: Any) -> None:
        for name in names:
            post(self.outbox, [to or route()], replace(NOTICE, id=name, **changes), now_us)

    def deliver(self, outcome: Outcome, *, attempts: int = 0, to: Route | None = None, **more: Any) -> None:
        now_us = more.pop("now_us", START_US)
        delivery = Delivery("mail", 1, attempts, outcome, "what it said", **more)
        record(self.outbox, delivery, to, START_US, now_us)


@pytest.fixture
def desk() -> Iterator[Desk]:
    with closing(open_writer(Path(":memory:"))) as connection:
        yield Desk(connection)


def event(
    kind: AlarmKind, change: Change = Change.RAISED, subject: str = "zone/north", raised_us: int = START_US
) -> AlarmEvent:
    return AlarmEvent(AlarmKey(kind, subject), change, START_US, raised_us, 70.0, 60.0, {"tensiometers": 1, "of": 3})


def taken(events: Sequence[AlarmEvent]) -> list[Transition]:
    """The steps that follow; what is cleared was raised before."""
    stood = {e.key: Standing(State.UNACKNOWLEDGED, True, 0, e.raised_us) for e in events if e.change is Change.CLEARED}
    return Register(standings=stood).take(events, START_US)


def test_each_recipient_gets_a_copy_with_an_id_of_its_own_that_never_changes() -> None:
    ids = {
        for_recipient(NOTICE, notifier, who).id
        for notifier, who in [("mail", "anne"), ("mail", "ben"), ("hook", "anne"), ("mail", "anne")]
    }
    assert len(ids) == 3
    assert all(re.fullmatch(r"n\.1\.[0-9a-f]{10}", text) for text in ids)


def test_a_notice_goes_to_every_recipient_of_every_route(desk: Desk) -> None:
    post(desk.outbox, [route("mail", "anne", "ben"), route("hook", "controller")], NOTICE, START_US)
    post(desk.outbox, [route("mail", "anne", "ben")], NOTICE, START_US)
    assert list(zip(desk.column("notifier"), desk.column("recipient"), strict=True)) == [
        ("mail", "anne"), ("mail", "ben"), ("hook", "controller"),
    ]  # fmt: skip


def test_an_empty_outbox_needs_nothing(desk: Desk) -> None:
    dispatch(desk.outbox, route(), START_US)
    assert desk.column("id") == []


def test_too_many_messages_become_one_that_lists_them(desk: Desk) -> None:
    few = route(max_per_hour=2)
    desk.post("a", "b", "c", "d", to=few)
    dispatch(desk.outbox, few, START_US)
    assert desk.column("state") == ["ready", "merged", "merged", "merged", "ready"]
    assert desk.column("kind")[-1] == "overflow"
    assert desk.column("notice_id")[-1] == f"overflow.{START_US}.2"


def test_a_ready_message_that_nobody_fetched_yet_keeps_its_place_in_the_rate(desk: Desk) -> None:
    few = route(max_per_hour=2)
    for hour in range(5):
        desk.post(f"a{hour}", f"b{hour}", to=few, now_us=START_US + hour * HOUR_US)
        dispatch(desk.outbox, few, START_US + hour * HOUR_US)
    assert desk.column("state").count("ready") == 2


def test_a_message_that_was_sent_is_done(desk: Desk) -> None:
    desk.post("a")
    desk.deliver(Outcome.SENT, to=route(), now_us=START_US + 5)
    assert (desk.column("state"), desk.column("done_us"), desk.column("attempts")) == (["sent"], [START_US + 5], [1])


def test_a_message_that_was_refused_is_done_and_says_why(desk: Desk) -> None:
    desk.post("a")
    desk.deliver(Outcome.REFUSED, to=route())
    assert (desk.column("state"), desk.column("trouble")) == (["refused"], ["what it said"])


def test_a_receiver_that_wants_no_more_disables_its_notifier(desk: Desk) -> None:
    desk.post("a")
    desk.deliver(Outcome.GONE, to=route())
    assert desk.column("state") == ["refused"]
    assert desk.connection.execute("SELECT notifier, fingerprint, reason FROM disabled").fetchall() == [
        ("mail", "mark 1", "what it said")
    ]


def pause_s(desk: Desk, **more: Any) -> float:
    desk.deliver(Outcome.RETRY, to=route(), **more)
    return float(desk.column("next_us")[0] - START_US) / US_PER_S


def test_the_pause_between_attempts_grows_and_is_the_same_each_time_it_is_worked_out(desk: Desk) -> None:
    desk.post("a")
    desk.outbox.release([1], START_US)
    pauses = [pause_s(desk, attempts=attempts) for attempts in range(12)]
    assert pauses == [pause_s(desk, attempts=attempts) for attempts in range(12)]
    assert all(5.0 <= pause <= min(3600.0, 5.0 * 2 ** (n + 1)) for n, pause in enumerate(pauses))
    assert max(pauses) > 60.0
    assert desk.column("state") == ["ready"]


def test_a_receiver_that_asks_for_a_longer_pause_gets_it(desk: Desk) -> None:
    desk.post("a")
    assert pause_s(desk, retry_after_s=7200.0) == 7200.0
    assert pause_s(desk, retry_after_s=0.0) >= 5.0


def test_a_message_is_tried_for_seven_days_and_then_given_up(desk: Desk) -> None:
    assert GIVE_UP_US == 7 * DAY_US
    desk.post("a")
    desk.outbox.release([1], START_US)
    desk.deliver(Outcome.RETRY, to=route(), now_us=START_US + GIVE_UP_US)
    assert desk.column("state") == ["ready"]
    desk.deliver(Outcome.RETRY, to=route(), now_us=START_US + GIVE_UP_US + 1)
    assert desk.column("state") == ["refused"]
    assert desk.column("trouble") == ["given up after seven days: what it said"]


def test_the_end_of_a_notifier_that_the_configuration_no_longer_has_disables_nobody(desk: Desk) -> None:
    desk.post("a")
    desk.outbox.release([1], START_US)
    desk.deliver(Outcome.GONE, to=None)
    assert desk.column("state") == ["ready"]
    assert desk.connection.execute("SELECT count(*) FROM disabled").fetchone() == (0,)
