"""Messages on their way: order, rates, retries, disabled notifiers."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.contract import Notice, NoticeKind, Priority
from parchd.store.database import open_writer
from parchd.store.dispatch import Waiting
from parchd.store.outbox import RATE_WINDOW_US, Outbox, next_letter
from parchd.testing.site import START_US as NOW_US

ANNE, BEN = "anne@quillmere.example", "ben@quillmere.example"
NOTICE = Notice("n", NoticeKind.RAISED, NOW_US, "Quillmere Orchard", "Subject", "Summary", priority=Priority.MEDIUM)


class Post:
    """An outbox whose rows are known by letters."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.outbox = Outbox(connection)

    def add(self, *names: str, recipient: str = ANNE, notifier: str = "mail", now_us: int = NOW_US) -> None:
        for name in names:
            self.outbox.add(notifier, recipient, replace(NOTICE, id=name), now_us)

    def id(self, name: str) -> int:
        return int(self.connection.execute("SELECT id FROM outbox WHERE notice_id = ?", (name,)).fetchone()[0])

    def let_go(self, *names: str, now_us: int = NOW_US) -> None:
        self.outbox.release([self.id(name) for name in names], now_us)

    def next(self, now_us: int = NOW_US, notifier: str = "mail") -> str | None:
        letter = next_letter(self.connection, notifier, now_us)
        return None if letter is None else letter.notice.id

    def states(self) -> dict[str, str]:
        return dict(self.connection.execute("SELECT notice_id, state FROM outbox ORDER BY id"))


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    with closing(open_writer(tmp_path / "journal.db")) as connection:
        yield Post(connection)


def test_a_message_waits_until_it_is_let_go(post: Post) -> None:
    post.add("a")
    assert post.next() is None
    assert post.outbox.waiting("mail") == [Waiting(post.id("a"), ANNE, NoticeKind.RAISED, Priority.MEDIUM, NOW_US)]
    post.let_go("a")
    assert post.outbox.waiting("mail") == []
    letter = next_letter(post.connection, "mail", NOW_US)
    assert letter is not None
    assert (letter.row_id, letter.recipient, letter.attempts, letter.notice) == (
        post.id("a"), ANNE, 0, replace(NOTICE, id="a"),
    )  # fmt: skip


def test_a_message_with_a_known_id_is_queued_once(post: Post) -> None:
    post.add("a")
    post.let_go("a")
    post.add("a", now_us=NOW_US + 5)
    assert post.states() == {"a": "ready"}


def test_messages_to_one_recipient_leave_in_the_order_they_were_queued(post: Post) -> None:
    post.add("a", "b", "c")
    post.let_go("c", "b", "a")
    order = []
    while (name := post.next()) is not None:
        order.append(name)
        post.outbox.sent(post.id(name), NOW_US)
    assert order == ["a", "b", "c"]


def test_a_younger_message_waits_behind_an_older_one_that_is_tried_again(post: Post) -> None:
    post.add("a", "b")
    post.add("c", recipient=BEN)
    post.let_go("a", "b", "c")
    post.outbox.retry(post.id("a"), NOW_US + 60 * US_PER_S, "busy")
    assert post.next() == "c"
    post.outbox.sent(post.id("c"), NOW_US)
    assert post.next() is None
    assert post.next(NOW_US + 60 * US_PER_S) == "a"
    post.outbox.refused(post.id("a"), NOW_US, "no such address")
    assert post.next() == "b"


def test_a_message_that_still_waits_holds_up_nobody(post: Post) -> None:
    post.add("held", "b")
    post.let_go("b")
    assert post.next() == "b"


def test_each_attempt_is_counted_and_its_trouble_kept_until_it_is_sent(post: Post) -> None:
    post.add("a")
    post.let_go("a")
    post.outbox.retry(post.id("a"), NOW_US, "x" * 1000)
    query = "SELECT attempts, trouble, state, done_us FROM outbox"
    assert post.connection.execute(query).fetchone() == (1, "x" * 500, "ready", None)
    post.outbox.sent(post.id("a"), NOW_US + 7)
    assert post.connection.execute(query).fetchone() == (2, "", "sent", NOW_US + 7)


def test_one_notifier_does_not_see_the_messages_of_another(post: Post) -> None:
    post.add("a", notifier="hook")
    post.let_go("a")
    assert (post.next(), post.next(notifier="hook")) == (None, "a")


def test_a_disabled_notifier_sends_nothing_until_its_configuration_changes(post: Post) -> None:
    post.add("a")
    post.let_go("a")
    post.outbox.disable("mail", "mark 1", NOW_US, "410 Gone")
    post.outbox.enable_changed("mail", "mark 1")
    assert post.next() is None
    post.outbox.enable_changed("hook", "mark 2")
    assert post.next() is None
    post.outbox.enable_changed("mail", "mark 2")
    assert post.next() == "a"


def test_what_was_sent_within_the_hour_and_what_is_on_its_way_counts_against_the_rate(post: Post) -> None:
    post.add("old", "new", "going", "waiting", "refused", "merged")
    post.add("hers", recipient=BEN)
    post.outbox.sent(post.id("old"), NOW_US - RATE_WINDOW_US)
    post.outbox.sent(post.id("new"), NOW_US - RATE_WINDOW_US + 1)
    post.let_go("going", "hers", now_us=NOW_US - 5 * RATE_WINDOW_US)
    post.outbox.refused(post.id("refused"), NOW_US, "no")
    post.outbox.merged([post.id("merged")], NOW_US)
    released = {recipient: sorted(times) for recipient, times in post.outbox.released_us("mail", NOW_US).items()}
    assert released == {ANNE: [NOW_US - RATE_WINDOW_US + 1, NOW_US], BEN: [NOW_US]}


def test_what_a_wrong_clock_sent_in_the_future_does_not_silence_alarms(post: Post) -> None:
    post.add("future")
    post.outbox.sent(post.id("future"), NOW_US + 1)
    assert post.outbox.released_us("mail", NOW_US) == {}


SPAN_US = (NOW_US, NOW_US + 100)
LATER_US = NOW_US + 9 * 86_400 * US_PER_S


def done(post: Post) -> None:
    """A sent, a refused, a merged, a waiting and a ready message of the span, and a sent one from before."""
    post.add("early", now_us=NOW_US - 1)
    post.add("sent", "refused", "merged", "waiting", "ready")
    post.let_go("early", "sent", "refused", "ready")
    post.outbox.sent(post.id("early"), NOW_US)
    post.outbox.sent(post.id("sent"), NOW_US)
    post.outbox.refused(post.id("refused"), NOW_US, "given up after seven days")
    post.outbox.merged([post.id("merged")], NOW_US)


@pytest.mark.parametrize(("undelivered", "again"), [(False, ["sent", "refused"]), (True, ["refused"])])
def test_messages_of_a_span_can_be_asked_for_again(post: Post, undelivered: bool, again: list[str]) -> None:
    done(post)
    before = post.states()
    assert post.outbox.again("hook", SPAN_US, LATER_US, undelivered=undelivered) == 0
    assert post.outbox.again("mail", SPAN_US, LATER_US, undelivered=undelivered) == len(again)
    assert post.states() == before | dict.fromkeys(again, "ready")
    order = []
    while (name := post.next(LATER_US)) is not None:
        order.append(name)
        post.outbox.sent(post.id(name), LATER_US)
    assert order == ["ready", *again], "what is new goes first"


def test_a_message_that_is_sent_again_starts_anew(post: Post) -> None:
    done(post)
    post.outbox.again("mail", SPAN_US, LATER_US, undelivered=True)
    row = post.connection.execute(
        "SELECT attempts, trouble, done_us FROM outbox WHERE notice_id = 'refused'"
    ).fetchone()
    assert row == (0, "", None)
    assert post.outbox.created_us(post.id("refused")) == LATER_US, "it is tried for seven days from now"
    assert post.outbox.created_us(post.id("sent")) == NOW_US


def test_a_new_message_passes_one_that_is_being_tried_again(post: Post) -> None:
    done(post)
    post.outbox.again("mail", SPAN_US, LATER_US, undelivered=False)
    post.outbox.sent(post.id("ready"), LATER_US)
    post.outbox.retry(post.id("sent"), LATER_US + 60 * US_PER_S, "busy")
    assert post.next(LATER_US) is None, "among themselves they keep their order"
    post.add("new", now_us=LATER_US)
    post.let_go("new", now_us=LATER_US)
    assert post.next(LATER_US) == "new"


def test_what_was_asked_for_again_does_not_use_up_the_rate(post: Post) -> None:
    done(post)
    post.outbox.sent(post.id("ready"), NOW_US)
    post.outbox.again("mail", SPAN_US, LATER_US, undelivered=False)
    assert post.outbox.released_us("mail", LATER_US) == {}
    post.outbox.sent(post.id("sent"), LATER_US)
    assert post.outbox.released_us("mail", LATER_US) == {}


def test_only_messages_that_are_done_with_are_forgotten(post: Post) -> None:
    post.add("waiting", "ready", "sent", "merged", "refused", "fresh", now_us=NOW_US - 100)
    post.let_go("ready", now_us=NOW_US - 100)
    post.outbox.sent(post.id("sent"), NOW_US - 1)
    post.outbox.merged([post.id("merged")], NOW_US - 1)
    post.outbox.refused(post.id("refused"), NOW_US - 1, "no")
    post.outbox.sent(post.id("fresh"), NOW_US)
    post.outbox.forget_before(NOW_US)
    assert post.states() == {"waiting": "waiting", "ready": "ready", "fresh": "sent"}


def test_notices_come_back_in_the_order_they_are_asked_for(post: Post) -> None:
    post.add("a", "b", "c")
    names = ["c", "a", "b"]
    assert [notice.id for notice in post.outbox.notices(map(post.id, names))] == names


def test_the_age_of_a_message_is_known_as_long_as_it_is_there(post: Post) -> None:
    post.add("a", now_us=NOW_US - 5)
    assert post.outbox.created_us(post.id("a")) == NOW_US - 5
    assert post.outbox.created_us(999) is None


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(["sent", "retry", "refused"]), max_size=30), st.integers(1, 8))
def test_every_recipient_gets_every_message_in_order_whatever_goes_wrong(outcomes: list[str], count: int) -> None:
    with closing(open_writer(Path(":memory:"))) as connection:
        post, now_us = Post(connection), NOW_US
        names = {recipient: [f"{recipient[0]}{n}" for n in range(count)] for recipient in (ANNE, BEN)}
        for n in range(count):
            for recipient, mine in names.items():
                post.add(mine[n], recipient=recipient)
        post.let_go(*names[ANNE], *names[BEN])
        done: list[str] = []
        story = iter(outcomes)
        while any(state == "ready" for state in post.states().values()):
            now_us += 60 * US_PER_S
            letter = next_letter(connection, "mail", now_us)
            assert letter is not None
            match next(story, "sent"):
                case "retry":
                    post.outbox.retry(letter.row_id, now_us + 30 * US_PER_S, "busy")
                    continue
                case "refused":
                    post.outbox.refused(letter.row_id, now_us, "no")
                case _:
                    post.outbox.sent(letter.row_id, now_us)
            done.append(letter.notice.id)
        for mine in names.values():
            assert [name for name in done if name in mine] == mine
