"""What the diagnosis knows survives a restart: stopped anywhere, it goes on as if nothing had happened."""

import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parchd.app.messages import Reload, Tick
from parchd.app.setup import EngineSetup
from parchd.clock import US_PER_S
from parchd.contract import SampleBatch
from parchd.diagnosis.hours import Hour, Hours
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import DiagnosisState
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.season import Season, simulate
from parchd.store.diagnosis import ELSEWHERE
from parchd.store.plain import to_text
from parchd.testing.bench import MEMORY, Bench, engine_on, refuse
from parchd.testing.season import Arrival, arrivals, season_setup

DAY_US = 86_400 * US_PER_S
PLAN = Plan(
    7, days=9, interval_s=1800.0, soils=("sandy loam", "loam"), stations=1, climate="desert", services=1,
    thermometer=True, barometer=True, troubles=8.0,
)  # fmt: skip
FAULTS = (
    FaultPlan(FindingKind.LOST_WATER, "tensiometer/north-1-30", PLAN.start_us + 4 * DAY_US, 0.9, None, "collapse"),
    FaultPlan(FindingKind.STUCK_VALUE, "tensiometer/creek-1-60", PLAN.start_us + 5 * DAY_US, 0.5),
)
TABLES = {
    "journal": "SELECT time_us, name, tension_kpa, flag, cause, own_cause FROM journal JOIN channel ON id = channel_id"
    " ORDER BY time_us, name",
    "latest": "SELECT name, latest.flag, latest.cause FROM latest JOIN channel ON id = channel_id ORDER BY name",
    **{
        table: f"SELECT * FROM {table}"
        for table in ("finding", "event", "marking", "diagnosis_hour", "alarm", "alarm_event", "vote", "rewritten")
    },
}


@cache
def season() -> Season:
    return simulate(replace(PLAN, faults=FAULTS))


@cache
def delivered() -> tuple[Arrival, ...]:
    return tuple(arrivals(season()))


def setup() -> EngineSetup:
    return season_setup(season())


def play(bench: Bench, some: Iterable[Arrival], cuts: Iterable[int] = ()) -> None:
    for number, arrival in enumerate(some):
        if number in cuts:
            bench.restart(arrival.received_us)
        bench.turn(arrival.received_us, arrival.batch)


def contents(bench: Bench) -> dict[str, list[tuple[object, ...]]]:
    return {name: bench.rows(query) for name, query in TABLES.items()}


def remembered(bench: Bench) -> dict[str, object]:
    """All that the diagnosis knows, as text."""
    state: DiagnosisState = bench.engine._diagnosing._state
    return {
        "findings": repr(state.findings),
        "dismissed": repr(state.dismissed),
        "air": columns(state.air),
        **{f"source {name}": to_text(source) for name, source in state.sources.items()},
        **{f"standing {name}": to_text(one, ELSEWHERE) for name, one in state.standings.items()},
        **{f"hours {name}": columns(one.hours) for name, one in state.standings.items()},
        **{
            f"open {name}": repr({number: opened.close() for number, opened in sorted(one.open.items())})
            for name, one in state.standings.items()
        },
    }


def columns(hours: Hours) -> str:
    return repr((hours.begin, hours.end, [hours.column(name, hours.begin, hours.end) for name in Hour._fields]))


@cache
def undisturbed() -> tuple[dict[str, list[tuple[object, ...]]], dict[str, object]]:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        play(bench, delivered())
        return contents(bench), remembered(bench)


def test_the_season_has_what_this_is_about() -> None:
    tables, _ = undisturbed()
    assert {str(row[1]) for row in tables["finding"]} >= {"lost-water", "stuck-value"}
    assert tables["event"]
    assert {row[-1] for row in tables["journal"]} >= {None, 0}


@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(st.sets(st.integers(1, 850), min_size=1, max_size=5))
def test_stopped_anywhere_it_goes_on_as_if_nothing_had_happened(cuts: set[int]) -> None:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        play(bench, delivered(), cuts)
        assert (contents(bench), remembered(bench)) == undisturbed()


def test_stopped_after_every_hour_it_goes_on_as_if_nothing_had_happened() -> None:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        play(bench, delivered(), range(0, len(delivered()), 2))
        assert (contents(bench), remembered(bench)) == undisturbed()


def test_behind_a_clock_that_lost_its_date_it_goes_on_as_if_nothing_had_happened() -> None:
    lost = FaultPlan(FindingKind.WRONG_CLOCK, "source/gateway-a", PLAN.start_us + 3 * DAY_US, 0.5, None, "1970")
    some = list(arrivals(simulate(replace(PLAN, faults=(lost, *FAULTS)))))
    seen = []
    for every in (len(some), 5):
        with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
            for number, arrival in enumerate(some):
                if number % every == every - 1:
                    bench.restart(arrival.received_us)
                bench.turn(arrival.received_us, arrival.batch, Tick())
            seen.append((contents(bench), remembered(bench)))

    assert seen[0] == seen[1]
    assert {str(row[1]) for row in seen[0][0]["finding"]} >= {"wrong-clock", "lost-water"}


def test_a_turn_that_failed_leaves_no_trace_in_what_is_remembered() -> None:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        for number, arrival in enumerate(delivered()):
            if number % 97 == 5:
                refuse(bench.connection, sqlite3.SQLITE_UPDATE, "latest")
                with pytest.raises(sqlite3.DatabaseError):
                    bench.turn(arrival.received_us, arrival.batch)
                refuse(bench.connection, None)
            bench.turn(arrival.received_us, arrival.batch)
        assert remembered(bench) == undisturbed()[1]


def test_however_readings_are_cut_into_batches_the_same_is_found() -> None:
    """Batches of a day, and of one sample; of arrival only the order counts here."""
    ends = [PLAN.start_us + (day + 1) * DAY_US for day in range(PLAN.days)]
    found = []
    for size in (1, 10_000):
        with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
            for end_us in ends:
                for source in ("gateway-a", "gateway-b"):
                    samples = [
                        sample
                        for arrival in delivered()
                        for sample in arrival.batch.samples
                        if arrival.batch.source == source and end_us - DAY_US <= sample.time_us < end_us
                    ]
                    samples.sort(key=lambda sample: (sample.time_us, sample.channel.startswith("ch"), sample.channel))
                    for first in range(0, len(samples), size):
                        part = SampleBatch(source, tuple(samples[first : first + size]), replayed=True)
                        bench.turn(end_us, part)
            tables = contents(bench)
            found.append([tables[name] for name in ("journal", "finding", "event", "vote", "alarm", "alarm_event")])
    assert found[0] == found[1]


def test_a_tensiometer_that_is_left_out_for_a_while_keeps_its_finding_but_is_learnt_anew() -> None:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        play(bench, delivered())
        now_us = delivered()[-1].received_us
        pipeline = season().setup
        without = replace(
            season(),
            setup=replace(
                pipeline, tensiometers=tuple(t for t in pipeline.tensiometers if t.place.tensiometer != "north-1-30")
            ),
        )
        bench.turn(now_us, Reload(season_setup(without)))
        bench.turn(now_us + 1, Reload(setup()))
        state: DiagnosisState = bench.engine._diagnosing._state
        assert (FindingKind.LOST_WATER, "tensiometer/north-1-30") in state.findings
        assert len(state.standings["gateway-a/ch01"].hours) == 0
        before = remembered(bench)
        bench.restart(now_us + 2)
        assert remembered(bench) == before


def test_ticks_change_nothing_that_is_remembered_of_readings() -> None:
    with engine_on(MEMORY, setup(), PLAN.start_us) as bench:
        for arrival in delivered():
            bench.turn(arrival.received_us, arrival.batch)
            bench.turn(arrival.received_us, Tick())
        kinds = ("lost-water", "stuck-value")
        mine = [row for row in contents(bench)["finding"] if row[1] in kinds]
        assert mine == [row for row in undisturbed()[0]["finding"] if row[1] in kinds]
