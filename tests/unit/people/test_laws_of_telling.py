"""What holds whatever happens: nothing is lost, nothing is told twice, hours are kept."""

from collections import Counter, defaultdict
from dataclasses import replace
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import PRIORITIES, AlarmKind
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.standing import ActRefused
from parchd.clock import to_datetime
from parchd.contract import NoticeKind, Priority
from parchd.people.person import Away, Escalation, PeopleSetup
from parchd.people.presence import is_away, is_quiet
from parchd.people.state import Lane
from parchd.testing.village import HOUR_US, MINUTE_US, NIGHT, Village, people, person, program

K = AlarmKind
KEYS = [
    AlarmKey(K.IRRIGATE_NOW, "zone/north"), AlarmKey(K.IRRIGATE_PLAN, "zone/north"),
    AlarmKey(K.IRRIGATE_NOW, "zone/creek"), AlarmKey(K.ELECTRICAL, "tensiometer/a"),
    AlarmKey(K.LOST_WATER, "tensiometer/a"), AlarmKey(K.SILENT, "tensiometer/b"),
    AlarmKey(K.SILENT_SOURCE, "source/bus1"), AlarmKey(K.DROP_OUTS, "tensiometer/b"),
    AlarmKey(K.DISK_FULL, "daemon/disk"),
]  # fmt: skip
AWAY = (Away(date(2026, 6, 4), date(2026, 6, 5)),)
MARA = person("mara", quiet=NIGHT)
JONAS = person("jonas", quiet=NIGHT, lets_pass=None, away=AWAY, deputy="lene")
LENE = person("lene", lowest_priority=Priority.LOW, most_a_day=4, calm_us=HOUR_US)
ESCALATION = Escalation(("jonas", "lene"), HOUR_US, also=frozenset({K.SILENT_SOURCE}))
SETUP = people(MARA, JONAS, LENE, program(lowest_priority=Priority.LOW), escalation=ESCALATION)

Step = tuple[str, int]
WORDS = ("raise", "raise", "raise", "clear", "clear", "wait", "wait", "wait")
ASIDE = (*WORDS, "acknowledge", "shelve", "suppress", "release")
STEPS = st.lists(st.tuples(st.sampled_from(WORDS), st.integers(0, 40)), max_size=40)
ANY_STEPS = st.lists(st.tuples(st.sampled_from(ASIDE), st.integers(0, 40)), max_size=40)
MINUTES = (1, 3, 9, 11, 30, 61, 240, 700, 1440)


def town(setup: PeopleSetup = SETUP, *, is_cut: bool = False) -> Village:
    return Village(setup, tick_us=10 * MINUTE_US, is_cut=is_cut)


def play(steps: list[Step], village: Village) -> Village:
    """Let steps happen, and then a calm day. No alarm is raised twice in one moment: that would be one episode."""
    suppressed: set[AlarmKey] = set()
    raised: set[AlarmKey] = set()
    for word, number in steps:
        key = KEYS[number % len(KEYS)]
        stands = village.register.standing(key)
        if word == "wait":
            village.wait(MINUTES[number % len(MINUTES)])
            raised.clear()
        elif word == "raise" and not stands.is_on and key not in raised:
            village.raised(*key)
            raised.add(key)
        elif word == "clear" and stands.is_on:
            village.cleared(key)
        elif word in ("suppress", "release"):
            suppressed ^= {key}
            village.suppress(*suppressed)
        elif word in ("acknowledge", "shelve"):
            try:
                village.act(Happening.ACKNOWLEDGED if word == "acknowledge" else Happening.SHELVED, key, 5.0)
            except ActRefused:
                continue
    village.wait(hours=31)
    return village


@given(ANY_STEPS)
@settings(max_examples=60, deadline=None)
def test_transitions_of_one_moment_give_the_same_messages_however_they_are_cut(steps: list[Step]) -> None:
    whole, cut = play(steps, town()), play(steps, town(is_cut=True))
    for one in (MARA, JONAS, LENE):
        assert whole.heard(one.key) == cut.heard(one.key)


@given(STEPS)
@settings(max_examples=60, deadline=None)
def test_programs_get_the_same_messages_however_transitions_are_cut(steps: list[Step]) -> None:
    whole, cut = play(steps, town()), play(steps, town(is_cut=True))
    assert whole.heard("hook/controller") == cut.heard("hook/controller")


@given(STEPS)
@settings(max_examples=60, deadline=None)
def test_every_alarm_reaches_everybody_whom_it_concerns_in_a_message_or_a_digest(steps: list[Step]) -> None:
    village = play(steps, town(people(MARA, LENE, program(lowest_priority=Priority.LOW))))
    raised = {(step.key, step.time_us) for step in village.steps if step.happening is Happening.RAISED}
    for key, raised_us in raised:
        for who in ("mara", "lene", "hook/controller"):
            told = [t for t in village.tellings if t.person.key == who and t.time_us >= raised_us]
            about = {item.key for t in told for item in t.items}
            covered = key.kind is K.IRRIGATE_PLAN and AlarmKey(K.IRRIGATE_NOW, key.subject) in about
            assert key in about or covered


@given(STEPS)
@settings(max_examples=60, deadline=None)
def test_what_stands_unanswered_was_asked_of_a_person_who_could_be_reached(steps: list[Step]) -> None:
    village = play(steps, town())
    for key, stands in village.register.standings.items():
        if stands.state is State.UNACKNOWLEDGED and PRIORITIES[key.kind] > Priority.LOW:
            about = [item for t in village.tellings for item in t.items if item.key == key and item.asks]
            assert about or key.kind is K.IRRIGATE_PLAN


@given(ANY_STEPS)
@settings(max_examples=60, deadline=None)
def test_nobody_gets_the_same_episode_twice_but_as_a_repeat_or_an_escalation(steps: list[Step]) -> None:
    village = play(steps, town())
    told = Counter(
        (telling.person.key, item.step.episode)
        for telling in village.tellings
        for item in telling.items
        if item.kind is NoticeKind.RAISED and item.asks
    )
    assert {which: times for which, times in told.items() if times > 1} == {}


@given(ANY_STEPS)
@settings(max_examples=60, deadline=None)
def test_no_two_messages_to_a_person_have_one_name(steps: list[Step]) -> None:
    names = Counter((telling.person.key, telling.name) for telling in play(steps, town()).tellings)
    assert {which: times for which, times in names.items() if times > 1} == {}


@given(ANY_STEPS)
@settings(max_examples=60, deadline=None)
def test_quiet_hours_and_absences_are_kept_but_for_the_last_resort(steps: list[Step]) -> None:
    for telling in play(steps, town()).tellings:
        if not any(item.despite for item in telling.items):
            assert not is_away(telling.person, telling.time_us)
            assert not is_quiet(telling.person, telling.priority, telling.time_us)


@given(ANY_STEPS)
@settings(max_examples=60, deadline=None)
def test_a_day_has_no_more_messages_that_are_not_urgent_than_somebody_wants(steps: list[Step]) -> None:
    village = play(steps, town())
    days: dict[tuple[str, str], int] = defaultdict(int)
    for telling in village.tellings:
        pressing = any(item.asks and SETUP.is_pressing(item.key) for item in telling.items)
        urgent = telling.priority is Priority.HIGH or (pressing and telling.kind is not NoticeKind.DIGEST)
        escalated = telling.kind is NoticeKind.ESCALATED
        if not urgent and not escalated and telling.kind is not NoticeKind.FLOOD:
            days[telling.person.key, str(to_datetime(telling.time_us).date())] += 1
    assert all(count <= SETUP.persons[key].most_a_day for (key, _), count in days.items() if SETUP.persons[key].gathers)


@given(ANY_STEPS, st.lists(st.integers(1, 39), max_size=3))
@settings(max_examples=60, deadline=None)
def test_a_clock_that_is_set_back_loses_nothing(steps: list[Step], turns: list[int]) -> None:
    village = town()
    for turn in turns:
        half, steps = steps[:turn], steps[turn:]
        play(half, village)
        village.now_us -= 200 * HOUR_US
    play(steps, village)
    for key, stands in village.register.standings.items():
        if stands.state is State.UNACKNOWLEDGED:
            assert any(item.key == key for t in village.tellings for item in t.items) or key.kind is K.IRRIGATE_PLAN
    left = [
        item
        for key, one in village.state.persons.items()
        for item in one.items
        if item.lane in (Lane.NOW, Lane.EACH) and not is_quiet(SETUP.persons[key], item.priority, village.now_us)
    ]
    assert left == [], "only quiet hours hold up what is urgent"


def test_people_without_anything_in_common_do_not_disturb_each_other() -> None:
    alone = play([("raise", n) for n in range(9)], town(people(MARA)))
    both = play([("raise", n) for n in range(9)], town(people(MARA, replace(LENE, key="other"))))
    assert alone.heard("mara") == both.heard("mara")
