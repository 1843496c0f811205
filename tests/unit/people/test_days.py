"""When a digest is due on local days."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import from_datetime, to_datetime
from parchd.people.days import comes_today, digest_due, first_day, next_digest_us
from parchd.people.person import DigestTime
from parchd.testing.site import MINUTE_US, START_US

BERLIN, SYDNEY = ZoneInfo("Europe/Berlin"), ZoneInfo("Australia/Sydney")
SIX_THIRTY = time(6, 30)


def local(zone: ZoneInfo, month: int, day: int, hour: int = 0, minute: int = 0) -> int:
    return from_datetime(datetime(2026, month, day, hour, minute, tzinfo=zone))


def days_told(at: time, zone: ZoneInfo, month: int, day: int, days: int) -> list[tuple[str, str]]:
    """Local day and local time of each digest within some local days, asking every five minutes."""
    last, told = "0000-00-00", []
    for now_us in range(local(zone, month, day), local(zone, month, day + days), 5 * MINUTE_US):
        if (due := digest_due(DigestTime(at), zone, last, now_us)) is not None:
            last = due
            told.append((due, to_datetime(now_us).astimezone(zone).strftime("%H:%M")))
    return told


@pytest.mark.parametrize(("zone", "month", "day"), [(BERLIN, 3, 26), (BERLIN, 10, 23), (SYDNEY, 4, 3), (SYDNEY, 10, 2)])
@pytest.mark.parametrize("at", [time(0, 0), time(6, 30), time(21, 0)])
def test_each_day_has_one_digest_at_its_time_when_the_clocks_change(
    zone: ZoneInfo, month: int, day: int, at: time
) -> None:
    told = days_told(at, zone, month, day, days=5)
    assert told == [(f"2026-{month:02}-{day + n:02}", at.strftime("%H:%M")) for n in range(5)]


def test_a_time_that_the_change_of_clocks_leaves_out_is_told_when_the_gap_ends() -> None:
    assert days_told(time(2, 30), BERLIN, 3, 28, days=3) == [
        ("2026-03-28", "02:30"), ("2026-03-29", "03:00"), ("2026-03-30", "02:30"),
    ]  # fmt: skip


def test_a_time_that_comes_twice_is_told_once() -> None:
    told = days_told(time(2, 30), BERLIN, 10, 24, days=3)
    assert [day for day, _ in told] == ["2026-10-24", "2026-10-25", "2026-10-26"]


@pytest.mark.parametrize(("hour", "minute", "due"), [(6, 29, False), (6, 30, True), (18, 29, True), (18, 30, False)])
def test_a_digest_is_due_for_twelve_hours(hour: int, minute: int, due: bool) -> None:
    now_us = local(BERLIN, 6, 2, hour, minute)
    assert digest_due(DigestTime(SIX_THIRTY), BERLIN, "2026-06-01", now_us) == ("2026-06-02" if due else None)


def test_a_digest_that_was_told_is_not_due_again_on_its_day() -> None:
    assert digest_due(DigestTime(SIX_THIRTY), BERLIN, "2026-06-02", local(BERLIN, 6, 2, 7, 0)) is None
    assert digest_due(DigestTime(SIX_THIRTY), BERLIN, "2026-06-03", local(BERLIN, 6, 2, 7, 0)) is None


def test_without_a_time_there_is_no_digest() -> None:
    assert digest_due(None, BERLIN, None, START_US) is None


def test_the_first_digest_is_the_next_that_falls_due() -> None:
    evening, dawn = local(BERLIN, 6, 1, 20, 0), local(BERLIN, 6, 1, 5, 0)
    assert (first_day(DigestTime(SIX_THIRTY), BERLIN, evening), first_day(DigestTime(SIX_THIRTY), BERLIN, dawn)) == (
        "2026-06-01",
        "2026-05-31",
    )


@given(st.times().map(lambda at: at.replace(second=0, microsecond=0)), st.integers(0, 365 * 24 * 60))
def test_no_digest_is_due_at_the_moment_of_the_first_start(at: time, minutes: int) -> None:
    now_us = local(BERLIN, 1, 1) + minutes * MINUTE_US
    assert digest_due(DigestTime(at), BERLIN, first_day(DigestTime(at), BERLIN, now_us), now_us) is None


def test_a_weekly_digest_is_due_on_its_day_only() -> None:
    friday = DigestTime(SIX_THIRTY, weekday=4)
    days = [day for day in range(1, 15) if digest_due(friday, BERLIN, "2026-05-31", local(BERLIN, 6, day, 7))]
    assert days == [5, 12]


@given(st.integers(0, 365 * 24 * 60), st.none() | st.integers(0, 6))
def test_the_next_digest_is_the_first_moment_at_which_one_is_due(minutes: int, weekday: int | None) -> None:
    when, now_us = DigestTime(SIX_THIRTY, weekday), local(BERLIN, 1, 1) + minutes * MINUTE_US
    last = first_day(when, BERLIN, now_us)
    next_us = next_digest_us(when, BERLIN, last, now_us)
    assert digest_due(when, BERLIN, last, next_us) is not None
    assert digest_due(when, BERLIN, last, next_us - 1) is None
    same_day = to_datetime(next_us).astimezone(BERLIN).date() == to_datetime(now_us).astimezone(BERLIN).date()
    assert comes_today(when, BERLIN, last, now_us) == same_day
