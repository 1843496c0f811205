"""Suppression by design in the engine: one alarm for one cause, nothing told that means nothing."""

from dataclasses import replace
from typing import Any

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import Delays, HealthRule
from parchd.app.messages import Ask, SourceHealth
from parchd.app.requests import Answer, RecordService
from parchd.app.setup import EngineSetup
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import MINUTE_US, START_US, engine_setup_of, line, small_site

AWAY = HealthRule(AlarmKind.SOURCE_DOWN, "source/bus1", Delays(on_s=2400.0))


def setup() -> EngineSetup:
    """The north block of the small site, three tensiometers on one source, which is watched."""
    pipeline, alarms = small_site()
    pipeline = replace(pipeline, tensiometers=pipeline.tensiometers[:3])
    alarms = replace(alarms, irrigation=alarms.irrigation[:1], faults=alarms.faults[:3], health=(AWAY,))
    return engine_setup_of((pipeline, alarms))


def minute(number: float) -> int:
    return START_US + round(number * MINUTE_US)


def told(bench: Bench) -> list[tuple[str, str]]:
    """Alarms that were told, and what of them."""
    query = "SELECT json_extract(notice, '$.data.alarm'), kind FROM outbox ORDER BY id"
    return [(alarm, change) for alarm, change in bench.rows(query)]


def steps(bench: Bench, kind: str) -> list[tuple[Any, ...]]:
    return bench.rows("SELECT happening, after, why FROM alarm_transition WHERE kind = ? ORDER BY id", kind)


def speak(bench: Bench, begin: int, end: int, *channels: str) -> None:
    """These channels say something every ten minutes, and time passes."""
    for number in range(begin, end):
        if number % 10 == 0 and channels:
            bench.turn(minute(number), line(minute(number), **dict.fromkeys(channels, 20.0)))
        bench.tick(minute(number))


def test_a_broker_that_is_away_is_one_alarm_whoever_is_silent_behind_it() -> None:
    with engine_on(MEMORY, setup()) as bench:
        speak(bench, 0, 10, "n20", "n40", "n60")
        bench.turn(minute(10), SourceHealth("bus1", "connection refused"))
        speak(bench, 10, 120)
        assert told(bench) == [("source-down", "raised")]
        assert steps(bench, "silent-source")[:2] == [
            ("suppressed", "suppressed", "source bus1 cannot be reached"), ("raised", "suppressed", ""),
        ]  # fmt: skip
        bench.turn(minute(120), line(minute(120), n20=20.0, n40=20.0, n60=20.0), SourceHealth("bus1"))
        speak(bench, 121, 200, "n20", "n40", "n60")
        assert told(bench) == [("source-down", "raised"), ("source-down", "cleared")]
        assert bench.rows("SELECT kind, state FROM alarm_standing") == [("source-down", "returned-unacknowledged")]


def test_a_source_that_is_silent_though_it_can_be_reached_is_told() -> None:
    with engine_on(MEMORY, setup()) as bench:
        speak(bench, 0, 10, "n20", "n40", "n60")
        bench.turn(minute(10), SourceHealth("bus1", "connection refused"))
        speak(bench, 10, 45)
        assert told(bench) == []
        bench.turn(minute(45), SourceHealth("bus1"))
        speak(bench, 45, 75)
        assert told(bench) == [], "it gets three intervals to speak"
        speak(bench, 75, 80)
        assert told(bench) == [("silent-source", "raised")]


def test_a_tensiometer_that_is_silent_is_told_no_more_once_its_source_is() -> None:
    with engine_on(MEMORY, setup()) as bench:
        speak(bench, 0, 20, "n20", "n40", "n60")
        speak(bench, 20, 70, "n40", "n60")
        assert told(bench) == [("silent", "raised")]
        speak(bench, 70, 130)
        assert told(bench) == [("silent", "raised"), ("silent-source", "raised")]
        (state, why) = bench.rows("SELECT state, by_design FROM alarm_standing WHERE kind = 'silent'")[0]
        assert (state, why) == ("suppressed", "source bus1 is silent")
        speak(bench, 130, 170, "n40", "n60")
        assert told(bench)[2:] == [("silent-source", "cleared")]
        speak(bench, 170, 180, "n40", "n60")
        assert bench.rows("SELECT state FROM alarm_standing WHERE kind = 'silent'") == [("unacknowledged",)]


@pytest.mark.parametrize("settles_min", [90])
def test_a_service_suppresses_the_faults_of_its_tensiometer_until_it_has_settled(settles_min: int) -> None:
    with engine_on(MEMORY, setup()) as bench:
        for number in range(3):
            bench.turn(minute(number), line(minute(number), n20=-40.0, n40=20.0))
        assert told(bench) == [("impossible-value", "raised")]
        answers: list[Answer] = []
        work = RecordService(
            tensiometer="north-20", work="other", begin_us=minute(5), end_us=minute(5 + settles_min), by="Anne"
        )
        bench.turn(minute(6), Ask(work, answers.append))
        assert answers[-1].state == "done"
        bench.tick(minute(7))
        (state,) = bench.rows("SELECT state FROM alarm_standing WHERE kind = 'impossible-value'")[0]
        assert state == "suppressed"
        bench.tick(*(minute(number) for number in range(8, 5 + settles_min)))
        assert steps(bench, "impossible-value")[-1][:2] == ("suppressed", "suppressed")
        bench.tick(minute(6 + settles_min))
        assert steps(bench, "impossible-value")[-1][0] == "released"


def test_the_zone_is_told_dry_whatever_is_wrong_with_its_source() -> None:
    with engine_on(MEMORY, setup()) as bench:
        bench.turn(minute(0), SourceHealth("bus1", "flapping"))
        for number in range(0, 60, 10):
            bench.turn(minute(number), line(minute(number), n20=58.0 + number / 20, n40=60.0, n60=61.0))
            bench.tick(minute(number + 1))
        assert ("irrigate-now", "raised") in told(bench)


def test_after_a_restart_what_is_suppressed_stays_so() -> None:
    with engine_on(MEMORY, setup()) as bench:
        speak(bench, 0, 10, "n20", "n40", "n60")
        bench.turn(minute(10), SourceHealth("bus1", "connection refused"))
        speak(bench, 10, 60)
        bench.restart(minute(60))
        speak(bench, 60, 120)
        assert told(bench) == [("source-down", "raised")]
        assert bench.rows("SELECT kind, state FROM alarm_standing ORDER BY kind") == [
            ("silent-source", "suppressed"), ("source-down", "unacknowledged"),
        ]  # fmt: skip
