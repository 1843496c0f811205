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
from parchd.alarms.wording import Story, alarm_notice
from parchd.contract import Cause, JsonValue, Notice, NoticeKind, Priority
from parchd.diagnosis.findings import End, Fact, Finding, FindingKey
from parchd.testing.german import english_in
from parchd.testing.site import HOUR_US, START_US, names_of, small_site
from parchd.words import Voice

GOLDEN = Path(__file__).parents[2] / "data" / "alarm_messages.txt"
NAMES = names_of(small_site()[0])
LINES = ["What", "Since when", "How sure", "What it means", "What to do"]
CAUSES = {
    AlarmKind.ELECTRICAL: (Cause.OPEN_CIRCUIT, None, 0.02, "V"),
    AlarmKind.IMPOSSIBLE: (Cause.BELOW_PHYSICAL, -31.5, 0.41, "V"),
    AlarmKind.ABOVE_LIMIT: (Cause.ABOVE_LIMIT, 88.2, 4.2, "V"),
}


def level(what: str, name: str, value: float, limit: float) -> dict[str, JsonValue]:
    return {"what": what, "name": name, "value": value, "limit": limit}


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
    AlarmKind.DRYING_FAST: {"held": [level("zone_rise", "north", 9.3, 8.0)]},
    AlarmKind.WET_TOO_LONG: {"held": [level("tension", "north-60", 0.4, 1.0)]},
    AlarmKind.OWN_RULE: {
        "say": "water stands below the roots",
        "respond": "Close valve 3 and look at the ditch.",
        "held": [
            level("tension", "north-60", 0.4, 2.0),
            level("channel", "bus1/vs", 4.57, 4.6),
            {"what": "air-leak", "name": "north-40", "absent": True},
            {"what": "silent", "name": "bus2", "absent": False},
        ],
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
    facts = (Fact("fell by", 41.24, "kPa"), Fact("since", START_US - 5 * HOUR_US, "time"), Fact("for", nan, "h"))
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
        *(f"{label}: {said}" for label, said in notice.lines),
        *(f"- {sentence}" for sentence in notice.advice),
        *(f"  {label}: {value}" for label, value in notice.facts),
        f"In short: {notice.summary}",
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
    pairs = (*notice.facts, *notice.lines)
    for text in (notice.subject, notice.summary, *notice.advice, *(said for pair in pairs for said in pair)):
        assert text
        assert not re.search(r"\bNone\b(?! of)|\bnan\b|\binf\b|[<>{}]|  ", text)


@pytest.mark.parametrize("kind", AlarmKind)
def test_every_alarm_has_a_priority_and_says_what_to_do(kind: AlarmKind) -> None:
    notice = alarm_notice(event(kind, Change.RAISED), NAMES)
    assert notice.priority is PRIORITIES[kind]
    assert [label for label, _ in notice.lines] == LINES
    written = {*IRRIGATION_KINDS, *FAULT_WORDS, *FINDING_OF, *GROUND_WORDS, *SYSTEM_WORDS, AlarmKind.OWN_RULE}
    assert kind in written


def test_alarms_about_the_daemon_have_words_of_their_own() -> None:
    assert set(SYSTEM_WORDS) == set(DAEMON_KINDS)


def test_an_alarm_has_the_priority_that_people_gave_it() -> None:
    notice = alarm_notice(event(AlarmKind.SILENT, Change.RAISED), NAMES, priority=Priority.HIGH)
    assert notice.priority is Priority.HIGH


def test_a_rule_without_words_says_where_it_stands() -> None:
    bare = replace(event(AlarmKind.OWN_RULE, Change.RAISED), evidence={})
    notice = alarm_notice(bare, NAMES)
    assert notice.subject == "Quillmere Orchard: its conditions hold (deep-wet)"
    assert "[rules.deep-wet]" in dict(notice.lines)["What to do"]


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


@pytest.mark.parametrize(("end", "why"), [(End.REPEATED, "It happened again."), (End.REFINED, "explains the same")])
def test_what_another_finding_goes_on_with_is_not_said_to_be_over(end: End, why: str) -> None:
    over = event(AlarmKind.AIR_ENTRY, Change.CLEARED)
    notice = alarm_notice(replace(over, evidence={**over.evidence, "end": end.value}), NAMES)
    said = dict(notice.lines)
    assert notice.subject == "north block: air entry at the dry end, see the next message (north-20)"
    assert why in said["What"]
    assert said["How sure"] == "Likely (93 %)"
    assert said["What it means"] == "Its readings keep the flags that they have."
    assert said["What to do"] == "What the next message says."


def test_times_are_those_of_the_site() -> None:
    """Berlin is two hours ahead of UTC in June."""
    notice = alarm_notice(event(AlarmKind.SILENT, Change.RAISED), NAMES)
    assert ("Since when", "Mon 01 Jun 2026, 06:00") in notice.lines
    assert ("Last heard", "Mon 01 Jun 2026, 05:00") in notice.facts


def test_a_channel_that_never_spoke_was_never_heard() -> None:
    silent = replace(event(AlarmKind.SILENT, Change.RAISED), evidence={"channel": "bus1/n20", "last_heard_us": None})
    assert ("Last heard", "never") in alarm_notice(silent, NAMES).facts


def test_a_zone_and_a_tensiometer_that_nobody_titled_go_by_their_keys() -> None:
    nursery = alarm_notice(event(AlarmKind.IRRIGATE_NOW, Change.RAISED, "zone/nursery"), NAMES)
    assert nursery.subject == "nursery: irrigate now (62 kPa)"
    unplaced = alarm_notice(event(AlarmKind.SILENT, Change.RAISED, "tensiometer/bench"), NAMES)
    assert unplaced.subject == "Quillmere Orchard: look at cable and supply of bench (no data)"
    assert ("Tensiometer", "bench") in unplaced.facts


def test_a_tensiometer_with_limits_of_its_own_is_named_with_its_place() -> None:
    notice = alarm_notice(event(AlarmKind.IRRIGATE_PLAN, Change.RAISED, "tensiometer/creek-30"), NAMES)
    assert notice.subject == "creek terrace: plan an irrigation at creek-30 (42 kPa)"
    assert notice.data["zone"] == "creek"
    assert notice.data["depth_m"] == 0.3


def test_a_fault_without_a_known_cause_is_called_by_its_kind() -> None:
    nameless = replace(event(AlarmKind.ELECTRICAL, Change.RAISED), evidence={})
    assert alarm_notice(nameless, NAMES).subject == "north block: check the wiring of north-20 (electrical fault)"


def test_a_tension_just_below_zero_has_no_minus_sign() -> None:
    wet = replace(event(AlarmKind.IRRIGATE_NOW, Change.CLEARED), tension_kpa=-0.04)
    notice = alarm_notice(wet, NAMES)
    assert "(0 kPa)" in notice.subject
    assert ("Tension", "0.0 kPa") in notice.facts


@pytest.mark.parametrize("kind", AlarmKind)
def test_a_subject_begins_with_the_place_and_the_need_and_fits_a_phone(kind: AlarmKind) -> None:
    subject = alarm_notice(event(kind, Change.RAISED), NAMES).subject
    place, _, need = subject.partition(": ")
    assert place in ("north block", "Quillmere Orchard")
    assert need[0].islower()
    assert len(subject) <= 85


@pytest.mark.parametrize("change", Change)
@pytest.mark.parametrize("kind", AlarmKind)
def test_a_message_is_said_in_the_unit_of_its_reader(kind: AlarmKind, change: Change) -> None:
    voice = Voice(units="hPa", time_zone="Europe/Berlin")
    notice = replace(alarm_notice(event(kind, change), NAMES, voice), data={})
    text = as_text(notice).replace("kPa, hPa, mbar or psi are mixed up", "")
    assert "kPa" not in "\n".join(line for line in text.splitlines() if not line.startswith("  Holds: "))
    assert notice.voice == voice


@pytest.mark.parametrize("change", Change)
@pytest.mark.parametrize("kind", AlarmKind)
def test_a_german_reader_is_told_in_german(kind: AlarmKind, change: Change) -> None:
    whole = event(kind, change)
    told = replace(whole, evidence={key: said for key, said in whole.evidence.items() if key != "held"})
    notice = alarm_notice(told, NAMES, Voice("de", time_zone="Europe/Berlin"))
    assert english_in(notice) == ""
    assert len(notice.subject) <= 100


def test_tensions_of_an_irrigation_alarm_are_turned_into_the_unit() -> None:
    dry = alarm_notice(event(AlarmKind.IRRIGATE_NOW, Change.RAISED), NAMES, Voice(units="hPa"))
    assert dry.subject == "north block: irrigate now (624 hPa)"
    assert "has reached 624 hPa; the limit to irrigate now is 600 hPa" in dict(dry.lines)["What"]


@pytest.mark.parametrize(
    ("vote", "sure"),
    [
        ("median", "2 of 3 tensiometers have a say. Their median counts."),
        ("any", "2 of 3 tensiometers have a say. One that is as dry is enough."),
        ("mean of stations", "2 of 3 tensiometers have a say. The mean of the stations counts."),
        ("2 of 3", "2 of 3 tensiometers have a say. 2 of 3 that are as dry are enough."),
    ],
)
def test_how_sure_it_is_depends_on_how_a_zone_votes(vote: str, sure: str) -> None:
    dry = event(AlarmKind.IRRIGATE_NOW, Change.RAISED)
    notice = alarm_notice(replace(dry, evidence={**dry.evidence, "vote": vote}), NAMES)
    assert dict(notice.lines)["How sure"] == sure
    assert ("Based on", f"2 of 3 tensiometers ({vote})") in notice.facts


def test_one_tensiometer_has_no_witness() -> None:
    alone = replace(event(AlarmKind.IRRIGATE_NOW, Change.RAISED), evidence={"tensiometers": 1, "of": 1})
    assert "It has no witness." in dict(alarm_notice(alone, NAMES).lines)["How sure"]


def test_an_alarm_of_which_nothing_more_is_known_can_still_be_told() -> None:
    for kind in AlarmKind:
        whole = event(kind, Change.RAISED)
        bare = AlarmEvent(whole.key, Change.RAISED, START_US, START_US)
        assert alarm_notice(bare, NAMES).lines


@pytest.mark.parametrize(
    ("story", "subject_ends", "note"),
    [
        (Story(NoticeKind.REPEATED), "(62 kPa), still so after 3 h", "It is still so, therefore you are told again."),
        (
            Story(NoticeKind.REMINDER),
            "(62 kPa), no answer for 3 h",
            "It was raised 3 h ago and waits for your answer: acknowledge it.",
        ),
        (
            Story(NoticeKind.ESCALATED, unanswered=("Anne", "Ben"), instead_of="Carla"),
            "(62 kPa), no answer for 3 h",
            (
                "It was raised 3 h ago; Anne and Ben did not answer. Now it is your turn. "
                "You are told in place of Carla, who is away."
            ),
        ),
        (
            Story(NoticeKind.ESCALATED, despite=True),
            "(62 kPa), no answer for 3 h",
            (
                "It was raised 3 h ago and nobody has answered. Now it is your turn. "
                "Nobody else can be reached, so you are told although it is not your time."
            ),
        ),
        (
            Story(times=4, comes_and_goes=True),
            "(62 kPa)",
            (
                "It has come 4 times since you were last told. "
                "It comes and goes: you hear no more of it until it has been calm for a day."
            ),
        ),
    ],
)
def test_who_is_told_again_is_told_why(story: Story, subject_ends: str, note: str) -> None:
    dry = event(AlarmKind.IRRIGATE_NOW, Change.RAISED)
    notice = alarm_notice(dry, NAMES, story=replace(story, now_us=START_US + 3 * HOUR_US))
    assert notice.subject.endswith(subject_ends)
    assert notice.lines[0] == ("Please note", note)
    assert [label for label, _ in notice.lines[1:]] == LINES
    assert notice.kind is (story.kind or NoticeKind.RAISED)
    assert dict(notice.lines)["Since when"] == "Mon 01 Jun 2026, 06:00 (3 h ago)"
    assert notice.thread == alarm_notice(dry, NAMES).thread


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
