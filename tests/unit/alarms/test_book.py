"""All alarms of a site: what readings and ticks may change, and what they may not."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.book import AlarmBook, AlarmState
from parchd.alarms.condition import Change, Condition, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.irrigation import Vote, ZoneState
from parchd.alarms.rules import AlarmKind, AlarmSetup, DecisionWindow, Delays
from parchd.clock import from_datetime
from parchd.contract import Cause, Flag, Reading
from parchd.testing.site import HOUR_US, MINUTE_US, NORTH, START_US, reading, small_site

NOW, PLAN = AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN
RAISED, CLEARED = Change.RAISED, Change.CLEARED


def setup(**rule: object) -> AlarmSetup:
    """The small site; its north block has one tensiometer only, so that each reading is the zone's tension."""
    return small_site(tensiometers=("north-20",), **rule)[1]


def judge(
    readings: Sequence[Reading], alarms: AlarmSetup | None = None, state: AlarmState | None = None
) -> list[AlarmEvent]:
    return AlarmBook(alarms or setup()).judge(AlarmState() if state is None else state, readings)


def at(
    minute: float, tension_kpa: float | None, flag: Flag = Flag.PASS, cause: Cause = Cause.NONE, **more: bool
) -> Reading:
    return reading("bus1/n20", START_US + round(minute * MINUTE_US), tension_kpa, flag, cause, **more)


def told(events: Sequence[AlarmEvent]) -> list[tuple[AlarmKind, Change]]:
    return [(event.key.kind, event.change) for event in events]


def irrigation(events: Sequence[AlarmEvent]) -> list[AlarmEvent]:
    return [event for event in events if event.key.kind in (NOW, PLAN)]


@pytest.mark.parametrize("flag", [Flag.PASS, Flag.NOT_EVALUATED])
def test_a_reading_that_is_not_doubted_raises_and_clears(flag: Flag) -> None:
    events = judge([at(0, 70.0, flag), at(1, 10.0, flag)])
    assert told(events) == [(NOW, RAISED), (PLAN, RAISED), (NOW, CLEARED), (PLAN, CLEARED)]


@pytest.mark.parametrize("flag", [Flag.SUSPECT, Flag.FAIL, Flag.MISSING])
def test_a_doubtful_reading_never_raises_an_irrigation_alarm(flag: Flag) -> None:
    assert judge([at(minute, 70.0, flag) for minute in range(10)]) == []


@pytest.mark.parametrize("flag", [Flag.SUSPECT, Flag.FAIL, Flag.MISSING])
def test_a_doubtful_reading_never_clears_an_irrigation_alarm(flag: Flag) -> None:
    events = judge([at(0, 70.0), *(at(minute, 0.5, flag) for minute in range(1, 200))])
    assert told(irrigation(events)) == [(NOW, RAISED), (PLAN, RAISED)]


def test_a_reading_without_a_tension_has_no_say() -> None:
    assert judge([at(0, None)]) == []


def test_a_late_reading_changes_nothing_at_all() -> None:
    state = AlarmState()
    late = [at(minute, 90.0, Flag.SUSPECT, Cause.ABOVE_LIMIT, late=True) for minute in range(5)]
    assert judge([*late, at(9, 90.0, late=True)], state=state) == []
    assert state == AlarmState()


def test_a_channel_without_a_rule_changes_nothing() -> None:
    state = AlarmState()
    assert judge([reading("bus1/spare", START_US, 90.0)], state=state) == []
    assert state == AlarmState()


COLLAPSES = {
    "the wire breaks": [(None, Flag.FAIL, Cause.OPEN_CIRCUIT)] * 30,
    "the converter stands at its end": [(None, Flag.FAIL, Cause.SATURATED)] * 30,
    "it reads free water deeper than can be": [(-18.0, Flag.FAIL, Cause.BELOW_PHYSICAL)] * 30,
    "it looks wet, but is doubted": [(2.0, Flag.SUSPECT, Cause.ABOVE_LIMIT)] * 30,
    "it looks just below the limit, but is doubted": [(30.0, Flag.SUSPECT, Cause.OVER_RANGE)] * 30,
    "it says no more": [(None, Flag.MISSING, Cause.NO_VALUE)] * 30,
}


@pytest.mark.parametrize("end", COLLAPSES.values(), ids=COLLAPSES)
def test_a_tensiometer_that_loses_its_water_at_the_dry_end_never_clears_the_alarm(
    end: list[tuple[float | None, Flag, Cause]],
) -> None:
    """The trace of cavitation: a smooth rise to the limit, then a sudden fall that does not recover."""
    rise = [at(10 * n, 30.0 + n) for n in range(51)]
    peak = [at(520 + n, 86.0 + n, Flag.SUSPECT, Cause.ABOVE_LIMIT) for n in range(3)]
    fall = [at(600 + 10 * n, tension, flag, cause) for n, (tension, flag, cause) in enumerate(end)]
    state = AlarmState()
    events = irrigation(judge([*rise, *peak, *fall], state=state))
    assert told(events) == [(PLAN, RAISED), (NOW, RAISED)]
    assert state.zones["zone/north"].votes["north-20"].tension_kpa == 80.0


DOUBTS = [
    (Flag.SUSPECT, Cause.ABOVE_LIMIT), (Flag.SUSPECT, Cause.UNDER_RANGE), (Flag.FAIL, Cause.OPEN_CIRCUIT),
    (Flag.FAIL, Cause.BELOW_PHYSICAL), (Flag.MISSING, Cause.NO_VALUE), (Flag.FAIL, Cause.UNIT),
]  # fmt: skip
kpa = st.floats(-20.0, 120.0)
channels = st.sampled_from(["bus1/n20", "bus1/n40", "bus1/n60"])
good = st.tuples(channels, st.integers(0, 600), kpa, st.just(None))
doubtful = st.tuples(channels, st.integers(0, 600), kpa, st.sampled_from(DOUBTS))
late = st.tuples(channels, st.integers(0, 600), kpa, st.just("late"))
stories = st.lists(st.one_of(good, good, doubtful, late), max_size=40)


def tell(story: list[tuple[str, int, float, object]]) -> list[Reading]:
    readings = []
    for channel, minute, tension_kpa, doubt in sorted(story, key=lambda item: item[1]):
        flag, cause = doubt if isinstance(doubt, tuple) else (Flag.PASS, Cause.NONE)
        time_us = START_US + minute * MINUTE_US
        readings.append(reading(channel, time_us, tension_kpa, flag, cause, late=doubt == "late"))
    return readings


@settings(max_examples=200)
@given(stories, st.integers(1, 3), st.integers(0, 60), st.integers(1, 3))
def test_doubtful_and_late_readings_leave_the_irrigation_alarms_as_if_they_had_never_come(
    story: list[tuple[str, int, float, object]], min_trusted: int, delay_min: int, count: int
) -> None:
    delays = Delays(on_s=delay_min * 60, off_s=delay_min * 60, on_count=count, off_count=count)
    alarms = small_site(min_trusted=min_trusted, delays=delays, fresh_s=7200.0)[1]
    with_them, without = AlarmState(), AlarmState()
    everything = irrigation(judge(tell(story), alarms, with_them))
    believed = irrigation(judge(tell([item for item in story if item[3] is None]), alarms, without))
    assert everything == believed
    assert with_them.zones == without.zones


@given(stories, st.data())
def test_judging_in_parts_is_judging_at_once(story: list[tuple[str, int, float, object]], data: st.DataObject) -> None:
    readings, alarms = tell(story), small_site()[1]
    cut = data.draw(st.integers(0, len(readings)))
    whole, parts = AlarmState(), AlarmState()
    at_once = judge(readings, alarms, whole)
    in_parts = judge(readings[:cut], alarms, parts) + judge(readings[cut:], alarms, parts)
    assert (at_once, whole) == (in_parts, parts)


def local(day: int, hour: int, month: int = 6) -> int:
    """Time UTC of an hour of local standard time in Berlin."""
    return from_datetime(datetime(2026, month, day, hour - 1, 30, tzinfo=UTC))


def test_only_readings_within_the_window_decide() -> None:
    morning = setup(window=DecisionWindow(time(5), time(8), "Europe/Berlin"))
    state = AlarmState()

    def read(time_us: int, tension_kpa: float) -> list[tuple[AlarmKind, Change]]:
        return told(judge([reading("bus1/n20", time_us, tension_kpa)], morning, state))

    assert [read(local(1, hour), 70.0) for hour in (3, 4, 8, 14, 22)] == [[]] * 5
    assert read(local(2, 5), 70.0) == [(NOW, RAISED), (PLAN, RAISED)]
    assert [read(local(2, hour), 5.0) for hour in (9, 12, 23)] == [[]] * 3
    assert read(local(3, 7), 5.0) == [(NOW, CLEARED), (PLAN, CLEARED)]


def test_faults_are_judged_at_any_hour() -> None:
    morning = setup(window=DecisionWindow(time(5), time(8), "Europe/Berlin"))
    bad = [reading("bus1/n20", local(1, 14) + n, None, Flag.FAIL, Cause.OPEN_CIRCUIT) for n in range(3)]
    assert told(judge(bad, morning)) == [(AlarmKind.ELECTRICAL, RAISED)]


def test_one_tensiometer_may_decide_for_its_zone_and_for_itself() -> None:
    zone = setup().irrigation[0]
    own = replace(zone, subject="tensiometer/north-20", plan_kpa=None, now_kpa=30.0)
    alarms = replace(setup(), irrigation=(zone, own))
    events = judge([at(0, 45.0)], alarms)
    assert [(e.key.kind, e.key.subject) for e in events] == [(PLAN, "zone/north"), (NOW, "tensiometer/north-20")]


def listen(state: AlarmState, minute: float, since: float = 0.0) -> list[tuple[str, Change]]:
    events = AlarmBook(setup()).listen(state, START_US + round(since * MINUTE_US), START_US + round(minute * MINUTE_US))
    return [(event.key.name, event.change) for event in events]


def test_every_channel_that_says_nothing_is_told_once() -> None:
    state = AlarmState()
    judge([at(9, 20.0)], state=state)
    assert listen(state, 31) == [(name, RAISED) for name in (*NORTH[1:], "creek-30")]
    assert listen(state, 40) == [("north-20", RAISED)]
    assert listen(state, 50) == []


def test_a_value_even_a_faulty_one_is_a_sign_of_life_but_no_value_is_none() -> None:
    state = AlarmState()
    judge([at(0, None, Flag.FAIL, Cause.OPEN_CIRCUIT)], state=state)
    assert state.heard_us == {"bus1/n20": START_US}
    judge([at(20, None, Flag.MISSING, Cause.NO_VALUE)], state=state)
    assert state.heard_us == {"bus1/n20": START_US}


def test_it_is_heard_when_it_was_received_not_when_it_was_measured() -> None:
    state = AlarmState()
    judge([replace(at(0, 20.0), received_us=START_US + HOUR_US)], state=state)
    assert state.heard_us == {"bus1/n20": START_US + HOUR_US}


def test_a_message_that_the_broker_kept_is_no_sign_of_life() -> None:
    state = AlarmState()
    judge([at(0, 20.0), at(29, 20.0, Flag.NOT_EVALUATED, Cause.TIME_UNKNOWN, late=True)], state=state)
    assert ("north-20", RAISED) in listen(state, 31)


def test_what_the_configuration_no_longer_has_is_forgotten() -> None:
    active = Condition(Phase.ACTIVE, 1, 0, 1)
    state = AlarmState(
        zones={
            "zone/north": ZoneState({"north-20": Vote(1, 50.0), "gone-10": Vote(1, 70.0)}, {NOW: active, PLAN: active}),
            "zone/gone": ZoneState({}, {NOW: active}),
        },
        faults={
            AlarmKey(AlarmKind.SILENT, "tensiometer/north-20"): active,
            AlarmKey(AlarmKind.SILENT, "tensiometer/gone-10"): active,
        },
        heard_us={"bus1/n20": 1},
    )
    AlarmBook(setup(plan_kpa=None)).prune(state)
    assert state == AlarmState(
        zones={"zone/north": ZoneState({"north-20": Vote(1, 50.0)}, {NOW: active})},
        faults={AlarmKey(AlarmKind.SILENT, "tensiometer/north-20"): active},
        heard_us={"bus1/n20": 1},
    )


def test_pruning_with_the_same_configuration_changes_nothing() -> None:
    alarms = small_site()[1]
    state, twin = AlarmState(), AlarmState()
    story = [reading(f"bus1/n{depth}", START_US, 50.0) for depth in (20, 40, 60)]
    judge(story, alarms, state)
    judge(story, alarms, twin)
    AlarmBook(alarms).prune(state)
    assert state == twin
