"""Batches, and the acknowledgements that follow their commits."""

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Sample, SampleBatch, Unit
from parchd_adapters.mqtt.inbox import BATCH_SAMPLES, MOST_HELD, Inbox

SAMPLE = Sample("north", 1, 2.5, Unit.V)


class Daemon:
    """Takes batches and commits them when told, in any order."""

    def __init__(self) -> None:
        self.taken: list[SampleBatch] = []
        self.takes = True
        self.rung = 0

    def offer(self, batch: SampleBatch) -> bool:
        if self.takes:
            self.taken.append(batch)
        return self.takes

    def ring(self) -> None:
        self.rung += 1

    def commit(self, number: int) -> None:
        committed: Callable[[], None] | None = self.taken[number].on_committed
        assert committed is not None
        committed()


def handed(inbox: Inbox, daemon: Daemon, *mids: int, samples: int = 1) -> None:
    for mid in mids:
        inbox.add([SAMPLE] * samples, mid)
    inbox.close()
    inbox.hand_over(daemon.offer, urgent=False)


def test_nothing_is_acknowledged_before_its_batch_is_committed() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    handed(inbox, daemon, 1, 2)
    assert inbox.acknowledgeable() == []
    daemon.commit(0)
    assert daemon.rung == 1
    assert inbox.acknowledgeable() == [1, 2]
    assert inbox.acknowledgeable() == []
    assert (inbox.unacknowledged, inbox.held) == (0, 0)


def test_a_message_that_is_held_is_acknowledged_in_its_turn_once_it_is_committed() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    inbox.add([SAMPLE], 1)
    receipt = inbox.hold(2)
    inbox.add([SAMPLE], 3)
    inbox.close()
    assert inbox.hand_over(daemon.offer, urgent=False)
    daemon.commit(0)
    daemon.commit(1)
    assert inbox.acknowledgeable() == [1]
    receipt.commit()
    assert inbox.acknowledgeable() == [2, 3]
    assert (inbox.unacknowledged, inbox.held) == (0, 0)


def test_acknowledgements_keep_the_order_of_arrival() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    handed(inbox, daemon, 1)
    handed(inbox, daemon, 2)
    daemon.commit(1)
    assert inbox.acknowledgeable() == []
    daemon.commit(0)
    assert inbox.acknowledgeable() == [1, 2]


def test_a_message_that_made_no_sample_is_acknowledged_after_those_before_it() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    handed(inbox, daemon, 1)
    handed(inbox, daemon, 2, samples=0)
    assert len(daemon.taken) == 1
    assert inbox.acknowledgeable() == []
    daemon.commit(0)
    assert inbox.acknowledgeable() == [1, 2]


def test_a_batch_that_is_not_taken_stays_and_keeps_its_place() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    daemon.takes = False
    handed(inbox, daemon, 1)
    handed(inbox, daemon, 2)
    assert not daemon.taken
    daemon.takes = True
    assert inbox.hand_over(daemon.offer, urgent=True)
    assert [batch.urgent for batch in daemon.taken] == [True, True]
    daemon.commit(0)
    daemon.commit(1)
    assert inbox.acknowledgeable() == [1, 2]


def test_messages_of_qos_0_are_handed_over_and_never_acknowledged() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    inbox.add([SAMPLE], None)
    inbox.close()
    inbox.hand_over(daemon.offer, urgent=False)
    daemon.commit(0)
    assert inbox.acknowledgeable() == []
    assert inbox.held == 0


def test_values_of_one_message_stay_in_one_batch() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    for mid in range(1, 10):
        inbox.add([SAMPLE] * 300, mid)
    inbox.close()
    inbox.hand_over(daemon.offer, urgent=False)
    assert [len(batch.samples) for batch in daemon.taken] == [600, 600, 600, 600, 300]


def test_a_flood_of_broken_messages_makes_one_count_for_each_reason() -> None:
    inbox = Inbox("field", Daemon().ring)
    for _ in range(10_000):
        inbox.reject("payload is no JSON", "farm/" + "x" * 1000, b"\xff" * 60_000)
    ((reason, count, example),) = inbox.take_rejects()
    assert (reason, count) == ("payload is no JSON", 10_000)
    assert len(example) < 700
    assert inbox.take_rejects() == []


def test_what_is_held_while_the_daemon_is_behind_is_bounded() -> None:
    daemon = Daemon()
    daemon.takes = False
    inbox = Inbox("field", daemon.ring)
    for mid in range(MOST_HELD):
        assert not inbox.is_full
        inbox.add([SAMPLE], mid)
    assert inbox.is_full


@given(
    st.lists(st.tuples(st.sampled_from(["add", "broken", "close", "commit", "ack"]), st.integers(0, 50)), max_size=80)
)
def test_whatever_happens_acknowledgements_are_a_prefix_of_what_arrived_and_committed(
    steps: list[tuple[str, int]],
) -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    arrived: list[int] = []
    stored: dict[int, int] = {}  # message -> number of its batch
    acknowledged: list[int] = []
    committed: set[int] = set()
    gathering: list[int] = []
    for step, number in steps:
        if step in ("add", "broken"):
            arrived.append(len(arrived))
            inbox.add([SAMPLE] if step == "add" else [], arrived[-1])
            gathering += [arrived[-1]] if step == "add" else []
        elif step == "close":
            stored.update(dict.fromkeys(gathering, len(daemon.taken)))
            gathering = []
            inbox.close()
            inbox.hand_over(daemon.offer, urgent=False)
        elif step == "commit" and daemon.taken:
            committed.add(number % len(daemon.taken))
            daemon.commit(number % len(daemon.taken))
        elif step == "ack":
            acknowledged += inbox.acknowledgeable()
    assert acknowledged == arrived[: len(acknowledged)]
    assert {stored[message] for message in acknowledged if message in stored} <= committed
    assert not set(acknowledged) & set(gathering)
    assert inbox.unacknowledged == len(arrived) - len(acknowledged)


def test_a_batch_is_closed_before_it_grows_large() -> None:
    daemon = Daemon()
    inbox = Inbox("field", daemon.ring)
    for mid in range(2 * BATCH_SAMPLES):
        inbox.add([SAMPLE], mid)
    inbox.hand_over(daemon.offer, urgent=False)
    assert [len(batch.samples) for batch in daemon.taken] == [BATCH_SAMPLES, BATCH_SAMPLES]


def test_what_the_broker_keeps_may_wait_and_what_nobody_keeps_may_not() -> None:
    inbox, daemon = Inbox("field", lambda: None), Daemon()
    assert not inbox.has_gathered
    inbox.add([SAMPLE], 1)
    assert inbox.has_gathered
    assert inbox.may_wait
    inbox.add([SAMPLE], None)
    assert not inbox.may_wait
    handed(inbox, daemon)
    inbox.add([SAMPLE], 2)
    assert inbox.may_wait


def test_a_batch_that_was_not_taken_waits_no_longer_than_it_must() -> None:
    inbox, daemon = Inbox("field", lambda: None), Daemon()
    daemon.takes = False
    handed(inbox, daemon, 1)
    assert inbox.has_gathered
    assert not inbox.may_wait
