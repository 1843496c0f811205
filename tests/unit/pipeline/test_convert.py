"""The whole chain of one tensiometer, from a number on the wire to tension at the cup."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import from_datetime
from parchd.contract import Cause, Unit
from parchd.physics.adc import Adc
from parchd.physics.calibration import Calibration
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric, Transducer
from parchd.pipeline.convert import Converted, Known, compile_conversion
from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.site import tensiometer

RISING = Ratiometric(0.0, -100.0)
FALLING = Ratiometric(-100.0, 0.0)
LOOP = CurrentLoop(0.0, -100.0)
LOOP_100_OHM = CurrentLoop(0.0, -100.0, shunt_ohm=100.0)
MILLIVOLTS_PER_CM = LinearVoltage(0.370, 0.0, 0.370 + 0.1742, -9.80665)
TEN_BITS = Adc(10, 5.0)
TWELVE_BITS = Adc(12, 3.3)
SIGNED = Adc(16, 6.144, signed=True)
MARCH_US = from_datetime(datetime(2026, 3, 1, tzinfo=UTC))
JUNE_US = from_datetime(datetime(2026, 6, 1, tzinfo=UTC))


def chain(transducer: Transducer, adc: Adc | None = None) -> TensiometerSetup:
    """A tensiometer without head and with no limits, so that the tension is the vacuum."""
    return replace(
        tensiometer("north-20", "n20", transducer),
        adc=adc, usable_limit_kpa=200.0, highest_kpa=200.0, lowest_kpa=-200.0,
    )  # fmt: skip


def convert(
    setup: TensiometerSetup,
    value: float,
    unit: Unit,
    *,
    time_us: int = JUNE_US,
    supply_v: float | None = None,
    water_c: float | None = None,
) -> Converted:
    return compile_conversion(setup)(value, unit, time_us, Known(supply_v, water_c))


@pytest.mark.parametrize(
    ("transducer", "adc", "value", "unit", "gauge_kpa"),
    [
        # ratiometric 10 to 90 % of 5 V and of 3.3 V: V = Vs (0.1 + 0.8 vacuum / 100), rising and falling
        (RISING, None, 0.5, Unit.V, 0.0),
        (RISING, None, 1.3, Unit.V, -20.0),
        (RISING, None, 2.5, Unit.V, -50.0),
        (RISING, None, 4500.0, Unit.MV, -100.0),
        (FALLING, None, 2.9, Unit.V, -40.0),
        (FALLING, None, 1300.0, Unit.MV, -80.0),
        (Ratiometric(0.0, -100.0, supply_v=3.3), None, 2.97, Unit.V, -100.0),
        # a unipolar converter: V = code Vref / 2^N; a signed one with a gain: V = code FS / 2^15
        (RISING, TEN_BITS, 512.0, Unit.COUNTS, -50.0),
        (FALLING, SIGNED, 15467.0, Unit.COUNTS, -39.998),
        (Ratiometric(0.0, -100.0, supply_v=3.3), TWELVE_BITS, 2048.0, Unit.COUNTS, -50.0),
        # a divider 1:2 ahead of the converter: 1.25 V at the pin are 2.5 V at the transducer
        (RISING, Adc(12, 3.3, gain=0.5), 1551.515, Unit.COUNTS, -50.0),
        # 4 to 20 mA: P = -100 (I - 4) / 16, directly and over a shunt
        (LOOP, None, 8.0, Unit.MA, -25.0),
        (LOOP, None, 12.0, Unit.MA, -50.0),
        (LOOP_100_OHM, None, 1.6, Unit.V, -75.0),
        (LOOP_100_OHM, None, 1200.0, Unit.MV, -50.0),
        (LOOP_100_OHM, None, 16.0, Unit.MA, -75.0),
        (LOOP_100_OHM, TWELVE_BITS, 1489.0, Unit.COUNTS, -49.976),
        # NE 43: from 3.8 to 20.5 mA a measurement
        (LOOP, None, 3.8, Unit.MA, 1.25),
        (LOOP, None, 20.5, Unit.MA, -103.125),
        # a line through two points: mV = 370 + 1.742 per centimetre of water
        (MILLIVOLTS_PER_CM, None, 455.2, Unit.MV, -4.796),
        (MILLIVOLTS_PER_CM, None, 1.472, Unit.V, -62.04),
        # a device that works the pressure out itself
        (DirectPressure(), None, -33.0, Unit.KPA, -33.0),
        (DirectPressure(vacuum_positive=True), None, 33.0, Unit.KPA, -33.0),
    ],
)
def test_every_chain_gives_the_worked_value(
    transducer: Transducer, adc: Adc | None, value: float, unit: Unit, gauge_kpa: float
) -> None:
    converted = convert(chain(transducer, adc), value, unit)
    assert converted.gauge_kpa == pytest.approx(gauge_kpa, abs=0.005)
    assert converted.tension_kpa == pytest.approx(-gauge_kpa, abs=0.005)
    assert converted.cause is Cause.NONE


@pytest.mark.parametrize(
    ("setup", "value", "unit", "cause"),
    [
        (chain(RISING, TEN_BITS), 0.0, Unit.COUNTS, Cause.SATURATED),
        (chain(RISING, TEN_BITS), 1023.0, Unit.COUNTS, Cause.SATURATED),
        (chain(FALLING, SIGNED), 0x7FFF, Unit.COUNTS, Cause.SATURATED),
        (chain(FALLING, SIGNED), -0x8000, Unit.COUNTS, Cause.SATURATED),
        (chain(FALLING, SIGNED), 0xFFFF, Unit.COUNTS, Cause.OPEN_CIRCUIT),  # -1 read as unsigned
        (chain(RISING), 0.2, Unit.V, Cause.OPEN_CIRCUIT),
        (chain(RISING), 4.9, Unit.V, Cause.SHORT_CIRCUIT),
        (chain(LOOP), 0.0, Unit.MA, Cause.OPEN_CIRCUIT),
        (chain(LOOP), 3.59, Unit.MA, Cause.OPEN_CIRCUIT),
        (chain(LOOP), 21.01, Unit.MA, Cause.SHORT_CIRCUIT),
        (chain(RISING), 2.5, Unit.COUNTS, Cause.UNIT),  # no converter is set up
        (chain(RISING), 12.0, Unit.MA, Cause.UNIT),
        (chain(LOOP), 1.2, Unit.V, Cause.UNIT),  # no shunt is set up
        (chain(DirectPressure()), 2.5, Unit.V, Cause.UNIT),
        (chain(RISING), 20.0, Unit.CELSIUS, Cause.UNIT),
    ],
)
def test_a_fault_is_never_a_value(setup: TensiometerSetup, value: float, unit: Unit, cause: Cause) -> None:
    assert convert(setup, value, unit) == Converted(None, None, cause, "")


@pytest.mark.parametrize(
    ("current_ma", "cause"),
    [(3.6, Cause.UNDER_RANGE), (3.79, Cause.UNDER_RANGE), (20.51, Cause.OVER_RANGE), (21.0, Cause.OVER_RANGE)],
)
def test_a_current_just_outside_its_range_is_kept_with_its_doubt(current_ma: float, cause: Cause) -> None:
    converted = convert(chain(LOOP), current_ma, Unit.MA)
    assert converted.cause is cause
    assert converted.gauge_kpa == pytest.approx(-100.0 * (current_ma - 4.0) / 16.0)


def test_the_measured_supply_counts_instead_of_the_nominal_one() -> None:
    """2.375 V of 4.75 V are half: -50 kPa. Taken as half a volt too little of 5 V they would be -46.88 kPa."""
    measured = replace(chain(RISING), supply_channel="bus1/vs")
    assert convert(measured, 2.375, Unit.V, supply_v=4.75).gauge_kpa == pytest.approx(-50.0)
    assert convert(chain(RISING), 2.375, Unit.V).gauge_kpa == pytest.approx(-46.875)


def test_without_its_measured_supply_a_ratiometric_signal_is_no_value() -> None:
    measured = replace(chain(RISING), supply_channel="bus1/vs")
    assert convert(measured, 2.5, Unit.V) == Converted(None, None, Cause.NO_SUPPLY, "")


@pytest.mark.parametrize("supply_v", [0.0, 3.9, 6.1, -5.0])
def test_a_supply_out_of_tolerance_is_a_fault(supply_v: float) -> None:
    measured = replace(chain(RISING), supply_channel="bus1/vs")
    assert convert(measured, 2.5, Unit.V, supply_v=supply_v) == Converted(None, None, Cause.NO_SUPPLY, "")


def test_a_transducer_that_needs_no_supply_does_without_it() -> None:
    wired = replace(chain(LOOP), supply_channel="bus1/vs")
    assert convert(wired, 12.0, Unit.MA).gauge_kpa == pytest.approx(-50.0)


@pytest.mark.parametrize(("vacuum_kpa", "tension_kpa"), [(30.0, 24.13), (5.87, 0.0), (2.0, -3.87)])
def test_the_head_of_water_comes_off_and_free_water_is_not_clipped(vacuum_kpa: float, tension_kpa: float) -> None:
    """0.60 m of water at 20 C are 5.8734 kPa (rho g h)."""
    setup = tensiometer("north-20", "n20", height_m=0.6)
    assert convert(setup, vacuum_kpa, Unit.KPA).tension_kpa == pytest.approx(tension_kpa, abs=0.005)


def test_the_measured_temperature_sets_the_weight_of_the_water() -> None:
    """1.00 m of water: 9.8064 kPa at 4 C, 9.7303 kPa at 40 C, 9.7891 kPa at the 20 C that hold otherwise."""
    setup = tensiometer("north-20", "n20", height_m=1.0)
    tensions = [convert(setup, 30.0, Unit.KPA, water_c=water_c).tension_kpa for water_c in (4.0, 40.0, None)]
    assert tensions == pytest.approx([20.1936, 20.2697, 20.2109], abs=1e-4)


def test_the_gross_range_is_judged_at_the_cup_and_the_value_stays() -> None:
    setup = replace(tensiometer("north-20", "n20", height_m=1.0), usable_limit_kpa=70.0, highest_kpa=89.0)
    causes = [convert(setup, vacuum_kpa, Unit.KPA).cause for vacuum_kpa in (79.0, 80.0, 99.0, -6.0)]
    assert causes == [Cause.NONE, Cause.ABOVE_LIMIT, Cause.ABOVE_PHYSICAL, Cause.BELOW_PHYSICAL]
    assert convert(setup, 99.0, Unit.KPA).tension_kpa == pytest.approx(89.21, abs=0.01)


def test_what_fails_outweighs_what_is_suspect() -> None:
    setup = replace(chain(LOOP), lowest_kpa=-1.0)
    assert convert(setup, 3.7, Unit.MA).cause is Cause.BELOW_PHYSICAL


def test_a_calibration_by_points_corrects_the_nominal_line() -> None:
    """Nine points at the bench: 1.302 V and 2.104 V belong to -20.00806 and -40.06391 kPa (inverse regression)."""
    transducer = LinearVoltage(0.5, 0.0, 4.5, -100.0)
    volts = (0.503, 0.901, 1.302, 1.699, 2.104, 2.501, 2.899, 3.304, 3.700)
    points = tuple((transducer.gauge_kpa(v, 0.0), -10.0 * step) for step, v in enumerate(volts))
    setup = replace(chain(transducer), calibrations=(Calibration(MARCH_US, "2026-03-01", points),))
    found = [convert(setup, v, Unit.V).gauge_kpa for v in (1.302, 2.104)]
    assert found == pytest.approx([-20.00806, -40.06391], abs=1e-5)


def test_the_calibration_in_force_at_the_time_of_measurement_is_used_and_named() -> None:
    march = Calibration(MARCH_US, "2026-03-01", ((0.5, 0.0),))
    june = Calibration(JUNE_US, "2026-06-01", ((-1.0, 0.0),))
    setup = replace(chain(DirectPressure()), calibrations=(march, june))
    found = [
        (made.gauge_kpa, made.calibration)
        for made in (convert(setup, -30.0, Unit.KPA, time_us=t) for t in (MARCH_US - 1, MARCH_US, JUNE_US - 1, JUNE_US))
    ]
    assert found == [(-30.0, ""), (-30.5, "2026-03-01"), (-30.5, "2026-03-01"), (-29.0, "2026-06-01")]


@given(st.floats(0.26, 4.74), st.floats(-0.5, 2.0))
def test_volts_and_millivolts_say_the_same(volts: float, height_m: float) -> None:
    setup = replace(chain(RISING), height_m=height_m)
    in_volts, in_millivolts = convert(setup, volts, Unit.V), convert(setup, volts * 1000.0, Unit.MV)
    assert in_volts.tension_kpa == pytest.approx(in_millivolts.tension_kpa, abs=1e-9)
    assert in_volts.cause is in_millivolts.cause
