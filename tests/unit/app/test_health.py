"""The engine is told how sources, sinks, notifiers, disk and clock do, and people hear of it once."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import CLOCK, DISK, AlarmSetup, Delays, HealthRule
from parchd.app.messages import Delivery, DiskSpace, Outcome, Reload, SinkProgress, SourceHealth
from parchd.app.setup import EngineSetup, Route
from parchd.store.cursors import Cursor
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, engine_setup_of, line, route, small_site

HEALTH = (
    HealthRule(AlarmKind.SOURCE_DOWN, "source/bus1", Delays(on_s=600.0)),
    HealthRule(AlarmKind.SINK_DOWN, "sink/charts", Delays(on_s=1800.0)),
    HealthRule(AlarmKind.NOTIFIER_DOWN, "notifier/mail", Delays(on_s=1800.0)),
    HealthRule(AlarmKind.NOTIFIER_DOWN, "notifier/hook", Delays(on_s=1800.0)),
    HealthRule(AlarmKind.DISK_FILLING, DISK),
    HealthRule(AlarmKind.DISK_FULL, DISK),
    HealthRule(AlarmKind.CLOCK_UNTRUSTED, CLOCK, Delays(on_s=900.0)),
)
CURSOR = Cursor()
ANNE, HOOK = route("mail", "anne"), route("hook", "controller")


def setup(*routes: Route, health: tuple[HealthRule, ...] = HEALTH) -> EngineSetup:
    """The small site with what is watched; its tensiometers may be silent for a week."""
    pipeline, alarms = small_site()
    patient = tuple(replace(rule, silent_intervals=1000.0) for rule in alarms.faults)
    return engine_setup_of((pipeline, replace(alarms, faults=patient, health=health)), routes or (ANNE, HOOK))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with engine_on(tmp_path, setup()) as running:
        yield running


def minute(number: float) -> int:
    return START_US + round(number * MINUTE_US)


def tick_until(bench: Bench, begin: int, end: int) -> None:
    bench.tick(*(minute(number) for number in range(begin, end)))


def told(bench: Bench, kind: str) -> list[tuple[str, str]]:
    """Who was told of alarms of a kind, and whether of their begin or end."""
    rows = bench.rows("SELECT recipient, kind, json_extract(notice, '$.data.alarm') FROM outbox ORDER BY id")
    return [(recipient, happened) for recipient, happened, alarm in rows if alarm == kind]


def down_and_up(kind: str, subject: str) -> list[tuple[str, str, str]]:
    return [(kind, subject, "raised"), (kind, subject, "cleared")]


def test_a_sink_that_is_away_for_an_hour_is_one_alarm_and_cleared_when_it_is_back(bench: Bench) -> None:
    bench.turn(minute(0), SinkProgress("charts", CURSOR, trouble="connection refused"))
    for number in range(1, 61):
        bench.tick(minute(number))
        if number % 5 == 0:
            bench.turn(minute(number), SinkProgress("charts", CURSOR, trouble=f"timed out ({number})"))
    assert bench.events() == [("sink-down", "sink/charts", "raised")]
    bench.turn(minute(61), SinkProgress("charts", Cursor(5)))
    tick_until(bench, 62, 90)
    assert bench.events() == down_and_up("sink-down", "sink/charts")
    both = ("anne", "controller")
    assert told(bench, "sink-down") == [(one, happened) for happened in ("raised", "cleared") for one in both]


def test_a_sink_that_takes_rows_in_time_is_no_alarm(bench: Bench) -> None:
    bench.turn(minute(0), SinkProgress("charts", CURSOR, trouble="connection refused"))
    tick_until(bench, 1, 30)
    bench.turn(minute(29.9), SinkProgress("charts", Cursor(5)))
    tick_until(bench, 30, 90)
    assert bench.events() == []


def test_a_broker_that_is_away_for_ten_minutes_is_told_and_so_is_its_return(bench: Bench) -> None:
    bench.turn(minute(0), SourceHealth("bus1", "connection refused"))
    tick_until(bench, 1, 15)
    assert bench.events() == [("source-down", "source/bus1", "raised")]
    bench.turn(minute(20), SourceHealth("bus1"))
    assert bench.events() == down_and_up("source-down", "source/bus1")


def test_a_restart_forgets_no_trouble_and_its_time_goes_on(bench: Bench) -> None:
    bench.turn(minute(0), SourceHealth("bus1", "connection refused"))
    tick_until(bench, 1, 6)
    bench.restart(minute(6))
    tick_until(bench, 7, 10)
    assert bench.events() == []
    tick_until(bench, 10, 12)
    assert bench.events() == [("source-down", "source/bus1", "raised")]
    bench.restart(minute(13))
    bench.turn(minute(14), SourceHealth("bus1"))
    assert bench.events() == down_and_up("source-down", "source/bus1")


def test_a_turn_that_failed_leaves_no_trace_of_a_trouble(bench: Bench) -> None:
    bench.connection.execute("CREATE TRIGGER halt BEFORE INSERT ON trouble BEGIN SELECT raise(FAIL, 'no'); END")
    with pytest.raises(Exception, match="no"):
        bench.turn(minute(0), SourceHealth("bus1", "gone"))
    bench.connection.execute("DROP TRIGGER halt")
    tick_until(bench, 1, 30)
    assert bench.events() == []


def failed(bench: Bench, number: float, outcome: Outcome = Outcome.RETRY) -> None:
    """Let the oldest mail on its way meet this fate."""
    (row_id, attempts), *_ = bench.rows(
        "SELECT id, attempts FROM outbox WHERE notifier = 'mail' AND state = 'ready' ORDER BY id"
    )
    bench.turn(minute(number), Delivery("mail", row_id, attempts, outcome, "" if outcome is Outcome.SENT else "421"))


def a_message(bench: Bench, number: float) -> None:
    """Something to tell: the north block is dry."""
    bench.turn(minute(number), line(minute(number), n20=65.0, n40=66.0, n60=67.0))


def test_mail_that_is_retried_for_half_an_hour_is_told_through_another_notifier(bench: Bench) -> None:
    a_message(bench, 0)
    for number in range(0, 45, 5):
        failed(bench, number + 0.5)
        bench.tick(minute(number + 1))
    assert ("notifier-down", "notifier/mail", "raised") in bench.events()
    assert told(bench, "notifier-down") == [("controller", "raised")]
    failed(bench, 50, Outcome.SENT)
    assert told(bench, "notifier-down") == [("controller", "raised"), ("controller", "cleared")]


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.GONE])
def test_mail_that_is_refused_is_told_through_another_notifier_at_once(bench: Bench, outcome: Outcome) -> None:
    a_message(bench, 0)
    failed(bench, 0.5, outcome)
    assert told(bench, "notifier-down") == [("controller", "raised")]


def test_without_another_notifier_nobody_is_told_and_the_alarm_stands_in_the_journal() -> None:
    with engine_on(MEMORY, setup(ANNE)) as bench:
        a_message(bench, 0)
        failed(bench, 0.5, Outcome.REFUSED)
        assert ("notifier-down", "notifier/mail", "raised") in bench.events()
        assert told(bench, "notifier-down") == []


def test_a_notifier_whose_receiver_wanted_no_more_is_well_again_once_it_is_another(bench: Bench) -> None:
    a_message(bench, 0)
    failed(bench, 0.5, Outcome.GONE)
    bench.turn(minute(2), Reload(setup(replace(ANNE, fingerprint="mark 2"), HOOK)))
    bench.tick(minute(3))
    assert bench.events()[-1] == ("notifier-down", "notifier/mail", "cleared")


def test_a_sink_that_the_configuration_has_no_more_is_forgotten(bench: Bench) -> None:
    bench.turn(minute(0), SinkProgress("charts", CURSOR, trouble="gone"))
    tick_until(bench, 1, 40)
    bench.turn(minute(41), Reload(setup(health=HEALTH[:1])))
    assert bench.rows("SELECT count(*) FROM trouble") == [(0,)]
    assert bench.rows("SELECT count(*) FROM alarm") == [(0,)]


def test_a_disk_that_fills_and_is_full_is_told_and_so_is_that_there_is_room_again(bench: Bench) -> None:
    gigabyte = 1_000_000_000
    bench.turn(minute(0), DiskSpace(2 * gigabyte, 8 * gigabyte))
    bench.turn(minute(1), DiskSpace(gigabyte // 4, 8 * gigabyte))
    bench.turn(minute(2), DiskSpace(8_000_000, 8 * gigabyte, is_full=True))
    bench.turn(minute(3), DiskSpace(2 * gigabyte, 8 * gigabyte))
    assert bench.events() == [
        ("disk-filling", DISK, "raised"), ("disk-full", DISK, "raised"),
        ("disk-filling", DISK, "cleared"), ("disk-full", DISK, "cleared"),
    ]  # fmt: skip
    both = ("anne", "controller")
    assert told(bench, "disk-full") == [(one, happened) for happened in ("raised", "cleared") for one in both]


def test_a_clock_that_stepped_back_for_good_is_accepted_and_no_alarm(bench: Bench) -> None:
    tick_until(bench, 0, 5)
    bench.tick(*(minute(number) - 6 * HOUR_US for number in range(5, 60)))
    assert bench.events() == []


def test_a_board_without_a_clock_is_told_and_cleared_when_it_knows_the_time() -> None:
    with engine_on(MEMORY, setup(), now_us=0) as bench:
        bench.tick(*(number * MINUTE_US for number in range(20)))
        assert bench.events() == [("clock-untrusted", CLOCK, "raised")]
        tick_until(bench, 0, 3)
        assert bench.events() == down_and_up("clock-untrusted", CLOCK)


def test_a_source_that_cannot_be_reached_takes_no_trust_from_its_tensiometers_yet(bench: Bench) -> None:
    bench.turn(minute(0), line(minute(0), n20=58.0, n40=58.0, n60=58.0))
    bench.turn(minute(1), SourceHealth("bus1", "gone"))
    tick_until(bench, 2, 14)
    bench.turn(minute(15), line(minute(15), n20=60.0, n40=60.0, n60=60.0))
    assert ("irrigate-now", "zone/north", "raised") in bench.events()


def test_the_same_messages_give_the_same_database(tmp_path: Path) -> None:
    dumps = []
    for name in ("one", "two"):
        with engine_on(tmp_path / f"{name}.db", setup()) as bench:
            a_message(bench, 0)
            failed(bench, 1)
            bench.turn(minute(2), SourceHealth("bus1", "gone"), SinkProgress("charts", CURSOR, trouble="busy"))
            tick_until(bench, 3, 60)
            dumps.append(bench.dump())
    assert dumps[0] == dumps[1]


def test_without_rules_nothing_is_watched() -> None:
    assert AlarmSetup().health == ()
    with engine_on(MEMORY, setup(health=())) as bench:
        bench.turn(minute(0), SourceHealth("bus1", "gone"), DiskSpace(0, 1, is_full=True))
        tick_until(bench, 1, 60)
        assert bench.events() == []
