"""Who is told: tables of people, and everything that can be wrong with them."""

from datetime import date, time
from zoneinfo import ZoneInfo

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.contract import Priority
from parchd.people.person import HOUR_US, Away, DigestTime, Escalation, Reach
from parchd.people.quiet import QuietHours
from parchd.people.roles import ROLES, Role
from parchd.testing.config_folder import BASE, ConfigFolder, line_of
from parchd.words import DateStyle, Voice

MAIL = """
[notifiers.mail]
kind = "email"
host = "localhost"
port = 25
security = "plain"
from_address = "alarms@quillmere.example"
"""
MARA = """
[people.mara]
reach = [{ notifier = "mail", to = "mara@quillmere.example" }]
"""
JONAS = MARA.replace("mara", "jonas")
GOOD = BASE + MAIL + MARA


def test_a_person_has_what_most_people_want(config: ConfigFolder) -> None:
    loaded = config.load(GOOD)
    assert loaded.warnings == ()
    (mara,) = loaded.people
    assert (mara.name, mara.reach) == ("mara", (Reach("mail", "mara@quillmere.example"),))
    assert (mara.roles, mara.zones, mara.lowest_priority) == (frozenset(Role), frozenset(), Priority.MEDIUM)
    assert (mara.quiet, mara.lets_pass, mara.away, mara.deputy) == (None, Priority.HIGH, (), None)
    assert (mara.digest, mara.calm_us, mara.most_a_day) == (DigestTime(time(6, 30)), 4 * HOUR_US, 2)
    assert mara.voice == Voice(time_zone="Europe/Lisbon")
    assert loaded.escalation is None


def test_everything_that_a_person_may_want_can_be_said(config: ConfigFolder) -> None:
    text = GOOD + JONAS.replace("jonas]", "jonas]\nname = 'Jonas Berg'").rstrip() + (
        '\nroles = ["sensors"]\nzones = ["north"]\nlanguage = "de"\nunits = "hPa"\ndate_style = "iso"\n'
        'time_zone = "Europe/Berlin"\nlowest_priority = "low"\nquiet_hours = ["21:00", "06:00"]\n'
        'quiet_lets_pass = "nothing"\naway = [{ first = 2026-08-03, last = 2026-08-14 }]\ndeputy = "mara"\n'
        'digest = "weekly"\ndigest_day = "friday"\ndigest_at = "07:00"\ncalm_h = 1.5\nmost_a_day = 5\n'
        'digest_takes_h = 0\n[escalation]\npeople = ["jonas", "mara"]\nafter_min = 30\nlowest_priority = "medium"\n'
        'also = ["frost-risk"]\n'
    )  # fmt: skip
    loaded = config.load(text)
    jonas = loaded.people[1]
    assert (jonas.name, jonas.roles, jonas.zones) == (
        "Jonas Berg", frozenset({Role.SENSORS}), frozenset({"north"}),
    )  # fmt: skip
    assert jonas.voice == Voice("de", "hPa", DateStyle.ISO, "Europe/Berlin")
    assert (jonas.lowest_priority, jonas.lets_pass, jonas.deputy) == (Priority.LOW, None, "mara")
    assert jonas.quiet == QuietHours(time(21), time(6), ZoneInfo("Europe/Berlin"))
    assert jonas.away == (Away(date(2026, 8, 3), date(2026, 8, 14)),)
    assert jonas.digest == DigestTime(time(7), weekday=4)
    assert (jonas.calm_us, jonas.most_a_day, jonas.soon_us) == (1.5 * HOUR_US, 5, 0)
    also = frozenset({AlarmKind.FROST_RISK})
    assert loaded.escalation == Escalation(("jonas", "mara"), HOUR_US // 2, Priority.MEDIUM, also)


def test_somebody_with_ways_for_urgent_messages_only_gets_no_others(config: ConfigFolder) -> None:
    pager = 'reach = [{ notifier = "hook", lowest_priority = "high" }]'
    loaded = config.load(GOOD + f"[people.pia]\n{pager}\n")
    assert (loaded.people[1].lowest_priority, loaded.people[1].digest) == (Priority.HIGH, None)
    assert loaded.people[1].reach == (Reach("hook", "", Priority.HIGH),)


def test_a_digest_that_nobody_gave_a_time_comes_never(config: ConfigFolder) -> None:
    never = '[schedule]\ndigest_at = "never"\n'
    assert config.load(GOOD + never).people[0].digest is None
    problem = config.problem(GOOD.rstrip() + '\ndigest = "daily"\n' + never)
    assert (problem.key, problem.hint) == ("people.mara", 'schedule.digest_at is "never"')


def test_any_key_of_a_person_can_be_changed_from_outside(config: ConfigFolder) -> None:
    config.environ["PARCHD_PEOPLE__MARA__LANGUAGE"] = "de"
    assert config.load(GOOD).people[0].voice.language == "de"


@pytest.mark.parametrize(
    ("old", "new", "key", "expected", "hint"),
    [
        ('"mail", to', '"mial", to', "people.mara.reach[1].notifier", "the name of a notifier", "did you mean mail?"),
        ("mara@quillmere.example", "mara", "people.mara.reach[1].to", "a mail address like name@domain", ""),
        (', to = "mara@quillmere.example"', "", "people.mara.reach[1]", "to: an address of the person", ""),
        ('"mail", to = ', '"hook", to = ', "people.mara.reach[1].to", "a way without to", "a notifier of kind webhook"),
        ("reach = [{", "reach = [] #", "people.mara.reach", "at least 1", ""),
        ("reach = [{", "# [{", "people.mara.reach", "reach: ways to them", ""),
        ("}]", '}]\nzones = ["nort"]', "people.mara.zones", "the name of a zone", "did you mean north?"),
        ("}]", '}]\nroles = ["sensor"]', "people.mara.roles[1]", "'irrigation', 'sensors' or 'system'", ""),
        ("}]", '}]\nlanguage = "tlh"', "people.mara.language", "one of en, de", ""),
        ("}]", '}]\nunits = "bananas"', "people.mara.units", "one of kPa, cbar", ""),
        ("}]", '}]\ndeputy = "jonas"', "people.mara.deputy", "the name of a person", "there is mara"),
        ("}]", '}]\ndeputy = "mara"', "people.mara.deputy", "somebody else in the end", "nobody is told"),
        ("}]", '}]\nquiet_hours = ["21:00", "21:00"]', "people.mara.quiet_hours", "two different times", ""),
        ("}]", '}]\ndigest_at = "02:30"', "people.mara.digest_at", '"04:00" or later', "clocks are changed"),
        ("}]", "}]\naway = [{ first = 2026-08-03, last = 2026-08-01 }]", "people.mara.away[1].last", "2026-08-03", ""),
    ],
)
def test_what_is_wrong_with_a_person_has_its_place_and_a_hint(
    config: ConfigFolder, old: str, new: str, key: str, expected: str, hint: str
) -> None:
    text = BASE + MAIL + MARA.replace(old, new)
    nobody_is_mailed = ["notifiers.mail.to"] * ('"hook"' in new)
    *others, problem = config.problems(text)
    assert [other.key for other in others] == nobody_is_mailed
    assert problem.key == key
    assert expected in problem.expected
    assert hint in problem.hint
    assert problem.file == "farm.toml"
    assert problem.line is not None
    assert problem.line >= line_of("[people.mara]", text)


def test_a_ring_of_deputies_is_told_once_with_all_who_are_in_it(config: ConfigFolder) -> None:
    ring = "".join(
        MARA.replace("mara", name) + f'deputy = "{deputy}"\n'
        for name, deputy in [("anne", "ben"), ("ben", "carl"), ("carl", "anne"), ("dora", "anne")]
    )
    problem = config.problem(BASE + MAIL + ring)
    assert (problem.key, problem.found) == ("people.anne.deputy", "anne -> ben -> carl -> anne")


@pytest.mark.parametrize(
    ("people", "found", "hint"),
    [('["mara", "jonas"]', '"jonas"', "there is mara"), ('["mara", "mara"]', '"mara" twice', "")],
)
def test_escalation_names_people_who_are_there_each_once(
    config: ConfigFolder, people: str, found: str, hint: str
) -> None:
    problem = config.problem(GOOD + f"[escalation]\npeople = {people}\n")
    assert (problem.key, problem.found, problem.hint) == ("escalation.people", found, hint)


def test_a_kind_that_is_escalated_must_be_one(config: ConfigFolder) -> None:
    problem = config.problem(GOOD + '[escalation]\npeople = ["mara"]\nalso = ["silent-sauce"]\n')
    assert problem.key == "escalation.also[1]"


def test_a_notifier_without_addresses_needs_a_person(config: ConfigFolder) -> None:
    problem = config.problem(BASE + MAIL)
    assert problem.key == "notifiers.mail.to"
    assert "a list of addresses to send to, or a person" in problem.expected
    assert config.problems(GOOD) == []


QUIET_HOOK = BASE + 'lowest_priority = "high"\n' + MAIL


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ('roles = ["irrigation"]', ["medium priority about sensors; system"]),
        ('lowest_priority = "high"', ["medium priority about irrigation; sensors; system"]),
        ('zones = ["creek"]', ["medium priority about irrigation in north; sensors in north"]),
        ('zones = ["north", "creek"]', []),
    ],
)
def test_somebody_must_be_told_of_what_needs_a_response(config: ConfigFolder, changes: str, found: list[str]) -> None:
    creek = BASE[BASE.index("[tensiometers.n1]") : BASE.index("[notifiers")]
    creek = "\n[zones.creek]\nnow_kpa = 40\n" + creek.replace("n1", "c1").replace("north", "creek").replace("a0", "a1")
    problems = config.problems(QUIET_HOOK + creek + MARA + changes)
    assert [problem.found for problem in problems] == [f"nobody is told of alarms of {what}" for what in found]
    assert {problem.key for problem in problems} <= {"people"}


def test_what_recipients_without_a_table_are_told_of_needs_nobody_else(config: ConfigFolder) -> None:
    assert config.problems(BASE + MAIL + MARA + 'roles = ["irrigation"]\n') == []
    covered = MARA + 'roles = ["irrigation"]\n' + '[people.ivo]\nroles = ["system"]\nreach = [{ notifier = "hook" }]\n'
    (problem,) = config.problems(BASE + MAIL + covered)
    assert problem.found == "nobody is told of alarms of medium priority about sensors"


def test_kinds_that_are_out_of_service_need_nobody(config: ConfigFolder) -> None:
    off = "".join(
        f'[alarms.{kind}]\nout_of_service = "nobody looks after it"\n'
        for kind, role in ROLES.items() if role is Role.SYSTEM
    )  # fmt: skip
    assert config.problems(QUIET_HOOK + MARA + 'roles = ["irrigation", "sensors"]\n' + off) == []


def test_it_is_odd_if_nobody_reads_of_low_priority(config: ConfigFolder) -> None:
    loaded = config.load(QUIET_HOOK + MARA + 'digest = "never"\n')
    assert [warning.found for warning in loaded.warnings] == ["nobody hears of alarms of low priority"]
