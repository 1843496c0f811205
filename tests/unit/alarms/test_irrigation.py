"""Does a zone need water? Votes, medians, limits and deadband."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.condition import Change, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.irrigation import EMPTY, Vote, ZoneState, judge_zone
from parchd.alarms.rules import AlarmKind, Delays, IrrigationRule
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, small_site

NOW, PLAN = AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN
RAISED, CLEARED = Change.RAISED, Change.CLEARED
A, B, C = "north-20", "north-40", "north-60"
RULE = small_site()[1].irrigation[0]
NOW_ONLY = replace(RULE, plan_kpa=None)

Cast = tuple[str, int, float]


def judge(rule: IrrigationRule, votes: Iterable[Cast], state: ZoneState = EMPTY) -> tuple[ZoneState, list[AlarmEvent]]:
    """Cast votes (tensiometer, minute, kPa) one after another."""
    events = []
    for name, minute, tension_kpa in votes:
        state, found = judge_zone(rule, state, name, Vote(START_US + minute * MINUTE_US, tension_kpa))
        events += found
    return state, events


def told(events: Iterable[AlarmEvent]) -> list[tuple[AlarmKind, Change, float | None]]:
    return [(event.key.kind, event.change, event.tension_kpa) for event in events]


def by_value(rule: IrrigationRule, *tensions_kpa: float) -> list[bool]:
    """Whether "irrigate now" is active after each reading of one tensiometer."""
    state, active = EMPTY, []
    for minute, tension_kpa in enumerate(tensions_kpa):
        state, _ = judge(rule, [(A, minute, tension_kpa)], state)
        active.append(state.levels[NOW].phase.is_active)
    return active


def test_a_limit_is_reached_at_its_value_and_left_at_its_value_less_the_deadband() -> None:
    """Limit 60 kPa, deadband 5 kPa: ``>=`` raises, ``<=`` clears; between them it stays as it was."""
    seen = by_value(NOW_ONLY, 59.9, 60.0, 60.1, 58.0, 55.1, 55.0, 54.9, 59.9, 60.0, 54.9)
    assert seen == [False, True, True, True, True, False, False, False, True, False]


def test_a_deadband_of_zero_clears_only_where_it_does_not_raise() -> None:
    assert by_value(replace(NOW_ONLY, deadband_kpa=0.0), 60.0, 60.0, 59.9) == [True, True, False]


def test_each_level_has_its_own_limit_and_the_more_urgent_comes_first() -> None:
    _, events = judge(RULE, [(A, 0, 39.9), (A, 1, 40.0), (A, 2, 65.0), (A, 3, 50.0), (A, 4, 20.0)])
    assert told(events) == [(PLAN, RAISED, 40.0), (NOW, RAISED, 65.0), (NOW, CLEARED, 50.0), (PLAN, CLEARED, 20.0)]
    _, together = judge(RULE, [(A, 0, 65.0), (A, 1, 10.0)])
    assert told(together) == [(NOW, RAISED, 65.0), (PLAN, RAISED, 65.0), (NOW, CLEARED, 10.0), (PLAN, CLEARED, 10.0)]


def test_a_rule_may_have_one_level_only() -> None:
    _, events = judge(replace(RULE, now_kpa=None), [(A, 0, 99.0)])
    assert told(events) == [(PLAN, RAISED, 99.0)]


def test_an_event_says_what_it_rests_on() -> None:
    _, (raised, cleared) = judge(NOW_ONLY, [(A, 0, 50.0), (B, 1, 70.0), (C, 2, 80.0), (B, 3, 30.0), (C, 4, 30.0)])
    assert raised == AlarmEvent(
        AlarmKey(NOW, "zone/north"), RAISED, START_US + MINUTE_US, START_US + MINUTE_US, 60.0, 60.0,
        {"tensiometers": 2, "of": 3, "vote": "median"},
    )  # fmt: skip
    assert (cleared.time_us, cleared.raised_us) == (START_US + 3 * MINUTE_US, START_US + MINUTE_US)


@pytest.mark.parametrize("order", list(permutations([(A, 10.0), (B, 61.0), (C, 99.0)])))
def test_the_zone_is_judged_by_the_median_whoever_reports_first(order: tuple[tuple[str, float], ...]) -> None:
    state, _ = judge(replace(NOW_ONLY, min_trusted=3), [(name, n, value) for n, (name, value) in enumerate(order)])
    assert state.levels[NOW].phase is Phase.ACTIVE


def test_one_wild_tensiometer_of_three_raises_nothing() -> None:
    votes = [(A, 0, 20.0), (B, 0, 20.0), (C, 0, 20.0), (A, 1, 99.0), (A, 2, 99.0)]
    assert judge(RULE, votes)[1] == []


def test_too_few_trusted_tensiometers_raise_nothing() -> None:
    two = replace(NOW_ONLY, min_trusted=2)
    assert judge(two, [(A, 0, 70.0), (A, 5, 70.0)])[1] == []
    assert told(judge(two, [(A, 0, 70.0), (B, 5, 70.0)])[1]) == [(NOW, RAISED, 70.0)]


def test_a_stale_vote_has_no_say_in_raising() -> None:
    hour = replace(NOW_ONLY, min_trusted=2, fresh_s=3600.0)
    assert judge(hour, [(A, 0, 90.0), (B, 61, 90.0)])[1] == []
    assert told(judge(hour, [(A, 0, 90.0), (B, 60, 90.0)])[1]) == [(NOW, RAISED, 90.0)]
    wet_again = judge(replace(hour, min_trusted=1), [(A, 0, 20.0), (B, 61, 70.0)])[1]
    assert told(wet_again) == [(NOW, RAISED, 70.0)]


def test_a_stale_vote_must_agree_before_an_alarm_clears() -> None:
    hour = replace(NOW_ONLY, fresh_s=3600.0)
    votes = [(A, 0, 80.0), (B, 0, 80.0), (B, 70, 45.0)]
    state, events = judge(hour, votes)
    assert told(events) == [(NOW, RAISED, 80.0)]  # the median of 80, stale, and 45 is above 55
    assert told(judge(hour, [(B, 71, 30.0)], state)[1]) == [(NOW, CLEARED, 30.0)]


def test_fresh_votes_that_are_still_dry_keep_the_alarm_whatever_stale_ones_say() -> None:
    hour = replace(NOW_ONLY, fresh_s=3600.0)
    state, _ = judge(hour, [(A, 0, 1.0), (B, 0, 1.0), (C, 70, 70.0)])
    assert state.levels[NOW].phase is Phase.ACTIVE
    assert judge(hour, [(C, 80, 70.0)], state)[1] == []


def test_the_delays_count_from_one_deciding_reading_to_the_next() -> None:
    slow = replace(NOW_ONLY, delays=Delays(on_s=1800, off_s=3600))
    votes = [(A, 0, 65.0), (A, 29, 65.0), (A, 30, 65.0), (A, 40, 20.0), (A, 99, 20.0), (A, 100, 20.0)]
    _, events = judge(slow, votes)
    assert [(event.change, event.time_us - START_US) for event in events] == [
        (RAISED, 30 * MINUTE_US), (CLEARED, 100 * MINUTE_US),
    ]  # fmt: skip


def test_a_reading_within_the_deadband_breaks_the_off_delay() -> None:
    slow = replace(NOW_ONLY, delays=Delays(off_s=3600))
    votes = [(A, 0, 65.0), (A, 10, 20.0), (A, 50, 57.0), (A, 70, 20.0), (A, 129, 20.0)]
    assert told(judge(slow, votes)[1]) == [(NOW, RAISED, 65.0)]


def test_judging_leaves_the_state_it_was_given_alone() -> None:
    state, _ = judge(RULE, [(A, 0, 20.0)])
    kept = ZoneState(dict(state.votes), dict(state.levels))
    judge(RULE, [(A, 1, 70.0), (B, 1, 70.0)], state)
    assert state == kept


tensions = st.floats(-20.0, 120.0)
casts = st.lists(st.tuples(st.sampled_from([A, B, C]), st.integers(0, 50), tensions), max_size=25).map(
    lambda votes: sorted(votes, key=lambda vote: vote[1])
)


@given(casts, st.integers(1, 3))
def test_nothing_is_raised_unless_enough_fresh_votes_stand_at_the_limit(votes: list[Cast], min_trusted: int) -> None:
    rule = replace(NOW_ONLY, min_trusted=min_trusted, fresh_s=600.0)
    for end in range(len(votes) + 1):
        last = {name: (minute, value) for name, minute, value in votes[:end]}
        _, before = judge(rule, votes[: end - 1] if end else [])
        _, after = judge(rule, votes[:end])
        if len(after) > len(before) and after[-1].change is RAISED:
            fresh = [value for minute, value in last.values() if votes[end - 1][1] - minute <= 10]
            assert len(fresh) >= min_trusted
            assert max(fresh) >= 60.0


@given(casts)
def test_an_alarm_never_clears_while_most_votes_are_dry(votes: list[Cast]) -> None:
    rule = replace(NOW_ONLY, fresh_s=600.0)
    state = EMPTY
    for vote in votes:
        state, events = judge(rule, [vote], state)
        if any(event.change is CLEARED for event in events):
            wet = [v for v in state.votes.values() if v.tension_kpa <= 55.0]
            assert 2 * len(wet) >= len(state.votes)


@given(casts, st.floats(1.0, 30.0))
def test_a_drier_zone_is_never_told_later(votes: list[Cast], drier_by_kpa: float) -> None:
    drier = [(name, minute, value + drier_by_kpa) for name, minute, value in votes]
    first = [next((e.time_us for e in judge(NOW_ONLY, some)[1]), START_US + HOUR_US) for some in (votes, drier)]
    assert first[1] <= first[0]
