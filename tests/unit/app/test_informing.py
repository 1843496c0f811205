"""People in the engine: what they are told is in the outbox, over restarts and changes of the configuration."""

import json
import logging
from dataclasses import replace
from datetime import time
from typing import Any

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import CLOCK, Delays, HealthRule, IrrigationRule
from parchd.app.messages import Ask, Reload, Tick
from parchd.app.requests import Acknowledge
from parchd.app.setup import EngineSetup
from parchd.contract import Notice
from parchd.people.person import DigestTime, Escalation, Person, Reach
from parchd.people.roles import Role
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, engine_setup_of, line, route, small_site
from parchd.words import Voice

BERLIN = Voice(time_zone="Europe/Berlin")


def person(key: str, **changes: Any) -> Person:
    digest = DigestTime(time(6, 30))
    return Person(key, key.capitalize(), (Reach("mail", f"{key}@quillmere.example"),), BERLIN, digest=digest, **changes)


def setup(*people: Person, escalation: Escalation | None = None, patience: float = 1000.0) -> EngineSetup:
    """The small site, whose tensiometers may be silent for a week."""
    pipeline, alarms = small_site()
    patient = tuple(replace(rule, silent_intervals=patience) for rule in alarms.faults)
    nobody = route("mail", recipients=())
    site = (pipeline, replace(alarms, faults=patient))
    return engine_setup_of(site, routes=[nobody], people=people, escalation=escalation)


def run(bench: Bench, start_us: int, minutes: float) -> int:
    """Tick every minute."""
    end_us = start_us + round(minutes * MINUTE_US)
    for now_us in range(start_us, end_us + 1, MINUTE_US):
        bench.turn(now_us, Tick())
    return end_us


def dry(time_us: int) -> Any:
    return line(time_us, n20=70.0, n40=70.0, n60=70.0)


def wet(time_us: int) -> Any:
    return line(time_us, n20=10.0, n40=10.0, n60=10.0)


def mail(bench: Bench) -> list[tuple[str, str, str]]:
    """Who was told, in which kind of message, of which alarm."""
    rows = bench.rows("SELECT recipient, kind, notice FROM outbox ORDER BY id")
    return [(who.partition("@")[0], kind, json.loads(text)["data"].get("alarm", "")) for who, kind, text in rows]


def test_a_person_is_told_at_their_address_and_only_once_over_restarts() -> None:
    with engine_on(MEMORY, setup(person("mara"))) as bench:
        bench.feed(dry(START_US))
        for minute in range(1, 5):
            bench.restart(START_US + minute * MINUTE_US)
            bench.tick(START_US + minute * MINUTE_US)
        assert mail(bench) == [("mara", "raised", "irrigate-now")]
        bench.feed(wet(START_US + HOUR_US))
        run(bench, START_US + HOUR_US, 2)
        assert [kind for _, kind, _ in mail(bench)] == ["raised", "digest", "cleared"]
        threads = bench.rows("SELECT json_extract(notice, '$.thread') FROM outbox WHERE kind != 'digest'")
        assert len(set(threads)) == 1


def test_the_next_person_is_told_when_nobody_acknowledges_and_an_acknowledgement_stops_it(
    caplog: pytest.LogCaptureFixture,
) -> None:
    people = [person("mara"), person("jonas", roles=frozenset()), person("lene", roles=frozenset())]
    escalation = Escalation(("jonas", "lene"), HOUR_US // 2)
    with engine_on(MEMORY, setup(*people, escalation=escalation)) as bench, caplog.at_level(logging.INFO):
        bench.feed(dry(START_US))
        now_us = run(bench, START_US, 33)
        bench.turn(now_us, Ask(Acknowledge(subject="north", by="Jonas"), lambda _answer: None))
        run(bench, now_us, 60)
        assert [(who, kind) for who, kind, _ in mail(bench) if kind != "digest"] == [
            ("mara", "raised"), ("jonas", "escalated"),
        ]  # fmt: skip
    assert [record for record in caplog.records if getattr(record, "event", "") == "message.escalated"]


def test_a_silent_gateway_is_one_message_and_nothing_else_is_told_of_its_tensiometers() -> None:
    with engine_on(MEMORY, setup(person("mara"), patience=3.0)) as bench:
        bench.feed(line(START_US, n20=20.0, n40=20.0, n60=20.0))
        run(bench, START_US, 180)
        assert [(kind, alarm) for _, kind, alarm in mail(bench) if kind != "digest"] == [
            ("raised", "silent-source"),
        ]  # fmt: skip


def test_several_alarms_of_one_moment_are_one_message_that_lists_them() -> None:
    with engine_on(MEMORY, setup(person("mara", soon_us=0))) as bench:
        bench.turn(START_US, dry(START_US), line(START_US, n20=200.0))
        for minute in range(1, 4):
            bench.feed(line(START_US + minute * MINUTE_US, n20=200.0, n40=200.0))
        run(bench, START_US + 3 * MINUTE_US, 25)
        ((_, kind, notice),) = bench.rows("SELECT recipient, kind, notice FROM outbox WHERE kind = 'group'")
        assert kind == "group"
        rows = Notice.from_json(notice).tables[0].rows
        assert {row[2] for row in rows} == {"medium"}


def test_an_address_that_takes_the_place_of_another_hears_how_an_alarm_ends_and_a_further_notifier_does_not() -> None:
    with engine_on(MEMORY, engine_setup_of(routes=[route("hook", "old")])) as bench:
        bench.feed(line(START_US, n20=45.0, n40=45.0, n60=45.0))
        bench.turn(START_US + 1, Reload(engine_setup_of(routes=[route("hook", "new"), route("mail", "anne")])))
        bench.feed(*(line(START_US + n * MINUTE_US, n20=10.0, n40=10.0, n60=10.0) for n in range(10, 400, 10)))
        assert [(who, kind) for who, kind, _ in mail(bench)] == [("old", "raised"), ("new", "cleared")]


def test_alarms_that_stand_before_people_are_known_are_no_news_but_their_end_is() -> None:
    with engine_on(MEMORY, setup(person("mara"))) as bench:
        bench.feed(dry(START_US))
        run(bench, START_US, 3)
        for table in ("told_alarm", "told_raise", "told_person", "told_item"):
            bench.connection.execute(f"DELETE FROM {table}")
        bench.restart(START_US + HOUR_US)
        now_us = run(bench, START_US + HOUR_US, 5)
        bench.feed(wet(now_us))
        run(bench, now_us, 60 * 24)
        assert [kind for _, kind, _ in mail(bench)] == ["raised", "digest"]
        digest = bench.rows("SELECT notice FROM outbox WHERE kind = 'digest'")[0][0]
        changes = Notice.from_json(digest).tables[-1].rows
        assert [said for _, said in changes] == ["north block: irrigate now (70 kPa): over"]


def test_what_waits_for_somebody_who_is_gone_goes_to_those_whom_it_concerns_now() -> None:
    with engine_on(MEMORY, setup(person("mara"), person("jonas", roles=frozenset({Role.SYSTEM})))) as bench:
        bench.feed(dry(START_US))
        bench.turn(START_US + 1, Reload(setup(person("jonas"))))
        run(bench, START_US + 1, 3)
        assert mail(bench) == [("jonas", "raised", "irrigate-now")]
        assert bench.rows("SELECT person FROM told_person") == [("jonas",)]


def test_what_people_were_sent_is_written_down() -> None:
    with engine_on(MEMORY, setup(person("mara"))) as bench:
        bench.feed(dry(START_US))
        run(bench, START_US, 60)
        assert bench.rows("SELECT person, kind, priority, alarms FROM telling") == [
            ("mara", "raised", 3, 1), ("mara", "digest", 1, 0),
        ]  # fmt: skip


def test_a_flood_is_one_summary_and_an_alarm_in_the_history() -> None:
    pipeline, alarms = small_site()
    many = tuple(IrrigationRule(f"zone/z{n}", ("north-20",), None, 30.0, 3.0, Delays(), None) for n in range(14))
    site = (pipeline, replace(alarms, irrigation=many))
    flooded = engine_setup_of(site, routes=[route("mail", recipients=())], people=[person("mara")])
    with engine_on(MEMORY, flooded) as bench:
        bench.feed(line(START_US, n20=70.0))
        now_us = run(bench, START_US, 3)
        assert [kind for _, kind, _ in mail(bench)] == ["flood"]
        bench.restart(now_us)
        assert ("alarm-flood", "person/mara", "raised") in bench.events()
        run(bench, now_us, 15)
        assert bench.events()[-1] == ("alarm-flood", "person/mara", "cleared")
        assert len(mail(bench)) == 1


def test_a_clock_that_cannot_be_believed_is_told_but_sends_no_digest() -> None:
    pipeline, alarms = small_site()
    rule = HealthRule(AlarmKind.CLOCK_UNTRUSTED, CLOCK, Delays(on_s=900.0))
    site = (pipeline, replace(alarms, health=(rule,)))
    clockless = engine_setup_of(site, routes=[route("mail", recipients=())], people=[person("mara")])
    with engine_on(MEMORY, clockless, now_us=0) as bench:
        run(bench, 0, 60 * 30)
        assert mail(bench) == [("mara", "raised", "clock-untrusted")]
