"""When a fault can be seen, by the truth alone."""

from dataclasses import replace

import numpy as np
import pytest

from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.showing import ROOM_H, SLOW_H, Showing, showing
from parchd.simulator.convert import Columns
from parchd.simulator.farm import Farm
from parchd.simulator.plan import Plan
from parchd.simulator.season import Fault, Season

DAY = 24 * HOUR_US
PLAN = Plan(1, days=30, interval_s=3600.0, start_us=0)
SETUP = Farm(PLAN).setup
SEASON = Season(1, {}, SETUP, None, 0, 30 * DAY, {}, (), (), (), {}, np.empty(0, dtype=np.int64))
NAME, CHANNEL = SETUP.tensiometers[0].place.tensiometer, SETUP.tensiometers[0].channel
FAULT = Fault(K.LEVEL_SHIFT, f"tensiometer/{NAME}", 5 * DAY, None, 3.0)


def columns(kpa: float = 20.0) -> dict[str, Columns]:
    time_us = np.arange(0, 30 * DAY, HOUR_US, dtype=np.int64)
    tension = np.full(len(time_us), kpa)
    cause = np.zeros(len(time_us), dtype=np.uint8)
    return {
        one.channel: Columns(time_us, time_us + 2_000_000, -tension, -tension, tension.copy(), cause)
        for one in SETUP.tensiometers
    }


def shown(here: dict[str, Columns], fault: Fault = FAULT, least_kpa: float = 1.0) -> Showing:
    return showing(fault, SEASON, here, columns(), {one.channel: least_kpa for one in SETUP.tensiometers})


def shifted(by_kpa: float, from_h: int) -> dict[str, Columns]:
    here = columns()
    here[CHANNEL].tension_kpa[from_h:] += by_kpa
    return here


def test_a_fault_shows_from_the_first_reading_it_changes_by_more_than_the_limit() -> None:
    assert shown(shifted(3.0, 130)) == Showing(130 * HOUR_US)


def test_what_stays_within_the_uncertainty_is_set_aside() -> None:
    assert shown(shifted(0.9, 130)).aside
    assert shown(shifted(3.0, 130), least_kpa=4.0).aside


def test_what_differs_before_the_fault_is_not_its_doing() -> None:
    here = columns()
    here[CHANNEL].tension_kpa[:100] += 9.0
    assert shown(here).from_us is None


def test_what_differs_on_another_tensiometer_is_not_its_doing() -> None:
    here = columns()
    here[SETUP.tensiometers[1].channel].tension_kpa[:] += 9.0
    assert shown(here).from_us is None


def test_a_tension_that_is_missing_shows() -> None:
    assert shown(shifted(np.nan, 130)) == Showing(130 * HOUR_US)


def test_a_sample_that_never_came_shows() -> None:
    here = columns()
    keep = np.ones(30 * 24, dtype=np.bool_)
    keep[140:150] = False
    one = here[CHANNEL]
    here[CHANNEL] = Columns(
        one.time_us[keep], one.received_us[keep], one.value[keep], one.gauge_kpa[keep], one.tension_kpa[keep],
        one.cause[keep],
    )  # fmt: skip
    assert shown(here) == Showing(140 * HOUR_US)


def test_a_sample_that_comes_late_shows() -> None:
    here = columns()
    here[CHANNEL].received_us[150:] += HOUR_US
    assert shown(here) == Showing(150 * HOUR_US)


def test_a_fault_of_a_source_shows_on_any_of_its_tensiometers() -> None:
    here = columns()
    here[SETUP.tensiometers[1].channel].tension_kpa[200:] += 9.0
    source = SETUP.tensiometers[1].channel.partition("/")[0]
    assert shown(here, replace(FAULT, subject=f"source/{source}")) == Showing(200 * HOUR_US)


def test_a_fault_that_begins_to_show_on_the_last_day_is_set_aside() -> None:
    last = 30 * 24 - ROOM_H
    assert not shown(shifted(3.0, last)).aside
    assert shown(shifted(3.0, last + 1)).aside


@pytest.mark.parametrize(("kind", "aside"), [(K.ZERO_DRIFT, True), (K.LEVEL_SHIFT, False)])
def test_a_slow_fault_must_show_for_a_week(kind: K, aside: bool) -> None:
    mended = replace(FAULT, kind=kind, end_us=FAULT.start_us + (SLOW_H - 1) * HOUR_US)
    assert bool(shown(shifted(3.0, 120), mended).aside) is aside
    assert not shown(shifted(3.0, 120), replace(mended, end_us=FAULT.start_us + SLOW_H * HOUR_US)).aside


def test_a_warning_of_frost_counts_though_no_reading_shows_it() -> None:
    assert shown(columns(), replace(FAULT, kind=K.FROST_RISK)) == Showing(FAULT.start_us)
