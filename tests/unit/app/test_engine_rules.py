"""Rules of one's own, drying and wet ground, in the engine: told in people's words, and the same after any restart."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import time
from pathlib import Path

import pytest

from parchd.alarms.delays import Delays
from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import DecisionWindow
from parchd.alarms.terms import Level, Presence, Quantity, Rule
from parchd.app.messages import Reload
from parchd.app.setup import EngineSetup
from parchd.contract import Priority, SampleBatch
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, NORTH, START_US, engine_setup_of, line, small_site

OWN = Rule(
    AlarmKey(AlarmKind.OWN_RULE, "rule/deep-wet"),
    (
        Level(Quantity.TENSION, "north-60", 2.0, above=False, deadband=1.0, fresh_s=7200.0),
        Presence("air-leak", "north-20", (AlarmKey(AlarmKind.AIR_LEAK, "tensiometer/north-20"),), absent=True),
    ),
    delays=Delays(on_s=1200.0),
    priority=Priority.HIGH,
    say="water stands below the roots",
    respond="Close valve 3.",
)
DRYING = Rule(
    AlarmKey(AlarmKind.DRYING_FAST, "zone/north"),
    (Level(Quantity.ZONE_RISE, "north", 4.0, True, 0.8, 26 * 3600.0, NORTH),),
)
MORNING = DecisionWindow(time(5), time(8), "Europe/Berlin")


def setup(*rules: Rule) -> EngineSetup:
    pipeline, alarms = small_site()
    return engine_setup_of(
        (pipeline, replace(alarms, rules=rules or (OWN, DRYING), mornings=dict.fromkeys(NORTH, MORNING)))
    )


def deep(minute: float, tension_kpa: float) -> SampleBatch:
    return line(START_US + round(minute * MINUTE_US), n20=20.0, n40=15.0, n60=tension_kpa)


def test_a_rule_of_ones_own_is_told_in_its_own_words_with_its_own_priority() -> None:
    with engine_on(MEMORY, setup()) as bench:
        bench.feed(*(deep(minute, 1.5) for minute in range(0, 30, 10)))
        bench.feed(deep(30, 2.9), deep(40, 3.0))
        assert bench.events() == [
            ("own-rule", "rule/deep-wet", "raised"), ("own-rule", "rule/deep-wet", "cleared"),
        ]  # fmt: skip
        raised, cleared = bench.subjects()
        assert "water stands below the roots" in raised
        assert "water stands below the roots" in cleared
        assert bench.rows("SELECT DISTINCT priority FROM outbox") == [(3,)]
        (notice,) = bench.rows("SELECT notice FROM outbox ORDER BY id LIMIT 1")[0]
        assert "Close valve 3." in notice
        assert "north-60" in notice


def days(bench: Bench, *tensions_kpa: float, begin: int = 0) -> None:
    """Three hours of each morning, a line every half hour, drying a little meanwhile."""
    for number, kpa in enumerate(tensions_kpa, begin):
        for half in range(6):
            time_us = START_US - HOUR_US + number * DAY_US + half * 30 * MINUTE_US
            bench.feed(line(time_us, n20=kpa + half / 10, n40=kpa + half / 10, n60=kpa + half / 10))


def test_a_zone_that_dries_fast_is_told_once_and_cleared_by_water() -> None:
    """The fall must be explained first: lost water falls too."""
    with engine_on(MEMORY, setup(DRYING)) as bench:
        days(bench, 10.0, 15.0, 20.0, 25.0)
        assert bench.events() == [("drying-fast", "zone/north", "raised")]
        (evidence,) = bench.rows("SELECT evidence FROM alarm_event")[0]
        assert json.loads(evidence)["held"][0]["value"] == pytest.approx(5.0, abs=0.1)
        watered_us = START_US + 3 * DAY_US + 6 * HOUR_US
        bench.feed(*(line(watered_us + hour * HOUR_US, n20=5.0, n40=5.0, n60=5.0) for hour in range(16)))
        days(bench, 5.0, begin=4)
        assert bench.events()[1:] == [("drying-fast", "zone/north", "cleared")]


def story() -> Sequence[SampleBatch]:
    wet = [deep(minute, 1.5 if minute < 300 else 9.0) for minute in range(0, 600, 10)]
    dry = [
        line(START_US + DAY_US * number + 30 * MINUTE_US * half, n20=20.0 + 5 * number, n40=20.0 + 5 * number, n60=30.0)
        for number in range(1, 5)
        for half in range(4)
    ]
    return [*wet, *dry]


@pytest.mark.parametrize("every", [1, 3, 7])
def test_a_power_cut_anywhere_changes_nothing(tmp_path: Path, every: int) -> None:
    tables = ["journal", "alarm", "alarm_event", "rule_level", "morning", "alarm_standing"]
    dumps = []
    for name, cuts in (("whole", 0), ("cut", every)):
        with engine_on(tmp_path / f"{name}.db", setup()) as bench:
            for number, batch in enumerate(story()):
                bench.feed(batch)
                if cuts and number % cuts == 0:
                    bench.restart(batch.samples[-1].time_us)
            dumps.append(bench.dump(tables))
            assert ("own-rule", "rule/deep-wet", "cleared") in bench.events()
    assert dumps[0] == dumps[1]


def test_a_rule_that_the_configuration_has_no_more_leaves_nothing_behind() -> None:
    with engine_on(MEMORY, setup()) as bench:
        bench.feed(*(deep(minute, 1.5) for minute in range(0, 30, 10)))
        bench.turn(START_US + HOUR_US, Reload(engine_setup_of()))
        for table in ("rule_level", "morning", "alarm WHERE kind = 'own-rule'", "alarm_standing"):
            assert bench.rows(f"SELECT count(*) FROM {table}") == [(0,)], table


def test_a_rule_that_is_changed_begins_without_the_words_of_the_one_before() -> None:
    other = replace(OWN, terms=(Level(Quantity.TENSION, "north-20", 50.0, above=True),))
    with engine_on(MEMORY, setup(OWN)) as bench:
        bench.feed(*(deep(minute, 1.5) for minute in range(0, 30, 10)))
        bench.turn(START_US + 30 * MINUTE_US, Reload(setup(other)))
        assert bench.rows("SELECT count(*) FROM rule_level") == [(0,)]
        bench.feed(deep(40, 1.5))
        assert bench.events()[-1] == ("own-rule", "rule/deep-wet", "cleared")
