"""Sources, sinks, notifiers, the disk and the clock: when they are down, and when they are well again."""

from dataclasses import replace

import pytest

from parchd.alarms.condition import Change, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.faults import Conditions
from parchd.alarms.health import (
    MEGABYTE,
    Space,
    Trouble,
    Troubles,
    can_tell,
    judge_clock,
    judge_connection,
    judge_disk,
    note_trouble,
)
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import CLOCK, DISK, Delays, DiskLimits, HealthRule
from parchd.testing.site import MINUTE_US, START_US

RAISED, CLEARED = Change.RAISED, Change.CLEARED
SOURCE = HealthRule(AlarmKind.SOURCE_DOWN, "source/bus1", Delays(on_s=600.0))
NOTIFIER = HealthRule(AlarmKind.NOTIFIER_DOWN, "notifier/mail", Delays(on_s=1800.0))
FILLING, FULL = HealthRule(AlarmKind.DISK_FILLING, DISK), HealthRule(AlarmKind.DISK_FULL, DISK)
LIMITS = DiskLimits(0.05, 1000 * MEGABYTE)


class Watch:
    """What is judged each minute of one connection that says what it is told to say."""

    def __init__(self, rule: HealthRule = SOURCE) -> None:
        self.rule = rule
        self.troubles: Troubles = {}
        self.conditions: Conditions = {}
        self.events: list[AlarmEvent] = []

    def note(self, minute: float, text: str, part: str = "", *, final: bool = False) -> None:
        note_trouble(self.troubles, self.rule.subject, text, at(minute), part=part, final=final)

    def judge(self, *minutes: float) -> list[tuple[Change, float]]:
        """What was raised and cleared so far, and in which minute."""
        for minute in minutes:
            self.events += judge_connection(self.rule, self.conditions, self.troubles, at(minute))
        return [(event.change, (event.time_us - START_US) / MINUTE_US) for event in self.events]


def at(minute: float) -> int:
    return START_US + round(minute * MINUTE_US)


def test_a_source_that_is_away_for_ten_minutes_is_told_and_cleared_when_it_is_back() -> None:
    watch = Watch()
    watch.note(0, "connection refused")
    assert watch.judge(0, 5, 9.99) == []
    assert watch.judge(10, 11, 30) == [(RAISED, 10)]
    watch.note(40, "")
    assert watch.judge(40, 41) == [(RAISED, 10), (CLEARED, 40)]
    assert watch.conditions == {}


def test_a_source_that_comes_back_in_time_is_not_told_and_begins_anew_the_next_time() -> None:
    watch = Watch()
    watch.note(0, "connection refused")
    watch.judge(0, 9)
    watch.note(9.5, "")
    watch.judge(9.5)
    watch.note(9.6, "connection refused")
    assert watch.judge(9.6, 19.5) == []
    assert watch.judge(19.6) == [(RAISED, 19.6)]


def test_other_words_for_the_trouble_do_not_set_the_time_back() -> None:
    watch = Watch()
    for minute in range(11):
        watch.note(minute, f"attempt {minute} failed")
        watch.judge(minute)
    assert watch.judge() == [(RAISED, 10)]
    assert watch.events[0].evidence == {"trouble": "attempt 10 failed", "since_us": START_US}


def test_an_off_delay_keeps_it_up_until_it_has_been_well_for_so_long() -> None:
    watch = Watch(replace(SOURCE, delays=Delays(on_s=0, off_s=300.0)))
    watch.note(0, "gone")
    watch.judge(0)
    watch.note(1, "")
    watch.judge(1, 5)
    watch.note(5.5, "gone")
    watch.judge(5.5)
    watch.note(6, "")
    assert watch.judge(6, 10.9) == [(RAISED, 0)]
    assert watch.judge(11) == [(RAISED, 0), (CLEARED, 11)]


def test_a_notifier_is_down_while_one_of_its_recipients_cannot_be_reached() -> None:
    """The others that can must not hide it."""
    watch = Watch(NOTIFIER)
    watch.note(0, "mailbox full", "anne")
    for minute in range(0, 40, 10):
        watch.note(minute, "", "ben")
        watch.judge(minute)
    assert watch.judge() == [(RAISED, 30)]
    assert watch.events[0].evidence["recipients"] == ["anne"]
    watch.note(50, "", "anne")
    assert watch.judge(50) == [(RAISED, 30), (CLEARED, 50)]


def test_a_message_that_is_refused_is_told_without_delay() -> None:
    watch = Watch(NOTIFIER)
    watch.note(0, "550 no such user", "anne", final=True)
    assert watch.judge(0) == [(RAISED, 0)]
    watch.note(1, "421 try later", "anne")
    assert watch.judge(1) == [(RAISED, 0)], "it is still not delivered"


def test_long_words_of_a_server_are_cut() -> None:
    troubles: Troubles = {}
    note_trouble(troubles, "sink/charts", "x" * 5000, START_US)
    assert troubles["sink/charts"][""] == Trouble(START_US, "x" * 300)


def test_what_is_well_leaves_no_trace() -> None:
    watch = Watch()
    watch.note(0, "")
    assert watch.judge(0, 1000) == []
    assert (watch.troubles, watch.conditions) == ({}, {})


def test_a_notifier_that_is_down_cannot_tell_of_itself_but_of_everything_else() -> None:
    assert not can_tell("mail", AlarmKey(AlarmKind.NOTIFIER_DOWN, "notifier/mail"))
    assert can_tell("mail", AlarmKey(AlarmKind.NOTIFIER_DOWN, "notifier/hook"))
    assert can_tell("mail", AlarmKey(AlarmKind.SINK_DOWN, "sink/mail"))


# --- the disk


def disk(rule: HealthRule, *free_mb: float, full: bool = False, total_mb: int = 8000) -> list[tuple[Change, int]]:
    """What is told as the free room goes this way, one measurement a minute."""
    conditions: Conditions = {}
    events = []
    for minute, free in enumerate(free_mb):
        space = Space(round(free * MEGABYTE), total_mb * MEGABYTE, full and minute == 0)
        events += judge_disk(rule, LIMITS, conditions, space, at(minute))
    return [(event.change, round((event.time_us - START_US) / MINUTE_US)) for event in events]


def test_the_limit_is_a_share_of_a_small_disk_and_so_many_megabytes_of_a_large_one() -> None:
    assert LIMITS.least_bytes(8000 * MEGABYTE) == 400 * MEGABYTE
    assert LIMITS.least_bytes(2_000_000 * MEGABYTE) == 1000 * MEGABYTE
    assert disk(FILLING, 999.9, total_mb=2_000_000) == [(RAISED, 0)]


def test_a_disk_is_filling_below_the_limit_and_there_is_room_again_a_fifth_above_it() -> None:
    assert disk(FILLING, 400.1, 400.0, 399.9, 401.0, 479.9, 480.0) == [(RAISED, 2), (CLEARED, 5)]


def test_a_limit_of_nothing_never_tells() -> None:
    space = Space(0, 8000 * MEGABYTE)
    assert judge_disk(FILLING, DiskLimits(0.05, 0), {}, space, START_US) == []


def test_a_full_disk_is_told_at_once_and_cleared_when_there_is_room() -> None:
    assert disk(FULL, 8.0, 8.0, 479.0, 480.0, full=True) == [(RAISED, 0), (CLEARED, 3)]
    assert disk(FULL, 8.0, 0.0) == [], "only an error of the journal says that it is full"


def test_a_disk_that_is_full_is_filling_too_however_large_the_limit() -> None:
    conditions: Conditions = {}
    events = judge_disk(FILLING, DiskLimits(0.05, 0), conditions, Space(0, 1, is_full=True), START_US)
    assert [event.change for event in events] == [RAISED]
    assert events[0].evidence == {"free_mb": 0.0, "total_mb": 0}


# --- the clock


def test_a_clock_that_cannot_be_believed_is_told_after_its_delay() -> None:
    rule = HealthRule(AlarmKind.CLOCK_UNTRUSTED, CLOCK, Delays(on_s=900.0))
    conditions: Conditions = {}
    told = [
        (event.change, minute)
        for minute, trusted in ((0, True), (1, False), (15, False), (16, False), (17, True), (18, True))
        for event in judge_clock(rule, conditions, trusted, at(minute))
    ]
    assert told == [(RAISED, 16), (CLEARED, 17)]


def test_a_clock_that_goes_right_before_its_delay_is_over_is_not_told() -> None:
    rule = HealthRule(AlarmKind.CLOCK_UNTRUSTED, CLOCK, Delays(on_s=900.0))
    conditions: Conditions = {}
    for minute, trusted in ((1, False), (10, True), (20, False), (30, False)):
        assert judge_clock(rule, conditions, trusted, at(minute)) == []
    assert conditions[AlarmKey(AlarmKind.CLOCK_UNTRUSTED, CLOCK)].phase is Phase.RAISING


@pytest.mark.parametrize("minutes", [[20, 5, 25], [0, 20, 40]])
def test_time_that_runs_backwards_breaks_nothing(minutes: list[int]) -> None:
    watch = Watch()
    watch.note(0, "gone")
    assert len(watch.judge(*minutes)) <= 1
