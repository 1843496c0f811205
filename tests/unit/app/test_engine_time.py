"""The engine and the clock: steps, long sleeps, digests, retention."""

import logging
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from parchd.app.engine import RETENTION_ROWS, STEADY_US
from parchd.app.messages import Delivery, Outcome, Post, Reload
from parchd.clock import US_PER_S, from_datetime, to_datetime
from parchd.config import NotifierPolicy
from parchd.contract import Cause, Notice, NoticeKind, Sample, SampleBatch, TimeSource, Unit
from parchd.store.outbox import next_letter
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, engine_setup_of, line, route, small_site

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def arriving(time_us: int, value: float = 20.0) -> SampleBatch:
    """A line of a device without a clock."""
    return SampleBatch("bus1", (Sample("n20", time_us, value, Unit.KPA, TimeSource.ARRIVAL),))


def late_rows(bench: Bench) -> list[bool]:
    return [bool(late) for (late,) in bench.rows("SELECT late FROM journal ORDER BY seq")]


def run(bench: Bench, start_us: int, end_us: int, step_us: int = MINUTE_US) -> None:
    bench.tick(*range(start_us, end_us, step_us))


def event_names(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if "clock" in str(record.__dict__.get("event"))]


def test_a_clock_that_steps_back_is_distrusted_and_accepted_after_ten_minutes(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    back_us = START_US - 5 * HOUR_US
    bench.tick(START_US)
    bench.feed(arriving(START_US))
    run(bench, back_us, back_us + 10 * MINUTE_US)
    bench.feed(arriving(back_us + 9 * MINUTE_US))
    assert bench.rows("SELECT cause FROM journal ORDER BY seq DESC LIMIT 1") == [(Cause.CLOCK,)]
    bench.tick(back_us + 10 * MINUTE_US)
    bench.feed(arriving(back_us + 11 * MINUTE_US))
    assert late_rows(bench) == [False, True, False]
    assert event_names(caplog) == ["clock.back", "clock.accepted"]


def test_a_step_back_by_a_few_seconds_changes_nothing(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    bench.tick(START_US, START_US - 30 * US_PER_S)
    bench.feed(arriving(START_US - 30 * US_PER_S))
    assert late_rows(bench) == [False]
    assert event_names(caplog) == []


def test_a_board_without_a_clock_believes_arrival_times_only_once_it_has_the_time() -> None:
    with engine_on(MEMORY, now_us=0) as bench:
        for minute in range(0, 60, 10):
            bench.turn(minute * MINUTE_US, arriving(minute * MINUTE_US))
            bench.tick(minute * MINUTE_US)
        assert bench.events() == []
        bench.tick(START_US)
        bench.feed(arriving(START_US))
        assert late_rows(bench) == [True] * 6 + [False]
        assert bench.events() == []


def test_while_the_clock_cannot_be_believed_nobody_is_called_silent_and_no_digest_is_due() -> None:
    pipeline, alarms = small_site()
    pipeline = replace(pipeline, tensiometers=tuple(replace(t, interval_s=60.0) for t in pipeline.tensiometers))
    quick = replace(alarms, faults=tuple(replace(rule, interval_s=60.0) for rule in alarms.faults))
    with engine_on(MEMORY, engine_setup_of((pipeline, quick), digest_at=time(1, 30)), now_us=0) as bench:
        run(bench, 0, 2 * HOUR_US)
        bench.tick(START_US)
        run(bench, START_US - 5 * HOUR_US, START_US - 5 * HOUR_US + 10 * MINUTE_US)
        assert bench.rows("SELECT kind FROM outbox") == []
        run(bench, START_US, START_US + 5 * MINUTE_US)
        assert bench.rows("SELECT DISTINCT kind FROM outbox") == [("raised",)]


def test_the_time_before_a_power_cut_is_remembered(bench: Bench) -> None:
    bench.tick(START_US)
    bench.restart(START_US - 5 * HOUR_US)
    bench.feed(arriving(START_US - 5 * HOUR_US))
    assert late_rows(bench) == [True]


def wrong_year(bench: Bench) -> int:
    """Let a clock run a year ahead for two hours, then set it right; return when the right time was accepted."""
    wrong_us = START_US + 365 * DAY_US
    bench.feed(line(START_US, n20=20.0, n40=20.0, n60=20.0))
    for minute in range(0, 120, 10):
        now_us = wrong_us + minute * MINUTE_US
        bench.turn(now_us, line(now_us, n20=65.0, n40=65.0, n60=65.0))
        bench.tick(now_us)
    right_us = START_US + 2 * HOUR_US
    run(bench, right_us, right_us + 11 * MINUTE_US)
    return right_us + 11 * MINUTE_US


@pytest.mark.parametrize("restarted", [False, True])
def test_after_a_year_ahead_channels_are_live_again_and_silence_is_heard(bench: Bench, restarted: bool) -> None:
    now_us = wrong_year(bench)
    if restarted:
        bench.restart(now_us)
    before = len(bench.events())
    bench.feed(line(now_us, n20=20.0, n40=20.0, n60=20.0))
    assert late_rows(bench)[-3:] == [False] * 3
    assert ("irrigate-now", "zone/north", "cleared") in bench.events()[before:]
    run(bench, now_us, now_us + 40 * MINUTE_US)
    assert bench.events()[-1] == ("silent-source", "source/bus1", "raised")


def test_after_a_year_ahead_messages_leave_again(bench: Bench) -> None:
    wrong_us = START_US + 365 * DAY_US
    bench.tick(START_US, wrong_us)
    bench.turn(wrong_us, Post(Notice("t.1", NoticeKind.TEST, 0, "", "", "")))
    bench.turn(wrong_us, Delivery("mail", 1, 0, Outcome.RETRY, "busy"))
    run(bench, START_US + HOUR_US, START_US + 2 * HOUR_US)
    letter = next_letter(bench.connection, "mail", START_US + 2 * HOUR_US)
    assert letter is not None
    assert letter.attempts == 1


def test_after_a_year_ahead_the_rate_of_messages_does_not_hold_new_ones_up() -> None:
    with engine_on(MEMORY, engine_setup_of(routes=[route(max_per_hour=1)])) as bench:
        wrong_us = START_US + 365 * DAY_US
        bench.turn(wrong_us, Post(Notice("t.1", NoticeKind.TEST, 0, "", "", "")))
        bench.turn(wrong_us, Delivery("mail", 1, 0, Outcome.SENT))
        bench.turn(START_US, Post(Notice("t.2", NoticeKind.TEST, 0, "", "", "")))
        assert bench.rows("SELECT state FROM outbox ORDER BY id") == [("sent",), ("ready",)]


def test_after_a_year_ahead_digests_come_again_the_next_day() -> None:
    with engine_on(MEMORY, engine_setup_of(digest_at=time(6, 30))) as bench:
        now_us = wrong_year(bench)
        run(bench, now_us, START_US + 3 * DAY_US, 10 * MINUTE_US)
        days = [
            notice_id.split(".")[1] for (notice_id,) in bench.rows("SELECT notice_id FROM outbox WHERE kind = 'digest'")
        ]
    assert days == ["2027-06-01", "2026-06-02", "2026-06-03"]


def digests(bench: Bench) -> list[str]:
    """Local time of each digest."""
    rows = bench.rows("SELECT created_us FROM outbox WHERE kind = 'digest' ORDER BY id")
    return [to_datetime(created_us).astimezone(BERLIN).strftime("%d %b %H:%M") for (created_us,) in rows]


def at(month: int, day: int, hour: int, minute: int = 0) -> int:
    return from_datetime(datetime(2026, month, day, hour, minute, tzinfo=BERLIN))


@pytest.mark.parametrize(
    ("start", "end", "wanted"),
    [
        ((3, 27), (3, 31), ["27 Mar 06:30", "28 Mar 06:30", "29 Mar 06:30", "30 Mar 06:30"]),
        ((10, 23), (10, 27), ["23 Oct 06:30", "24 Oct 06:30", "25 Oct 06:30", "26 Oct 06:30"]),
    ],
)
def test_a_digest_comes_once_a_day_at_local_time_when_the_clocks_change(
    start: tuple[int, int], end: tuple[int, int], wanted: list[str]
) -> None:
    with engine_on(MEMORY, engine_setup_of(digest_at=time(6, 30)), at(*start, 0)) as bench:
        run(bench, at(*start, 0), at(*end, 0), 10 * MINUTE_US)
        assert digests(bench) == wanted


def test_no_digest_is_made_up_for_at_the_first_start_nor_repeated_after_a_restart() -> None:
    with engine_on(MEMORY, engine_setup_of(digest_at=time(6, 30)), at(6, 1, 9)) as bench:
        run(bench, at(6, 1, 9), at(6, 2, 7), 10 * MINUTE_US)
        bench.restart(at(6, 2, 7))
        run(bench, at(6, 2, 7), at(6, 2, 12), 10 * MINUTE_US)
        assert digests(bench) == ["02 Jun 06:30"]


def test_a_digest_slept_through_comes_late_and_one_slept_through_for_half_a_day_does_not() -> None:
    with engine_on(MEMORY, engine_setup_of(digest_at=time(6, 30)), at(6, 1, 9)) as bench:
        bench.tick(at(6, 1, 9), at(6, 2, 11), at(6, 3, 20), at(6, 4, 6, 29), at(6, 4, 6, 30))
        assert digests(bench) == ["02 Jun 11:00", "04 Jun 06:30"]


def test_only_routes_that_want_it_get_the_digest() -> None:
    routes, policies = [route("mail"), route("pager")], {"pager": NotifierPolicy(digest=False)}
    setup = engine_setup_of(routes=routes, digest_at=time(6, 30), policies=policies)
    with engine_on(MEMORY, setup, at(6, 1, 6)) as bench:
        run(bench, at(6, 1, 6), at(6, 1, 7))
        assert bench.rows("SELECT notifier FROM outbox WHERE kind = 'digest'") == [("mail",)]


def test_a_digest_that_is_asked_for_later_begins_with_the_next_that_falls_due(bench: Bench) -> None:
    run(bench, at(6, 1, 6), at(6, 1, 9), 10 * MINUTE_US)
    bench.turn(at(6, 1, 9), Reload(engine_setup_of(digest_at=time(6, 30))))
    run(bench, at(6, 1, 9), at(6, 2, 9), 10 * MINUTE_US)
    assert digests(bench) == ["02 Jun 06:30"]


def steady(bench: Bench, start_us: int) -> int:
    """Let the clock run on for long enough to be relied on."""
    run(bench, start_us, start_us + STEADY_US + MINUTE_US)
    return start_us + STEADY_US + MINUTE_US


def days_kept(bench: Bench) -> list[str]:
    return [date.fromisoformat(day).strftime("%d %b") for (day,) in bench.rows(
        "SELECT DISTINCT date(time_us / 1000000, 'unixepoch') FROM journal ORDER BY time_us"
    )]  # fmt: skip


def test_readings_are_kept_for_as_many_days_as_asked() -> None:
    with engine_on(MEMORY, engine_setup_of(keep_days=3)) as bench:
        bench.feed(*(line(START_US + day * DAY_US, n20=20.0) for day in range(6)))
        steady(bench, START_US + 5 * DAY_US)
        assert days_kept(bench) == ["04 Jun", "05 Jun", "06 Jun"]


def test_without_a_number_of_days_readings_are_kept_for_ever(bench: Bench) -> None:
    bench.feed(line(START_US, n20=20.0))
    steady(bench, START_US + 10_000 * DAY_US)
    assert len(days_kept(bench)) == 1


def test_a_clock_that_jumped_ahead_does_not_empty_the_journal() -> None:
    with engine_on(MEMORY, engine_setup_of(keep_days=3)) as bench:
        bench.feed(line(START_US, n20=20.0))
        now_us = steady(bench, START_US)
        ahead_us = now_us + 3650 * DAY_US
        run(bench, ahead_us, ahead_us + STEADY_US)
        run(bench, now_us, now_us + 3 * HOUR_US)
        assert len(days_kept(bench)) == 1


def test_old_readings_go_in_portions(monkeypatch: pytest.MonkeyPatch) -> None:
    assert RETENTION_ROWS >= 10_000
    monkeypatch.setattr("parchd.app.engine.RETENTION_ROWS", 2)
    with engine_on(MEMORY, engine_setup_of(keep_days=1)) as bench:
        bench.feed(*(line(START_US + n, n20=20.0) for n in range(5)))
        run(bench, START_US + 3 * DAY_US, START_US + 3 * DAY_US + STEADY_US)
        counts = []
        for second in range(5):
            bench.tick(START_US + 3 * DAY_US + STEADY_US + second * US_PER_S)
            counts.append(bench.rows("SELECT count(*) FROM journal")[0][0])
        assert counts == [3, 1, 0, 0, 0]


def test_messages_that_are_done_with_are_kept_for_thirty_days(bench: Bench) -> None:
    for name in ("done", "open"):
        bench.turn(START_US, Post(Notice(name, NoticeKind.TEST, 0, "", "", "")))
    bench.turn(START_US, Delivery("mail", 1, 0, Outcome.SENT))
    steady(bench, START_US + 29 * DAY_US)
    assert bench.rows("SELECT id FROM outbox WHERE kind = 'test'") == [(1,), (2,)]
    steady(bench, START_US + 30 * DAY_US)
    assert bench.rows("SELECT id FROM outbox WHERE kind = 'test'") == [(2,)]
