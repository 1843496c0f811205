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


def shown(here: dict[str, Columns], fault: Fault = FAULT, least_kpa: float = 1.0, *others: Fault) -> Showing:
    season = replace(SEASON, faults=(fault, *others))
    return showing(fault, season, here, columns(), {one.channel: least_kpa for one in SETUP.tensiometers})


def without(here: dict[str, Columns], span: slice) -> dict[str, Columns]:
    """The same, but for the samples of one channel within a span."""
    one = here[CHANNEL]
    keep = np.ones(len(one.time_us), dtype=np.bool_)
    keep[span] = False
    fewer = Columns(
        one.time_us[keep], one.received_us[keep], one.value[keep], one.gauge_kpa[keep], one.tension_kpa[keep],
        one.cause[keep],
    )  # fmt: skip
    return {**here, CHANNEL: fewer}


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
    assert shown(without(columns(), slice(140, 200))) == Showing(140 * HOUR_US)


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
    last, stuck = 30 * 24 - ROOM_H, replace(FAULT, kind=K.STUCK_VALUE)
    assert not shown(shifted(3.0, last), stuck).aside
    assert shown(shifted(3.0, last + 1), stuck).aside


@pytest.mark.parametrize(("kind", "aside"), [(K.ZERO_DRIFT, True), (K.LEVEL_SHIFT, False)])
def test_a_slow_fault_must_show_for_a_week(kind: K, aside: bool) -> None:
    mended = replace(FAULT, kind=kind, end_us=FAULT.start_us + (SLOW_H - 1) * HOUR_US)
    assert bool(shown(shifted(3.0, 120), mended).aside) is aside
    assert not shown(shifted(3.0, 120), replace(mended, end_us=FAULT.start_us + SLOW_H * HOUR_US)).aside


def test_a_warning_of_frost_counts_though_no_reading_shows_it() -> None:
    assert shown(columns(), replace(FAULT, kind=K.FROST_RISK)) == Showing(FAULT.start_us)


@pytest.mark.parametrize(
    ("kind", "form", "hours"),
    [
        (K.STUCK_VALUE, "", 24),
        (K.SWAPPED, "", 24),
        (K.LOST_WATER, "slow", 24),
        (K.LOST_WATER, "collapse", 12),
        (K.SHORT_CIRCUIT, "", 1),
        (K.LEVEL_SHIFT, "", 48),
        (K.CRACKED_CUP, "", 48),
    ],
)
def test_a_fault_must_change_the_tension_for_some_hours_in_all(kind: K, form: str, hours: int) -> None:
    fault = replace(FAULT, kind=kind, form=form)
    long, short = columns(), columns()
    for here, lasting in ((long, hours), (short, hours - 1)):
        scattered = 130 + 3 * np.arange(lasting)
        here[CHANNEL].tension_kpa[scattered] += 5.0
    assert not shown(long, fault).aside
    assert shown(short, fault).aside


def test_a_level_shift_below_two_kilopascals_is_set_aside_but_a_stuck_value_is_not() -> None:
    assert shown(shifted(1.9, 130)).aside
    assert not shown(shifted(2.0, 130)).aside
    assert not shown(shifted(1.9, 130), replace(FAULT, kind=K.STUCK_VALUE)).aside


def test_air_that_enters_must_stay_for_half_a_day_though_its_twin_has_it_too() -> None:
    fault = replace(FAULT, kind=K.AIR_ENTRY, end_us=FAULT.start_us + 20 * HOUR_US)
    assert shown(columns(), fault) == Showing(FAULT.start_us)
    assert shown(columns(), replace(fault, end_us=FAULT.start_us + 10 * HOUR_US)).aside


@pytest.mark.parametrize("hider", [K.LOST_WATER, K.AIR_ENTRY, K.FROZEN, K.STUCK_VALUE, K.SILENT_CHANNEL])
def test_a_shift_of_a_dead_instrument_is_set_aside(hider: K) -> None:
    dead = replace(FAULT, kind=hider, start_us=4 * DAY)
    assert hider.value in shown(shifted(5.0, 120), FAULT, 1.0, dead).aside
    elsewhere = replace(dead, subject=f"tensiometer/{SETUP.tensiometers[1].place.tensiometer}")
    assert not shown(shifted(5.0, 120), FAULT, 1.0, elsewhere).aside


def test_a_shift_that_showed_long_enough_before_the_instrument_died_counts() -> None:
    dead = replace(FAULT, kind=K.LOST_WATER, start_us=9 * DAY)
    assert shown(shifted(5.0, 120), FAULT, 1.0, dead) == Showing(5 * DAY)


def test_a_fault_shows_from_the_end_of_what_hides_it() -> None:
    source = CHANNEL.partition("/")[0]
    silence = Fault(K.SILENT_SOURCE, f"source/{source}", 4 * DAY, 8 * DAY, 96.0)
    here = without(shifted(5.0, 120), slice(96, 193))
    assert shown(here, FAULT, 1.0, silence) == Showing(193 * HOUR_US)


def test_a_loose_wire_hides_only_what_it_spoils() -> None:
    loose = replace(FAULT, kind=K.OPEN_CIRCUIT, start_us=4 * DAY)
    here = shifted(5.0, 120)
    here[CHANNEL].tension_kpa[96::2] = np.nan
    assert not shown(here, FAULT, 1.0, loose).aside
    here[CHANNEL].tension_kpa[96:] = np.nan
    assert "open-circuit" in shown(here, FAULT, 1.0, loose).aside


def test_a_broken_wire_is_not_hidden_by_lost_water_nor_water_lost_by_a_later_shift() -> None:
    wire, lost = replace(FAULT, kind=K.OPEN_CIRCUIT), replace(FAULT, kind=K.LOST_WATER, start_us=4 * DAY)
    assert not shown(shifted(np.nan, 120), wire, 1.0, lost).aside
    assert not shown(shifted(-19.0, 100), lost, 1.0, FAULT).aside


def test_of_two_faults_that_hide_each_other_the_later_is_set_aside() -> None:
    frozen, lost = replace(FAULT, kind=K.FROZEN, start_us=4 * DAY), replace(FAULT, kind=K.LOST_WATER)
    here = shifted(-19.0, 96)
    assert not shown(here, frozen, 1.0, lost).aside
    assert "frozen" in shown(here, lost, 1.0, frozen).aside
