"""Rules over readings, channels and findings: when they come, when they go, and what they do not heed."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.book import AlarmBook, AlarmState
from parchd.alarms.condition import Change, Condition, Phase
from parchd.alarms.delays import Delays
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rule_state import GRAIN_US
from parchd.alarms.rules import AlarmSetup, DecisionWindow
from parchd.alarms.terms import Level, Presence, Quantity, Rule, Term
from parchd.contract import Cause, Flag, Priority, Reading
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, NORTH, START_US, reading, small_site

RAISED, CLEARED = Change.RAISED, Change.CLEARED
KEY = AlarmKey(AlarmKind.OWN_RULE, "rule/deep-wet")
A, B, C = NORTH
CHANNELS = {A: "bus1/n20", B: "bus1/n40", C: "bus1/n60"}
WET = Level(Quantity.TENSION, C, 2.0, above=False, deadband=1.0)
DRY = Level(Quantity.TENSION, A, 50.0, above=True, deadband=5.0)
LEAK = AlarmKey(AlarmKind.AIR_LEAK, f"tensiometer/{B}")
LEAKS, NO_LEAK = Presence("air-leak", B, (LEAK,)), Presence("air-leak", B, (LEAK,), absent=True)
ACTIVE = Condition(Phase.ACTIVE, START_US, 0, START_US)


def rule(*terms: Term, all_of: bool = True, on_min: float = 0, off_min: float = 0) -> Rule:
    return Rule(KEY, terms, all_of, Delays(on_min * 60, off_min * 60), Priority.MEDIUM, "water", "look")


class Site:
    """The small site with some rules, and what came of its readings."""

    def __init__(self, *rules: Rule, **changes: object) -> None:
        setup = replace(small_site()[1], rules=rules, **changes)  # type: ignore[arg-type]
        self.book = AlarmBook(setup)
        self.state = AlarmState()
        self.events: list[AlarmEvent] = []
        self.held: dict[str, float] = {}

    def read(self, *readings: Reading) -> list[tuple[Change, float]]:
        """What the rules said so far, and in which minute."""
        for one in readings:
            self.events += self.book.judge_one(self.state, one, lambda channel, kpa: self.held.get(channel, kpa))
        return self.told()

    def tick(self, minute: float) -> list[tuple[Change, float]]:
        self.events += self.book.listen(self.state, START_US, at(minute), alone=lambda _: False)
        return self.told()

    def told(self) -> list[tuple[Change, float]]:
        theirs = [e for e in self.events if e.key.kind in (AlarmKind.OWN_RULE, AlarmKind.WET_TOO_LONG)]
        return [(event.change, (event.time_us - START_US) / MINUTE_US) for event in theirs]


def word(level: Level) -> str:
    """Its name among those of the rule."""
    return rule(level).words[0]


def at(minute: float) -> int:
    return START_US + round(minute * MINUTE_US)


def of(
    name: str, minute: float, kpa: float | None, flag: Flag = Flag.PASS, cause: Cause = Cause.NONE, **more: bool
) -> Reading:
    return reading(CHANNELS[name], at(minute), kpa, flag, cause, **more)


def series(name: str, *tensions_kpa: float) -> list[Reading]:
    """A reading each minute."""
    return [of(name, minute, kpa) for minute, kpa in enumerate(tensions_kpa)]


def test_above_is_reached_at_its_value_and_left_at_its_value_less_the_deadband() -> None:
    told = Site(rule(DRY)).read(*series(A, 49.9, 50.0, 45.1, 45.0, 49.9, 50.0))
    assert told == [(RAISED, 1), (CLEARED, 3), (RAISED, 5)]


def test_below_is_reached_at_its_value_and_left_at_its_value_more_the_deadband() -> None:
    told = Site(rule(WET)).read(*series(C, 2.1, 2.0, 2.9, 3.0, 2.1, 1.9))
    assert told == [(RAISED, 1), (CLEARED, 3), (RAISED, 5)]


@pytest.mark.parametrize("level", [replace(DRY, deadband=0.0), replace(WET, name=A, limit=50.0, deadband=0.0)])
def test_without_a_deadband_the_value_itself_belongs_to_the_alarm(level: Level) -> None:
    step = 0.1 if level.above else -0.1
    assert Site(rule(level)).read(*series(A, 50.0 - step, 50.0, 50.0, 50.0 - step)) == [(RAISED, 1), (CLEARED, 3)]


def test_it_must_hold_for_its_time_and_be_over_for_its_time() -> None:
    site = Site(rule(DRY, on_min=30, off_min=60))
    assert site.read(of(A, 0, 55.0), of(A, 20, 40.0), of(A, 25, 55.0), of(A, 54, 55.0)) == []
    assert site.read(of(A, 55, 55.0)) == [(RAISED, 55)]
    site.read(of(A, 60, 40.0), of(A, 100, 48.0), of(A, 110, 40.0), of(A, 169, 40.0))
    assert site.told() == [(RAISED, 55), (CLEARED, 169)], "the deadband keeps a level as it was"


def test_all_of_several_must_hold_together_whoever_reports_last() -> None:
    for order in ((of(A, 0, 55.0), of(C, 1, 1.0)), (of(C, 0, 1.0), of(A, 1, 55.0))):
        site = Site(rule(DRY, WET))
        assert site.read(order[0]) == []
        assert site.read(order[1]) == [(RAISED, 1)]
        assert site.read(of(C, 5, 4.0)) == [(RAISED, 1), (CLEARED, 5)]


def test_one_of_several_is_enough_and_all_must_be_over() -> None:
    site = Site(rule(DRY, WET, all_of=False))
    assert site.read(of(C, 0, 9.0), of(A, 1, 55.0)) == [(RAISED, 1)]
    assert site.read(of(C, 2, 1.0), of(A, 3, 10.0)) == [(RAISED, 1)]
    assert site.read(of(C, 4, 9.0)) == [(RAISED, 1), (CLEARED, 4)]


DOUBTS = [
    (Flag.SUSPECT, Cause.SPIKE), (Flag.SUSPECT, Cause.DOUBTED), (Flag.FAIL, Cause.CONDEMNED),
    (Flag.FAIL, Cause.BELOW_PHYSICAL), (Flag.MISSING, Cause.NO_VALUE),
]  # fmt: skip


@pytest.mark.parametrize(("flag", "cause"), DOUBTS)
def test_a_doubtful_reading_neither_raises_nor_clears(flag: Flag, cause: Cause) -> None:
    site = Site(rule(DRY))
    assert site.read(*(of(A, minute, 55.0, flag, cause) for minute in range(10))) == []
    assert site.read(of(A, 20, 55.0)) == [(RAISED, 20)]
    assert site.read(*(of(A, 30 + minute, 1.0, flag, cause) for minute in range(200))) == [(RAISED, 20)]


def test_a_late_reading_changes_nothing() -> None:
    site = Site(rule(DRY))
    site.read(of(A, 0, 20.0))
    before = dict(site.state.rules.said)
    assert site.read(of(A, 10, 55.0, late=True)) == []
    assert site.state.rules.said == before


def test_silence_neither_raises_nor_clears() -> None:
    site = Site(rule(DRY, on_min=30))
    site.read(of(A, 0, 55.0))
    assert site.tick(600) == []
    assert site.read(of(A, 601, 55.0)) == [(RAISED, 601)]
    assert site.tick(6000) == [(RAISED, 601)]


def test_an_old_word_raises_nothing_but_keeps_up_what_it_raised() -> None:
    site = Site(rule(DRY, WET))
    assert site.read(of(A, 0, 55.0), of(C, 76, 1.0)) == [], "after an hour and a quarter A has no say"
    assert site.read(of(A, 77, 55.0)) == [(RAISED, 77)]
    assert site.read(*(of(C, 100 + n, 1.0) for n in range(200))) == [(RAISED, 77)], "A may be silent since"
    assert site.read(of(C, 400, 9.0))[-1] == (CLEARED, 400)


def test_a_fall_that_nothing_explains_neither_clears_above_nor_raises_below() -> None:
    """It lost its water and reads wet."""
    low = replace(WET, name=A)
    site = Site(rule(DRY, low, all_of=False))
    site.read(of(A, 0, 60.0))
    site.held["bus1/n20"] = 60.0
    assert site.read(*(of(A, minute, 0.0) for minute in range(1, 100))) == [(RAISED, 0)]
    said = site.state.rules.said
    assert (said[word(DRY)].holds, said[word(low)].holds) == (True, False)
    site.held.clear()
    site.read(of(A, 120, 0.0))
    assert said[word(low)].holds, "water explained it"


def test_what_a_tensiometer_said_while_it_was_not_to_be_believed_is_taken_back() -> None:
    site = Site(rule(replace(WET, name=A), WET, all_of=False))
    site.read(of(A, 0, 9.0), of(C, 0, 9.0), of(A, 60, 1.0))
    assert site.told() == [(RAISED, 60)]
    site.book.withdraw(site.state, A, at(50), lambda _: None)
    assert site.read(of(C, 61, 9.0)) == [(RAISED, 60), (CLEARED, 61)]


def test_what_it_said_before_that_stays() -> None:
    site = Site(rule(DRY))
    site.read(of(A, 0, 55.0), of(A, 60, 55.0))
    site.book.withdraw(site.state, A, at(50), lambda _: None)
    assert site.state.rules.said[word(DRY)].holds
    assert site.told() == [(RAISED, 0)]


def test_a_finding_counts_while_its_alarm_is_on() -> None:
    site = Site(rule(WET, LEAKS))
    assert site.read(of(C, 0, 1.0)) == []
    site.state.faults[LEAK] = ACTIVE
    assert site.read(of(C, 1, 1.0)) == [(RAISED, 1)]
    del site.state.faults[LEAK]
    assert site.read(of(C, 2, 1.0)) == [(RAISED, 1), (CLEARED, 2)]


def test_a_finding_may_be_asked_to_be_absent() -> None:
    site = Site(rule(WET, NO_LEAK))
    site.state.faults[LEAK] = ACTIVE
    assert site.read(of(C, 0, 1.0)) == []
    del site.state.faults[LEAK]
    assert site.read(of(C, 1, 1.0)) == [(RAISED, 1)]


def test_a_rule_without_readings_is_judged_by_the_daemons_clock() -> None:
    silent = Presence("silent", B, (AlarmKey(AlarmKind.SILENT, f"tensiometer/{B}"),))
    site = Site(rule(silent, LEAKS, on_min=60))
    site.state.faults |= {LEAK: ACTIVE, silent.keys[0]: ACTIVE}
    assert site.tick(1) == site.tick(60) == []
    assert site.tick(61) == [(RAISED, 61)]
    del site.state.faults[LEAK]
    assert site.tick(62) == [(RAISED, 61), (CLEARED, 62)]


def test_a_channel_is_taken_as_it_comes_whatever_its_flag() -> None:
    low = Level(Quantity.CHANNEL, "bus1/vs", 4.6, above=False, deadband=0.1)
    site = Site(rule(low))
    assert site.read(reading("bus1/vs", at(0), 4.7, Flag.NOT_EVALUATED)) == []
    assert site.read(reading("bus1/vs", at(1), 4.6, Flag.SUSPECT, Cause.NO_SUPPLY)) == [(RAISED, 1)]
    assert site.read(reading("bus1/vs", at(2), None, Flag.MISSING, Cause.NO_VALUE)) == [(RAISED, 1)]
    assert site.read(reading("bus1/vs", at(3), 5.0, late=True)) == [(RAISED, 1)]
    assert site.read(reading("bus1/vs", at(4), 4.7)) == [(RAISED, 1), (CLEARED, 4)]


def test_a_channel_of_a_tensiometer_may_be_watched_raw() -> None:
    raw = Level(Quantity.CHANNEL, CHANNELS[A], 50.0, above=True)
    assert Site(rule(raw)).read(of(A, 0, 55.0, Flag.FAIL, Cause.CONDEMNED)) == [(RAISED, 0)]


def test_a_zone_is_what_it_votes_for() -> None:
    zone = Level(Quantity.ZONE_TENSION, "north", 30.0, above=True, deadband=5.0, fresh_s=26 * 3600)
    site = Site(rule(zone))
    assert site.read(of(A, 0, 99.0), of(B, 1, 10.0), of(C, 2, 10.0)) == [(RAISED, 0), (CLEARED, 2)]
    assert site.read(of(B, 3, 35.0))[2:] == [(RAISED, 3)], "the median"


# --- drying, and ground that stays wet

MORNING = DecisionWindow(time(5), time(8), "Europe/Berlin")


def drying(*members: str) -> Rule:
    key = AlarmKey(AlarmKind.WET_TOO_LONG, "zone/north")  # any kind that is told here
    return Rule(key, (Level(Quantity.ZONE_RISE, "north", 8.0, True, 1.6, 26 * 3600, members),))


def day(name: str, number: int, kpa: float, flag: Flag = Flag.PASS, hour: float = 0.0) -> Reading:
    return reading(CHANNELS[name], START_US + number * DAY_US + round(hour * HOUR_US), kpa, flag)


def days(site: Site) -> list[tuple[Change, int]]:
    return [(change, int(minute // 1440)) for change, minute in site.told()]


def test_a_zone_that_dries_fast_is_told_on_the_third_morning_and_cleared_by_water() -> None:
    site = Site(drying(A), mornings={A: MORNING})
    site.read(*(day(A, number, 20.0 + 8.0 * number) for number in range(3)))
    assert days(site) == [(RAISED, 2)]
    assert site.events[0].evidence["held"] == [
        {"what": "zone_rise", "name": "north", "value": 8.0, "limit": 8.0, "above": True, "unit": "kPa a day"}
    ]
    site.read(day(A, 3, 10.0))
    assert days(site) == [(RAISED, 2), (CLEARED, 3)]


def test_it_dries_at_its_usual_pace_below_the_limit_less_its_deadband() -> None:
    site = Site(drying(A), mornings={A: MORNING})
    pace = [8.0, 8.0, 8.0, 7.0, 7.0, 7.0, 7.0, 6.0, 6.0, 6.0]
    kpa = 0.0
    for number, step in enumerate(pace):
        kpa += step
        site.read(day(A, number, kpa))
    assert days(site) == [(RAISED, 2), (CLEARED, 9)]


def test_readings_outside_of_the_morning_and_doubtful_ones_tell_nothing_of_drying() -> None:
    site = Site(drying(A), mornings={A: MORNING})
    site.read(*(day(A, number, 20.0 + 9.0 * number, hour=8.0) for number in range(6)))
    site.read(*(day(A, 10 + number, 20.0 + 9.0 * number, Flag.SUSPECT) for number in range(6)))
    assert site.state.rules.marks == {}
    assert site.told() == []


def test_the_middle_of_its_tensiometers_tells_how_fast_a_zone_dries() -> None:
    site = Site(drying(A, B, C), mornings=dict.fromkeys(NORTH, MORNING))
    for number in range(5):
        site.read(day(A, number, 20.0 + 3.0 * number), day(B, number, 20.0 + 4.0 * number))
        site.read(day(C, number, 20.0 + 12.0 * number))
    assert site.told() == []


def test_a_fall_that_nothing_explains_is_no_morning() -> None:
    site = Site(drying(A), mornings={A: MORNING})
    site.read(*(day(A, number, 20.0 + 9.0 * number) for number in range(3)))
    site.held["bus1/n20"] = 38.0
    site.read(*(day(A, number, 0.0) for number in range(3, 6)))
    assert days(site) == [(RAISED, 2)]


def test_mornings_that_were_not_to_be_believed_are_taken_back() -> None:
    site = Site(drying(A), mornings={A: MORNING})
    site.read(*(day(A, number, 20.0 + number) for number in range(4)))
    site.book.withdraw(site.state, A, START_US + 2 * DAY_US, lambda _: None)
    assert [mark.kpa for mark in site.state.rules.marks[A]] == [20.0, 21.0]


def wet(hours: float) -> Rule:
    levels = tuple(replace(WET, name=name, limit=1.0) for name in NORTH)
    return Rule(AlarmKey(AlarmKind.WET_TOO_LONG, "zone/north"), levels, all_of=False, delays=Delays(hours * 3600))


def test_ground_that_is_wet_for_two_days_at_any_depth_is_told_and_cleared_when_it_drains() -> None:
    site = Site(wet(48))
    for hour in range(48):
        assert site.read(of(A, 60 * hour, 10.0), of(C, 60 * hour, 0.5)) == []
    assert site.read(of(C, 2880, 0.5)) == [(RAISED, 2880)]
    held = site.events[-1].evidence["held"]
    assert isinstance(held, list)
    assert [term["name"] for term in held if isinstance(term, dict)] == [C]
    assert site.read(of(C, 2900, 1.9)) == [(RAISED, 2880)]
    assert site.read(of(C, 2910, 2.0)) == [(RAISED, 2880), (CLEARED, 2910)]


def test_a_dry_day_between_begins_the_wet_time_anew() -> None:
    site = Site(wet(48))
    site.read(*(of(C, 60 * hour, 3.0 if hour == 24 else 0.5) for hour in range(72)))
    assert site.told() == []
    assert site.read(of(C, 60 * 73, 0.5)) == [(RAISED, 60 * 73)]


def test_a_rule_of_ours_says_nothing_in_words_of_ones_own() -> None:
    site = Site(wet(0), rule(WET))
    site.read(of(C, 0, 0.5))
    own, ours = sorted(site.events, key=lambda event: event.key.kind)
    assert (own.evidence["say"], own.evidence["respond"]) == ("water", "look")
    assert set(ours.evidence) == {"held"}


# --- what it rests on, priorities, memory


def test_a_rule_of_ones_own_has_its_own_priority() -> None:
    setup = AlarmSetup(rules=(rule(DRY),))
    assert setup.priority(*KEY) is Priority.MEDIUM
    assert setup.priority(AlarmKind.OWN_RULE, "rule/other") is Priority.LOW


def test_an_unchanged_word_is_noted_every_quarter_of_an_hour_only() -> None:
    site = Site(rule(DRY))
    changes = 0
    for second in range(0, 3600, 10):
        site.state.rules.changed.clear()
        site.read(reading(CHANNELS[A], START_US + second * 1_000_000, 20.0))
        changes += bool(site.state.rules.changed)
    assert changes == 3600 * 1_000_000 / GRAIN_US


def test_levels_and_mornings_that_no_rule_asks_for_are_forgotten() -> None:
    site = Site(rule(DRY), drying(A), mornings={A: MORNING})
    site.read(day(A, 0, 55.0))
    assert site.state.rules.said
    AlarmBook(small_site()[1]).prune(site.state)
    assert (site.state.rules.said, site.state.rules.marks, site.state.faults) == ({}, {}, {})
    assert site.state.rules.changed, "and that is written"
    assert site.state.rules.marked == {A}


story = st.lists(
    st.tuples(
        st.sampled_from(NORTH), st.integers(0, 4000), st.floats(-5.0, 90.0),
        st.sampled_from([Flag.PASS, Flag.PASS, Flag.SUSPECT, Flag.FAIL]),
    ),
    max_size=40,
)  # fmt: skip
RULES = (rule(DRY, WET, on_min=30), wet(2), drying(A, B))


def readings_of(told: list[tuple[str, int, float, Flag]]) -> Sequence[Reading]:
    return [of(name, minute, kpa, flag) for name, minute, kpa, flag in sorted(told, key=lambda one: one[1])]


@given(story, st.data())
def test_cutting_the_readings_anywhere_changes_nothing(
    told: list[tuple[str, int, float, Flag]], data: st.DataObject
) -> None:
    readings, mornings = readings_of(told), dict.fromkeys((A, B), MORNING)
    cut = data.draw(st.integers(0, len(readings)))
    whole, parts = Site(*RULES, mornings=mornings), Site(*RULES, mornings=mornings)
    whole.read(*readings)
    parts.read(*readings[:cut])
    parts.read(*readings[cut:])
    assert (whole.events, whole.state) == (parts.events, parts.state)


@given(story)
def test_doubtful_readings_leave_rules_as_if_they_had_never_come(told: list[tuple[str, int, float, Flag]]) -> None:
    mornings = dict.fromkeys((A, B), MORNING)
    everything, believed = Site(*RULES, mornings=mornings), Site(*RULES, mornings=mornings)
    everything.read(*readings_of(told))
    believed.read(*readings_of([one for one in told if one[3] is Flag.PASS]))
    assert everything.told() == believed.told()
    assert everything.state.rules == believed.state.rules


@given(story)
def test_raises_and_clears_come_by_turns(told: list[tuple[str, int, float, Flag]]) -> None:
    site = Site(*RULES, mornings=dict.fromkeys((A, B), MORNING))
    site.read(*readings_of(told))
    for key in {event.key for event in site.events}:
        changes = [event.change for event in site.events if event.key == key]
        assert changes == [RAISED, CLEARED] * (len(changes) // 2) + [RAISED] * (len(changes) % 2)
