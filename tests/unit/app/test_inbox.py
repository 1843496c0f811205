"""The queue in front of the engine: grouping, urgency, back-pressure."""

import threading
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.app.inbox import MAX_GROUP_SAMPLES, MAX_WAITING_SAMPLES, Inbox
from parchd.app.messages import Message, SinkProgress, Tick
from parchd.clock import SystemClock
from parchd.contract import SampleBatch
from parchd.store.cursors import Cursor
from parchd.testing import FakeClock
from parchd.testing.site import START_US, batch, sample

GROUP_S = 0.5
ONE = sample("n20", START_US, 30.0)


def of(size: int, *, urgent: bool = False) -> SampleBatch:
    return batch(*[ONE] * size, urgent=urgent)


class Bank:
    """An inbox on a clock that stands still."""

    def __init__(self) -> None:
        self.clock = FakeClock()
        self.inbox = Inbox(GROUP_S, self.clock)

    def put(self, *batches: SampleBatch) -> list[bool]:
        return [self.inbox.put(taken, timeout_s=0.0) for taken in batches]

    def take(self) -> list[object]:
        return list(self.inbox.take(timeout_s=0.0))


@pytest.fixture
def bank() -> Bank:
    return Bank()


def test_an_empty_inbox_gives_nothing(bank: Bank) -> None:
    assert bank.inbox.is_empty
    assert bank.take() == []


def test_batches_are_gathered_until_the_first_has_waited_long_enough(bank: Bank) -> None:
    first, second = of(1), of(2)
    bank.put(first)
    bank.clock.advance(GROUP_S - 0.01)
    bank.put(second)
    assert bank.take() == []
    bank.clock.advance(0.02)
    assert bank.take() == [first, second]
    assert bank.inbox.is_empty


def test_the_next_group_waits_from_its_own_first_batch_on(bank: Bank) -> None:
    bank.put(of(1))
    bank.clock.advance(GROUP_S)
    bank.take()
    bank.put(of(2))
    bank.clock.advance(GROUP_S / 2)
    assert bank.take() == []


def test_an_urgent_batch_takes_all_before_and_after_it_along_at_once(bank: Bank) -> None:
    three = [of(1), of(2, urgent=True), of(3)]
    bank.put(*three)
    assert bank.take() == three
    bank.put(of(4))
    assert bank.take() == []


def test_enough_samples_go_at_once(bank: Bank) -> None:
    bank.put(of(MAX_GROUP_SAMPLES - 1))
    assert bank.take() == []
    bank.put(of(1))
    assert len(bank.take()) == 2


def test_a_group_is_not_larger_than_it_must_be_and_the_rest_follows_at_once(bank: Bank) -> None:
    half = MAX_GROUP_SAMPLES // 2
    batches = [of(half), of(half), of(half), of(1, urgent=True)]
    bank.put(*batches)
    assert bank.take() == batches[:2]
    assert bank.take() == batches[2:]


def test_control_comes_first_and_does_not_hurry_the_samples(bank: Bank) -> None:
    taken, progress = of(1), SinkProgress("farm", Cursor(1))
    bank.put(taken)
    bank.inbox.tell(progress)
    assert bank.take() == [progress]
    bank.clock.advance(GROUP_S)
    bank.inbox.tell(progress)
    assert bank.take() == [progress, taken]


def test_an_engine_that_is_behind_is_told_once_that_time_has_passed(bank: Bank) -> None:
    for message in (Tick(), SinkProgress("a", Cursor(1)), Tick(), SinkProgress("a", Cursor(1))):
        bank.inbox.tell(message)
    assert bank.take() == [Tick(), SinkProgress("a", Cursor(1)), SinkProgress("a", Cursor(1))]
    bank.inbox.tell(Tick())
    assert bank.take() == [Tick()]


def test_a_full_inbox_takes_no_more_samples_but_every_control_message(bank: Bank) -> None:
    assert all(bank.put(*[of(1000)] * (MAX_WAITING_SAMPLES // 1000)))
    assert bank.put(of(1)) == [False]
    bank.inbox.tell(Tick())
    assert bank.take()[0] == Tick()
    assert bank.put(of(1)) == [True]


def test_nothing_is_lost_however_much_is_put(bank: Bank) -> None:
    accepted = sum(bank.put(*[of(700)] * 100))
    taken = 0
    bank.clock.advance(GROUP_S)
    while group := bank.take():
        taken += len(group)
    assert taken == accepted == -(-MAX_WAITING_SAMPLES // 700)


@given(st.lists(st.one_of(st.integers(1, 3000), st.just("take"), st.just("wait")), max_size=40))
def test_batches_come_out_in_the_order_they_went_in(story: list[int | str]) -> None:
    bank, wanted, taken = Bank(), [], []
    for n, step in enumerate(story):
        if step == "take":
            taken += bank.take()
        elif step == "wait":
            bank.clock.advance(GROUP_S)
        elif isinstance(step, int):
            made = batch(*[sample(f"c{n}", START_US, 1.0)] * step)
            wanted += [made] if bank.put(made) == [True] else []
    bank.clock.advance(GROUP_S)
    while group := bank.take():
        taken += group
    assert taken == wanted


def aside(work: Callable[[], None]) -> threading.Thread:
    thread = threading.Thread(target=work)
    thread.start()
    return thread


def test_a_sender_held_up_by_a_full_inbox_goes_on_when_the_engine_takes() -> None:
    inbox, accepted = Inbox(0.0, SystemClock()), []
    while inbox.put(of(1000), 0.0):
        pass
    thread = aside(lambda: accepted.append(inbox.put(of(1), 10.0)))
    while not inbox.take(0.0):
        pass
    thread.join(10.0)
    assert accepted == [True]


@pytest.mark.parametrize("message", [Tick(), of(1, urgent=True)], ids=["control", "urgent"])
def test_a_waiting_engine_is_woken_at_once(message: object) -> None:
    inbox, taken = Inbox(60.0, SystemClock()), []
    thread = aside(lambda: taken.extend(inbox.take(60.0)))
    if isinstance(message, SampleBatch):
        inbox.put(message, 0.0)
    else:
        inbox.tell(Tick())
    thread.join(10.0)
    assert taken == [message]


def test_a_waiting_engine_gets_a_lonely_batch_when_it_is_due_and_not_before() -> None:
    clock = SystemClock()
    inbox, taken = Inbox(0.1, clock), of(1)
    seen: list[tuple[list[Message], float]] = []
    start_s = clock.monotonic_s()
    thread = aside(lambda: seen.append((inbox.take(60.0), clock.monotonic_s())))
    inbox.put(taken, 0.0)
    thread.join(10.0)
    ((group, end_s),) = seen
    assert group == [taken]
    assert end_s - start_s >= 0.1
