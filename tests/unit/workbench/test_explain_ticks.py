"""Marks along an axis of local time."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import from_datetime, to_datetime
from parchd.workbench.explain_ticks import HOUR_US, midnights, time_ticks

BERLIN = ZoneInfo("Europe/Berlin")
DAY_US = 24 * HOUR_US


def at(*when: int) -> int:
    return from_datetime(datetime(*when, tzinfo=BERLIN))  # type: ignore[arg-type, misc] # year, month, day, hour


@pytest.mark.parametrize(
    ("start", "end", "labels"),
    [
        ((2026, 6, 1, 22), (2026, 6, 2, 6), ["22:00", "2 Jun", "02:00", "04:00", "06:00"]),
        ((2026, 6, 1), (2026, 6, 3), ["1 Jun", "12:00", "2 Jun", "12:00", "3 Jun"]),
        ((2026, 6, 1), (2026, 6, 6), ["1 Jun", "2 Jun", "3 Jun", "4 Jun", "5 Jun", "6 Jun"]),
        ((2026, 6, 1), (2026, 7, 6), ["1 Jun", "8 Jun", "15 Jun", "22 Jun", "29 Jun", "6 Jul"]),
        ((2026, 10, 5), (2027, 3, 2), ["Nov", "Dec", "2027", "Feb", "Mar"]),
    ],
)
def test_marks_stand_at_round_local_times(start: tuple[int, ...], end: tuple[int, ...], labels: list[str]) -> None:
    assert [tick.label for tick in time_ticks(at(*start), at(*end), BERLIN, 7)] == labels


def test_days_begin_at_local_midnight_over_the_change_of_clocks() -> None:
    """Clocks go forward on 29 March 2026 and back on 25 October 2026 (EU Directive 2000/84/EC)."""
    for start, end, hours in ((at(2026, 3, 28), at(2026, 3, 31), 23), (at(2026, 10, 24), at(2026, 10, 27), 25)):
        days = midnights(start, end, BERLIN)
        assert [to_datetime(us).astimezone(BERLIN).hour for us in days] == [0, 0, 0, 0]
        assert hours * HOUR_US in {later - early for early, later in pairwise(days)}


def test_an_hour_that_is_skipped_has_no_mark() -> None:
    labels = [tick.label for tick in time_ticks(at(2026, 3, 29), at(2026, 3, 29, 5), BERLIN, 8)]
    assert labels == ["29 Mar", "01:00", "03:00", "04:00", "05:00"]


@given(
    st.integers(0, 60 * 365),
    st.integers(1, 3 * 365 * 24),
    st.integers(3, 14),
    st.sampled_from(("UTC", "Europe/Berlin", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe")),
)
def test_there_are_never_too_many_and_they_are_in_order(day: int, hours: int, most: int, zone: str) -> None:
    start_us = from_datetime(datetime(1990, 1, 1, 7, 13, tzinfo=UTC)) + day * DAY_US
    end_us = start_us + hours * HOUR_US
    times = [tick.time_us for tick in time_ticks(start_us, end_us, ZoneInfo(zone), most)]
    assert times == sorted(set(times))
    assert len(times) <= most + 1
    assert all(start_us <= us <= end_us for us in times)
