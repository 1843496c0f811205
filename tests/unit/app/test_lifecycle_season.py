"""A simulated season with faults, people who answer, and a service: replayed, the history of its alarms is the same."""

import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import Delays, IrrigationRule
from parchd.alarms.standing import rebuilt
from parchd.app.messages import Ask, Message, Tick
from parchd.app.requests import Acknowledge, AlarmAct, RecordService, Shelve, Unshelve
from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.season import Season, simulate
from parchd.store.standings import history, load_standings
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.season import arrivals, season_setup

HOUR_US = 3600 * US_PER_S
DAY_US = 24 * HOUR_US
BASE = Plan(
    5, days=40, interval_s=3600.0, soils=("silt loam",), stations=2, climate="desert", crop="alfalfa", services=0,
    troubles=0.0, ripple=0.3, barometer=True,
)  # fmt: skip
AIRY, STUCK = "tensiometer/north-1-30", "tensiometer/north-2-30"
EVERY = ("north-1-30", "north-1-60", "north-2-30", "north-2-60")
RULES = (
    IrrigationRule("zone/north", EVERY, 14.0, 20.0, 2.0, Delays(), None),
    *(IrrigationRule(f"tensiometer/{name}", (name,), 12.0, 25.0, 2.0, Delays(), None) for name in EVERY),
)
"""Low limits, so that much happens."""


def plan() -> Plan:
    def fault(kind: FindingKind, target: str, day: int, days: int | None, form: str = "") -> FaultPlan:
        end_us = None if days is None else BASE.start_us + (day + days) * DAY_US
        return FaultPlan(kind, target, BASE.start_us + day * DAY_US, 0.9, end_us, form)

    faults = (
        fault(FindingKind.LOST_WATER, AIRY, 9, None, "collapse"),
        fault(FindingKind.STUCK_VALUE, STUCK, 26, 4),
    )
    return replace(BASE, faults=faults)


@cache
def season() -> Season:
    return simulate(plan())


def answering() -> list[tuple[int, AlarmAct | RecordService]]:
    """What people do, and when: some of it comes to nothing."""
    acts: list[tuple[int, AlarmAct | RecordService]] = []
    for day in range(2, 40, 3):
        noon_us = BASE.start_us + day * DAY_US + 12 * HOUR_US
        acts.append((noon_us, Acknowledge(by="Ines")))
        shelve = Shelve(subject="zone/north", kind=AlarmKind.IRRIGATE_NOW, hours=30, why="no pump", by="Bo")
        acts.append((noon_us + DAY_US, shelve))
        acts.append((noon_us + 2 * DAY_US, Unshelve(subject="zone/north", by="Bo")))
    served_us = BASE.start_us + 15 * DAY_US
    service = RecordService(
        tensiometer=AIRY.partition("/")[2], work="refill", begin_us=served_us, end_us=served_us + 12 * HOUR_US, by="Bo"
    )
    return sorted([*acts, (served_us, service)], key=lambda one: one[0])


def messages() -> Iterator[tuple[int, Message]]:
    """Deliveries, a tick every two hours, and what people ask for, in the order of time."""
    told: list[tuple[int, int, Message]] = [(a.received_us, 0, a.batch) for a in arrivals(season())]
    ticks = range(BASE.start_us, BASE.start_us + 40 * DAY_US, 2 * HOUR_US)
    told += [(us, 1, Tick()) for us in ticks]
    told += [(us, 2, Ask(request, lambda answer: None)) for us, request in answering()]
    for now_us, _, message in sorted(told, key=lambda one: one[:2]):
        yield now_us, message


def lived(*, killed_every: int | None = None) -> Iterator[Bench]:
    with engine_on(MEMORY, season_setup(season(), *RULES), BASE.start_us) as bench:
        for n, (now_us, message) in enumerate(messages(), 1):
            bench.turn(now_us, message)
            if killed_every is not None and n % killed_every == 0:
                bench.restart(now_us)
        yield bench


def digest(connection: sqlite3.Connection) -> str:
    """A fingerprint of the history of alarms, byte for byte, and of how they stand."""
    tables = ("alarm_transition", "alarm_event", "alarm_standing", "outbox")
    lines = [line for line in connection.iterdump() if line.startswith(tuple(f'INSERT INTO "{t}"' for t in tables))]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


@pytest.fixture(scope="module")
def once() -> Iterator[Bench]:
    yield from lived()


def test_the_season_is_rich_enough(once: Bench) -> None:
    happened = dict(once.rows("SELECT happening, count(*) FROM alarm_transition GROUP BY happening"))
    assert set(happened) >= {
        "raised", "cleared", "acknowledged", "shelved", "unshelved", "repeated",
    }, happened  # fmt: skip
    states = {state for (state,) in once.rows("SELECT DISTINCT after FROM alarm_transition")}
    assert states >= {"normal", "unacknowledged", "acknowledged", "shelved"}, states
    assert once.rows("SELECT count(*) FROM alarm_transition WHERE via = 'clock'")[0][0] > 3


def test_a_season_replayed_twice_has_the_same_history_of_alarms_byte_for_byte(once: Bench) -> None:
    (again,) = [digest(bench.connection) for bench in lived()]
    assert digest(once.connection) == again


def test_kills_and_new_starts_in_between_leave_the_same_history(once: Bench) -> None:
    (killed,) = [digest(bench.connection) for bench in lived(killed_every=101)]
    assert digest(once.connection) == killed


def test_standings_follow_from_the_history_of_the_season(once: Bench) -> None:
    assert rebuilt(history(once.connection)) == load_standings(once.connection)
    assert once.rows("SELECT count(*) FROM alarm_transition")[0][0] > 40


def test_every_episode_that_was_raised_and_is_not_on_was_cleared_once(once: Bench) -> None:
    raised = once.rows("SELECT kind, subject, raised_us FROM alarm_event WHERE change = 'raised'")
    cleared = once.rows("SELECT kind, subject, raised_us FROM alarm_event WHERE change = 'cleared'")
    holding = once.rows("SELECT kind, subject, raised_us FROM alarm_standing WHERE is_on")
    assert sorted(raised) == sorted(cleared + holding)
