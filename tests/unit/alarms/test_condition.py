"""One condition with its delays, step by step."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.condition import NORMAL, Change, Condition, Phase, advance
from parchd.alarms.rules import Delays
from parchd.clock import US_PER_S

ON, OFF, NEITHER = (True, False), (False, True), (False, False)
AT_ONCE = Delays()
BY_TIME = Delays(on_s=60, off_s=120)
BY_COUNT = Delays(on_count=3, off_count=2)

PENDING = Condition(Phase.RAISING, 0, 1)
ACTIVE = Condition(Phase.ACTIVE, 0, 0, 0)
LEAVING = Condition(Phase.CLEARING, 0, 1, 0)


def seconds(value: float) -> int:
    return round(value * US_PER_S)


def follow(delays: Delays, *steps: tuple[float, tuple[bool, bool]]) -> list[str]:
    """Phase after each step, with a mark where something changed for people."""
    condition, seen = NORMAL, []
    for at_s, (on, off) in steps:
        condition, change = advance(condition, delays, on=on, off=off, time_us=seconds(at_s))
        seen.append(condition.phase.value + {None: "", Change.RAISED: "!", Change.CLEARED: "."}[change])
    return seen


@pytest.mark.parametrize(
    ("start", "delays", "says", "phase", "change"),
    [
        (NORMAL, AT_ONCE, ON, Phase.ACTIVE, Change.RAISED),
        (NORMAL, AT_ONCE, OFF, Phase.NORMAL, None),
        (NORMAL, AT_ONCE, NEITHER, Phase.NORMAL, None),
        (NORMAL, BY_TIME, ON, Phase.RAISING, None),
        (NORMAL, BY_COUNT, ON, Phase.RAISING, None),
        (PENDING, BY_TIME, ON, Phase.ACTIVE, Change.RAISED),
        (PENDING, BY_COUNT, ON, Phase.RAISING, None),
        (PENDING, BY_TIME, OFF, Phase.NORMAL, None),
        (PENDING, BY_TIME, NEITHER, Phase.NORMAL, None),
        (ACTIVE, AT_ONCE, ON, Phase.ACTIVE, None),
        (ACTIVE, AT_ONCE, NEITHER, Phase.ACTIVE, None),
        (ACTIVE, AT_ONCE, OFF, Phase.NORMAL, Change.CLEARED),
        (ACTIVE, BY_TIME, OFF, Phase.CLEARING, None),
        (ACTIVE, BY_COUNT, OFF, Phase.CLEARING, None),
        (LEAVING, BY_TIME, ON, Phase.ACTIVE, None),
        (LEAVING, BY_TIME, NEITHER, Phase.ACTIVE, None),
        (LEAVING, BY_TIME, OFF, Phase.CLEARING, None),
        (LEAVING, BY_COUNT, OFF, Phase.NORMAL, Change.CLEARED),
    ],
)
def test_one_step_from_every_phase(
    start: Condition, delays: Delays, says: tuple[bool, bool], phase: Phase, change: Change | None
) -> None:
    on, off = says
    after, changed = advance(start, delays, on=on, off=off, time_us=seconds(60))
    assert (after.phase, changed) == (phase, change)


def test_the_on_delay_ends_at_its_second_and_not_before() -> None:
    assert follow(BY_TIME, (0, ON), (59.999999, ON), (60, ON)) == ["raising", "raising", "active!"]


def test_the_off_delay_ends_at_its_second_and_not_before() -> None:
    seen = follow(BY_TIME, (0, ON), (60, ON), (100, OFF), (219.999999, OFF), (220, OFF))
    assert seen[2:] == ["clearing", "clearing", "normal."]


def test_so_many_observations_in_a_row_raise_and_clear() -> None:
    seen = follow(BY_COUNT, (0, ON), (1, ON), (2, ON), (3, OFF), (4, OFF))
    assert seen == ["raising", "raising", "active!", "clearing", "normal."]


@pytest.mark.parametrize("breaker", [OFF, NEITHER])
def test_the_on_delay_starts_over_after_anything_but_on(breaker: tuple[bool, bool]) -> None:
    assert follow(BY_TIME, (0, ON), (50, breaker), (60, ON), (119, ON), (120, ON))[1:] == [
        "normal", "raising", "raising", "active!",
    ]  # fmt: skip


@pytest.mark.parametrize("breaker", [ON, NEITHER])
def test_the_off_delay_starts_over_after_anything_but_off(breaker: tuple[bool, bool]) -> None:
    seen = follow(BY_COUNT, (0, ON), (1, ON), (2, ON), (3, OFF), (4, breaker), (5, OFF), (6, OFF))
    assert seen[3:] == ["clearing", "active", "clearing", "normal."]


def test_both_delays_must_have_run_out() -> None:
    both = Delays(on_s=60, on_count=3)
    assert follow(both, (0, ON), (60, ON), (61, ON))[1:] == ["raising", "active!"]
    assert follow(both, (0, ON), (1, ON), (2, ON), (60, ON))[2:] == ["raising", "active!"]


def test_silence_between_observations_neither_raises_nor_clears() -> None:
    assert follow(BY_TIME, (0, ON), (86_400, NEITHER)) == ["raising", "normal"]
    assert follow(BY_TIME, (0, ON), (60, ON), (70, OFF), (86_400, NEITHER))[2:] == ["clearing", "active"]


def test_the_episode_keeps_the_time_it_was_raised_until_it_is_over() -> None:
    condition = NORMAL
    raised = []
    for at_s, (on, off) in [(5, ON), (6, NEITHER), (7, OFF), (8, ON), (9, OFF), (10, OFF)]:
        condition, _ = advance(condition, Delays(off_count=2), on=on, off=off, time_us=seconds(at_s))
        raised.append(condition.raised_us)
    assert raised == [seconds(5)] * 5 + [None]


observations = st.lists(st.tuples(st.sampled_from([ON, OFF, NEITHER]), st.integers(0, 90)), max_size=40)
delays = st.builds(Delays, st.floats(0, 200), st.floats(0, 200), st.integers(1, 4), st.integers(1, 4))


@given(observations, delays)
def test_an_alarm_is_raised_and_cleared_by_turns_and_told_exactly_when_it_changes(
    steps: list[tuple[tuple[bool, bool], int]], delays: Delays
) -> None:
    condition, now_us, changes = NORMAL, 0, []
    for (on, off), pause_s in steps:
        now_us += seconds(pause_s)
        before = condition
        condition, change = advance(condition, delays, on=on, off=off, time_us=now_us)
        assert (change is not None) == (before.phase.is_active != condition.phase.is_active)
        assert condition.phase.is_active == (condition.raised_us is not None)
        changes += [change] if change else []
    assert changes[::2] == [Change.RAISED] * len(changes[::2])
    assert changes[1::2] == [Change.CLEARED] * len(changes[1::2])


@given(observations, delays)
def test_an_alarm_is_raised_only_after_enough_of_the_same_in_a_row(
    steps: list[tuple[tuple[bool, bool], int]], delays: Delays
) -> None:
    condition, now_us = NORMAL, 0
    run: list[int] = []
    for (on, off), pause_s in steps:
        now_us += seconds(pause_s)
        run = [*run, now_us] if on else []
        condition, change = advance(condition, delays, on=on, off=off, time_us=now_us)
        if change is Change.RAISED:
            assert len(run) >= delays.on_count
            assert now_us - run[0] >= delays.on_s * US_PER_S
