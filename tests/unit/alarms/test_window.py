"""The part of the day that decides."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.rules import DecisionWindow
from parchd.alarms.window import compile_window, standard_offset_s
from parchd.clock import from_datetime

MORNING = (time(5), time(8))


def utc_us(day: date, hour: float) -> int:
    return from_datetime(datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour))


def deciding_hours(window: DecisionWindow, day: date) -> list[float]:
    """Quarter hours UTC of a day that decide."""
    decides = compile_window(window)
    return [quarter / 4 for quarter in range(96) if decides(utc_us(day, quarter / 4))]


def test_without_a_window_every_reading_decides() -> None:
    decides = compile_window(None)
    assert decides(0)
    assert decides(utc_us(date(2026, 6, 1), 23))


def test_the_start_belongs_to_the_window_and_the_end_does_not() -> None:
    decides = compile_window(DecisionWindow(*MORNING, "UTC"))
    day = date(2026, 6, 1)
    edges = [utc_us(day, 5) - 1, utc_us(day, 5), utc_us(day, 8) - 1, utc_us(day, 8)]
    assert [decides(time_us) for time_us in edges] == [False, True, True, False]


@pytest.mark.parametrize(
    ("zone", "days", "first_hour"),
    [
        # the day before, of, and after the clocks go forward, then back; the hour UTC of 05:00 standard time
        ("Europe/Berlin", [date(2026, 3, 28), date(2026, 3, 29), date(2026, 3, 30)], 4.0),
        ("Europe/Berlin", [date(2026, 10, 24), date(2026, 10, 25), date(2026, 10, 26)], 4.0),
        ("America/New_York", [date(2026, 3, 7), date(2026, 3, 8), date(2026, 3, 9)], 10.0),
        ("America/New_York", [date(2026, 10, 31), date(2026, 11, 1), date(2026, 11, 2)], 10.0),
        ("Australia/Sydney", [date(2026, 4, 4), date(2026, 4, 5), date(2026, 4, 6)], 19.0),
        ("Australia/Sydney", [date(2026, 10, 3), date(2026, 10, 4), date(2026, 10, 5)], 19.0),
        ("America/Santiago", [date(2026, 4, 4), date(2026, 4, 5), date(2026, 9, 6)], 9.0),
        ("Australia/Lord_Howe", [date(2026, 4, 4), date(2026, 4, 5), date(2026, 10, 4)], 18.5),
        ("Asia/Kathmandu", [date(2026, 6, 1)], 23.25),
    ],
)
def test_the_window_stays_in_standard_time_on_the_days_the_clocks_change(
    zone: str, days: list[date], first_hour: float
) -> None:
    for day in days:
        hours = deciding_hours(DecisionWindow(*MORNING, zone), day)
        assert sorted(hours) == sorted((first_hour + quarter / 4) % 24 for quarter in range(12))


def test_a_window_may_span_midnight() -> None:
    hours = deciding_hours(DecisionWindow(time(22, 30), time(1, 15), "UTC"), date(2026, 6, 1))
    assert hours == [0.0, 0.25, 0.5, 0.75, 1.0, 22.5, 22.75, 23.0, 23.25, 23.5, 23.75]


@given(
    st.sampled_from(["Europe/Berlin", "Australia/Sydney", "America/Santiago", "Australia/Lord_Howe"]),
    st.integers(0, 364),
    st.times().map(lambda t: t.replace(second=0, microsecond=0)),
    st.times().map(lambda t: t.replace(second=0, microsecond=0)),
)
def test_a_window_and_the_rest_of_the_day_make_the_whole_day(zone: str, day: int, start: time, end: time) -> None:
    if start == end:
        return
    inside, outside = compile_window(DecisionWindow(start, end, zone)), compile_window(DecisionWindow(end, start, zone))
    moments = [utc_us(date(2026, 1, 1) + timedelta(days=day), quarter / 4) for quarter in range(96)]
    assert all(inside(moment) != outside(moment) for moment in moments)


def test_the_standard_offset_is_that_of_winter_in_both_hemispheres() -> None:
    hours = [utc_us(date(2026, month, 1), 12) // 3_600_000_000 for month in (1, 7)]
    assert [standard_offset_s(ZoneInfo("Europe/Berlin"), hour) for hour in hours] == [3600, 3600]
    assert [standard_offset_s(ZoneInfo("Australia/Sydney"), hour) for hour in hours] == [36_000, 36_000]
