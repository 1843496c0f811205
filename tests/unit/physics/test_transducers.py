import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, Unit
from parchd.physics.causes import flag_of
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric, Transducer

RATIOMETRIC = Ratiometric(0.0, -100.0)
LOOP = CurrentLoop(0.0, -100.0)
LINEAR = LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.2, fault_above_v=4.8)

KINDS: list[tuple[Transducer, Unit, bool]] = [
    (RATIOMETRIC, Unit.V, True),
    (LOOP, Unit.MA, False),
    (LINEAR, Unit.V, False),
    (DirectPressure(), Unit.KPA, False),
]


@pytest.mark.parametrize(("kind", "unit", "needs_supply"), KINDS)
def test_each_kind_says_its_unit_and_whether_the_supply_matters(
    kind: Transducer, unit: Unit, needs_supply: bool
) -> None:
    assert kind.unit is unit
    assert kind.needs_supply is needs_supply


@settings(deadline=None)
@given(st.floats(0.0, 1.0), st.floats(4.1, 5.9))
def test_a_ratiometric_signal_follows_its_supply(fraction: float, supply_v: float) -> None:
    expected = RATIOMETRIC.gauge_kpa(fraction * 5.0, 5.0)
    assert RATIOMETRIC.gauge_kpa(fraction * supply_v, supply_v) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("fraction", "cause"),
    [
        (0.0, Cause.OPEN_CIRCUIT),
        (0.049, Cause.OPEN_CIRCUIT),
        (0.051, Cause.NONE),
        (0.5, Cause.NONE),
        (0.949, Cause.NONE),
        (0.951, Cause.SHORT_CIRCUIT),
        (1.0, Cause.SHORT_CIRCUIT),
    ],
)
@pytest.mark.parametrize("supply_v", [4.75, 5.0, 5.25])
def test_fault_levels_are_fractions_of_the_supply_there_is(fraction: float, cause: Cause, supply_v: float) -> None:
    assert RATIOMETRIC.fault(fraction * supply_v, supply_v) is cause


@pytest.mark.parametrize("supply_v", [0.0, -5.0, 3.3, 6.1, math.nan])
def test_a_supply_far_off_its_nominal_value_is_a_fault(supply_v: float) -> None:
    assert RATIOMETRIC.fault(2.5, supply_v) is Cause.NO_SUPPLY


def test_fault_levels_of_a_ratiometric_part_can_be_set() -> None:
    part = Ratiometric(0.0, -100.0, low_fraction=0.04, high_fraction=0.94, open_below=0.02, open_above=0.98)
    assert [part.fault(volts, 5.0).name for volts in (0.09, 0.11, 4.89, 4.91)] == [
        "OPEN_CIRCUIT", "NONE", "NONE", "SHORT_CIRCUIT",
    ]  # fmt: skip


def test_fault_levels_may_stand_at_the_very_ends_of_the_range() -> None:
    part = Ratiometric(0.0, -100.0, open_below=0.1, open_above=0.9)
    assert [part.fault(volts, 5.0) for volts in (0.5, 4.5)] == [Cause.NONE, Cause.NONE]


@pytest.mark.parametrize(
    ("volts", "cause"),
    [(0.19, Cause.OPEN_CIRCUIT), (0.2, Cause.NONE), (4.8, Cause.NONE), (4.81, Cause.SHORT_CIRCUIT)],
)
def test_fault_levels_of_a_linear_voltage(volts: float, cause: Cause) -> None:
    assert LINEAR.fault(volts, 0.0) is cause


@pytest.mark.parametrize("volts", [-100.0, 0.0, 100.0])
def test_a_linear_voltage_without_fault_levels_takes_any_voltage(volts: float) -> None:
    assert LinearVoltage(0.5, 0.0, 4.5, -100.0).fault(volts, 0.0) is Cause.NONE


@settings(deadline=None)
@given(st.floats(0.0, 25.0), st.floats(0.0, 25.0))
def test_the_bands_of_a_current_loop_are_in_order(one_ma: float, other_ma: float) -> None:
    order = [Cause.OPEN_CIRCUIT, Cause.UNDER_RANGE, Cause.NONE, Cause.OVER_RANGE, Cause.SHORT_CIRCUIT]
    low_ma, high_ma = sorted((one_ma, other_ma))
    assert order.index(LOOP.fault(low_ma, 0.0)) <= order.index(LOOP.fault(high_ma, 0.0))


def test_a_pressure_comes_through_with_vacuum_negative() -> None:
    assert DirectPressure().gauge_kpa(-30.0, 0.0) == -30.0
    assert DirectPressure(vacuum_positive=True).gauge_kpa(30.0, 0.0) == -30.0
    assert DirectPressure().fault(-30.0, 0.0) is Cause.NONE


WRONG: list[tuple[Callable[[], Transducer], str]] = [
    (lambda: Ratiometric(0.0, 0.0), "two different pressures"),
    (lambda: Ratiometric(0.0, math.nan), "two different pressures"),
    (lambda: Ratiometric(0.0, -100.0, low_fraction=0.9, high_fraction=0.1), "fractions of the supply must rise"),
    (lambda: Ratiometric(0.0, -100.0, low_fraction=10.0, high_fraction=90.0), "fractions of the supply must rise"),
    (lambda: Ratiometric(0.0, -100.0, low_fraction=0.04), "open_below, low_fraction"),
    (lambda: Ratiometric(0.0, -100.0, supply_v=0.0), "supply must be above 0 V"),
    (lambda: Ratiometric(0.0, -100.0, supply_tolerance=0.0), "tolerance must be between"),
    (lambda: CurrentLoop(-100.0, -100.0), "two different pressures"),
    (lambda: CurrentLoop(0.0, -100.0, shunt_ohm=0.0), "shunt must be above 0 ohm"),
    (lambda: CurrentLoop(0.0, -100.0, shunt_ohm=math.inf), "shunt must be above 0 ohm"),
    (lambda: LinearVoltage(0.5, 0.0, 0.5, -100.0), "two voltages"),
    (lambda: LinearVoltage(0.5, 0.0, math.nan, -100.0), "two voltages"),
    (lambda: LinearVoltage(0.5, 0.0, 4.5, 0.0), "two different pressures"),
    (lambda: LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.6), "fault levels must leave the points"),
    (lambda: LinearVoltage(4.5, 0.0, 0.5, -100.0, fault_above_v=4.4), "fault levels must leave the points"),
]


@pytest.mark.parametrize(("build", "says"), WRONG)
def test_a_data_sheet_that_makes_no_sense_is_refused_in_a_sentence(build: Callable[[], Transducer], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        build()


@pytest.mark.parametrize("cause", Cause)
def test_each_cause_has_its_flag(cause: Cause) -> None:
    suspect = {Cause.UNDER_RANGE, Cause.OVER_RANGE, Cause.ABOVE_LIMIT, Cause.CLOCK}
    special = {
        Cause.NONE: Flag.PASS,
        Cause.NO_VALUE: Flag.MISSING,
        Cause.TIME_UNKNOWN: Flag.NOT_EVALUATED,
    }
    assert flag_of(cause) is (Flag.SUSPECT if cause in suspect else special.get(cause, Flag.FAIL))
