"""Computing readings anew: nothing changes without a reason, and with one it is as if it had always been so."""

import random
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.app.messages import Ask
from parchd.app.requests import Answer, RecordService, Reprocess
from parchd.app.setup import EngineSetup
from parchd.contract import Cause, SampleBatch, StoredReading, TimeSource, Unit
from parchd.physics.calibration import Calibration
from parchd.pipeline.setup import PipelineSetup, TensiometerSetup
from parchd.store import reader
from parchd.store.cursors import Cursor, note_rewritten, rows_next
from parchd.testing.bench import MEMORY, Bench, engine_on, refuse
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, batch, engine_setup_of, sample, small_site

UNIT_OF = {"c30": Unit.V, "vs": Unit.V, "temp": Unit.CELSIUS}
END_US = START_US + 400 * DAY_US
BENCH_POINTS = tuple((1.02 * kpa - 0.4 + wobble, kpa) for kpa, wobble in ((0.0, 0.02), (-30.0, -0.02), (-70.0, 0.01)))


def everything(**changes: object) -> Reprocess:
    return Reprocess(start_us=0, end_us=END_US, **changes)


def asked(bench: Bench, request: Reprocess | RecordService, now_us: int = END_US) -> list[Answer]:
    answers: list[Answer] = []
    bench.turn(now_us, Ask(request, answers.append))
    return answers


def journal(bench: Bench) -> list[tuple[object, ...]]:
    return bench.rows("SELECT * FROM journal ORDER BY time_us, channel_id")


def converted(bench: Bench) -> list[tuple[object, ...]]:
    return bench.rows(
        "SELECT name, time_us, value, gauge_kpa, tension_kpa, flag, cause, late, calibration, uncertainty_kpa"
        " FROM journal JOIN channel ON channel.id = channel_id ORDER BY time_us, name"
    )


def changed_site(change: Callable[[TensiometerSetup], TensiometerSetup]) -> EngineSetup:
    pipeline, alarms = small_site()
    return engine_setup_of((PipelineSetup(pipeline.site, tuple(change(t) for t in pipeline.tensiometers)), alarms))


def story(seed: int, lines: int = 60) -> list[tuple[int, SampleBatch]]:
    """Lines with supply and temperature among them, some late, some old, some with nonsense, at times of arrival."""
    chance = random.Random(seed)
    told = []
    for number in range(lines):
        now_us = START_US + number * 10 * MINUTE_US
        measured_us = now_us - chance.choice((0, 0, 0, 0, 40 * MINUTE_US, 5 * HOUR_US)) + chance.choice((0, 0, DAY_US))
        measured_us += number  # no two lines have the same time: the second would count as a repetition of the first
        values = {
            "n20": chance.choice((30.0, 55.5, 120.0, None)), "n40": chance.uniform(0, 90),
            "c30": chance.choice((0.02, 1.5, 2.5, 4.4)), "vs": chance.choice((5.0, 5.02, 3.0, None)),
            "temp": chance.uniform(5, 35),
        }  # fmt: skip
        chosen = chance.sample(sorted(values), chance.randint(1, 5))
        source = chance.choice((TimeSource.DEVICE, TimeSource.DEVICE, TimeSource.ARRIVAL, TimeSource.UNKNOWN))
        samples = (sample(c, measured_us, values[c], UNIT_OF.get(c, Unit.KPA), source) for c in chosen)
        told.append((now_us, batch(*samples)))
    return told


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6), group=st.integers(1, 7))
def test_with_nothing_changed_nothing_changes_bit_for_bit(seed: int, group: int) -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        told = story(seed)
        for number in range(0, len(told), group):
            some = told[number : number + group]
            bench.turn(some[-1][0], *(taken for _, taken in some))
        before = journal(bench)
        answers = asked(bench, everything())
        assert answers[-1].state == "done"
        assert "0 came out different" in answers[-1].text
        assert journal(bench) == before


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6))
def test_with_a_new_configuration_it_is_as_if_that_had_always_held(seed: int) -> None:
    def change(setup: TensiometerSetup) -> TensiometerSetup:
        calibrations = (Calibration(START_US + 5 * HOUR_US, "2026-06-01", BENCH_POINTS),)
        return replace(setup, height_m=setup.height_m + 0.1, calibrations=calibrations)

    new = changed_site(change)
    with engine_on(MEMORY, engine_setup_of()) as old, engine_on(MEMORY, new) as always:
        for now_us, taken in story(seed):
            old.turn(now_us, taken)
            always.turn(now_us, taken)
        old.restart(END_US - DAY_US, new)
        assert asked(old, everything())[-1].state == "done"
        assert converted(old) == converted(always)
        assert reader.latest(old.connection) == reader.latest(always.connection)


def test_sinks_get_the_rows_that_changed_once_more_and_no_others() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0), sample("n40", START_US + n * MINUTE_US, 20.0))
                     for n in range(5)))  # fmt: skip
        _, taken = rows_next(bench.connection, {}, Cursor(), 100)
        higher = changed_site(lambda t: replace(t, height_m=0.3) if t.channel == "bus1/n20" else t)
        bench.restart(START_US + HOUR_US, higher)
        answers = asked(bench, everything())
        again = list(copied(bench, taken, batch_rows=2))
        assert [(row.channel, row.time_us) for row in again] == [
            ("bus1/n20", START_US + n * MINUTE_US) for n in range(5)
        ]
        assert [row.tension_kpa for row in again] == pytest.approx([27.063] * 5, abs=0.001)
        assert answers[-1].text == "10 readings computed anew, 5 came out different"


def copied(bench: Bench, cursor: Cursor, batch_rows: int) -> Iterator[StoredReading]:
    """What a sink gets from here on, a few rows at a time."""
    rows, cursor = rows_next(bench.connection, {}, cursor, batch_rows)
    while rows:
        yield from rows
        rows, cursor = rows_next(bench.connection, {}, cursor, batch_rows)


@given(spans=st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=4), batch_rows=st.integers(1, 7))
def test_spans_are_copied_whole_and_once_however_few_rows_a_sink_takes(
    spans: list[tuple[int, int]], batch_rows: int
) -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0)) for n in range(10)))
        _, cursor = rows_next(bench.connection, {}, Cursor(), 100)
        for begin, end in spans:
            note_rewritten(bench.connection, (START_US + begin * MINUTE_US, START_US + end * MINUTE_US), [1])
        minutes = [(row.time_us - START_US) // MINUTE_US for row in copied(bench, cursor, batch_rows)]
        assert minutes == [minute for begin, end in spans for minute in range(begin, end)]


def test_only_the_span_and_the_tensiometers_that_were_named_are_touched() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0), sample("n40", START_US + n * MINUTE_US, 20.0))
                     for n in range(5)))  # fmt: skip
        bench.restart(START_US + HOUR_US, changed_site(lambda t: replace(t, height_m=0.3)))
        span = Reprocess(start_us=START_US + MINUTE_US, end_us=START_US + 3 * MINUTE_US, tensiometers=("north-20",))
        assert asked(bench, span)[-1].text == "2 readings computed anew, 2 came out different"
        higher = bench.rows("SELECT time_us FROM journal WHERE tension_kpa BETWEEN 27 AND 27.1 ORDER BY time_us")
        assert higher == [(START_US + MINUTE_US,), (START_US + 2 * MINUTE_US,)]


def test_an_unknown_tensiometer_is_refused_in_words() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        (answer,) = asked(bench, everything(tensiometers=("nroth-20",)))
        assert answer.state == "failed"
        assert "nroth-20" in answer.text


def test_it_is_done_as_a_whole_or_not_at_all() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0)) for n in range(5)))
        bench.restart(START_US + HOUR_US, changed_site(lambda t: replace(t, height_m=0.3)))
        before = journal(bench)
        answers: list[Answer] = []
        refuse(bench.connection, sqlite3.SQLITE_TRANSACTION, "COMMIT")
        with pytest.raises(sqlite3.DatabaseError):
            bench.turn(END_US, Ask(everything(), answers.append))
        refuse(bench.connection, None)
        assert journal(bench) == before
        assert all(answer.state == "working" for answer in answers)


def test_progress_never_goes_back_and_ends_at_one() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0)) for n in range(50)))
        parts = [answer.part for answer in asked(bench, everything())]
        assert parts == sorted(parts)
        assert parts[-1] == 1.0


def refill(begin_us: int, end_us: int, **more: float) -> RecordService:
    return RecordService(tensiometer="north-20", work="refill", begin_us=begin_us, end_us=end_us, by="Ines", **more)


def test_a_service_marks_the_readings_around_it_those_that_are_there_and_those_that_come() -> None:
    begin_us, end_us = START_US + 2 * MINUTE_US, START_US + 6 * MINUTE_US
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0)) for n in range(4)))
        assert asked(bench, refill(begin_us, end_us), START_US + 4 * MINUTE_US)[-1].state == "done"
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 30.0)) for n in range(4, 8)))
        marked = bench.rows("SELECT time_us FROM journal WHERE cause = ? ORDER BY time_us", int(Cause.SERVICE))
        assert [(us - START_US) // MINUTE_US for (us,) in marked] == [2, 3, 4, 5]
        before = journal(bench)
        assert asked(bench, everything())[-1].text.endswith("0 came out different")
        assert journal(bench) == before


def test_a_service_quiets_the_alarms_of_its_tensiometer_over_a_restart() -> None:
    with engine_on(MEMORY, engine_setup_of()) as bench:
        bench.feed(batch(sample("n20", START_US, 30.0), sample("n40", START_US, 20.0)))
        asked(bench, refill(START_US, START_US + 3 * HOUR_US), START_US)
        bench.restart(START_US)
        bench.feed(*(batch(sample("n20", START_US + n * MINUTE_US, 95.0)) for n in range(1, 6)))
        bench.tick(*(START_US + n * MINUTE_US // 2 for n in range(10, 200)))
        assert bench.events() == [
            (kind, subject, change)
            for kind, subject, change in bench.events()
            if subject not in ("tensiometer/north-20", "zone/north")
        ]
        assert ("silent-source", "source/bus1", "raised") in bench.events()


def test_water_that_was_found_lower_is_taken_to_have_fallen_evenly_since_the_last_service() -> None:
    with engine_on(MEMORY, changed_site_high()) as bench:
        asked(bench, refill(START_US, START_US + 1, left_m=0.60), START_US)
        bench.feed(*(batch(sample("n20", START_US + n * HOUR_US, 30.0)) for n in range(1, 5)))
        asked(bench, refill(START_US + 4 * HOUR_US, START_US + 4 * HOUR_US + 1, left_m=0.60, found_m=0.40),
              START_US + 4 * HOUR_US)  # fmt: skip
        heads = [30.0 - tension for (tension,) in bench.rows("SELECT tension_kpa FROM journal ORDER BY time_us")]
        # rho g h at 20 C, hydrostatics: 9.789 kPa/m (facts of the trade, table of rho g h)
        assert heads == pytest.approx([9.789 * h for h in (0.55, 0.50, 0.45, 0.60)], abs=0.001)


def changed_site_high() -> EngineSetup:
    return changed_site(lambda t: replace(t, height_m=0.6))
