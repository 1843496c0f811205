"""Can the time of day be believed?"""

from hypothesis import given
from hypothesis import strategies as st

from parchd.app.clock_trust import ACCEPT_AFTER_US, EARLIEST_US, STEP_BACK_US, ClockTrust
from parchd.clock import US_PER_S

NOW_US = EARLIEST_US + 10_000_000 * US_PER_S


def after(trust: ClockTrust, *times_us: int) -> ClockTrust:
    for now_us in times_us:
        trust = trust.observe(now_us)
    return trust


def test_a_clock_before_parchd_was_written_is_never_believed() -> None:
    trust = after(ClockTrust(), *(second * US_PER_S for second in range(0, 7200, 60)))
    assert not trust.is_trusted(7200 * US_PER_S)
    assert trust.is_trusted(NOW_US)


def test_a_clock_may_step_back_by_a_minute_and_no_more() -> None:
    trust = after(ClockTrust(), NOW_US)
    assert trust.is_trusted(NOW_US - STEP_BACK_US)
    assert not trust.is_trusted(NOW_US - STEP_BACK_US - 1)


def test_a_clock_that_runs_on_from_an_earlier_time_is_accepted_after_ten_minutes() -> None:
    back_us = NOW_US - 3600 * US_PER_S
    trust = after(ClockTrust(), NOW_US, back_us, back_us + ACCEPT_AFTER_US - 1)
    assert not trust.is_trusted(back_us + ACCEPT_AFTER_US - 1)
    trust = trust.observe(back_us + ACCEPT_AFTER_US)
    assert trust == ClockTrust(back_us + ACCEPT_AFTER_US)
    assert trust.is_trusted(back_us + ACCEPT_AFTER_US)


def test_a_clock_that_steps_back_again_starts_its_ten_minutes_over() -> None:
    first_us, second_us = NOW_US - 3600 * US_PER_S, NOW_US - 7200 * US_PER_S
    trust = after(ClockTrust(), NOW_US, first_us, second_us, first_us)
    assert trust == ClockTrust(first_us)  # an hour after the second step
    trust = after(ClockTrust(), NOW_US, first_us, second_us, second_us + ACCEPT_AFTER_US - 1)
    assert not trust.is_trusted(second_us + ACCEPT_AFTER_US)


def test_a_board_that_starts_in_1970_is_never_accepted_there() -> None:
    trust = after(ClockTrust(NOW_US), *(minute * 60 * US_PER_S for minute in range(120)))
    assert trust.highest_us == NOW_US


def test_a_clock_that_is_right_again_at_once_is_believed_at_once() -> None:
    trust = after(ClockTrust(), NOW_US, NOW_US - 3600 * US_PER_S, NOW_US + US_PER_S)
    assert trust == ClockTrust(NOW_US + US_PER_S)


@given(st.lists(st.integers(EARLIEST_US, 2 * NOW_US), min_size=1))
def test_a_time_that_was_observed_last_and_is_the_highest_is_believed(times_us: list[int]) -> None:
    trust = after(ClockTrust(), *times_us, max(times_us))
    assert trust.is_trusted(max(times_us))


@given(st.lists(st.integers(0, 3600 * US_PER_S), max_size=30))
def test_a_clock_that_only_runs_forward_is_always_believed(steps_us: list[int]) -> None:
    trust, now_us = ClockTrust(), NOW_US
    for step_us in steps_us:
        now_us += step_us
        assert trust.is_trusted(now_us)
        trust = trust.observe(now_us)
        assert trust == ClockTrust(now_us)
