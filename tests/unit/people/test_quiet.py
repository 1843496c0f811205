"""Quiet hours on the clock on the wall."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from parchd.clock import from_datetime
from parchd.people.quiet import QuietHours

BERLIN = ZoneInfo("Europe/Berlin")
NIGHT = QuietHours(time(22), time(6), BERLIN)
When = tuple[int, int, int, int, int]


def utc_us(year: int, month: int, day: int, hour: int, minute: int = 0) -> int:
    return from_datetime(datetime(year, month, day, hour, minute, tzinfo=UTC))


@pytest.mark.parametrize(
    ("now", "end"),
    [
        ((2026, 7, 1, 19, 59), None),
        ((2026, 7, 1, 20, 0), (2026, 7, 2, 4, 0)),
        ((2026, 7, 2, 3, 59), (2026, 7, 2, 4, 0)),
        ((2026, 7, 2, 4, 0), None),
        # Summer time begins on 29 March 2026 at 01:00 UTC, the night lasts 7 hours; it ends on 25 October, 9 hours
        # (Directive 2000/84/EC, articles 2 and 3: last Sunday of March and of October).
        ((2026, 3, 28, 21, 0), (2026, 3, 29, 4, 0)),
        ((2026, 10, 24, 20, 0), (2026, 10, 25, 5, 0)),
        ((2026, 10, 25, 4, 59), (2026, 10, 25, 5, 0)),
    ],
)
def test_quiet_hours_follow_the_clock_on_the_wall(now: When, end: When | None) -> None:
    assert NIGHT.end_us(utc_us(*now)) == (None if end is None else utc_us(*end))


def test_quiet_hours_that_end_in_the_repeated_hour_end_once() -> None:
    quiet = QuietHours(time(22), time(2, 30), BERLIN)
    first, second = utc_us(2026, 10, 25, 0, 30), utc_us(2026, 10, 25, 1, 15)
    assert quiet.end_us(first - 1) == first
    assert quiet.end_us(first) is None
    assert quiet.end_us(second) is None  # 02:15 for the second time


def test_quiet_hours_that_end_in_the_hour_left_out_still_end() -> None:
    quiet = QuietHours(time(22), time(2, 30), BERLIN)
    assert quiet.end_us(utc_us(2026, 3, 29, 0, 59)) == utc_us(2026, 3, 29, 1, 30)


def test_quiet_hours_within_a_day_do_not_reach_into_the_next() -> None:
    noon = QuietHours(time(12), time(14), BERLIN)
    assert noon.end_us(utc_us(2026, 7, 1, 11)) == utc_us(2026, 7, 1, 12)
    assert noon.end_us(utc_us(2026, 7, 1, 23)) is None


@pytest.mark.parametrize(("start", "end"), [(time(6), time(6)), (time(6), time(7, tzinfo=UTC))])
def test_quiet_hours_without_meaning_are_refused(start: time, end: time) -> None:
    with pytest.raises(ValueError, match="quiet hours"):
        QuietHours(start, end, BERLIN)
