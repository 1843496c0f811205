"""Alarms about findings: raised once, cleared once, and who is believed meanwhile."""

from collections.abc import Mapping
from dataclasses import replace
from math import inf, nan

import pytest

from parchd.alarms.believed import believed, faults_of, takes_away_trust
from parchd.alarms.book import AlarmBook, AlarmState
from parchd.alarms.condition import Condition, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.findings import ALARM_OF, Told, evidence_of, judge_findings
from parchd.alarms.irrigation import Vote
from parchd.alarms.kinds import DAEMON_KINDS
from parchd.alarms.rules import AlarmKind, DecisionWindow, FaultRule
from parchd.alarms.window import compile_window
from parchd.contract import Flag, JsonValue
from parchd.diagnosis.findings import End, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, reading, small_site

LOST = FindingKey(FindingKind.LOST_WATER, "tensiometer/north-20")
FOUND = Finding(LOST, START_US - HOUR_US, START_US, 0.9, (Fact("reads", nan, "kPa"), Fact("ends", inf, "h")))
RULES = [FaultRule(f"north-{depth}", f"bus1/n{depth}", 600.0) for depth in (20, 40, 60)]
ACTIVE = Condition(Phase.ACTIVE, START_US, 0, START_US)


def nobody(_: FindingKey) -> Told | None:
    return None


def nothing(_: Finding) -> Mapping[str, JsonValue]:
    return {}


def judge(conditions: dict[AlarmKey, Condition], *told: Told, time_us: int = START_US) -> list[AlarmEvent]:
    return judge_findings(conditions, {one.finding.key: one for one in told}, nobody, nothing, time_us)


def test_a_finding_is_raised_once_however_often_it_is_looked_at() -> None:
    conditions: dict[AlarmKey, Condition] = {}
    first = judge(conditions, Told(FOUND))
    assert [(event.key.kind, event.change, event.time_us) for event in first] == [
        (AlarmKind.LOST_WATER, "raised", START_US)
    ]
    assert judge(conditions, Told(FOUND)) == []


def test_its_end_clears_the_episode_that_it_began() -> None:
    conditions: dict[AlarmKey, Condition] = {}
    (raised,) = judge(conditions, Told(FOUND))
    (cleared,) = judge(conditions, time_us=START_US + HOUR_US)
    assert (cleared.change, cleared.episode, cleared.time_us) == ("cleared", raised.episode, START_US + HOUR_US)
    assert conditions == {}


def test_another_finding_of_the_same_kind_is_another_episode() -> None:
    conditions: dict[AlarmKey, Condition] = {}
    (first,) = judge(conditions, Told(FOUND))
    cleared, again = judge(conditions, Told(replace(FOUND, found_us=START_US + HOUR_US)), time_us=START_US + HOUR_US)
    assert (cleared.change, cleared.episode) == ("cleared", first.episode)
    assert (again.change, again.raised_us) == ("raised", START_US + HOUR_US)
    assert judge(conditions, Told(replace(FOUND, found_us=START_US + HOUR_US))) == []


def test_other_alarms_are_left_alone() -> None:
    silent = AlarmKey(AlarmKind.SILENT, "tensiometer/north-20")
    conditions = {silent: ACTIVE}
    assert judge(conditions) == []
    assert conditions == {silent: ACTIVE}


def test_who_speaks_meanwhile_is_asked_when_all_that_is_new_is_known() -> None:
    conditions: dict[AlarmKey, Condition] = {}
    seen: list[int] = []

    def aside(_: Finding) -> Mapping[str, JsonValue]:
        seen.append(len(conditions))
        return {"of": 3}

    other = replace(FOUND, key=FindingKey(FindingKind.STUCK_VALUE, "tensiometer/north-40"))
    events = judge_findings(conditions, {one.key: Told(one) for one in (FOUND, other)}, nobody, aside, START_US)
    assert seen == [2, 2]
    assert [event.evidence["of"] for event in events] == [3, 3]


def test_evidence_is_plain_json_with_nothing_for_numbers_that_are_none() -> None:
    ended = replace(FOUND, ended_us=START_US, end=End.DISMISSED)
    evidence = evidence_of(Told(ended, "thread", "Anne", "moved"))
    assert evidence["facts"] == [["reads", None, "kPa"], ["ends", None, "h"]]
    assert (evidence["end"], evidence["by"], evidence["because"], evidence["thread"]) == (
        "dismissed", "Anne", "moved", "thread",
    )  # fmt: skip


@pytest.mark.parametrize("kind", ALARM_OF)
def test_a_finding_takes_trust_away_as_its_flag_says(kind: FindingKind) -> None:
    expected = CONSEQUENCES[kind].flag is not Flag.PASS or kind is FindingKind.SILENT_SOURCE
    assert takes_away_trust(ALARM_OF[kind]) is expected


@pytest.mark.parametrize("kind", [AlarmKind.SILENT, AlarmKind.ELECTRICAL, AlarmKind.IMPOSSIBLE, AlarmKind.ABOVE_LIMIT])
def test_every_other_fault_of_a_tensiometer_takes_trust_away(kind: AlarmKind) -> None:
    assert takes_away_trust(kind)


@pytest.mark.parametrize("kind", DAEMON_KINDS)
def test_what_is_wrong_with_the_daemon_takes_no_trust_from_tensiometers(kind: AlarmKind) -> None:
    assert not takes_away_trust(kind)


def test_those_are_believed_that_no_active_fault_of_theirs_or_their_source_speaks_against() -> None:
    faults = {
        AlarmKey(AlarmKind.LOST_WATER, "tensiometer/north-20"): ACTIVE,
        AlarmKey(AlarmKind.FROST_RISK, "tensiometer/north-40"): ACTIVE,
        AlarmKey(AlarmKind.SILENT, "tensiometer/north-60"): Condition(Phase.RAISING, START_US, 1),
    }
    assert believed(RULES, faults) == ["north-40", "north-60"]
    assert faults_of(RULES[1], faults) == [AlarmKind.FROST_RISK]
    faults[AlarmKey(AlarmKind.SILENT_SOURCE, "source/bus1")] = ACTIVE
    assert believed(RULES, faults) == []
    assert believed([FaultRule("far-20", "bus2/a", 600.0)], faults) == ["far-20"]


BOOK = AlarmBook(small_site()[1])


def voted(*tensions_kpa: float) -> AlarmState:
    state = AlarmState()
    BOOK.judge(state, (reading("bus1/n20", START_US + n * MINUTE_US, kpa) for n, kpa in enumerate(tensions_kpa)))
    return state


def votes(state: AlarmState) -> Mapping[str, Vote]:
    return state.zones["zone/north"].votes


def test_a_vote_from_before_the_evidence_stays() -> None:
    state = voted(30.0, 20.0)
    BOOK.withdraw(state, "north-20", START_US + 2 * MINUTE_US, lambda _: None)
    assert votes(state)["north-20"].tension_kpa == 20.0


def test_a_vote_from_within_the_evidence_becomes_the_one_before_and_clears_no_more_than_it_did() -> None:
    state = voted(30.0, 20.0)
    zone = state.zones["zone/north"]
    held = zone.votes["north-20"]._replace(held_kpa=55.0)
    state.zones["zone/north"] = replace(zone, votes={"north-20": held})
    BOOK.withdraw(state, "north-20", START_US, lambda _: Vote(START_US - 5, 40.0))
    assert votes(state)["north-20"] == Vote(START_US - 5, 40.0, 55.0)


def test_without_an_earlier_word_there_is_no_vote() -> None:
    state = voted(30.0)
    BOOK.withdraw(state, "north-20", START_US, lambda _: None)
    assert votes(state) == {}
    BOOK.withdraw(state, "creek-30", START_US, lambda _: None)


def test_the_earlier_word_is_one_that_decides() -> None:
    from datetime import time

    window = DecisionWindow(time(5), time(8), "Europe/Berlin")
    setup = small_site(window=window)[1]
    book, state = AlarmBook(setup), AlarmState()
    book.judge(state, [reading("bus1/n20", START_US, 30.0)])
    asked: list[bool] = []

    def earlier(decides: object) -> Vote | None:
        assert callable(decides)
        asked.extend(decides(START_US + hours * HOUR_US) for hours in (0, 3))
        return None

    book.withdraw(state, "north-20", START_US, earlier)
    assert asked == [compile_window(window)(START_US + hours * HOUR_US) for hours in (0, 3)] == [True, False]


def test_a_held_vote_raises_by_what_it_reads_and_clears_by_what_is_held() -> None:
    state = AlarmState()
    BOOK.judge(state, [reading("bus1/n20", START_US, 65.0)])
    held = BOOK.judge(state, [reading("bus1/n20", START_US + 1, 3.0)], lambda _, kpa: max(kpa, 64.0))
    assert held == []
    assert votes(state)["north-20"] == Vote(START_US + 1, 3.0, 64.0)
    cleared = BOOK.judge(state, [reading("bus1/n20", START_US + 2, 3.0)], lambda _, kpa: kpa)
    assert [event.change for event in cleared] == ["cleared", "cleared"]
    raised = BOOK.judge(state, [reading("bus1/n20", START_US + 3, 3.0)], lambda _, kpa: 90.0)
    assert raised == []
