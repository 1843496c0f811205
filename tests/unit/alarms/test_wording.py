"""What is said of an alarm.

The texts stand in ``tests/data/alarm_messages.txt``: read the whole of it before you change one.
``python tests/unit/alarms/test_wording.py`` writes it anew.
"""

import json
import re
from dataclasses import replace
from math import nan
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.advice import FAULT_WORDS
from parchd.alarms.believed import takes_away_trust
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.findings import FINDING_OF, Told, evidence_of
from parchd.alarms.ground_words import GROUND_WORDS
from parchd.alarms.kinds import DAEMON_KINDS, IRRIGATION_KINDS, PRIORITIES, AlarmKind
from parchd.alarms.system_words import SYSTEM_WORDS
from parchd.alarms.wording import alarm_notice
from parchd.contract import Cause, JsonValue, Notice, NoticeKind, Priority
from parchd.diagnosis.findings import End, Fact, Finding, FindingKey
from parchd.testing.site import HOUR_US, START_US, names_of, small_site

GOLDEN = Path(__file__).parents[2] / "data" / "alarm_messages.txt"
NAMES = names_of(small_site()[0])
CAUSES = {
    AlarmKind.ELECTRICAL: (Cause.OPEN_CIRCUIT, None, 0.02, "V"),
    AlarmKind.IMPOSSIBLE: (Cause.BELOW_PHYSICAL, -31.5, 0.41, "V"),
    AlarmKind.ABOVE_LIMIT: (Cause.ABOVE_LIMIT, 88.2, 4.2, "V"),
}

SUBJECTS = {
    AlarmKind.SOURCE_DOWN: "source/bus1",
    AlarmKind.SINK_DOWN: "sink/charts",
    AlarmKind.NOTIFIER_DOWN: "notifier/mail",
    AlarmKind.DISK_FILLING: "daemon/disk",
    AlarmKind.DISK_FULL: "daemon/disk",
    AlarmKind.CLOCK_UNTRUSTED: "daemon/clock",
    AlarmKind.ALARM_FLOOD: "person/anne",
    AlarmKind.DRYING_FAST: "zone/north",
    AlarmKind.WET_TOO_LONG: "zone/north",
    AlarmKind.OWN_RULE: "rule/deep-wet",
}
EVIDENCE: dict[AlarmKind, dict[str, JsonValue]] = {
    AlarmKind.SOURCE_DOWN: {"trouble": "connection refused"},
    AlarmKind.SINK_DOWN: {"trouble": "401: wrong token"},
    AlarmKind.NOTIFIER_DOWN: {"trouble": "550 no such user", "recipients": ["anne"]},
    AlarmKind.DISK_FILLING: {"free_mb": 312.0},
    AlarmKind.DISK_FULL: {"free_mb": 7.9},
    AlarmKind.DRYING_FAST: {"held": ["north block dries by 9.3 kPa a day (limit 8)"]},
    AlarmKind.WET_TOO_LONG: {"held": ["north-60 reads 0.4 kPa (limit 1)"]},
    AlarmKind.OWN_RULE: {
        "say": "water stands below the roots",
        "respond": "Close valve 3 and look at the ditch.",
        "held": ["north-60 reads 0.4 kPa (limit 2)"],
    },
}


def event(kind: AlarmKind, change: Change, subject: str | None = None) -> AlarmEvent:
    """What the alarms would report of each kind."""
    raised = change is Change.RAISED
    time_us = START_US + (0 if raised else 30 * HOUR_US)
    if kind in IRRIGATION_KINDS:
        limit_kpa = 60.0 if kind is AlarmKind.IRRIGATE_NOW else 40.0
        tension_kpa = limit_kpa + 2.4 if raised else 8.6
        evidence: dict[str, JsonValue] = {"tensiometers": 2, "of": 3}
        key = AlarmKey(kind, subject or "zone/north")
        return AlarmEvent(key, change, time_us, START_US, tension_kpa, limit_kpa, evidence)
    if kind in FINDING_OF:
        return finding_event(kind, change, subject)
    if kind in SUBJECTS:
        evidence = EVIDENCE.get(kind, {})
        return AlarmEvent(AlarmKey(kind, subject or SUBJECTS[kind]), change, time_us, START_US, evidence=evidence)
    key = AlarmKey(kind, subject or "tensiometer/north-20")
    if kind is AlarmKind.SILENT:
        heard_us = time_us - HOUR_US if raised else time_us
        evidence = {"channel": "bus1/n20", "last_heard_us": heard_us, "interval_s": 600.0}
        return AlarmEvent(key, change, time_us, START_US, evidence=evidence)
    cause, tension_kpa_or_none, value, unit = CAUSES[kind] if raised else (Cause.NONE, 33.1, 1.8, "V")
    evidence = {"channel": "bus1/n20", "cause": cause.word, "value": value, "unit": unit}
    return AlarmEvent(key, change, time_us, START_US, tension_kpa_or_none, evidence=evidence)


def finding_event(kind: AlarmKind, change: Change, subject: str | None) -> AlarmEvent:
    """What is reported of a finding: evidence, who speaks meanwhile, and how it ended."""
    of_source = kind in (AlarmKind.SILENT_SOURCE, AlarmKind.NOISY_SUPPLY, AlarmKind.DROP_OUTS, AlarmKind.WRONG_CLOCK)
    key = FindingKey(FINDING_OF[kind], subject or ("source/bus1" if of_source else "tensiometer/north-20"))
    facts = (Fact("fell by", 41.24, "kPa"), Fact("low since", START_US - 5 * HOUR_US, "time"), Fact("spread", nan, "h"))
    others = ("north-20", "north-40") if of_source else ()
    finding = Finding(key, START_US - 9 * HOUR_US, START_US, 0.93, facts, others=others)
    aside: dict[str, JsonValue] = {"believed": ["north-40", "north-60"], "of": 3, "zones": ["north"]}
    if change is Change.RAISED:
        evidence = {**evidence_of(Told(finding)), **(aside if takes_away_trust(kind) else {})}
        return AlarmEvent(AlarmKey(kind, key.subject), change, START_US, START_US, evidence=evidence)
    end = End.SERVICED if kind is AlarmKind.LOST_WATER else End.DISMISSED if of_source else End.RECOVERED
    told = Told(replace(finding, ended_us=START_US + 20 * HOUR_US, end=end), by="Anne", because="the board was off")
    return AlarmEvent(
        AlarmKey(kind, key.subject), change, START_US + 30 * HOUR_US, START_US, evidence=evidence_of(told)
    )


def as_text(notice: Notice) -> str:
    """All of a notice, in reading order."""
    lines = [
        f"{notice.kind}, {notice.priority.word} priority",
        f"id      {notice.id}",
        f"thread  {notice.thread}",
        "",
        notice.subject,
        notice.summary,
        *(f"  {label}: {value}" for label, value in notice.facts),
        *(f"- {sentence}" for sentence in notice.advice),
        json.dumps(notice.data, ensure_ascii=False),
    ]
    return "\n".join(lines)


def all_texts() -> str:
    notices = [alarm_notice(event(kind, change), NAMES) for kind in AlarmKind for change in Change]
    return f"\n\n{'-' * 100}\n".join(map(as_text, notices)) + "\n"


def test_the_messages_read_as_they_did() -> None:
    assert all_texts() == GOLDEN.read_text("utf-8")


@pytest.mark.parametrize("change", Change)
@pytest.mark.parametrize("kind", AlarmKind)
def test_no_message_shows_a_gap_of_the_program(kind: AlarmKind, change: Change) -> None:
    notice = alarm_notice(event(kind, change), NAMES)
    for text in (notice.subject, notice.summary, *notice.advice, *(value for fact in notice.facts for value in fact)):
        assert text
        assert not re.search(r"\bNone\b(?! of)|\bnan\b|\binf\b|[<>{}]|  ", text)


@pytest.mark.parametrize("kind", AlarmKind)
def test_every_alarm_has_a_priority_and_says_what_to_do(kind: AlarmKind) -> None:
    notice = alarm_notice(event(kind, Change.RAISED), NAMES)
    assert notice.priority is PRIORITIES[kind]
    assert notice.advice
    written = {*IRRIGATION_KINDS, *FAULT_WORDS, *FINDING_OF, *GROUND_WORDS, *SYSTEM_WORDS, AlarmKind.OWN_RULE}
    assert kind in written


def test_alarms_about_the_daemon_have_words_of_their_own() -> None:
    assert set(SYSTEM_WORDS) == set(DAEMON_KINDS)


def test_an_alarm_has_the_priority_that_people_gave_it() -> None:
    notice = alarm_notice(event(AlarmKind.SILENT, Change.RAISED), NAMES, Priority.HIGH)
    assert notice.priority is Priority.HIGH


def test_a_rule_without_words_says_where_it_stands() -> None:
    bare = replace(event(AlarmKind.OWN_RULE, Change.RAISED), evidence={})
    notice = alarm_notice(bare, NAMES)
    assert notice.subject == "deep-wet: its conditions hold"
    assert "[rules.deep-wet]" in notice.advice[0]


@pytest.mark.parametrize("kind", AlarmKind)
def test_raised_and_cleared_share_a_thread_and_no_id(kind: AlarmKind) -> None:
    raised, cleared = (alarm_notice(event(kind, change), NAMES) for change in Change)
    assert raised.thread == cleared.thread
    assert raised.id != cleared.id
    assert (raised.kind, cleared.kind) == (NoticeKind.RAISED, NoticeKind.CLEARED)


def test_another_episode_is_another_thread() -> None:
    first = event(AlarmKind.SILENT, Change.RAISED)
    later = replace(first, time_us=START_US + 1, raised_us=START_US + 1)
    assert alarm_notice(first, NAMES).thread != alarm_notice(later, NAMES).thread


def test_times_are_those_of_the_site() -> None:
    """Berlin is two hours ahead of UTC in June."""
    notice = alarm_notice(event(AlarmKind.SILENT, Change.RAISED), NAMES)
    assert ("Since", "Mon 01 Jun 2026, 06:00") in notice.facts
    assert ("Last heard", "Mon 01 Jun 2026, 05:00") in notice.facts


def test_a_channel_that_never_spoke_was_never_heard() -> None:
    silent = replace(event(AlarmKind.SILENT, Change.RAISED), evidence={"channel": "bus1/n20", "last_heard_us": None})
    assert ("Last heard", "never") in alarm_notice(silent, NAMES).facts


def test_a_zone_and_a_tensiometer_that_nobody_titled_go_by_their_keys() -> None:
    nursery = alarm_notice(event(AlarmKind.IRRIGATE_NOW, Change.RAISED, "zone/nursery"), NAMES)
    assert nursery.subject == "nursery: irrigate now (62 kPa)"
    unplaced = alarm_notice(event(AlarmKind.SILENT, Change.RAISED, "tensiometer/bench"), NAMES)
    assert unplaced.subject == "bench: no data"
    assert ("Tensiometer", "bench") in unplaced.facts


def test_a_tensiometer_with_limits_of_its_own_is_named_with_its_place() -> None:
    notice = alarm_notice(event(AlarmKind.IRRIGATE_PLAN, Change.RAISED, "tensiometer/creek-30"), NAMES)
    assert notice.subject == "creek-30 (creek terrace, 30 cm): plan an irrigation (42 kPa)"
    assert notice.data["zone"] == "creek"
    assert notice.data["depth_m"] == 0.3


def test_a_fault_without_a_known_cause_is_called_by_its_kind() -> None:
    nameless = replace(event(AlarmKind.ELECTRICAL, Change.RAISED), evidence={})
    assert alarm_notice(nameless, NAMES).subject == "north-20 (north block, 20 cm): electrical fault"


def test_a_tension_just_below_zero_has_no_minus_sign() -> None:
    wet = replace(event(AlarmKind.IRRIGATE_NOW, Change.CLEARED), tension_kpa=-0.04)
    notice = alarm_notice(wet, NAMES)
    assert "(0 kPa)" in notice.subject
    assert ("Tension", "0.0 kPa") in notice.facts


keys = st.from_regex(r"[a-z0-9](?:[a-z0-9-]|_(?!_)){0,47}", fullmatch=True)


@given(
    st.sampled_from(AlarmKind),
    st.sampled_from(Change),
    st.sampled_from(["zone", "tensiometer"]),
    keys,
    st.floats(-20.0, 120.0),
)
def test_any_event_makes_a_message_with_a_plain_id_and_plain_data(
    kind: AlarmKind, change: Change, what: str, key: str, tension_kpa: float
) -> None:
    made = replace(event(kind, change, f"{what}/{key}"), tension_kpa=tension_kpa)
    notice = alarm_notice(made, NAMES)
    assert re.fullmatch(r"[a-zA-Z0-9._-]+", notice.id)
    assert json.loads(json.dumps(notice.data, allow_nan=False)) == notice.data
    assert Notice.from_json(notice.to_json()) == notice


if __name__ == "__main__":
    GOLDEN.write_text(all_texts(), "utf-8")
