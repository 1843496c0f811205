"""Transfer functions of kinds of transducers against published forms and worked numbers."""

import pytest

from parchd.contract import Cause, Flag
from parchd.physics.adc import Adc, divider_gain
from parchd.physics.causes import flag_of
from parchd.physics.reference import to_gauge_kpa
from parchd.physics.transducers import (
    GENERIC,
    Bridge,
    CurrentLoop,
    DigitalScale,
    LinearVoltage,
    Ratiometric,
    shunt_ma,
)
from parchd.physics.uncertainty import step_kpa

RISING = Ratiometric(low_kpa=0.0, high_kpa=-100.0)
FALLING = Ratiometric(low_kpa=-100.0, high_kpa=0.0)
LOOP = CurrentLoop(low_kpa=0.0, high_kpa=-100.0)


# (A) 10 to 90 % of the supply: V = Vs (0.1 + 0.8 (-P) / 100) rising, V = Vs (0.1 + 0.8 (P + 100) / 100) falling.
@pytest.mark.parametrize(("volts", "expected"), [(0.5, 0), (1.3, -20), (2.1, -40), (2.5, -50), (3.7, -80), (4.5, -100)])
def test_a_voltage_that_rises_with_vacuum_at_5_volts(volts: float, expected: float) -> None:
    assert RISING.gauge_kpa(volts, 5.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("volts", "expected"), [(4.5, 0), (3.7, -20), (2.9, -40), (1.3, -80), (0.5, -100)])
def test_a_voltage_that_falls_with_vacuum_at_5_volts(volts: float, expected: float) -> None:
    assert FALLING.gauge_kpa(volts, 5.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("volts", "expected"), [(0.33, 0), (0.858, -20), (1.386, -40), (2.442, -80), (2.97, -100)])
def test_a_voltage_that_rises_with_vacuum_at_3_3_volts(volts: float, expected: float) -> None:
    assert RISING.gauge_kpa(volts, 3.3) == pytest.approx(expected, abs=1e-9)


def test_a_supply_of_4_75_volts_taken_for_5_costs_three_kilopascals() -> None:
    assert RISING.gauge_kpa(2.375, 4.75) == pytest.approx(-50.0, abs=1e-9)
    assert RISING.gauge_kpa(2.375, 5.00) == pytest.approx(-46.875, abs=1e-9)


# (B) On-chip-amplified silicon, differential 0 to 100 kPa: V = Vs (0.009 P + 0.04), 45 mV/kPa at 5 V.
@pytest.mark.parametrize(("volts", "vacuum_kpa"), [(0.2, 0), (0.65, 10), (2.0, 40), (3.8, 80), (4.7, 100)])
def test_an_amplified_silicon_cell_with_its_low_port_on_the_tensiometer(volts: float, vacuum_kpa: float) -> None:
    swapped = Ratiometric(0.0, -100.0, low_fraction=0.04, high_fraction=0.94, open_below=0.02)
    assert swapped.gauge_kpa(volts, 5.0) == pytest.approx(-vacuum_kpa, abs=1e-9)
    straight = Ratiometric(0.0, 100.0, low_fraction=0.04, high_fraction=0.94, open_below=0.02)
    assert straight.gauge_kpa(volts, 5.0) == pytest.approx(vacuum_kpa, abs=1e-9)


# (E) The line of an open field record (repository brown-ag/alfalfa_gb): mV = 370 + 1.742 cm of water.
@pytest.mark.parametrize(
    ("millivolts", "vacuum_kpa"), [(370.0, 0.0), (455.2, 4.796), (1472.0, 62.04), (1834.0, 82.42), (0.0, -20.83)]
)
def test_the_line_of_a_field_record_in_centimetres_of_water(millivolts: float, vacuum_kpa: float) -> None:
    line = LinearVoltage(v1=0.370, kpa1=0.0, v2=0.370 + 1.742, kpa2=-98.0665)
    assert line.gauge_kpa(millivolts / 1000.0, 0.0) == pytest.approx(-vacuum_kpa, abs=0.0051)


def test_a_dead_line_of_the_field_record_is_a_fault_and_not_twenty_kilopascals_of_free_water() -> None:
    line = LinearVoltage(v1=0.370, kpa1=0.0, v2=2.112, kpa2=-98.0665, fault_below_v=0.2)
    assert line.fault(0.0, 0.0) is Cause.OPEN_CIRCUIT


# Linear 4 to 20 mA, 0 to -100 kPa.
@pytest.mark.parametrize(
    ("milliamperes", "expected"),
    [(3.8, 1.25), (4.0, 0.0), (8.0, -25.0), (12.0, -50.0), (16.0, -75.0), (20.0, -100.0), (20.5, -103.125)],
)
def test_the_line_of_a_current_loop(milliamperes: float, expected: float) -> None:
    assert LOOP.gauge_kpa(milliamperes, 0.0) == pytest.approx(expected, abs=1e-9)


# NAMUR NE 43: valid 3.8 to 20.5 mA, failure below 3.6 and above 21 mA; texts disagree about the gaps.
NE_43 = [
    (0.0, Cause.OPEN_CIRCUIT, Flag.FAIL),
    (3.59, Cause.OPEN_CIRCUIT, Flag.FAIL),
    (3.60, Cause.UNDER_RANGE, Flag.SUSPECT),
    (3.79, Cause.UNDER_RANGE, Flag.SUSPECT),
    (3.80, Cause.NONE, Flag.PASS),
    (4.00, Cause.NONE, Flag.PASS),
    (20.0, Cause.NONE, Flag.PASS),
    (20.5, Cause.NONE, Flag.PASS),
    (20.51, Cause.OVER_RANGE, Flag.SUSPECT),
    (21.0, Cause.OVER_RANGE, Flag.SUSPECT),
    (21.01, Cause.SHORT_CIRCUIT, Flag.FAIL),
]


@pytest.mark.parametrize(("milliamperes", "cause", "flag"), NE_43)
def test_the_bands_of_ne_43(milliamperes: float, cause: Cause, flag: Flag) -> None:
    assert LOOP.fault(milliamperes, 0.0) is cause
    assert flag_of(LOOP.fault(milliamperes, 0.0)) is flag


# Ohm's law for the band limits over common shunts.
SHUNT_VOLTS = {
    100.0: (0.36, 0.38, 0.40, 1.20, 2.00, 2.05, 2.10),
    150.0: (0.54, 0.57, 0.60, 1.80, 3.00, 3.075, 3.15),
    250.0: (0.90, 0.95, 1.00, 3.00, 5.00, 5.125, 5.25),
}


@pytest.mark.parametrize("ohm", SHUNT_VOLTS)
def test_the_bands_of_ne_43_hold_to_the_last_digit_over_a_shunt(ohm: float) -> None:
    currents = [shunt_ma(volts, ohm) for volts in SHUNT_VOLTS[ohm]]
    assert currents == pytest.approx([3.6, 3.8, 4.0, 12.0, 20.0, 20.5, 21.0], abs=1e-12)
    assert [LOOP.fault(current, 0.0).name for current in currents] == [
        "UNDER_RANGE", "NONE", "NONE", "NONE", "NONE", "NONE", "OVER_RANGE",
    ]  # fmt: skip


def test_the_high_failure_of_a_250_ohm_shunt_reaches_a_5_volt_converter_as_its_rail() -> None:
    adc = Adc(bits=12, full_scale_v=5.0)
    assert adc.at_rail(4095)
    assert shunt_ma(adc.volts(4094.0), 250.0) < 20.0


def test_the_whole_chain_from_code_to_pressure() -> None:
    # -40 kPa of a falling voltage at 5 V is 2.9 V, the code 15466.67 of a signed 16-bit converter of 6.144 V.
    adc = Adc(bits=16, full_scale_v=6.144, signed=True)
    assert adc.volts(15467.0) == pytest.approx(2.9000625, abs=1e-9)
    assert FALLING.gauge_kpa(adc.volts(15467.0), 5.0) == pytest.approx(-39.998, abs=0.0005)


# (C) The same family, absolute, 15 to 115 kPa: V = Vs (0.009 P - 0.095), as ten unrelated public drivers have it.
ABSOLUTE = GENERIC["onchip-absolute-115kpa"]
TENSION_AND_VOLTS = [(0, 4.08463), (20, 3.18463), (40, 2.28463), (60, 1.38463), (80, 0.48463)]


@pytest.mark.parametrize(("tension_kpa", "volts"), TENSION_AND_VOLTS)
def test_an_absolute_silicon_cell_less_the_air_is_the_vacuum(tension_kpa: float, volts: float) -> None:
    absolute = ABSOLUTE.indicated_kpa(volts, 5.0)
    assert absolute == pytest.approx(101.325 - tension_kpa, abs=2e-4)
    assert to_gauge_kpa(absolute, ABSOLUTE.reference, 101.325) == pytest.approx(-tension_kpa, abs=2e-4)
    assert ABSOLUTE.indicated_kpa(volts * 5.10 / 5.00, 5.10) == pytest.approx(absolute, abs=1e-9)


@pytest.mark.parametrize(("volts", "tension_kpa"), [(4.16632, 0), (0.49432, 80)])
def test_an_absolute_silicon_cell_at_5_1_volts(volts: float, tension_kpa: float) -> None:
    assert ABSOLUTE.indicated_kpa(volts, 5.10) == pytest.approx(101.325 - tension_kpa, abs=2e-4)


def test_the_generic_kinds_are_the_published_forms() -> None:
    assert GENERIC["onchip-differential-100kpa"].indicated_kpa(2.0, 5.0) == pytest.approx(-40.0, abs=1e-9)
    assert GENERIC["ratiometric-5v-rising"] == RISING
    assert GENERIC["ratiometric-5v-falling"] == FALLING
    assert GENERIC["ratiometric-3v3-rising"].indicated_kpa(1.386, 3.3) == pytest.approx(-40.0, abs=1e-9)
    assert GENERIC["loop-4-20"] == LOOP


# (D) Digital, 10 to 90 % of the scale for -100 to 0 kPa.
DIGITAL_14 = DigitalScale(14, -100.0, 0.0, status_bits=2)
DIGITAL_24 = DigitalScale(24, -100.0, 0.0)


@pytest.mark.parametrize(
    ("code", "expected"), [(14745.6, 0), (12124.16, -20), (9502.72, -40), (4259.84, -80), (1638.4, -100)]
)
def test_a_digital_scale_of_14_bits(code: float, expected: float) -> None:
    assert DIGITAL_14.indicated_kpa(code, 0.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("code", "expected"), [(1677721.6, -100), (15099494.4, 0), (9730785.3, -40)])
def test_a_digital_scale_of_24_bits(code: float, expected: float) -> None:
    assert DIGITAL_24.indicated_kpa(code, 0.0) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("low", "high"), [(5.0, 95.0), (5.0, 85.0), (4.0, 94.0)])
def test_other_percentages_than_10_to_90_exist(low: float, high: float) -> None:
    scale = DigitalScale(14, -100.0, 0.0, low, high)
    assert scale.indicated_kpa(low * 163.84, 0.0) == pytest.approx(-100.0, abs=1e-9)
    assert scale.indicated_kpa(high * 163.84, 0.0) == pytest.approx(0.0, abs=1e-9)


def test_the_two_top_bits_of_a_word_are_status_and_not_pressure() -> None:
    assert DIGITAL_14.indicated_kpa(float(0xC000 | 9503), 0.0) == pytest.approx(-39.9979, abs=1e-4)
    assert DIGITAL_14.fault(float(0xC000 | 9503), 0.0) is Cause.STATUS


# Bridge: V = S Vexc P / P_FS. 3.33 mV/V at 5 V is 16.65 mV for 100 kPa, 0.1665 mV/kPa.
def test_a_bridge_of_3_33_millivolts_per_volt() -> None:
    bridge = Bridge(3.33, 100.0, excitation_v=5.0)
    assert bridge.indicated_kpa(0.01665, 5.0) == pytest.approx(100.0, abs=1e-9)
    assert bridge.indicated_kpa(-0.1665e-3, 5.0) == pytest.approx(-1.0, abs=1e-9)


# Steps in kPa at 40 mV/kPa: 10 bits 5 V 0.122, 12 bits 3.3 V 0.020, 12 bits 5 V 0.031, 16 bits 5 V 0.0019.
@pytest.mark.parametrize(
    ("bits", "volts", "step"), [(10, 5.0, 0.122), (12, 3.3, 0.020), (12, 5.0, 0.031), (16, 5.0, 0.0019)]
)
def test_one_step_of_usual_converters_in_kilopascals(bits: int, volts: float, step: float) -> None:
    assert step_kpa(RISING, Adc(bits, volts), 5.0) == pytest.approx(step, rel=0.02)


def test_a_divider_of_ten_and_twenty_kilohms_brings_5_volts_to_a_3_3_volt_converter() -> None:
    # 20 / (10 + 20) of 4.5 V are 3.0 V at the pin.
    adc = Adc(12, 3.3, gain=divider_gain(10_000.0, 20_000.0))
    code = round(3.0 / 3.3 * 4096)
    assert adc.volts(float(code)) == pytest.approx(4.5, abs=0.0007)
    assert RISING.indicated_kpa(adc.volts(float(code)), 5.0) == pytest.approx(-100.0, abs=0.02)
