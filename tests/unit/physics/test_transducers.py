import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, Unit
from parchd.physics.causes import flag_of
from parchd.physics.reference import Reference
from parchd.physics.transducers import (
    GENERIC,
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
    Transducer,
)

RATIOMETRIC = Ratiometric(0.0, -100.0)
LOOP = CurrentLoop(0.0, -100.0)
LINEAR = LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.2, fault_above_v=4.8)
BRIDGE = Bridge(sensitivity_mv_per_v=3.33, full_scale_kpa=100.0, zero_mv_per_v=0.1)
DIGITAL = DigitalScale(14, -100.0, 0.0, status_bits=2)

KINDS: list[tuple[Transducer, Unit, bool]] = [
    (RATIOMETRIC, Unit.V, True),
    (LOOP, Unit.MA, False),
    (LINEAR, Unit.V, False),
    (BRIDGE, Unit.V, True),
    (DIGITAL, Unit.COUNTS, False),
    (DirectPressure(), Unit.KPA, False),
]


@pytest.mark.parametrize(("kind", "unit", "needs_supply"), KINDS)
def test_each_kind_says_its_unit_and_whether_the_supply_matters(
    kind: Transducer, unit: Unit, needs_supply: bool
) -> None:
    assert kind.unit is unit
    assert kind.needs_supply is needs_supply
    assert (kind.nominal_supply_v > 0.0) is needs_supply
    assert kind.reference is Reference.GAUGE


@pytest.mark.parametrize("kind", [kind for kind, _, _ in KINDS])
def test_the_older_name_gives_the_indicated_pressure(kind: Transducer) -> None:
    assert kind.gauge_kpa(2.5, 5.0) == kind.indicated_kpa(2.5, 5.0)


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


def test_a_bridge_follows_its_excitation_and_starts_from_its_zero() -> None:
    assert BRIDGE.indicated_kpa(0.0001 * 5.0, 5.0) == pytest.approx(0.0, abs=1e-9)
    assert BRIDGE.indicated_kpa((0.1 - 1.665) * 4.6 / 1000.0, 4.6) == pytest.approx(-50.0, abs=1e-9)


def test_a_bridge_with_its_ports_exchanged_rises_with_vacuum() -> None:
    swapped = Bridge(3.33, 100.0, vacuum_positive=True)
    assert swapped.indicated_kpa(0.01665, 5.0) == pytest.approx(-100.0, abs=1e-9)


@pytest.mark.parametrize("volts", [2.5, -2.5, 5.0, 0.0256, -0.0250])
def test_a_broken_bridge_wire_is_a_fault_on_either_side(volts: float) -> None:
    assert BRIDGE.fault(volts, 5.0) is Cause.OPEN_CIRCUIT


@pytest.mark.parametrize("volts", [0.0, 0.0254, -0.0244, -0.01665])
def test_a_bridge_may_go_beyond_its_full_scale(volts: float) -> None:
    assert BRIDGE.fault(volts, 5.0) is Cause.NONE


def test_a_bridge_without_its_excitation_is_a_fault() -> None:
    assert BRIDGE.fault(0.0, 0.2) is Cause.NO_SUPPLY


@pytest.mark.parametrize("status", [0b01, 0b10, 0b11])
def test_any_status_bit_is_a_fault_though_the_code_looks_good(status: int) -> None:
    word = float(status << 14 | 9503)
    assert DIGITAL.fault(word, 0.0) is Cause.STATUS
    assert DIGITAL.indicated_kpa(word, 0.0) == DIGITAL.indicated_kpa(9503.0, 0.0)


@pytest.mark.parametrize(
    ("code", "cause"),
    [
        (-1.0, Cause.SATURATED),
        (0.0, Cause.SATURATED),
        (819.0, Cause.SATURATED),
        (820.0, Cause.NONE),
        (15564.0, Cause.NONE),
        (15565.0, Cause.SATURATED),
        (16383.0, Cause.SATURATED),
        (65536.0, Cause.SATURATED),
    ],
)
def test_a_digital_code_too_far_outside_its_percentages_is_a_fault(code: float, cause: Cause) -> None:
    assert DIGITAL.fault(code, 0.0) is cause


@pytest.mark.parametrize("bits", [8, 14, 24, 32])
def test_the_end_codes_of_a_digital_scale_are_faults_whatever_the_tolerance(bits: int) -> None:
    scale = DigitalScale(bits, -100.0, 0.0, 0.0, 100.0, tolerance_percent=50.0)
    top = 2.0**bits - 1.0
    assert [scale.fault(code, 0.0) for code in (0.0, 0.5, top - 0.5, top)] == [Cause.SATURATED] * 4
    assert [scale.fault(code, 0.0) for code in (1.0, top - 1.0)] == [Cause.NONE] * 2


@settings(deadline=None)
@given(st.sampled_from(list(GENERIC)), st.sampled_from([-math.inf, math.inf]))
def test_no_generic_kind_but_a_finished_number_takes_a_signal_beyond_all_ends(name: str, signal: float) -> None:
    kind = GENERIC[name]
    one_sided = name == "volts-0-10" and signal < 0.0
    good = kind.unit is Unit.KPA or one_sided
    assert (kind.fault(signal, kind.nominal_supply_v) is Cause.NONE) is good


@pytest.mark.parametrize("name", GENERIC)
def test_each_generic_kind_spans_the_vacuum_of_a_tensiometer(name: str) -> None:
    kind = GENERIC[name]
    if kind.unit is Unit.KPA:
        return
    share = {"V": 1.0, "mA": 4.0, "counts": 2.0**24 if "24" in name else 2.0**14}[kind.unit]
    signals = [share * step / 2000.0 for step in range(-20_000, 20_001)]
    pressures = [
        kind.indicated_kpa(signal, kind.nominal_supply_v)
        for signal in signals
        if kind.fault(signal, kind.nominal_supply_v) is Cause.NONE
    ]
    span = max(pressures) - min(pressures)
    assert 100.0 <= span <= 320.0


def test_a_generic_kind_can_be_changed_and_its_fault_levels_follow() -> None:
    over_a_shunt = replace(GENERIC["loop-4-20"], shunt_ohm=150.0)  # type: ignore[type-var]  # all kinds are dataclasses
    assert over_a_shunt.fault(0.0, 0.0) is Cause.OPEN_CIRCUIT
    eager = replace(RATIOMETRIC, open_below=0.09)
    assert (RATIOMETRIC.fault(0.4, 5.0), eager.fault(0.4, 5.0)) == (Cause.NONE, Cause.OPEN_CIRCUIT)


def test_only_the_absolute_kinds_need_the_pressure_of_the_air() -> None:
    assert {name for name, kind in GENERIC.items() if kind.reference.needs_air} == {
        "onchip-absolute-115kpa", "absolute-kpa",
    }  # fmt: skip


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
    (lambda: Bridge(0.0, 100.0), "sensitivity of a bridge must be above 0 mV/V"),
    (lambda: Bridge(3.33, math.nan), "full scale of a bridge must be above 0 kPa"),
    (lambda: Bridge(3.33, 100.0, excitation_v=0.0), "excitation must be above 0 V"),
    (lambda: Bridge(3.33, 100.0, zero_mv_per_v=math.inf), "zero of a bridge must be a number"),
    (lambda: Bridge(3.33, 100.0, over_range=0.9), "over_range counts full scales"),
    (lambda: Bridge(3.33, 100.0, supply_tolerance=1.0), "excitation's tolerance"),
    (lambda: Bridge(3.33, 100.0, vacuum_positive=True, reference=Reference.ABSOLUTE), "only a gauge can rise"),
    (lambda: DigitalScale(7, -100.0, 0.0), "8 to 32 bits"),
    (lambda: DigitalScale(14, -100.0, 0.0, status_bits=9), "0 to 8 status bits"),
    (lambda: DigitalScale(14, -100.0, 0.0, low_percent=90.0, high_percent=10.0), "percentages must rise"),
    (lambda: DigitalScale(14, -100.0, 0.0, high_percent=101.0), "percentages must rise"),
    (lambda: DigitalScale(14, -100.0, 0.0, tolerance_percent=-1.0), "tolerance must be 0 to 100"),
    (lambda: DigitalScale(14, 0.0, 0.0), "two different pressures"),
    (lambda: DirectPressure(vacuum_positive=True, reference=Reference.SEALED), "only a gauge can count vacuum"),
]


@pytest.mark.parametrize(("build", "says"), WRONG)
def test_a_data_sheet_that_makes_no_sense_is_refused_in_a_sentence(build: Callable[[], Transducer], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        build()


@pytest.mark.parametrize("cause", Cause)
def test_each_cause_has_its_flag(cause: Cause) -> None:
    suspect = {
        Cause.UNDER_RANGE, Cause.OVER_RANGE, Cause.ABOVE_LIMIT, Cause.CLOCK, Cause.SERVICE, Cause.SPIKE,
        Cause.RISE_RATE, Cause.FLAT_LINE, Cause.ATTENUATED, Cause.GAP, Cause.DOUBTED,
    }  # fmt: skip
    special = {
        Cause.NONE: Flag.PASS,
        Cause.NO_VALUE: Flag.MISSING,
        Cause.TIME_UNKNOWN: Flag.NOT_EVALUATED,
    }
    assert flag_of(cause) is (Flag.SUSPECT if cause in suspect else special.get(cause, Flag.FAIL))
