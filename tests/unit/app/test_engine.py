"""The engine: samples in, rows, alarms and messages out, all in one transaction."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path

import pytest

from parchd.app.messages import Delivery, Outcome, Post, Reload, SinkProgress, Tick
from parchd.clock import from_datetime
from parchd.config import NotifierPolicy
from parchd.contract import Notice, NoticeKind, Priority, Rejection, SampleBatch, Unit
from parchd.store import reader
from parchd.store.cursors import Cursor
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import (
    DAY_US,
    HOUR_US,
    MINUTE_US,
    START_US,
    batch,
    engine_setup_of,
    line,
    route,
    sample,
    small_site,
)

TEST_NOTICE = Notice("test.1", NoticeKind.TEST, START_US, "Quillmere Orchard", "A test", "Nothing to do.")
NOW_RAISED = ("irrigate-now", "zone/north", "raised")
PLAN_RAISED = ("irrigate-plan", "zone/north", "raised")


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def north(minute: float, tension_kpa: float) -> SampleBatch:
    """One line of the three tensiometers of the north block."""
    return line(START_US + round(minute * MINUTE_US), n20=tension_kpa, n40=tension_kpa, n60=tension_kpa)


def test_samples_become_rows_alarms_and_messages(bench: Bench) -> None:
    bench.feed(line(START_US, n20=65.0, n40=66.0, n60=67.0))
    assert bench.rows("SELECT name, tension_kpa, flag FROM journal JOIN channel ON id = channel_id ORDER BY seq") == [
        ("bus1/n20", 65.0, 1), ("bus1/n40", 66.0, 1), ("bus1/n60", 67.0, 1),
    ]  # fmt: skip
    assert bench.events() == [NOW_RAISED, PLAN_RAISED]
    assert bench.subjects() == ["north block: irrigate now (65 kPa)"]
    assert bench.rows("SELECT state FROM outbox") == [("ready",)]


def test_a_whole_morning_from_dry_to_wet_makes_one_pair_of_messages_for_each_level(bench: Bench) -> None:
    bench.feed(
        *(north(10 * n, 30.0 + 2 * n) for n in range(20)), *(north(200 + 10 * n, 68.0 - 5 * n) for n in range(12)),
        *(north(320 + 10 * n, 10.0) for n in range(12)),
    )  # fmt: skip
    assert bench.events() == [
        PLAN_RAISED, NOW_RAISED, ("irrigate-now", "zone/north", "cleared"), ("irrigate-plan", "zone/north", "cleared"),
    ]  # fmt: skip
    threads = bench.rows("SELECT json_extract(notice, '$.thread') FROM outbox ORDER BY id")
    assert (threads[0], threads[1]) == (threads[3], threads[2])


def test_a_supply_that_fails_makes_a_fault_and_no_tension(bench: Bench) -> None:
    for minute in range(3):
        time_us = START_US + minute * MINUTE_US
        bench.feed(batch(sample("vs", time_us, 3.2, Unit.V), sample("c30", time_us, 2.5, Unit.V)))
    assert bench.events() == [("electrical", "tensiometer/creek-30", "raised")]
    assert bench.rows("SELECT DISTINCT tension_kpa FROM journal WHERE flag = 4") == [(None,)]


def test_a_tensiometer_that_loses_its_water_at_the_dry_end_never_clears_the_need_for_water() -> None:
    """The trace of cavitation, as volts: up past the usable limit, then down to what an empty tube shows."""
    setup = engine_setup_of(small_site(tensiometers=("north-20",)))
    with engine_on(MEMORY, setup) as bench:
        values = [*range(30, 85, 1), 86.0, 88.0, 90.0, *[-17.0] * 20]
        bench.feed(*(line(START_US + 10 * n * MINUTE_US, n20=float(value)) for n, value in enumerate(values)))
        kinds = [(kind, change) for kind, _, change in bench.events()]
    assert kinds == [
        ("irrigate-plan", "raised"), ("irrigate-now", "raised"), ("above-usable-limit", "raised"),
        ("impossible-value", "raised"),
    ]  # fmt: skip


def test_a_batch_that_is_delivered_again_changes_nothing(bench: Bench) -> None:
    taken = [north(0, 30.0), north(10, 65.0), north(20, 20.0)]
    bench.feed(*taken)
    before = bench.dump(["journal", "alarm", "vote", "alarm_event", "outbox", "latest"])
    for again in (*taken, *reversed(taken)):
        bench.turn(START_US + HOUR_US, again)
    assert bench.dump(["journal", "alarm", "vote", "alarm_event", "outbox", "latest"]) == before


def test_a_late_reading_is_stored_and_raises_nothing(bench: Bench) -> None:
    bench.feed(north(60, 20.0), north(0, 90.0))
    assert bench.events() == []
    assert bench.rows("SELECT count(*) FROM journal WHERE late") == [(3,)]


def test_those_who_wait_for_the_commit_are_called_after_it_in_order(bench: Bench) -> None:
    seen: list[tuple[str, int]] = []

    def note(name: str) -> None:
        assert not bench.connection.in_transaction
        seen.append((name, bench.rows("SELECT count(*) FROM journal")[0][0]))

    first = batch(sample("n20", START_US, 30.0), on_committed=lambda: note("first"))
    second = batch(sample("n20", START_US + 1, 30.0), on_committed=lambda: note("second"))
    bench.turn(START_US + 1, first, line(START_US + 2, n40=1.0), second)
    assert seen == [("first", 3), ("second", 3)]


def test_alarms_that_come_with_one_batch_stand_in_one_transaction_with_their_messages(bench: Bench) -> None:
    statements: list[str] = []
    bench.connection.set_trace_callback(statements.append)
    bench.turn(START_US, north(0, 65.0))
    bench.connection.set_trace_callback(None)
    words = [
        text.split()[0] + (" " + text.split("INTO ")[1].split()[0] if "INTO" in text else "") for text in statements
    ]
    assert words.count("BEGIN") == words.count("COMMIT") == 1
    assert {"INSERT journal", "INSERT alarm", "INSERT alarm_event", "INSERT outbox"} <= set(words[1:-1])
    assert (words[0], words[-1]) == ("BEGIN", "COMMIT")


def test_two_recipients_get_two_copies_of_one_message() -> None:
    with engine_on(MEMORY, engine_setup_of(routes=[route("mail", "anne", "ben")])) as bench:
        bench.feed(north(0, 65.0))
        assert bench.rows("SELECT recipient FROM outbox ORDER BY id") == [("anne",), ("ben",)]
        assert len(set(bench.rows("SELECT notice_id FROM outbox"))) == 2


def test_a_route_with_a_higher_bar_is_not_told_of_lesser_alarms() -> None:
    policies = {"pager": NotifierPolicy(lowest_priority=Priority.HIGH)}
    setup = engine_setup_of(routes=[route("mail"), route("pager")], policies=policies)
    with engine_on(MEMORY, setup) as bench:
        bench.feed(north(0, 45.0), north(1, 65.0))
        assert bench.rows("SELECT notifier, priority FROM outbox ORDER BY id") == [
            ("mail", 2),
            ("mail", 3),
            ("pager", 3),
        ]


def test_silence_is_told_after_three_intervals_of_listening(bench: Bench) -> None:
    bench.feed(line(START_US, n20=20.0, n40=20.0, n60=20.0))
    minutes = range(31)
    bench.tick(*(START_US + minute * MINUTE_US for minute in minutes))
    assert bench.events() == []
    bench.feed(line(START_US + 30 * MINUTE_US, n20=20.0, n40=20.0))
    bench.tick(START_US + 31 * MINUTE_US)
    assert bench.events() == [("silent", f"tensiometer/{name}", "raised") for name in ("north-60", "creek-30")]
    bench.feed(line(START_US + 32 * MINUTE_US, n60=20.0))
    bench.tick(START_US + 32 * MINUTE_US)
    assert bench.events()[2:] == [("silent", "tensiometer/north-60", "cleared")]


def test_after_a_long_sleep_everybody_gets_their_intervals_anew(bench: Bench) -> None:
    bench.feed(line(START_US, n20=20.0))
    bench.tick(START_US, START_US + 10 * HOUR_US, START_US + 10 * HOUR_US + 30 * MINUTE_US - 1)
    assert bench.events() == []


def test_a_restart_or_a_reload_does_not_say_that_the_silent_speak_again(bench: Bench) -> None:
    bench.tick(*(START_US + minute * MINUTE_US for minute in range(40)))
    silent = bench.events()
    assert silent == [("silent-source", "source/bus1", "raised")]
    bench.restart(START_US + 41 * MINUTE_US)
    bench.tick(*(START_US + minute * MINUTE_US for minute in range(41, 120)))
    bench.turn(START_US + 121 * MINUTE_US, Reload(bench.setup))
    bench.tick(START_US + 122 * MINUTE_US)
    assert bench.events() == silent


def test_a_test_message_goes_to_one_notifier_or_to_all() -> None:
    with engine_on(MEMORY, engine_setup_of(routes=[route("mail"), route("hook")])) as bench:
        bench.turn(START_US, Post(TEST_NOTICE, "hook"))
        bench.turn(START_US, Post(replace(TEST_NOTICE, id="test.2")))
        bench.turn(START_US, Post(replace(TEST_NOTICE, id="test.3"), "nobody"))
        assert bench.rows("SELECT notifier, state FROM outbox ORDER BY id") == [
            ("hook", "ready"), ("mail", "ready"), ("hook", "ready"),
        ]  # fmt: skip


def test_the_progress_of_a_sink_is_kept(bench: Bench) -> None:
    bench.feed(north(0, 20.0))
    bench.turn(START_US, SinkProgress("farm", Cursor(2), [Rejection(1, "no such field")]))
    bench.turn(START_US + 1, SinkProgress("farm", Cursor(2), trouble="connection refused"))
    assert reader.sink_positions(bench.connection) == [
        reader.SinkPosition("farm", 1, START_US + 1, "connection refused", 1)
    ]


def test_what_became_of_a_message_is_kept_and_its_carrier_told_after_the_commit(bench: Bench) -> None:
    bench.turn(START_US, Post(TEST_NOTICE))
    told: list[str] = []
    delivery = Delivery("mail", 1, 0, Outcome.SENT, on_committed=lambda: told.append("recorded"))
    bench.turn(START_US + 5, delivery)
    assert bench.rows("SELECT state, done_us FROM outbox") == [("sent", START_US + 5)]
    assert told == ["recorded"]


def test_news_of_a_message_that_is_no_longer_there_changes_nothing(bench: Bench) -> None:
    bench.turn(START_US, Delivery("mail", 99, 0, Outcome.SENT))
    assert bench.rows("SELECT count(*) FROM outbox") == [(0,)]


def test_a_reload_forgets_what_the_new_configuration_no_longer_has(bench: Bench) -> None:
    bench.feed(north(0, 65.0), line(START_US + MINUTE_US, n20=90.0), line(START_US + 2 * MINUTE_US, n20=90.0))
    fewer = engine_setup_of(small_site(plan_kpa=None, tensiometers=("north-20",)))
    bench.turn(START_US + 3 * MINUTE_US, Reload(fewer))
    assert bench.rows("SELECT kind FROM alarm WHERE subject = 'zone/north'") == [("irrigate-now",)]
    assert bench.rows("SELECT tensiometer FROM vote") == [("north-20",)]


def test_a_changed_notifier_is_enabled_again_by_a_reload_and_by_a_start(bench: Bench) -> None:
    for start in (False, True):
        bench.turn(START_US, Post(replace(TEST_NOTICE, id=f"test.{start}")))
        ((row_id,),) = bench.rows("SELECT max(id) FROM outbox")
        bench.turn(START_US, Delivery("mail", row_id, 0, Outcome.GONE))
        assert bench.rows("SELECT count(*) FROM disabled") == [(1,)]
        bench.turn(START_US, Reload(bench.setup))
        assert bench.rows("SELECT count(*) FROM disabled") == [(1,)]
        changed = engine_setup_of(routes=[route(fingerprint=f"mark {start}")])
        if start:
            bench.restart(START_US, changed)
        else:
            bench.turn(START_US, Reload(changed))
            bench.setup = changed
        assert bench.rows("SELECT count(*) FROM disabled") == [(0,)]


def test_a_heartbeat_is_left_every_half_minute(bench: Bench) -> None:
    def beaten() -> int:
        return int(bench.rows("SELECT value FROM meta WHERE key = 'heartbeat_us'")[0][0]) - START_US

    beats = []
    for second in (1, 29, 30, 31, 59, 60, 20):
        bench.tick(START_US + second * 1_000_000)
        beats.append(beaten() // 1_000_000)
    assert beats == [0, 0, 30, 30, 30, 60, 20]


def test_folding_the_log_away_keeps_every_row(tmp_path: Path) -> None:
    with engine_on(tmp_path) as bench:
        bench.feed(north(0, 20.0))
        bench.engine.checkpoint()
        assert (tmp_path / "journal.db-wal").stat().st_size == 0
        assert bench.rows("SELECT count(*) FROM journal") == [(3,)]


def test_a_day_of_schedule_takes_no_day() -> None:
    """24 hours: a tick a minute, a line every ten minutes, water at noon; one digest, two alarms, no fault."""
    start_us = from_datetime(datetime(2026, 6, 1, 22, tzinfo=UTC))  # midnight at the site
    with engine_on(MEMORY, engine_setup_of(digest_at=time(6, 30)), start_us) as bench:
        for minute in range(24 * 60):
            now_us = start_us + minute * MINUTE_US
            if minute % 10 == 0:
                tension_kpa = 30.0 + minute / 20 if minute < 12 * 60 else 8.0
                values = [sample(f"n{depth}", now_us, tension_kpa) for depth in (20, 40, 60)]
                creek = [sample("vs", now_us, 5.0, Unit.V), sample("c30", now_us, 1.5, Unit.V)]
                bench.turn(now_us, batch(*values, *creek), Tick())
            else:
                bench.tick(now_us)
        assert bench.events() == [
            PLAN_RAISED, NOW_RAISED, ("irrigate-now", "zone/north", "cleared"),
            ("irrigate-plan", "zone/north", "cleared"),
        ]  # fmt: skip
        assert bench.subjects() == [
            "north block: plan an irrigation (40 kPa)",
            "Quillmere Orchard: water wanted: north block",
            "north block: irrigate now (60 kPa)",
            "north block: no more need to irrigate now (8 kPa)",
            "north block: no more need to plan an irrigation (8 kPa)",
        ]
        ((told_us,),) = bench.rows("SELECT created_us FROM outbox WHERE kind = 'digest'")
        assert told_us == start_us + 390 * MINUTE_US
        assert bench.rows("SELECT count(*) FROM journal") == [(144 * 5,)]
        assert bench.rows("SELECT DISTINCT flag FROM journal WHERE tension_kpa NOT NULL") == [(1,)]
        assert start_us + DAY_US - MINUTE_US == now_us
