"""The figures of a month made by hand, each worked out anew here from what was made."""

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime

import pytest

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening
from parchd.alarms.standing import Transition
from parchd.clock import US_PER_S, from_datetime
from parchd.contract import Priority
from parchd.report.figures import Figures, Message, Span, figures
from parchd.testing.alarm_history import (
    DRIFT,
    LOOSE,
    NORTH,
    SHELVED,
    SILENT,
    SPAN,
    ZONE,
    Month,
    a_report,
    at,
    priority,
)

NEEDS = (2, 6, 10, 14, 18, 22, 26, 30)
HOUR_US = 3600 * US_PER_S
FOUND = a_report()


def report(steps: list[Transition], messages: Iterable[Message] = (), span: Span = SPAN) -> Figures:
    return figures(steps, messages, span, priority, known_since_us=span.start_us)


def day_of(number: int) -> int:
    """Place of a day of August among the days of the span."""
    return number - 1


def test_every_alarm_that_asked_for_a_response_counts_on_its_local_day() -> None:
    expected = Counter({day_of(day): 1 for day in NEEDS})
    expected += Counter({day_of(3): 1, day_of(20): 5, day_of(21): 3, day_of(24): 1, day_of(27): 12, day_of(29): 1})
    assert FOUND.alarms.by_day == tuple(expected[n] for n in range(31))
    assert FOUND.alarms.total == sum(expected.values()) == 31
    assert FOUND.alarms.worst == 12
    assert FOUND.alarms.a_day == pytest.approx(31 / 31)


def test_what_nobody_was_told_of_is_counted_apart() -> None:
    assert FOUND.hidden == 1
    assert SHELVED in dict(FOUND.frequent)
    assert dict(FOUND.frequent)[SHELVED] == 1, "the one before it was shelved"


def test_priorities_split_what_was_told() -> None:
    assert {one: rate.total for one, rate in FOUND.by_priority.items()} == {
        Priority.HIGH: len(NEEDS),
        Priority.MEDIUM: 1 + 5 + 3 + 12,
        Priority.LOW: 2,
    }
    for n in range(31):
        assert sum(rate.by_day[n] for rate in FOUND.by_priority.values()) == FOUND.alarms.by_day[n]


def test_each_recipient_has_a_rate_of_their_own() -> None:
    anne, hook = FOUND.recipients["anne"], FOUND.recipients["controller/valve controller"]
    assert anne.by_day == tuple(4 if day % 9 == 0 else 1 for day in range(1, 32))
    assert (anne.worst, anne.days_above(2)) == (4, 3)
    assert anne.a_day == pytest.approx((31 + 9) / 31)
    assert hook.total == 4


def test_the_most_frequent_come_first_and_are_ten() -> None:
    assert len(FOUND.frequent) == 10
    assert FOUND.frequent[:2] == ((LOOSE, 8), (NORTH, 8))


def test_faults_that_stood_for_more_than_a_day_are_stale_and_needs_for_water_are_not() -> None:
    assert [one.key for one in FOUND.stale] == [SILENT, DRIFT]
    assert [one.seconds(SPAN.end_us) / 3600 for one in FOUND.stale] == [4 * 24, (31 - 29) * 24 + 24 - 10]
    assert [one.off_us is None for one in FOUND.stale] == [False, True]
    assert [(one.key, one.on_us) for one in sorted(FOUND.thirsty, key=lambda one: one.on_us)] == [
        (NORTH, at(day, 6)) for day in NEEDS
    ]


def test_a_loose_wire_chatters_repeats_and_is_fleeting() -> None:
    assert FOUND.chattering == ((LOOSE, 3),)
    came = [at(20, 9) + n * 120 * US_PER_S for n in range(5)] + [at(21, 9) + n * 20 * US_PER_S for n in range(3)]
    most = max(sum(0 <= other - one < 24 * HOUR_US for other in came) for one in came)
    assert FOUND.repeating == ((LOOSE, most),)
    assert FOUND.fleeting == ((LOOSE, 8),), "what was shelved or answered is not"


def test_answers_are_those_of_people_and_timed_from_when_they_were_told() -> None:
    hours = sorted([day / 4 for day in NEEDS] + [4 * 24 + 1])
    assert [seconds / 3600 for seconds in FOUND.answers.seconds] == pytest.approx(hours)
    told = 31
    assert FOUND.answers.waiting == 1, "the drift"
    assert FOUND.answers.never == told - len(hours) - 1


def test_twelve_at_once_are_a_flood() -> None:
    (flood,) = FOUND.floods
    assert flood.start_us == at(27, 14)
    assert flood.alarms == 12
    eighth_us = at(27, 14) + 7 * 20 * US_PER_S  # ten minutes after it only four are young
    assert flood.end_us == eighth_us + 600 * US_PER_S
    assert FOUND.busiest == 12


def test_an_alarm_that_is_repeated_is_no_new_alarm() -> None:
    month = Month()
    month.comes(NORTH, at(2, 6))
    month.steps += month.register.move(NORTH, Happening.REPEATED, at(3, 6))
    found = report(month.steps)
    assert (found.alarms.total, found.repeated) == (1, 1)


def test_what_the_daemon_closes_by_itself_is_no_answer() -> None:
    month = Month()
    month.comes(SILENT, at(2, 6))
    month.goes(SILENT, at(2, 16))
    month.steps += month.register.move(SILENT, Happening.ACKNOWLEDGED, at(9, 16), via="clock")
    assert report(month.steps).answers.seconds == ()
    assert report(month.steps).answers.never == 1


def test_an_alarm_from_before_the_span_that_stands_in_it_is_stale_but_not_new() -> None:
    month = Month()
    month.comes(SILENT, at(2, 6))
    found = report(month.steps, span=Span(at(5), at(9), ZONE))
    assert found.alarms.total == 0
    assert [one.key for one in found.stale] == [SILENT]
    assert found.answers.waiting == 0, "it was told before"


def test_what_was_over_before_the_span_is_not_in_it() -> None:
    month = Month()
    month.comes(SILENT, at(2, 6))
    month.goes(SILENT, at(4, 6))
    found = report(month.steps, span=Span(at(5), at(9), ZONE))
    assert found.stale == ()
    assert found.answers.never == 0


def test_an_alarm_that_comes_off_the_shelf_while_it_is_on_is_told_then() -> None:
    month = Month()
    month.comes(SHELVED, at(2, 6))
    month.is_shelved(SHELVED, at(2, 7), hours=24)
    month.steps += month.register.tick(at(3, 8))
    found = report(month.steps)
    assert found.alarms.by_day[day_of(2)] == found.alarms.by_day[day_of(3)] == 1


def test_without_anything_all_is_none() -> None:
    found = report([])
    assert found.alarms.by_day == (0,) * 31
    assert (found.frequent, found.stale, found.floods, found.answers.seconds) == ((), (), (), ())
    assert found.busiest == 0


def test_days_are_local_when_the_clocks_are_changed() -> None:
    start_us, end_us = (from_datetime(datetime(2026, 10, day, tzinfo=ZONE)) for day in (25, 26))
    span = Span(start_us, end_us, ZONE)
    assert span.length_days == pytest.approx(25 / 24)
    assert span.days == [date(2026, 10, 25)]
    late = from_datetime(datetime(2026, 10, 25, 23, 59, tzinfo=ZONE))
    month = Month()
    month.comes(AlarmKey(*NORTH), late)
    assert report(month.steps, span=span).alarms.by_day == (1,)
