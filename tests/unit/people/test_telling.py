"""What makes a message, when it leaves, and what goes together."""

from datetime import date, time

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening
from parchd.alarms.manners import Manner
from parchd.contract import NoticeKind, Priority
from parchd.people.person import Away, DigestTime, Reach
from parchd.people.roles import Role
from parchd.testing.village import HOUR_US, NIGHT, Village, people, person, program

K = AlarmKind
MARA = person("mara")


def village(*persons: object, **more: object) -> Village:
    return Village(people(*(persons or (MARA,)), **more))  # type: ignore[arg-type]


def test_a_high_alarm_is_told_within_a_minute_and_its_end_in_a_message_of_its_own() -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.wait(2)
    v.wait(hours=3)
    v.cleared(key)
    v.wait(2)
    assert v.told == ["03 12:01 mara raised: irrigate-now", "03 15:03 mara cleared: irrigate-now"]
    assert v.tellings[0].items[0].thread == v.tellings[1].items[0].thread


def test_high_alarms_of_one_moment_are_one_message() -> None:
    v = village()
    for zone in ("north", "creek", "ridge"):
        v.raised(K.IRRIGATE_NOW, f"zone/{zone}")
    v.wait(5)
    assert v.told == ["03 12:01 mara group: irrigate-now raised, irrigate-now raised, irrigate-now raised"]


def test_the_first_medium_alarm_is_told_soon_and_further_ones_together_once_it_was_calm() -> None:
    v = village(person("mara", most_a_day=9))
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(60)
    v.raised(K.SILENT, "tensiometer/b")
    v.wait(60)
    v.raised(K.LOST_WATER, "tensiometer/c")
    v.wait(hours=6)
    assert v.told == ["03 12:10 mara raised: electrical", "03 16:10 mara group: silent raised, lost-water raised"]


def test_what_comes_within_ten_minutes_of_a_medium_alarm_goes_with_it() -> None:
    v = village()
    for minute in range(8):
        v.raised(K.FROST_RISK, f"tensiometer/t{minute}")
        v.wait(1)
    v.wait(hours=2)
    assert len(v.told) == 1
    assert len(v.tellings[0].items) == 8


def test_a_day_has_two_messages_that_are_not_urgent_and_the_digest_is_one_of_them() -> None:
    v = village()
    for hour in range(12):
        v.raised(K.ELECTRICAL, f"tensiometer/t{hour}")
        v.wait(hours=1)
    v.wait_until(7)
    assert [(t.kind, len(t.items)) for t in v.tellings] == [
        (NoticeKind.RAISED, 1), (NoticeKind.GROUP, 4), (NoticeKind.DIGEST, 7),
    ]  # fmt: skip


def test_what_asks_for_a_response_today_waits_for_calm_but_not_for_tomorrow() -> None:
    v = village(person("mara", most_a_day=1))
    v.wait_until(7)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=1)
    assert v.told == ["04 06:30 mara digest"]
    v.raised(K.SILENT_SOURCE, "source/bus1")
    v.wait(15)
    assert v.told[1:] == ["04 08:01 mara group: electrical raised, silent-source raised"]


def test_a_low_alarm_stands_in_the_digest_only() -> None:
    v = village()
    v.raised(K.DROP_OUTS, "tensiometer/a")
    v.raised(K.ELECTRICAL, "tensiometer/b")
    v.wait_until(7)
    assert v.told == ["03 12:10 mara raised: electrical", "04 06:30 mara digest: drop-outs raised"]


def test_somebody_who_wants_low_alarms_as_messages_gets_them() -> None:
    v = village(person("mara", lowest_priority=Priority.LOW))
    v.raised(K.DROP_OUTS, "tensiometer/a")
    v.wait(hours=1)
    assert v.told == ["03 12:10 mara raised: drop-outs"]


def test_the_end_of_a_medium_alarm_rides_with_the_next_digest() -> None:
    v = village()
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=1)
    v.cleared(key)
    v.wait_until(7)
    assert v.told == ["03 12:10 mara raised: electrical", "04 06:30 mara digest: electrical cleared"]


def test_what_came_and_went_before_it_was_told_stands_in_the_digest_as_over() -> None:
    v = village()
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(5)
    v.cleared(key)
    v.wait_until(7)
    assert v.told == ["04 06:30 mara digest: electrical over raised"]


def test_a_medium_alarm_that_somebody_acknowledged_at_once_is_no_message_to_the_others() -> None:
    v = village()
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(5)
    v.act(Happening.ACKNOWLEDGED, key)
    v.wait_until(7)
    assert v.told == ["04 06:30 mara digest: electrical raised"]


@pytest.mark.parametrize("happening", [Happening.SHELVED, Happening.REMOVED])
def test_what_is_put_aside_before_it_was_told_is_told_nowhere(happening: Happening) -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.act(happening, key, 24.0 if happening is Happening.SHELVED else None)
    v.wait(hours=20)
    assert v.told == ["04 06:30 mara digest"]


def test_when_a_shelf_ends_those_who_knew_are_reminded_and_the_end_of_a_suppression_is_no_news() -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.wait(5)
    v.suppress(key)
    v.wait(5)
    v.suppress()
    v.wait(5)
    v.act(Happening.SHELVED, key, 2.0)
    v.wait(hours=3)
    assert v.told == ["03 12:01 mara raised: irrigate-now", "03 14:16 mara reminder: irrigate-now"]


def test_a_medium_alarm_that_comes_off_a_shelf_is_told_again() -> None:
    v = village()
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(15)
    v.act(Happening.SHELVED, key, 5.0)
    v.wait(hours=6)
    assert v.told == ["03 12:10 mara raised: electrical", "03 17:25 mara reminder: electrical"]


def test_a_medium_alarm_that_is_repeated_stands_in_a_daily_digest_and_is_a_message_beside_a_weekly_one() -> None:
    repeated = Manner(repeat_us=5 * HOUR_US)
    weekly = person("jonas", digest=DigestTime(time(6, 30), weekday=0))
    v = village(MARA, weekly)
    v.register.behave(lambda _key: repeated)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=6)
    assert v.heard("mara") == ["03 12:10 mara raised: electrical"]
    assert v.heard("jonas") == ["03 12:10 jonas raised: electrical", "03 17:10 jonas repeated: electrical"]
    v.wait_until(7)
    assert v.heard("mara")[1:] == ["04 06:30 mara digest: electrical repeated"]


def test_what_was_suppressed_from_the_start_is_told_when_it_is_released() -> None:
    v = village()
    key = v.raised(K.IRRIGATE_NOW)
    v.suppress(key)
    v.wait(hours=2)
    v.suppress()
    v.wait(2)
    assert v.told == ["03 14:01 mara raised: irrigate-now"]


def test_a_high_alarm_that_stands_is_repeated_at_once_and_a_medium_one_with_the_digest() -> None:
    v = village()
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=25)
    assert v.told == [
        "03 12:01 mara raised: irrigate-now", "04 06:30 mara digest", "04 12:01 mara repeated: irrigate-now",
    ]  # fmt: skip


def test_of_two_levels_the_more_urgent_one_says_it_all() -> None:
    v = village()
    plan = v.raised(K.IRRIGATE_PLAN)
    v.wait(2)
    now = v.raised(K.IRRIGATE_NOW)
    v.wait(30)
    assert v.told == ["03 12:03 mara raised: irrigate-now"]
    v.cleared(now)
    v.wait(5)
    v.cleared(plan)
    v.wait_until(7)
    assert v.told[1:] == ["03 12:33 mara cleared: irrigate-now", "04 06:30 mara digest: irrigate-plan over raised"]


def test_the_lesser_level_that_stays_stands_in_the_digest() -> None:
    v = village()
    now = v.raised(K.IRRIGATE_NOW)
    v.raised(K.IRRIGATE_PLAN)
    v.wait(30)
    v.cleared(now)
    v.wait_until(7)
    assert v.told == [
        "03 12:01 mara raised: irrigate-now", "03 12:31 mara cleared: irrigate-now",
        "04 06:30 mara digest: irrigate-plan raised",
    ]  # fmt: skip


def test_a_better_explanation_of_what_was_told_is_no_second_message() -> None:
    v = village()
    air = v.raised(K.AIR_ENTRY, "tensiometer/a")
    thread = v.register.standing(air).raised_us
    v.wait(30)
    v.cleared(air, end="refined")
    v.raised(K.LOST_WATER, "tensiometer/a", thread=f"air-entry.tensiometer.a.{thread}")
    v.wait_until(7)
    assert v.told == ["03 12:10 mara raised: air-entry", "04 06:30 mara digest: lost-water raised"]


def test_a_better_explanation_of_what_still_waits_takes_its_place() -> None:
    v = village()
    leak = v.raised(K.AIR_ENTRY, "tensiometer/a")
    thread = v.register.standing(leak).raised_us
    v.wait(3)
    v.cleared(leak, end="refined")
    v.raised(K.LOST_WATER, "tensiometer/a", thread=f"air-entry.tensiometer.a.{thread}")
    v.wait_until(7)
    assert v.told == ["03 12:10 mara raised: lost-water", "04 06:30 mara digest"]


def test_a_better_explanation_that_is_more_urgent_is_told() -> None:
    v = village(person("mara", lowest_priority=Priority.LOW, most_a_day=9))
    leak = v.raised(K.AIR_LEAK, "tensiometer/a")
    thread = v.register.standing(leak).raised_us
    v.wait(hours=5)
    v.cleared(leak, end="refined")
    v.raised(K.LOST_WATER, "tensiometer/a", thread=f"air-leak.tensiometer.a.{thread}")
    v.wait(hours=1)
    assert v.told == ["03 12:10 mara raised: air-leak", "03 17:10 mara raised: lost-water"]


def test_what_happened_again_is_told_again_and_only_programs_hear_that_the_first_time_is_over() -> None:
    v = village(person("mara"), program())
    air = v.raised(K.AIR_ENTRY, "tensiometer/a")
    v.wait(hours=5)
    v.cleared(air, end="repeated")
    v.raised(K.AIR_ENTRY, "tensiometer/a")
    v.wait(hours=1)
    assert [told for told in v.told if "mara" in told] == [
        "03 12:10 mara raised: air-entry", "03 17:10 mara raised: air-entry",
    ]  # fmt: skip
    assert [told.split()[3] for told in v.told if "mara" not in told] == ["raised:", "cleared:", "raised:"]


def test_an_alarm_that_chatters_is_told_as_such_and_then_held() -> None:
    v = village()
    for _ in range(6):
        key = v.raised(K.IRRIGATE_NOW)
        v.wait(8)
        v.cleared(key)
        v.wait(8)
    v.wait_until(7)
    assert v.told == [
        "03 12:01 mara raised: irrigate-now", "03 12:09 mara cleared: irrigate-now",
        "03 12:17 mara raised: irrigate-now", "03 12:25 mara cleared: irrigate-now",
        "03 12:33 mara raised: irrigate-now",
        "04 06:30 mara digest: irrigate-now cleared, irrigate-now over raised",
    ]  # fmt: skip
    assert [t.items[0].comes_and_goes for t in v.tellings[:5]] == [False, False, False, False, True]
    assert v.tellings[5].items[1].times == 3


def test_an_alarm_that_was_calm_for_a_day_is_told_again() -> None:
    v = village()
    for _ in range(4):
        v.cleared(v.raised(K.IRRIGATE_NOW))
    v.wait(hours=25)
    v.raised(K.IRRIGATE_NOW)
    v.wait(2)
    assert v.told[-1] == "04 13:01 mara raised: irrigate-now"


def test_more_than_ten_alarms_in_ten_minutes_are_one_summary_and_further_ones_a_later_one() -> None:
    v = village()
    for n in range(40):
        v.raised(K.IRRIGATE_NOW if n % 2 else K.ELECTRICAL, f"tensiometer/t{n:02}")
    v.wait(2)
    assert [(t.kind, len(t.items), t.alarms) for t in v.tellings] == [(NoticeKind.FLOOD, 40, 40)]
    assert [item.priority for item in v.tellings[0].items] == [Priority.HIGH] * 20 + [Priority.MEDIUM] * 20
    for n in range(6):
        v.raised(K.IRRIGATE_NOW, f"zone/z{n}")
        v.wait(1)
    assert len(v.tellings) == 1
    v.wait(20)
    assert [(t.kind, len(t.items)) for t in v.tellings[1:]] == [(NoticeKind.FLOOD, 6)]
    v.wait(hours=1)
    v.raised(K.IRRIGATE_NOW, "zone/late")
    v.wait(2)
    assert v.tellings[-1].kind is NoticeKind.RAISED


def test_a_flood_of_what_is_not_urgent_is_told_at_once_too() -> None:
    v = village()
    v.raised(K.ELECTRICAL, "tensiometer/first")
    v.wait(30)
    for n in range(12):
        v.raised(K.ELECTRICAL, f"tensiometer/t{n:02}")
        v.wait(0.5)
    v.wait(hours=3)
    assert [(t.kind, len(t.items)) for t in v.tellings] == [(NoticeKind.RAISED, 1), (NoticeKind.FLOOD, 11)]


def test_the_alarm_about_a_flood_is_no_message_of_its_own() -> None:
    v = village()
    v.raised(K.ALARM_FLOOD, "person/mara")
    v.wait_until(7)
    assert v.told == ["04 06:30 mara digest"]


def test_what_is_urgent_and_what_was_gathered_may_leave_in_one_moment_as_two_messages() -> None:
    v = village(person("mara", most_a_day=9))
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(60)
    for name in "bc":
        v.raised(K.ELECTRICAL, f"tensiometer/{name}")
    v.wait(hours=3, minutes=9)
    for name in "de":
        v.raised(K.IRRIGATE_NOW, f"zone/{name}")
    v.wait(5)
    assert [(t.kind, len(t.items)) for t in v.tellings[1:]] == [(NoticeKind.GROUP, 2)] * 2
    assert len({t.name for t in v.tellings}) == 3
    assert v.tellings[1].time_us == v.tellings[2].time_us


def test_an_end_that_quiet_hours_overtake_rides_with_the_digest() -> None:
    v = village(person("mara", quiet=NIGHT))
    key = v.raised(K.IRRIGATE_NOW)
    v.wait_until(20, 59)
    v.wait(0.5)
    v.cleared(key)
    v.wait(hours=12)
    assert v.told == ["03 12:01 mara raised: irrigate-now", "04 06:30 mara digest: irrigate-now cleared"]


def test_a_program_gets_every_change_at_once_in_a_message_of_its_own() -> None:
    v = village(program(lowest_priority=Priority.LOW))
    keys = [v.raised(kind, "tensiometer/a") for kind in (K.ELECTRICAL, K.DROP_OUTS, K.SILENT)]
    v.wait(1)
    for key in keys:
        v.cleared(key)
    v.wait(1)
    assert [text.split(" ", 2)[2] for text in v.told] == [
        "hook/controller raised: electrical", "hook/controller raised: drop-outs", "hook/controller raised: silent",
        "hook/controller cleared: electrical", "hook/controller cleared: drop-outs", "hook/controller cleared: silent",
    ]  # fmt: skip


def test_a_program_is_not_told_of_what_is_less_urgent_than_it_wants_nor_of_its_end() -> None:
    v = village(program(lowest_priority=Priority.MEDIUM))
    v.cleared(v.raised(K.DROP_OUTS, "tensiometer/a"))
    v.wait(1)
    assert v.told == []


# --- hours, absences, roles


def test_quiet_hours_hold_what_is_not_urgent_until_they_end_and_the_digest_soon_after_takes_it() -> None:
    v = village(person("mara", quiet=NIGHT, digest=DigestTime(time(10))))
    v.wait_until(22)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=9)
    assert v.told == ["03 22:01 mara raised: irrigate-now", "04 06:00 mara raised: electrical"]
    v = village(person("mara", quiet=NIGHT))
    v.wait_until(22)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=9)
    assert v.told == ["04 06:30 mara digest: electrical raised"]


def test_quiet_hours_may_let_nothing_pass() -> None:
    v = village(person("mara", quiet=NIGHT, lets_pass=None))
    v.wait_until(22)
    v.raised(K.IRRIGATE_NOW)
    v.wait(hours=9)
    assert v.told == ["04 06:00 mara raised: irrigate-now", "04 06:30 mara digest"]


def test_a_digest_waits_for_the_end_of_quiet_hours() -> None:
    v = village(person("mara", quiet=NIGHT, digest=DigestTime(time(5))))
    v.wait_until(7)
    assert v.told == ["04 06:00 mara digest"]


def test_a_program_with_quiet_hours_gets_each_message_when_they_end() -> None:
    v = village(program(quiet=NIGHT))
    v.wait_until(22)
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(20)
    v.cleared(key)
    v.raised(K.IRRIGATE_NOW)
    v.wait_until(7)
    assert v.told == [
        "03 22:20 hook/controller raised: irrigate-now", "04 06:00 hook/controller raised: electrical",
        "04 06:00 hook/controller cleared: electrical",
    ]  # fmt: skip


AWAY = (Away(date(2026, 6, 1), date(2026, 6, 5)),)


def test_a_deputy_gets_the_messages_of_somebody_who_is_away_and_no_digest_is_sent_to_them() -> None:
    v = village(person("mara", away=AWAY, deputy="jonas"), person("jonas", roles=frozenset({Role.SYSTEM})))
    v.raised(K.IRRIGATE_NOW)
    v.wait_until(7)
    assert v.told == ["03 12:01 jonas raised: irrigate-now", "04 06:30 jonas digest"]
    assert v.tellings[0].items[0].instead_of == "mara"


def test_deputies_are_asked_in_turn_and_nobody_hears_twice() -> None:
    v = village(
        person("mara", away=AWAY, deputy="jonas"), person("jonas", away=AWAY, deputy="lene"), person("lene")
    )  # fmt: skip
    v.raised(K.IRRIGATE_NOW)
    v.wait(5)
    assert v.told == ["03 12:01 lene raised: irrigate-now"]
    assert v.tellings[0].items[0].instead_of == ""


def test_when_all_whom_an_alarm_concerns_are_away_somebody_else_is_told() -> None:
    v = village(person("jonas", roles=frozenset({Role.SYSTEM})), person("mara", away=AWAY))
    v.raised(K.IRRIGATE_NOW)
    v.wait(5)
    assert v.told == ["03 12:01 jonas raised: irrigate-now"]


def test_when_everybody_is_away_one_of_them_is_told_all_the_same() -> None:
    v = village(person("mara", away=AWAY), person("jonas", away=AWAY))
    v.raised(K.IRRIGATE_NOW)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(20)
    assert v.told == ["03 12:01 mara group: irrigate-now raised, electrical raised"]
    assert all(item.despite for item in v.tellings[0].items)


def test_what_waits_for_somebody_is_handed_on_when_their_holidays_begin() -> None:
    away = (Away(date(2026, 6, 4), date(2026, 6, 9)),)
    v = village(
        person("mara", away=away, deputy="jonas", digest=None, most_a_day=1), person("jonas", roles=frozenset())
    )
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=1)
    v.raised(K.SILENT, "tensiometer/b")
    v.wait(hours=13)
    assert v.told == ["03 12:10 mara raised: electrical", "04 00:00 jonas raised: silent"]
    assert v.tellings[1].items[0].instead_of == "mara"


def test_after_holidays_the_digest_goes_on_with_the_next_day_and_tells_what_happened() -> None:
    v = village(person("mara", away=AWAY), person("jonas"))
    key = v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(hours=2)
    v.cleared(key)
    v.wait(hours=24 * 4)
    assert v.heard("mara") == ["06 06:30 mara digest", "07 06:30 mara digest"]


def test_people_hear_of_what_they_look_after_in_their_zones() -> None:
    zones = {"zone/north": frozenset({"north"}), "tensiometer/c1": frozenset({"creek"})}
    v = village(
        person("mara", roles=frozenset({Role.IRRIGATION}), zones=frozenset({"north"})),
        person("jonas", roles=frozenset({Role.SENSORS, Role.SYSTEM}), zones=frozenset({"creek"})),
        zones=zones,
    )
    v.raised(K.IRRIGATE_NOW, "zone/north")
    v.raised(K.ELECTRICAL, "tensiometer/c1")
    v.raised(K.DISK_FULL, "daemon/disk")
    v.wait(20)
    assert sorted(v.told) == [
        "03 12:01 jonas raised: disk-full", "03 12:01 mara raised: irrigate-now", "03 12:10 jonas raised: electrical",
    ]  # fmt: skip


def test_a_weekly_digest_comes_on_its_day() -> None:
    v = village(person("mara", digest=DigestTime(time(6, 30), weekday=4)))
    v.raised(K.DROP_OUTS, "tensiometer/a")
    v.wait(hours=24 * 9)
    assert v.told == ["05 06:30 mara digest: drop-outs raised", "12 06:30 mara digest"]


def test_a_message_takes_the_ways_that_are_meant_for_its_priority() -> None:
    reach = (Reach("mail", "mara@quillmere.example"), Reach("pager", "mara", Priority.HIGH))
    v = village(person("mara", reach=reach))
    v.raised(K.IRRIGATE_NOW)
    v.wait(5)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait_until(7)
    assert [[way.notifier for way in t.reach] for t in v.tellings] == [["mail", "pager"], ["mail"], ["mail"]]


def test_a_clock_that_is_set_back_holds_nothing_up_and_makes_no_digest_of_the_day_that_comes_again() -> None:
    v = village()
    v.wait_until(7)
    v.raised(K.ELECTRICAL, "tensiometer/a")
    v.wait(15)
    v.raised(K.SILENT, "tensiometer/b")
    v.raised(K.IRRIGATE_NOW)
    v.wait(0)
    v.now_us -= 48 * HOUR_US
    v.wait(15)
    assert [text.split(" ", 2)[2] for text in v.told] == [
        "mara digest", "mara raised: electrical", "mara raised: irrigate-now", "mara raised: silent",
        "mara repeated: irrigate-now",
    ]  # fmt: skip
    v.wait_until(6, 45)
    assert v.told[-1] == "03 06:30 mara digest"
    assert [t.kind for t in v.tellings].count(NoticeKind.DIGEST) == 2
