"""The life of alarms in the engine: what people ask for, what time does, what is told, what is kept."""

import sqlite3
from collections.abc import Iterator
from dataclasses import replace

import pytest

from parchd.alarms.kinds import USUAL, AlarmKind
from parchd.alarms.standing import rebuilt
from parchd.app.messages import Ask, Reload, Tick
from parchd.app.requests import Acknowledge, Answer, AnyRequest, PutBack, RecordService, Reset, Shelve, TakeOut
from parchd.store.standings import history, load_standings
from parchd.testing.bench import MEMORY, Bench, engine_on, refuse
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, engine_setup_of, line, small_site

NORTH = ("n20", "n40", "n60")


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def north(bench: Bench, now_us: int, kpa: float) -> None:
    bench.turn(now_us, line(now_us, **dict.fromkeys(NORTH, kpa)))


def ask(bench: Bench, now_us: int, request: AnyRequest) -> Answer:
    answers: list[Answer] = []
    bench.turn(now_us, Ask(request, answers.append))
    return answers[-1]


def states(bench: Bench) -> dict[str, str]:
    return {f"{kind} {subject}": state for kind, subject, state in bench.rows(
        "SELECT kind, subject, state FROM alarm_standing ORDER BY kind, subject")}  # fmt: skip


def latch(bench: Bench) -> None:
    """Let an air leak of north-20 be latched since before the engine started."""
    bench.rows(
        "INSERT INTO alarm_transition (time_us, kind, subject, before, happening, after, raised_us, by, why, via)"
        " VALUES (?, 'air-leak', 'tensiometer/north-20', 'normal', 'raised', 'unacknowledged', 5, '', '', 'judge'),"
        " (?, 'air-leak', 'tensiometer/north-20', 'unacknowledged', 'cleared', 'latched', 5, '', '', 'judge')",
        START_US - 1, START_US - 1,
    )  # fmt: skip
    bench.rows(
        "INSERT INTO alarm_standing (kind, subject, state, is_on, since_us, raised_us, via)"
        " VALUES ('air-leak', 'tensiometer/north-20', 'latched', 0, ?, 5, 'judge')",
        START_US - 1,
    )
    bench.restart(START_US)


def test_an_alarm_is_acknowledged_by_whoever_asks_and_told_no_more(bench: Bench) -> None:
    north(bench, START_US, 45.0)
    told = bench.subjects()
    request = Acknowledge(subject="north", by="Ines", why="tonight", via="link")
    assert ask(bench, START_US + 1, request).text == "irrigate-plan of zone/north: acknowledged"
    assert states(bench) == {"irrigate-plan zone/north": "acknowledged"}
    assert bench.subjects() == told
    query = "SELECT time_us, happening, by, why, via FROM alarm_transition ORDER BY id DESC LIMIT 1"
    assert bench.rows(query) == [(START_US + 1, "acknowledged", "Ines", "tonight", "link")]


def test_an_answer_to_a_message_whose_episode_is_over_is_refused(bench: Bench) -> None:
    north(bench, START_US, 45.0)
    north(bench, START_US + 1, 20.0)
    north(bench, START_US + 2, 45.0)
    old = Acknowledge(episode=f"irrigate-plan.zone.north.{START_US}", by="Ines")
    assert ask(bench, START_US + 3, old).state == "failed"
    assert states(bench) == {"irrigate-plan zone/north": "unacknowledged"}
    new = Acknowledge(episode=f"irrigate-plan.zone.north.{START_US + 2}", by="Ines")
    assert ask(bench, START_US + 4, new).state == "done"


def test_what_is_shelved_is_told_when_its_time_is_over_with_what_the_judge_said(bench: Bench) -> None:
    shelve = Shelve(subject="north", kind=AlarmKind.IRRIGATE_NOW, hours=4, why="pump is away", by="Ines")
    assert ask(bench, START_US, shelve).state == "done"
    north(bench, START_US + MINUTE_US, 70.0)
    assert bench.subjects() == ["north block: plan an irrigation (70 kPa)"]
    bench.tick(START_US + 4 * HOUR_US - 1)
    assert len(bench.subjects()) == 1
    bench.tick(START_US + 4 * HOUR_US)
    assert bench.subjects()[1:] == ["north block: irrigate now (70 kPa)"]
    assert states(bench)["irrigate-now zone/north"] == "unacknowledged"


def test_what_came_and_went_on_the_shelf_is_told_nowhere_and_kept_in_both_histories(bench: Bench) -> None:
    ask(bench, START_US, Shelve(subject="north", kind=AlarmKind.IRRIGATE_PLAN, hours=4, why="pump is away"))
    north(bench, START_US + 1, 45.0)
    north(bench, START_US + 2, 20.0)
    bench.tick(START_US + 4 * HOUR_US)
    assert bench.subjects() == []
    assert states(bench) == {}
    assert [change for _, _, change in bench.events()] == ["raised", "cleared"]
    happened = bench.rows("SELECT happening, after FROM alarm_transition ORDER BY id")
    assert happened == [
        ("shelved", "shelved"), ("raised", "shelved"), ("cleared", "shelved"), ("unshelved", "normal"),
    ]  # fmt: skip


def test_a_zone_that_needs_water_is_told_of_anew_each_day(bench: Bench) -> None:
    for day in range(3):
        north(bench, START_US + day * DAY_US, 70.0)
        bench.tick(START_US + day * DAY_US + MINUTE_US)
    told = "north block: irrigate now (70 kPa)"
    assert bench.subjects() == [told, f"{told}, still so after 24 h", f"{told}, still so after 48 h"]
    assert len(set(bench.rows("SELECT notice_id FROM outbox"))) == 3


def test_a_kind_that_is_out_of_service_is_judged_and_told_nowhere() -> None:
    site, alarms = small_site()
    plan = replace(USUAL[AlarmKind.IRRIGATE_PLAN], out_of_service="no pumps yet")
    silenced = replace(alarms, kinds={**USUAL, AlarmKind.IRRIGATE_PLAN: plan})
    with engine_on(MEMORY, engine_setup_of((site, silenced))) as bench:
        north(bench, START_US, 45.0)
        assert bench.subjects() == []
        assert states(bench) == {"irrigate-plan zone/north": "out-of-service"}
        bench.turn(START_US + 1, Reload(engine_setup_of((site, alarms))))
        assert bench.subjects() == ["north block: plan an irrigation (45 kPa)"]
        bench.turn(START_US + 2, Reload(engine_setup_of((site, silenced))))
        assert states(bench) == {"irrigate-plan zone/north": "out-of-service"}


def test_what_a_person_took_out_stays_out_over_a_restart(bench: Bench) -> None:
    ask(bench, START_US, TakeOut(subject="zone/north", kind=AlarmKind.IRRIGATE_PLAN, why="fallow"))
    bench.restart(START_US + 1)
    north(bench, START_US + 2, 45.0)
    assert bench.subjects() == []
    assert ask(bench, START_US + 3, PutBack(subject="north")).text.endswith("back in service, now unacknowledged")
    assert bench.subjects() == ["north block: plan an irrigation (45 kPa)"]


def test_a_service_resets_what_is_latched_and_says_who_did_it(bench: Bench) -> None:
    latch(bench)
    assert states(bench) == {"air-leak tensiometer/north-20": "latched"}
    begin_us, end_us = START_US, START_US + HOUR_US
    service = RecordService(tensiometer="north-20", work="refill", begin_us=begin_us, end_us=end_us, by="Ines")
    assert ask(bench, START_US + 1, service).state == "done"
    assert states(bench) == {}
    assert bench.rows("SELECT happening, by FROM alarm_transition ORDER BY id DESC LIMIT 1") == [("reset", "Ines")]


def test_a_service_that_is_refused_resets_nothing(bench: Bench) -> None:
    latch(bench)
    service = RecordService(tensiometer="north-99", work="refill", begin_us=START_US, end_us=START_US)
    assert ask(bench, START_US + 1, service).state == "failed"
    assert states(bench) == {"air-leak tensiometer/north-20": "latched"}
    assert ask(bench, START_US + 2, Reset(subject="north-20")).state == "done"
    assert states(bench) == {}


def test_limits_that_the_configuration_loses_take_their_alarms_along_unheard(bench: Bench) -> None:
    north(bench, START_US, 70.0)
    ask(bench, START_US, TakeOut(subject="creek", kind=AlarmKind.IRRIGATE_NOW, why="fallow"))
    told = bench.subjects()
    site, alarms = small_site(plan_kpa=None)
    without_creek = replace(alarms, irrigation=alarms.irrigation[:1])
    bench.turn(START_US + 1, Reload(engine_setup_of((site, without_creek))))
    assert states(bench) == {"irrigate-now zone/north": "unacknowledged"}
    assert bench.subjects() == told


def test_a_shelf_ends_when_the_clock_turns_out_to_have_been_years_ahead(bench: Bench) -> None:
    ahead_us = START_US + 400 * DAY_US
    bench.tick(ahead_us)
    ask(bench, ahead_us, Shelve(subject="north", kind=AlarmKind.IRRIGATE_NOW, hours=24, why="rain"))
    bench.tick(*range(START_US, START_US + 11 * MINUTE_US, MINUTE_US))
    assert states(bench) == {}


def test_standings_follow_from_the_history_whatever_was_asked(bench: Bench) -> None:
    latch(bench)
    asked: list[tuple[float, AnyRequest]] = [
        (70.0, Acknowledge()),
        (70.0, Shelve(subject="north", hours=2, why="rain")),
        (20.0, Acknowledge(subject="north-20")),
        (61.0, TakeOut(subject="north", kind=AlarmKind.IRRIGATE_NOW, why="pump")),
        (20.0, Reset(subject="north-20")),
        (70.0, PutBack(subject="north")),
    ]
    for n, (kpa, request) in enumerate(asked):
        now_us = START_US + n * HOUR_US
        north(bench, now_us, kpa)
        ask(bench, now_us, request)
        bench.tick(now_us + MINUTE_US)
        assert rebuilt(history(bench.connection)) == load_standings(bench.connection)
    assert len(states(bench)) > 0


def test_readings_and_ticks_without_an_event_cost_nothing_for_the_life_of_alarms(bench: Bench) -> None:
    north(bench, START_US, 70.0)
    ask(bench, START_US + 1, Shelve(subject="north", hours=4, why="rain"))
    bench.tick(START_US + MINUTE_US)
    said: list[str] = []
    bench.connection.set_trace_callback(said.append)
    for minute in range(2, 9):
        north(bench, START_US + minute * MINUTE_US, 70.0)
        bench.tick(START_US + minute * MINUTE_US)
    bench.connection.set_trace_callback(None)
    assert len(said) > 10
    assert [text for text in said if "alarm_" in text] == []


def happened(bench: Bench) -> list[str]:
    return [one for (one,) in bench.rows("SELECT happening FROM alarm_transition WHERE kind = 'irrigate-now'")]


@pytest.mark.parametrize("breaks", ["", "the turn fails", "the engine starts anew"])
def test_a_clock_that_leaps_by_years_repeats_no_alarm_until_a_day_went_by(bench: Bench, breaks: str) -> None:
    north(bench, START_US, 65.0)
    bench.tick(START_US)
    leapt_us = START_US
    for _ in range(3):
        leapt_us += 365 * DAY_US
        if breaks == "the turn fails":
            refuse(bench.connection, sqlite3.SQLITE_INSERT, "journal")
            with pytest.raises(sqlite3.DatabaseError):
                bench.turn(leapt_us, Tick(), line(leapt_us, n20=65.0))
            refuse(bench.connection, None)
        bench.tick(leapt_us)
        if breaks == "the engine starts anew":
            bench.restart(leapt_us)
        bench.tick(leapt_us + HOUR_US)
    assert happened(bench) == ["raised"]
    bench.tick(leapt_us + DAY_US - 1)
    assert happened(bench) == ["raised"]
    bench.tick(leapt_us + DAY_US)
    assert happened(bench) == ["raised", "repeated"]


def test_a_clock_that_went_back_for_good_repeats_no_alarm_until_a_day_went_by(bench: Bench) -> None:
    north(bench, START_US, 65.0)
    bench.tick(START_US)
    back_us = START_US - 90 * DAY_US
    accepted_us = back_us + 10 * MINUTE_US
    bench.tick(back_us, accepted_us, accepted_us + HOUR_US, accepted_us + DAY_US - 1)
    assert happened(bench) == ["raised"]
    bench.tick(accepted_us + DAY_US)
    assert happened(bench) == ["raised", "repeated"]


def test_a_machine_that_sleeps_each_night_still_repeats_what_stands(bench: Bench) -> None:
    north(bench, START_US, 65.0)
    bench.tick(*(START_US + hours * HOUR_US for hours in (0, 1, 11, 12, 22, 23)))
    assert happened(bench) == ["raised"]
    bench.tick(START_US + 33 * HOUR_US)
    assert happened(bench) == ["raised", "repeated"]
