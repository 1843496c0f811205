"""The engine tests every sample: over restarts, and again where readings are computed anew."""

import random
from collections.abc import Iterator

import pytest

from parchd.app.messages import Ask, Tick
from parchd.app.requests import Answer, RecordService, Reprocess
from parchd.contract import Cause, Flag, SampleBatch, StoredReading
from parchd.store import reprocess as reprocess_module
from parchd.store.cursors import Cursor, rows_next
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, engine_setup_of, line, small_site

QUARTER_US = 15 * MINUTE_US
SETUP = engine_setup_of(small_site(tensiometers=("north-20",)))
FOUND = {Cause.SPIKE, Cause.RISE_RATE, Cause.FLAT_LINE, Cause.ATTENUATED, Cause.GAP}

Story = list[tuple[int, SampleBatch | Tick]]


def causes(bench: Bench) -> list[Cause]:
    rows = bench.rows("SELECT cause, flag FROM journal ORDER BY time_us, channel_id")
    assert {flag for cause, flag in rows if cause in FOUND} <= {Flag.SUSPECT}
    return [Cause(cause) for cause, _ in rows]


def feed(bench: Bench, *values: float, start_us: int = START_US, every_us: int = QUARTER_US) -> None:
    bench.feed(*(line(start_us + n * every_us, n20=kpa) for n, kpa in enumerate(values)))


def story(seed: int, days: int = 6) -> Story:
    """A tensiometer that dries, is wetted, stands still, spikes, falls silent and comes back; another that is dead."""
    chance = random.Random(seed)
    told: Story = []
    kpa, still, time_us = 20.0, 0, START_US
    while time_us < START_US + days * DAY_US:
        still = still - 1 if still > 0 else chance.choice((0,) * 60 + (130,))
        kpa += 0.0 if still else chance.uniform(0, 0.1)
        kpa = chance.choice((kpa,) * 150 + (3.0, kpa + 12.0))
        shown = round(kpa if chance.random() > 0.02 else chance.choice((0.0, 70.0)), 2)
        told.append((time_us, line(time_us, n20=shown, n40=33.0)))
        if len(told) % 4 == 0:
            told.append((time_us, Tick()))
        time_us += chance.choice((QUARTER_US,) * 200 + (5 * HOUR_US, 7 * HOUR_US))
    return told


def play(bench: Bench, told: Story) -> None:
    for now_us, message in told:
        bench.turn(now_us, message)


def journal(bench: Bench) -> list[tuple[object, ...]]:
    return bench.rows("SELECT * FROM journal ORDER BY time_us, channel_id")


def asked(bench: Bench, request: Reprocess | RecordService, now_us: int) -> str:
    answers: list[Answer] = []
    bench.turn(now_us, Ask(request, answers.append))
    assert answers[-1].state == "done"
    return answers[-1].text


def copied(bench: Bench, cursor: Cursor) -> Iterator[StoredReading]:
    rows, cursor = rows_next(bench.connection, {}, cursor, 100)
    while rows:
        yield from rows
        rows, cursor = rows_next(bench.connection, {}, cursor, 100)


def test_a_tension_that_rose_faster_than_soil_dries_asks_for_no_water_before_it_has_stayed() -> None:
    with engine_on(MEMORY, SETUP) as bench:
        feed(bench, 30.0, 30.0, 65.0)
        assert (causes(bench)[-1], bench.events()) == (Cause.RISE_RATE, [])
        feed(bench, 65.0, start_us=START_US + 3 * QUARTER_US)
        assert bench.events() == [("irrigate-now", "zone/north", "raised"), ("irrigate-plan", "zone/north", "raised")]


def test_a_spike_is_flagged_where_it_stands_and_copied_again() -> None:
    with engine_on(MEMORY, SETUP) as bench:
        feed(bench, 30.0, 30.0, 2.0)
        before = list(copied(bench, Cursor()))
        feed(bench, 30.0, start_us=START_US + 3 * QUARTER_US)
        assert causes(bench) == [Cause.NONE, Cause.NONE, Cause.SPIKE, Cause.NONE]
        again = list(copied(bench, Cursor(seq=before[-1].seq)))
        assert [(row.time_us - START_US, row.cause, row.flag) for row in again] == [
            (3 * QUARTER_US, Cause.NONE, Flag.PASS), (2 * QUARTER_US, Cause.SPIKE, Flag.SUSPECT),
        ]  # fmt: skip


def test_a_service_that_was_written_down_since_is_not_overwritten_by_a_spike() -> None:
    with engine_on(MEMORY, SETUP) as bench:
        feed(bench, 30.0, 30.0, 2.0)
        spiked_us = START_US + 2 * QUARTER_US
        work = RecordService(
            tensiometer="north-20", work="refill", begin_us=spiked_us, end_us=spiked_us + MINUTE_US, by="", note=""
        )
        asked(bench, work, spiked_us + MINUTE_US)
        feed(bench, 30.0, start_us=START_US + 3 * QUARTER_US)
        assert causes(bench) == [Cause.NONE, Cause.NONE, Cause.SERVICE, Cause.NONE]


@pytest.mark.parametrize("seed", range(4))
def test_a_power_cut_anywhere_changes_no_verdict(seed: int) -> None:
    told = story(seed)
    with engine_on(MEMORY, SETUP) as whole, engine_on(MEMORY, SETUP) as cut:
        play(whole, told)
        assert FOUND & {Cause(cause) for (cause,) in whole.rows("SELECT ifnull(own_cause, cause) FROM journal")}
        for n, (now_us, message) in enumerate(told):
            if n % 29 == seed:
                cut.restart(now_us)
            cut.turn(now_us, message)
        assert journal(cut) == journal(whole)


def test_after_a_long_time_only_what_is_kept_and_what_came_since_is_read() -> None:
    with engine_on(MEMORY, SETUP) as bench:
        told = story(1)
        play(bench, told)
        before = bench.rows("SELECT * FROM quality")
        assert len(before) == 2
        bench.connection.execute(
            "UPDATE journal SET tension_kpa = 77.0 WHERE time_us < ?", (told[-1][0] - 4 * HOUR_US,)
        )
        bench.restart(told[-1][0])
        bench.turn(told[-1][0] + 3 * HOUR_US, Tick())
        after = bench.rows("SELECT * FROM quality")
        assert "77.0" not in str(after)


@pytest.mark.parametrize("slice_rows", [1, 2, 3, 50, 100_000])
def test_computing_anew_gives_the_same_verdicts_in_slices_of_any_size(
    slice_rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reprocess_module, "SLICE_ROWS", slice_rows)
    told = story(5, days=2 if slice_rows < 50 else 6)
    with engine_on(MEMORY, SETUP) as bench:
        play(bench, told)
        before = journal(bench)
        asked(bench, Reprocess(start_us=0, end_us=2**62), told[-1][0])
        assert journal(bench) == before


@pytest.mark.parametrize("seed", range(5))
def test_computing_a_span_anew_takes_up_what_came_before_it_and_looks_at_what_comes_after(seed: int) -> None:
    told = story(seed)
    chance = random.Random(seed)
    with engine_on(MEMORY, SETUP) as bench:
        play(bench, told)
        before = journal(bench)
        for _ in range(30):
            begin, end = sorted(chance.choices(told, k=2), key=lambda item: item[0])
            asked(bench, Reprocess(start_us=begin[0], end_us=end[0]), told[-1][0])
        assert journal(bench) == before


def test_each_edge_of_a_spike_may_be_the_end_of_a_span() -> None:
    with engine_on(MEMORY, SETUP) as bench:
        feed(bench, 30.0, 30.0, 2.0, 30.0, 30.0)
        before = journal(bench)
        for begin in range(5):
            for end in range(begin, 6):
                span = Reprocess(start_us=START_US + begin * QUARTER_US, end_us=START_US + end * QUARTER_US)
                asked(bench, span, START_US + HOUR_US)
                assert journal(bench) == before


def test_verdicts_go_on_as_before_after_computing_anew() -> None:
    told = story(2)
    middle = len(told) // 2
    with engine_on(MEMORY, SETUP) as whole, engine_on(MEMORY, SETUP) as asking:
        play(whole, told)
        play(asking, told[:middle])
        asked(asking, Reprocess(start_us=0, end_us=2**62), told[middle][0])
        play(asking, told[middle:])
        assert causes(asking) == causes(whole)
