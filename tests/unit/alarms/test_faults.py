"""Faults of single tensiometers: electrical, impossible, above the limit, silent."""

from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.faults import KIND_OF_CAUSE, Conditions, judge_reading, judge_silence
from parchd.alarms.rules import AlarmKind, FaultRule
from parchd.contract import Cause, Flag, Reading
from parchd.physics.causes import flag_of
from parchd.testing.site import MINUTE_US, START_US, reading

RULE = FaultRule("north-20", "bus1/n20", interval_s=600.0)
ODD = (Cause.SPIKE, Cause.RISE_RATE, Cause.FLAT_LINE, Cause.ATTENUATED, Cause.GAP, Cause.DOUBTED, Cause.CONDEMNED)
"""Values of a good signal that are not to be acted on."""
NEVER_JUDGED = (Cause.NONE, Cause.NO_VALUE, Cause.CLOCK, Cause.TIME_UNKNOWN, Cause.SERVICE, *ODD)
ELECTRICAL, IMPOSSIBLE, ABOVE = AlarmKind.ELECTRICAL, AlarmKind.IMPOSSIBLE, AlarmKind.ABOVE_LIMIT
VALUES = {Cause.NONE: 30.0, Cause.BELOW_PHYSICAL: -30.0, Cause.ABOVE_PHYSICAL: 120.0, Cause.ABOVE_LIMIT: 90.0}


def readings(*causes: Cause) -> list[Reading]:
    """One reading a minute with each of these causes in turn."""
    return [
        reading("bus1/n20", START_US + minute * MINUTE_US, VALUES.get(cause), flag_of(cause), cause)
        for minute, cause in enumerate(causes)
    ]


def judge(*causes: Cause, conditions: Conditions | None = None) -> list[AlarmEvent]:
    conditions = {} if conditions is None else conditions
    return [event for r in readings(*causes) for event in judge_reading(RULE, conditions, r)]


def told(events: Iterable[AlarmEvent]) -> list[tuple[AlarmKind, Change, int]]:
    return [(e.key.kind, e.change, (e.time_us - START_US) // MINUTE_US) for e in events]


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause not in NEVER_JUDGED])
def test_every_fault_is_raised_by_three_in_a_row_and_cleared_by_three_good_readings(cause: Cause) -> None:
    kind = KIND_OF_CAUSE[cause]
    events = judge(*[cause] * 4, *[Cause.NONE] * 4)
    assert told(events) == [(kind, Change.RAISED, 2), (kind, Change.CLEARED, 6)]
    assert {event.key.subject for event in events} == {"tensiometer/north-20"}


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause not in NEVER_JUDGED])
def test_two_faults_and_a_good_reading_raise_nothing(cause: Cause) -> None:
    conditions: Conditions = {}
    assert judge(cause, cause, Cause.NONE, cause, cause, conditions=conditions) == []
    assert judge(Cause.NONE, conditions=conditions) == []
    assert conditions == {}


def test_different_electrical_causes_count_as_one_fault() -> None:
    assert told(judge(Cause.OPEN_CIRCUIT, Cause.SHORT_CIRCUIT, Cause.SATURATED)) == [(ELECTRICAL, Change.RAISED, 2)]


def test_a_reading_without_a_value_neither_raises_nor_clears() -> None:
    bad, good, none = Cause.OPEN_CIRCUIT, Cause.NONE, Cause.NO_VALUE
    assert told(judge(bad, none, bad, none, bad)) == [(ELECTRICAL, Change.RAISED, 4)]
    assert told(judge(bad, bad, bad, *[none] * 10))[1:] == []
    assert told(judge(bad, bad, bad, good, none, good, none, good))[1:] == [(ELECTRICAL, Change.CLEARED, 7)]


def test_a_broken_wire_does_not_say_that_the_water_is_below_the_limit_again() -> None:
    events = judge(*[Cause.ABOVE_LIMIT] * 3, *[Cause.OPEN_CIRCUIT] * 5, *[Cause.NONE] * 3)
    assert told(events) == [
        (ABOVE, Change.RAISED, 2), (ELECTRICAL, Change.RAISED, 5),
        (ELECTRICAL, Change.CLEARED, 10), (ABOVE, Change.CLEARED, 10),
    ]  # fmt: skip


def test_a_tensiometer_that_lost_its_water_does_not_say_that_it_is_below_the_limit_again() -> None:
    events = judge(*[Cause.ABOVE_LIMIT] * 3, *[Cause.BELOW_PHYSICAL] * 3)
    assert told(events) == [(ABOVE, Change.RAISED, 2), (IMPOSSIBLE, Change.RAISED, 5)]


def test_an_electrical_fault_clears_as_soon_as_the_signal_is_good_though_the_value_is_not() -> None:
    events = judge(*[Cause.OPEN_CIRCUIT] * 3, *[Cause.ABOVE_LIMIT] * 3)
    assert told(events) == [(ELECTRICAL, Change.RAISED, 2), (ELECTRICAL, Change.CLEARED, 5), (ABOVE, Change.RAISED, 5)]


@pytest.mark.parametrize("cause", ODD)
def test_an_odd_value_raises_no_fault_and_shows_that_the_wires_are_good(cause: Cause) -> None:
    assert judge(*[cause] * 5) == []
    events = judge(*[Cause.OPEN_CIRCUIT] * 3, *[cause] * 3)
    assert told(events) == [(ELECTRICAL, Change.RAISED, 2), (ELECTRICAL, Change.CLEARED, 5)]


@pytest.mark.parametrize("cause", ODD)
def test_an_odd_value_does_not_say_that_the_water_is_below_the_limit_again(cause: Cause) -> None:
    events = judge(*[Cause.ABOVE_LIMIT] * 3, *[cause] * 10)
    assert told(events) == [(ABOVE, Change.RAISED, 2)]


def test_the_event_shows_the_last_sample() -> None:
    (event,) = judge(*[Cause.ABOVE_LIMIT] * 3)
    assert event.evidence == {"channel": "bus1/n20", "cause": "above the usable limit", "value": 90.0, "unit": "kPa"}
    assert (event.tension_kpa, event.limit_kpa) == (90.0, None)


@given(st.lists(st.sampled_from([c for c in Cause if c is not Cause.TIME_UNKNOWN]), max_size=40))
def test_no_fault_is_raised_twice_or_cleared_unraised(causes: list[Cause]) -> None:
    conditions: Conditions = {}
    for kind in (ELECTRICAL, IMPOSSIBLE, ABOVE):
        changes = [event.change for event in judge(*causes, conditions=dict(conditions)) if event.key.kind is kind]
        assert changes == [Change.RAISED, Change.CLEARED] * (len(changes) // 2) + [Change.RAISED] * (len(changes) % 2)


class Listener:
    """Asks about silence, minute by minute since `START_US`."""

    def __init__(self, listening_since: float = 0.0) -> None:
        self.conditions: Conditions = {}
        self.listening_since = listening_since

    def ask(self, minute: float, heard: float | None) -> list[tuple[AlarmKind, Change, int]]:
        heard_us, since_us, now_us = (
            None if at is None else START_US + round(at * MINUTE_US) for at in (heard, self.listening_since, minute)
        )
        assert since_us is not None
        assert now_us is not None
        return told(judge_silence(RULE, self.conditions, heard_us, since_us, now_us))


RAISED_AT, CLEARED_AT = (AlarmKind.SILENT, Change.RAISED), (AlarmKind.SILENT, Change.CLEARED)


def test_a_channel_is_silent_after_more_than_three_of_its_intervals() -> None:
    listener = Listener()
    assert [listener.ask(minute, heard=5) for minute in (5, 20, 35)] == [[], [], []]
    assert listener.ask(35.1, heard=5) == [(*RAISED_AT, 35)]
    assert listener.ask(36, heard=5) == []


def test_silence_ends_when_the_channel_is_heard() -> None:
    listener = Listener()
    listener.ask(40, heard=0)
    assert listener.ask(50, heard=49) == [(*CLEARED_AT, 50)]
    assert listener.conditions == {}


def test_a_channel_never_heard_is_given_its_intervals_after_the_start() -> None:
    listener = Listener(listening_since=100)
    assert listener.ask(130, heard=None) == []
    assert listener.ask(131, heard=None) == [(*RAISED_AT, 131)]


def test_nobody_is_silent_for_longer_than_the_daemon_has_listened() -> None:
    listener = Listener(listening_since=1000)
    assert listener.ask(1029, heard=0) == []
    assert listener.ask(1031, heard=0) == [(*RAISED_AT, 1031)]


def test_a_restart_does_not_say_that_data_arrives_again() -> None:
    listener = Listener()
    listener.ask(40, heard=0)
    listener.listening_since = 50
    assert [listener.ask(minute, heard=0) for minute in (50, 51, 90)] == [[], [], []]
    assert listener.ask(91, heard=90) == [(*CLEARED_AT, 91)]


def test_the_event_of_silence_says_who_was_heard_last_and_when() -> None:
    (event,) = judge_silence(RULE, {}, START_US, START_US, START_US + 40 * MINUTE_US)
    assert event.evidence == {"channel": "bus1/n20", "last_heard_us": START_US, "interval_s": 600.0}
    (never,) = judge_silence(RULE, {}, None, START_US, START_US + 40 * MINUTE_US)
    assert never.evidence["last_heard_us"] is None


def test_flags_of_the_fault_readings_here_are_those_of_the_pipeline() -> None:
    assert [r.flag for r in readings(Cause.NONE, Cause.ABOVE_LIMIT, Cause.OPEN_CIRCUIT, Cause.NO_VALUE)] == [
        Flag.PASS, Flag.SUSPECT, Flag.FAIL, Flag.MISSING,
    ]  # fmt: skip
