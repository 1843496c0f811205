"""Reading the time, and turning it into dates and back."""

import time
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import US_PER_S, Clock, ScaledClock, SystemClock, from_datetime, to_datetime
from parchd.testing import FakeClock

CENTURY_US = 100 * 365 * 86_400 * US_PER_S


@given(st.integers(-CENTURY_US, 2 * CENTURY_US))
def test_a_time_survives_the_way_to_a_datetime_and_back(time_us: int) -> None:
    assert from_datetime(to_datetime(time_us)) == time_us


@given(st.datetimes(datetime(1970, 1, 2), datetime(2200, 1, 1), timezones=st.just(ZoneInfo("Europe/Berlin"))))  # noqa: DTZ001 -- bounds of a strategy are naive; it adds the zone
def test_a_moment_is_the_same_in_every_time_zone(moment: datetime) -> None:
    assert from_datetime(moment) == from_datetime(moment.astimezone(UTC))


def test_the_time_of_a_datetime_is_aware_utc_to_the_microsecond() -> None:
    moment = to_datetime(1_780_000_000_123_456)
    assert moment == datetime(2026, 5, 28, 20, 26, 40, 123_456, tzinfo=UTC)
    assert moment.utcoffset() == timedelta(0)


def test_a_datetime_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="names no moment"):
        from_datetime(datetime(2026, 5, 28))  # noqa: DTZ001 -- what is refused


def test_the_system_clock_tells_the_time_of_day() -> None:
    before_us = round(time.time() * US_PER_S)
    now_us = SystemClock().now_us()
    assert before_us - US_PER_S <= now_us <= before_us + 60 * US_PER_S


@pytest.mark.parametrize("clock", [SystemClock(), ScaledClock(0, 60.0)])
def test_the_monotonic_clock_is_that_of_the_machine(clock: Clock) -> None:
    before_s = time.monotonic()
    assert before_s <= clock.monotonic_s() <= time.monotonic()


def test_a_scaled_clock_starts_where_it_is_told_and_runs_faster(monkeypatch: pytest.MonkeyPatch) -> None:
    seconds = iter((100.0, 100.0, 102.5))
    with monkeypatch.context() as patched:
        patched.setattr(time, "monotonic", lambda: next(seconds))
        clock = ScaledClock(1_000 * US_PER_S, speed=60.0)
        assert clock.now_us() == 1_000 * US_PER_S
        assert clock.now_us() == 1_150 * US_PER_S


def test_a_fake_clock_moves_only_when_told() -> None:
    clock = FakeClock(5 * US_PER_S)
    start_s = clock.monotonic_s()
    clock.advance(2.5)
    assert (clock.now_us(), clock.monotonic_s() - start_s) == (7_500_000, 2.5)
    clock.step(-6.0)
    assert (clock.now_us(), clock.monotonic_s() - start_s) == (1_500_000, 2.5)
