"""When commits are urgent, when the past is over, and the stamps of messages without a time."""

import math
import random
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.testing import FakeClock
from parchd_adapters.mqtt.pace import URGENT_AT, Backlog, Pace
from parchd_adapters.mqtt.receiver import Stamps


class Broker:
    """Sends what it keeps as far as its window allows, and answers a probe after that."""

    def __init__(self, window: int, kept: int) -> None:
        self.window = window
        self.kept = kept
        self.on_their_way = 0

    def send(self) -> int:
        count = min(self.kept, self.window - self.on_their_way)
        self.kept -= count
        self.on_their_way += count
        return count


@given(window=st.integers(1, 60), kept=st.integers(0, 500), share=st.floats(0.01, 1.0), late=st.integers(0, 100))
def test_the_backlog_is_over_only_when_the_broker_keeps_nothing_more(
    window: int, kept: int, share: float, late: int
) -> None:
    broker, backlog = Broker(window, kept), Backlog()
    unacknowledged, turns = 0, 0
    while not backlog.is_over:
        if (count := broker.send()) > 0:
            unacknowledged += count
            backlog.received(count, unacknowledged)
        acknowledged = max(1, int(share * unacknowledged)) if unacknowledged else 0
        unacknowledged -= acknowledged
        broker.on_their_way -= acknowledged
        if backlog.wants_probe:
            backlog.probed(unacknowledged)
            if (count := broker.send()) > 0:
                unacknowledged += count
                backlog.received(count, unacknowledged)
            was_kept = broker.kept
            broker.kept += late if turns == 0 else 0
            backlog.answered()
            assert not (backlog.is_over and was_kept)
        turns += 1
        assert turns < 2000


def test_an_answer_without_a_question_ends_nothing() -> None:
    backlog = Backlog()
    backlog.answered()
    assert not backlog.is_over


def test_few_messages_on_their_way_need_no_haste_and_many_do() -> None:
    pace = Pace(0)
    assert not pace.is_urgent(URGENT_AT - 1)
    assert pace.is_urgent(URGENT_AT)


def test_many_is_half_of_the_most_that_were_on_their_way_at_once() -> None:
    pace = Pace(0)
    assert pace.is_urgent(400)
    assert not pace.is_urgent(199)
    assert pace.is_urgent(200)


def stall(pace: Pace, clock: FakeClock, window: int) -> None:
    """A window that is full, a commit a second later, and the next message at once."""
    clock.advance(1.0)
    pace.acknowledged(clock.monotonic_s(), window)
    clock.advance(0.002)
    pace.received(clock.monotonic_s())


def test_a_small_window_is_found_by_its_stalls() -> None:
    pace, clock = Pace(5.0), FakeClock()
    pace.received(clock.monotonic_s())
    for _ in range(10):
        assert not pace.is_urgent(2)
        stall(pace, clock, window=2)
    assert pace.is_urgent(2)
    assert not pace.is_urgent(1)


def test_a_steady_trickle_is_not_taken_for_stalls() -> None:
    pace, clock = Pace(5.0), FakeClock()
    for _ in range(200):
        clock.advance(0.35)
        pace.received(clock.monotonic_s())
        clock.advance(0.25)
        pace.acknowledged(clock.monotonic_s(), 1)
    assert not pace.is_urgent(1)


def test_one_pause_between_stalls_starts_the_count_again() -> None:
    pace, clock = Pace(5.0), FakeClock()
    pace.received(clock.monotonic_s())
    for _ in range(5):
        for _ in range(9):
            stall(pace, clock, window=1)
        clock.advance(1.0)
        pace.acknowledged(clock.monotonic_s(), 1)
        clock.advance(5.0)
        pace.received(clock.monotonic_s())
    assert not pace.is_urgent(1)


def lives(pace: Pace, gaps_s: Iterable[float]) -> list[int]:
    """Let single messages come, each so long after the one before; return how many each commit holds."""
    commits, waiting, now_s, due_s, commit_s = [], 0, 0.0, 0.0, math.inf
    for gap_s in gaps_s:
        now_s += gap_s
        if commit_s <= now_s:
            pace.acknowledged(commit_s, waiting)
            commits.append(waiting)
            waiting, commit_s = 0, math.inf
        waiting += 1
        pace.received(now_s)
        if not waiting - 1:
            handed_s = now_s if pace.is_time(now_s) else due_s
            pace.handed_over(handed_s)
            due_s, commit_s = handed_s + 5.0, handed_s + 0.5
        if pace.is_urgent(waiting):
            commit_s = min(commit_s, now_s + 0.003)
    return commits


@pytest.mark.parametrize("gap_s", [0.35, 0.5, 0.55, 0.6, 0.7, 1.0])
def test_a_trickle_at_a_steady_pace_is_gathered_for_ever(gap_s: float) -> None:
    commits = lives(Pace(5.0), [gap_s] * 20_000)
    assert min(commits[-100:]) >= min(URGENT_AT, int(5.0 / gap_s)) - 1


@pytest.mark.parametrize("seed", range(3))
def test_sensors_that_know_nothing_of_each_other_are_not_taken_for_stalls(seed: int) -> None:
    """A hundred sensors, a reading a minute each, for six hours: commits of seven on average."""
    chance = random.Random(seed)
    commits = lives(Pace(5.0), [chance.expovariate(100 / 60) for _ in range(36_000)])
    assert sum(commits) / len(commits) > 7.0


def test_the_first_message_after_a_pause_goes_at_once_and_the_next_ones_gather() -> None:
    pace = Pace(5.0)
    assert pace.is_time(100.0)
    pace.handed_over(100.0)
    assert not pace.is_time(104.9)
    assert pace.is_time(105.0)


@given(st.lists(st.sampled_from([0.0, 0.0, 0.000_001, 0.5, -0.2]), min_size=2, max_size=50))
def test_stamps_grow_even_when_the_clock_stands_or_slips(steps: list[float]) -> None:
    clock = FakeClock()
    stamps = Stamps(clock.now_us)
    given_out = [stamps.next_us()]
    for step in steps:
        clock.step(max(step, (given_out[-1] - clock.now_us()) / 1e6 - 0.9))
        given_out.append(stamps.next_us())
    assert sorted(set(given_out)) == given_out


def test_a_clock_that_was_set_back_is_followed() -> None:
    clock = FakeClock()
    stamps = Stamps(clock.now_us)
    stamps.next_us()
    clock.step(-3600)
    assert stamps.next_us() == clock.now_us()
