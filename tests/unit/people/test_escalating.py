"""When nobody answers, the next person is told."""

from datetime import date

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening
from parchd.contract import NoticeKind
from parchd.people.person import Away, Escalation
from parchd.people.roles import Role
from parchd.testing.village import HOUR_US, NIGHT, Village, people, person, program

K = AlarmKind
AWAY = (Away(date(2026, 6, 1), date(2026, 6, 9)),)
IN_TURN = Escalation(("mara", "jonas", "lene"), HOUR_US)
MARA = person("mara", roles=frozenset({Role.IRRIGATION}))
JONAS = person("jonas", roles=frozenset({Role.SENSORS}))
LENE = person("lene", roles=frozenset())


def village(*persons: object, escalation: Escalation = IN_TURN) -> Village:
    return Village(people(*(persons or (MARA, JONAS, LENE)), escalation=escalation))  # type: ignore[arg-type]


def test_the_next_of_the_list_is_told_each_hour_that_nobody_acknowledges() -> None:
    v = village()
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=6)
    assert v.told == [
        "03 12:01 mara raised: irrigate-now", "03 13:02 jonas escalated: irrigate-now",
        "03 14:03 lene escalated: irrigate-now",
    ]  # fmt: skip
    assert [t.items[0].unanswered for t in v.tellings] == [(), ("mara",), ("mara", "jonas")]
    assert len({t.items[0].thread for t in v.tellings}) == 1


@pytest.mark.parametrize("happening", [Happening.ACKNOWLEDGED, Happening.SHELVED, Happening.REMOVED])
def test_an_answer_stops_it(happening: Happening) -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.wait(80)
    v.act(happening, key, 48.0 if happening is Happening.SHELVED else None)
    v.wait(hours=6)
    assert v.told == ["03 12:01 mara raised: irrigate-now", "03 13:02 jonas escalated: irrigate-now"]


def test_the_end_of_the_alarm_stops_it_and_all_who_were_told_hear_of_it() -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.wait(80)
    v.cleared(key)
    v.wait(hours=3)
    assert v.told[2:] == ["03 13:21 mara cleared: irrigate-now", "03 13:21 jonas cleared: irrigate-now"]


def test_who_is_away_or_asleep_is_passed_over_and_a_deputy_asked() -> None:
    v = village(
        MARA,
        person("jonas", roles=frozenset(), away=AWAY),
        person("lene", roles=frozenset(), away=AWAY, deputy="ida"),
        person("ida", roles=frozenset()),
    )  # fmt: skip
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=4)
    assert v.told == ["03 12:01 mara raised: irrigate-now", "03 13:02 ida escalated: irrigate-now"]
    assert v.tellings[1].items[0].instead_of == "lene"


def test_when_nobody_else_can_be_reached_the_last_of_the_list_is_told_whatever_their_hours() -> None:
    asleep = {"quiet": NIGHT, "lets_pass": None, "roles": frozenset[Role]()}
    v = village(MARA, person("jonas", **asleep), person("lene", **asleep))
    v.wait_until(22)
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=3)
    assert v.told == ["03 22:01 mara raised: irrigate-now", "03 23:02 lene escalated: irrigate-now"]
    assert v.tellings[1].items[0].despite


def test_when_all_whom_it_concerns_are_asleep_the_first_who_can_be_reached_is_told_at_once() -> None:
    v = village(person("mara", quiet=NIGHT, lets_pass=None, roles=frozenset({Role.IRRIGATION})), JONAS, LENE)
    v.wait_until(22)
    v.raised(K.IRRIGATE_NOW)
    v.wait(5)
    assert v.told == ["03 22:01 jonas raised: irrigate-now"]


def test_what_is_less_urgent_is_not_escalated_unless_its_kind_is_named() -> None:
    also = Escalation(("jonas", "lene"), HOUR_US, also=frozenset({K.SILENT_SOURCE}))
    v = village(escalation=also)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.raised(K.SILENT_SOURCE, "source/bus1")
    v.wait(hours=4)
    assert v.told == [
        "03 12:10 jonas group: electrical raised, silent-source raised", "03 13:11 lene escalated: silent-source",
    ]  # fmt: skip


def test_a_named_kind_that_is_not_high_waits_until_somebody_wakes_up() -> None:
    asleep = {"quiet": NIGHT, "roles": frozenset[Role]()}
    also = Escalation(("lene",), HOUR_US, also=frozenset({K.SILENT_SOURCE}))
    v = village(JONAS, person("lene", **asleep), escalation=also)
    v.wait_until(22)
    v.raised(K.SILENT_SOURCE, "source/bus1")
    v.wait(hours=9)
    assert v.heard("lene") == ["04 06:01 lene escalated: silent-source", "04 06:30 lene digest"]


def test_several_alarms_of_one_moment_are_escalated_together() -> None:
    v = village()
    for zone in ("north", "creek"):
        v.raised(K.IRRIGATE_NOW, f"zone/{zone}")
    v.wait(90)
    assert v.told[1:] == ["03 13:02 jonas group: irrigate-now escalated, irrigate-now escalated"]


def test_an_alarm_that_is_repeated_goes_through_the_list_again_from_its_start() -> None:
    v = village(escalation=Escalation(("jonas",), 2 * HOUR_US))
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=23)
    assert [t.kind for t in v.tellings if t.kind is not NoticeKind.DIGEST] == [NoticeKind.RAISED, NoticeKind.ESCALATED]
    v.wait(hours=2)
    assert v.told[-1] == "04 12:01 mara repeated: irrigate-now"
    v.wait(hours=2)
    assert v.told[-1] == "04 14:02 jonas escalated: irrigate-now"


def test_a_program_that_got_it_does_not_count_as_an_answer() -> None:
    v = village(program(), LENE, escalation=Escalation(("lene",), HOUR_US))
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=2)
    assert v.told == ["03 12:00 hook/controller raised: irrigate-now", "03 13:01 lene escalated: irrigate-now"]
