"""What is suppressed by design, why, and what never is."""

from collections.abc import Collection
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Condition, Phase
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import ALARM_OF
from parchd.alarms.irrigation import ZoneState
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rule_state import Said
from parchd.alarms.rules import DISK, AlarmSetup, IrrigationRule
from parchd.alarms.suppression import Scene, suppressed
from parchd.alarms.terms import Level, Presence, Quantity, Rule
from parchd.contract import Flag
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.testing.site import HOUR_US, MINUTE_US, NORTH, START_US, names_of, small_site

PIPELINE, ALARMS = small_site()
PLACES = names_of(PIPELINE).places
A, B, C = NORTH
NOW = AlarmKind.IRRIGATE_NOW
LATER = START_US + HOUR_US
SILENT_A = AlarmKey(AlarmKind.SILENT, f"tensiometer/{A}")
SILENT_SOURCE, AWAY = AlarmKey(AlarmKind.SILENT_SOURCE, "source/bus1"), AlarmKey(AlarmKind.SOURCE_DOWN, "source/bus1")
OWN_RULE = IrrigationRule(f"tensiometer/{A}", (A,), None, 50.0, 5.0, ALARMS.irrigation[0].delays, None)
SETUP = replace(ALARMS, irrigation=(*ALARMS.irrigation, OWN_RULE))


def active(since_us: int = START_US, phase: Phase = Phase.ACTIVE) -> Condition:
    return Condition(phase, since_us, 0, since_us if phase.is_active else None)


def state(*keys: AlarmKey, **levels: int) -> AlarmState:
    """These alarms are on; irrigation alarms of ``zone`` or ``own`` since this time."""
    found = AlarmState(faults={key: active() for key in keys})
    for name, since_us in levels.items():
        subject = "zone/north" if name == "zone" else f"tensiometer/{A}"
        found.zones[subject] = ZoneState({}, {NOW: active(since_us)})
    return found


def finding(kind: FindingKind = FindingKind.LOST_WATER, name: str = A, start_us: int = START_US) -> Finding:
    return Finding(FindingKey(kind, f"tensiometer/{name}"), start_us, start_us + HOUR_US, 0.9)


def why(
    known: AlarmState, *findings: Finding, served: Collection[str] = (), setup: AlarmSetup = SETUP
) -> dict[AlarmKey, str]:
    """What is suppressed; the alarms of findings are on, as they are in life."""
    for one in findings:
        known.faults.setdefault(AlarmKey(ALARM_OF[one.key.kind], one.key.subject), active(one.found_us))
    return suppressed(Scene(setup, known, PLACES, findings, served))


def test_nothing_is_suppressed_while_all_is_well() -> None:
    assert why(AlarmState()) == {}
    assert why(state(zone=START_US)) == {}


def test_a_silent_source_suppresses_the_silence_of_its_tensiometers() -> None:
    assert why(state(SILENT_A)) == {}
    assert why(state(SILENT_A, SILENT_SOURCE)) == {SILENT_A: "source bus1 is silent"}


def test_a_source_that_cannot_be_reached_explains_its_silence() -> None:
    assert why(state(SILENT_A, SILENT_SOURCE, AWAY)) == {
        SILENT_A: "source bus1 cannot be reached", SILENT_SOURCE: "source bus1 cannot be reached",
    }  # fmt: skip


@pytest.mark.parametrize(("minutes", "is_suppressed"), [(0, True), (30, True), (31, False), (-1, False)])
def test_once_it_is_there_again_its_tensiometers_have_their_intervals_anew(minutes: int, is_suppressed: bool) -> None:
    """Three of ten minutes; a time that lies in the future is none."""
    scene = Scene(SETUP, state(SILENT_A, SILENT_SOURCE), PLACES, now_us=LATER)
    later = replace(scene, reached_us={"bus1": LATER - minutes * MINUTE_US})
    assert (SILENT_SOURCE in suppressed(later)) is is_suppressed


def test_it_explains_it_before_its_own_delay_is_over() -> None:
    known = state(SILENT_SOURCE)
    known.faults[AWAY] = active(phase=Phase.RAISING)
    assert set(why(known)) == {SILENT_SOURCE}


def test_what_is_not_on_is_not_suppressed() -> None:
    assert why(state(AWAY)) == {}


def test_another_source_explains_nothing() -> None:
    far = tuple(replace(rule, channel=f"bus2/{rule.tensiometer}") for rule in SETUP.faults)
    assert why(state(SILENT_A, AWAY), setup=replace(SETUP, faults=far)) == {}


def test_a_full_disk_is_filling_no_more() -> None:
    full, filling = AlarmKey(AlarmKind.DISK_FULL, DISK), AlarmKey(AlarmKind.DISK_FILLING, DISK)
    assert why(state(filling)) == {}
    assert why(state(filling, full)) == {filling: "the disk is full already"}


@pytest.mark.parametrize("kind", [AlarmKind.ELECTRICAL, AlarmKind.IMPOSSIBLE, AlarmKind.SILENT, AlarmKind.STUCK_VALUE])
def test_a_service_suppresses_the_faults_of_its_tensiometer_and_of_no_other(kind: AlarmKind) -> None:
    here, there = AlarmKey(kind, f"tensiometer/{A}"), AlarmKey(kind, f"tensiometer/{B}")
    assert set(why(state(here, there), served={A})) == {here}


def test_a_service_suppresses_no_irrigation_alarm() -> None:
    assert why(state(zone=START_US, own=START_US), served=set(NORTH)) == {}


def test_a_condemned_tensiometer_suppresses_its_own_irrigation_alarm_and_says_who_speaks() -> None:
    (key, reason), *_ = why(state(own=START_US + HOUR_US), finding()).items()
    assert key == AlarmKey(NOW, f"tensiometer/{A}")
    assert reason == f"{A}, which cannot be believed (lost water column); {B}, {C} speak for the zone"


@pytest.mark.parametrize("kind", ALARM_OF)
def test_only_findings_that_take_trust_away_suppress_it(kind: FindingKind) -> None:
    found = why(state(own=START_US + HOUR_US), finding(kind))
    assert bool(found) is (CONSEQUENCES[kind].flag is not Flag.PASS or kind is FindingKind.SILENT_SOURCE)


def test_an_alarm_from_before_the_evidence_is_not_hidden() -> None:
    assert why(state(own=START_US - 1), finding()) == {}


def test_an_alarm_is_not_hidden_where_nobody_else_can_speak_for_the_zone() -> None:
    assert why(state(own=START_US + HOUR_US), finding(), finding(name=B), finding(name=C)) == {}


@pytest.mark.parametrize("fault", [AlarmKind.ELECTRICAL, AlarmKind.SILENT, AlarmKind.ABOVE_LIMIT])
def test_a_fault_of_wire_or_range_hides_no_need_for_water(fault: AlarmKind) -> None:
    """A wire that was cut, and a tension above the usable limit, say nothing against what was read before."""
    assert why(state(AlarmKey(fault, f"tensiometer/{A}"), own=START_US + HOUR_US)) == {}


# --- rules

RULE = AlarmKey(AlarmKind.WET_TOO_LONG, "zone/north")


def wet(*names: str, all_of: bool = False, more: tuple[Presence, ...] = ()) -> Rule:
    return Rule(RULE, (*(Level(Quantity.TENSION, name, 1.0, above=False) for name in names), *more), all_of)


def rule_why(rule: Rule, said: dict[str, tuple[bool, int]], *findings: Finding) -> set[AlarmKey]:
    """What is suppressed of a rule that is on; what its tensiometers said, and since when."""
    known = state(RULE)
    for term, word in zip(rule.terms, rule.words, strict=True):
        if isinstance(term, Level) and term.name in said:
            holds, since_us = said[term.name]
            known.rules.said[word] = Said(holds, 0.5, since_us, since_us)
    return {key for key in why(known, *findings, setup=replace(SETUP, rules=(rule,))) if key == RULE}


def test_a_rule_that_rests_on_one_in_doubt_is_suppressed() -> None:
    assert rule_why(wet(A, B), {A: (True, LATER), B: (False, LATER)}, finding()) == {RULE}


def test_a_rule_that_rests_on_others_too_is_not() -> None:
    assert rule_why(wet(A, B), {A: (True, LATER), B: (True, LATER)}, finding()) == set()
    assert rule_why(wet(A, B), {A: (True, LATER), B: (True, LATER)}) == set()


def test_a_rule_that_needs_all_is_suppressed_when_one_is_in_doubt() -> None:
    both = {A: (True, LATER), B: (True, LATER)}
    assert rule_why(wet(A, B, all_of=True), both, finding()) == {RULE}


def test_a_rule_whose_words_were_taken_back_is_suppressed() -> None:
    assert rule_why(wet(A), {}, finding()) == {RULE}


def test_a_word_from_before_the_doubt_still_carries_a_rule() -> None:
    assert rule_why(wet(A), {A: (True, START_US - 1)}, finding()) == set()


def test_a_rule_that_may_rest_on_a_finding_is_not_suppressed() -> None:
    leak = Presence("air-leak", B, (AlarmKey(AlarmKind.AIR_LEAK, f"tensiometer/{B}"),))
    assert rule_why(wet(A, more=(leak,)), {A: (True, LATER)}, finding()) == set()
    assert rule_why(wet(A, more=(leak,), all_of=True), {A: (True, LATER)}, finding()) == {RULE}


def test_a_pace_that_others_tell_too_is_not_suppressed() -> None:
    level = Level(Quantity.ZONE_RISE, "north", 8.0, above=True, members=(A, B))
    rule = Rule(RULE, (level,))
    known = state(RULE)
    known.rules.said[rule.words[0]] = Said(True, 9.0, LATER, LATER)
    setup = replace(SETUP, rules=(rule,))
    assert RULE not in why(known, finding(), setup=setup)
    assert RULE in why(known, finding(), finding(name=B), setup=setup)


subjects = st.sampled_from([*(f"tensiometer/{name}" for name in NORTH), "source/bus1", "zone/north", DISK])
keys = st.builds(AlarmKey, st.sampled_from([k for k in AlarmKind if "irrigate" not in k]), subjects)
findings = st.lists(
    st.builds(finding, st.sampled_from(list(ALARM_OF)), st.sampled_from(NORTH), st.integers(START_US, LATER))
)


@given(st.lists(keys), findings, st.sets(st.sampled_from(NORTH)), st.integers(START_US, LATER))
def test_no_fault_ever_hides_that_a_zone_needs_water(
    on: list[AlarmKey], found: list[Finding], served: set[str], since_us: int
) -> None:
    reasons = why(state(*on, zone=since_us, own=since_us), *found, served=served)
    assert AlarmKey(NOW, "zone/north") not in reasons
    assert all(reasons.values()), "each with its reason"
