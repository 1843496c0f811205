"""How the tensiometers of a zone speak with one voice, and that none of them clears an alarm by failing."""

from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.condition import Change
from parchd.alarms.irrigation import EMPTY, Vote, ZoneState, judge_zone
from parchd.alarms.polls import Poll, Way, zone_kpa
from parchd.alarms.rules import AlarmKind, IrrigationRule
from parchd.testing.site import MINUTE_US, START_US, small_site

A, B, C = "north-20", "north-40", "north-60"
STATIONS = {A: "upper", B: "upper", C: "lower"}
RULE = replace(small_site()[1].irrigation[0], plan_kpa=None, stations=STATIONS, fresh_s=3600.0)
WAYS: tuple[Way, ...] = (*Poll, 1, 2, 3)

Cast = tuple[str, int, float]


def judge(rule: IrrigationRule, votes: Iterable[Cast], state: ZoneState = EMPTY) -> tuple[ZoneState, list[Change]]:
    changes = []
    for name, minute, tension_kpa in votes:
        state, found = judge_zone(rule, state, name, Vote(START_US + minute * MINUTE_US, tension_kpa))
        changes += [event.change for event in found]
    return state, changes


def is_active(state: ZoneState) -> bool:
    return state.levels[AlarmKind.IRRIGATE_NOW].phase.is_active


@pytest.mark.parametrize(
    ("way", "expected_kpa"),
    [(Poll.MEDIAN, 30.0), (Poll.ANY, 90.0), (1, 90.0), (2, 30.0), (3, 10.0), (Poll.MEAN_OF_STATIONS, 55.0)],
)
def test_each_way_makes_its_own_tension(way: Way, expected_kpa: float) -> None:
    assert zone_kpa(way, {A: 10.0, B: 30.0, C: 90.0}, STATIONS) == expected_kpa


def test_any_asks_for_water_when_the_driest_has_reached_the_limit_and_clears_when_all_are_wet() -> None:
    rule = replace(RULE, way=Poll.ANY)
    state, changes = judge(rule, [(A, 0, 10.0), (B, 1, 59.9), (B, 2, 60.0)])
    assert changes == [Change.RAISED]
    assert judge(rule, [(A, 3, 5.0), (B, 4, 55.1)], state)[1] == []
    assert judge(rule, [(B, 5, 55.0)], state)[1] == [Change.CLEARED]


def test_two_of_three_ask_for_water_when_two_have_reached_the_limit() -> None:
    rule = replace(RULE, way=2)
    state, changes = judge(rule, [(A, 0, 99.0), (B, 1, 59.0), (C, 2, 10.0)])
    assert changes == []
    state, changes = judge(rule, [(C, 3, 60.0)], state)
    assert changes == [Change.RAISED]
    assert judge(rule, [(C, 4, 50.0)], state)[1] == [], "59 kPa of the other one lie within the deadband"
    assert judge(rule, [(B, 4, 50.0), (C, 5, 50.0)], state)[1] == [Change.CLEARED]


def test_fewer_votes_than_it_asks_for_raise_nothing() -> None:
    assert judge(replace(RULE, way=2), [(A, minute, 99.0) for minute in range(5)])[1] == []
    stale = [(A, 0, 99.0), (B, 61, 99.0)]
    assert judge(replace(RULE, way=2), stale)[1] == []


def test_stations_weigh_the_same_however_many_stand_there() -> None:
    rule = replace(RULE, way=Poll.MEAN_OF_STATIONS, min_trusted=3)
    assert judge(rule, [(A, 0, 80.0), (B, 1, 80.0), (C, 2, 39.0)])[1] == []
    assert judge(rule, [(A, 0, 80.0), (B, 1, 80.0), (C, 2, 40.0)])[1] == [Change.RAISED]


tensions = st.floats(-20.0, 120.0)
ways = st.sampled_from(WAYS)
votes = st.dictionaries(st.sampled_from([A, B, C]), tensions, min_size=1)


@given(ways, votes, st.data())
def test_no_vote_rises_and_makes_the_zone_wetter(way: Way, cast: dict[str, float], data: st.DataObject) -> None:
    before_kpa = zone_kpa(way, cast, STATIONS)
    name = data.draw(st.sampled_from(sorted(cast)))
    risen = {**cast, name: cast[name] + data.draw(st.floats(0.0, 50.0))}
    assert zone_kpa(way, risen, STATIONS) >= before_kpa - 1e-9


@given(ways, votes)
def test_the_zone_is_never_drier_than_its_driest_nor_wetter_than_its_wettest(way: Way, cast: dict[str, float]) -> None:
    assert min(cast.values()) - 1e-9 <= zone_kpa(way, cast, STATIONS) <= max(cast.values()) + 1e-9


casts = st.lists(st.tuples(st.sampled_from([A, B, C]), st.integers(0, 200), tensions), max_size=20).map(
    lambda some: sorted(some, key=lambda vote: vote[1])
)


@given(ways, casts, st.sampled_from([A, B, C]))
def test_a_tensiometer_that_fails_never_clears_an_alarm(way: Way, cast: list[Cast], failing: str) -> None:
    """It falls silent; the others go on saying what they said, and with its last word the zone is still dry."""
    rule = replace(RULE, way=way)
    state, _ = judge(rule, cast)
    if not state.levels or not is_active(state) or not state.votes.keys() - {failing}:
        return
    if zone_kpa(way, {name: vote.tension_kpa for name, vote in state.votes.items()}, STATIONS) <= 55.0:
        return  # wet, as far as is known: it was on by fresh votes alone
    again = [
        (name, 201 + 10 * n, vote.tension_kpa)
        for n in range(30)
        for name, vote in state.votes.items()
        if name != failing
    ]
    assert Change.CLEARED not in judge(rule, again, state)[1]


@given(ways, casts, st.data())
def test_cutting_the_votes_anywhere_changes_nothing(way: Way, cast: list[Cast], data: st.DataObject) -> None:
    rule, cut = replace(RULE, way=way), data.draw(st.integers(0, len(cast)))
    state, first = judge(rule, cast[:cut])
    state, second = judge(rule, cast[cut:], state)
    assert (state, first + second) == judge(rule, cast)
