"""One implementation for a live sample and for a column of history."""

import math
import pkgutil
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import parchd.physics
from parchd.contract import Cause
from parchd.physics.adc import Adc
from parchd.physics.atmosphere import ALTITUDE_MAX_M, ALTITUDE_MIN_M, station_pressure_kpa
from parchd.physics.barometer import station_from_sea_level_kpa
from parchd.physics.calibration import Blend, TemperatureEffect, blend, drift_weight, fit, straight
from parchd.physics.flow import total_head_m
from parchd.physics.head import head_kpa, inclined_height_m, tension_kpa
from parchd.physics.levels import column_height_m
from parchd.physics.limit import physical_ceiling_kpa, ratio_limit_kpa, usable_limit_kpa
from parchd.physics.reference import Reference, from_gauge_kpa, to_gauge_kpa
from parchd.physics.transducers import (
    GENERIC,
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
    Transducer,
    shunt_ma,
)
from parchd.physics.water import density_kg_m3, vapour_pressure_kpa

Formula = Callable[[Any], Any]

POINTS = tuple((0.3 + x * (1.02 + 1e-4 * x) + 0.05 * (-1) ** i, x) for i, x in enumerate(range(0, -90, -10)))
LINE, CURVE = fit(POINTS), fit(POINTS, degree=2)
BLEND = blend(LINE, CURVE, 0.3)
EFFECT = TemperatureEffect(0.02, 0.001)

# Name: formula of one argument, lowest and highest argument. Those with powers come out the same to a unit in the last
# place only: NumPy's loops and the C library differ.
POWERS: dict[str, tuple[Formula, float, float]] = {
    "vapour pressure": (vapour_pressure_kpa, -300.0, 300.0),
    "station pressure": (station_pressure_kpa, ALTITUDE_MIN_M, ALTITUDE_MAX_M),
    "limit by temperature": (lambda x: usable_limit_kpa(101.3, x, 0.6), -10.0, 60.0),
}
EXACT: dict[str, tuple[Formula, float, float]] = {
    "density": (density_kg_m3, -300.0, 300.0),
    "head by height": (lambda x: head_kpa(x, 20.0), -3.0, 3.0),
    "head by temperature": (lambda x: head_kpa(0.6, x), -10.0, 60.0),
    "tension by pressure": (lambda x: tension_kpa(x, 0.6, 20.0), -110.0, 50.0),
    "tension by height": (lambda x: tension_kpa(-30.0, x, 20.0), -3.0, 3.0),
    "tension by temperature": (lambda x: tension_kpa(-30.0, 0.6, x), -10.0, 60.0),
    "tension by all": (lambda x: tension_kpa(x, x, x), -10.0, 60.0),
    "sloping tube": (lambda x: inclined_height_m(x, 30.0), -3.0, 3.0),
    "column": (lambda x: column_height_m(x, 0.5), -1.0, 2.0),
    "column by water": (lambda x: column_height_m(0.5 + 0.0 * x, x), -1.0, 2.0),
    "ceiling": (lambda x: physical_ceiling_kpa(x, 20.0, 0.6), 50.0, 110.0),
    "limit by margin": (lambda x: usable_limit_kpa(101.3, 20.0, 0.6, x), 0.0, 30.0),
    "ratio limit": (lambda x: ratio_limit_kpa(x, 20.0, 0.6), 50.0, 110.0),
    "unreduced": (lambda x: station_from_sea_level_kpa(x, 700.0), 95.0, 106.0),
    "absolute": (lambda x: to_gauge_kpa(x, Reference.ABSOLUTE, 98.0), 10.0, 110.0),
    "sealed": (lambda x: to_gauge_kpa(x, Reference.SEALED, 98.0), -100.0, 10.0),
    "by the air": (lambda x: to_gauge_kpa(60.0 + 0.0 * x, Reference.ABSOLUTE, x), 60.0, 110.0),
    "back to absolute": (lambda x: from_gauge_kpa(x, Reference.ABSOLUTE, 98.0), -100.0, 10.0),
    "unsigned codes": (Adc(12, 3.3, steps="2^N-1").volts, 0.0, 4095.0),
    "signed codes": (Adc(16, 6.144, signed=True, gain=2.0).volts, -32768.0, 65535.0),
    "ratiometric by signal": (lambda x: Ratiometric(0.0, -100.0).indicated_kpa(x, 4.9), 0.0, 5.0),
    "ratiometric by supply": (lambda x: Ratiometric(0.0, -100.0).indicated_kpa(2.5, x), 4.0, 6.0),
    "current loop": (lambda x: CurrentLoop(0.0, -100.0).indicated_kpa(x, 0.0), 0.0, 25.0),
    "linear voltage": (lambda x: LinearVoltage(0.5, 0.0, 4.5, -100.0).indicated_kpa(x, 0.0), 0.0, 5.0),
    "bridge": (lambda x: Bridge(3.33, 100.0, vacuum_positive=True).indicated_kpa(x, 4.9), -0.02, 0.02),
    "digital": (lambda x: DigitalScale(14, -100.0, 0.0, status_bits=2).indicated_kpa(x, 0.0), 0.0, 65535.0),
    "direct": (lambda x: DirectPressure().indicated_kpa(x, 0.0), -110.0, 110.0),
    "direct, vacuum positive": (lambda x: DirectPressure(vacuum_positive=True).indicated_kpa(x, 0.0), -110.0, 110.0),
    "shunt": (lambda x: shunt_ma(x, 150.0), 0.0, 5.0),
    "given line": (straight(0.4, 0.98).reference_kpa, -110.0, 50.0),
    "line": (LINE.reference_kpa, -110.0, 50.0),
    "line, inverse": (LINE.indicated_kpa, -110.0, 50.0),
    "line, uncertainty": (lambda x: LINE.u_kpa(x, 5), -110.0, 50.0),
    "curve": (CURVE.reference_kpa, -110.0, 50.0),
    "curve, inverse": (CURVE.indicated_kpa, -110.0, 50.0),
    "curve, uncertainty": (CURVE.u_kpa, -110.0, 50.0),
    "blend": (BLEND.reference_kpa, -110.0, 50.0),
    "blend, uncertainty": (BLEND.u_kpa, -110.0, 50.0),
    "blend by weight": (lambda x: Blend(LINE, CURVE, x).reference_kpa(-30.0), 0.0, 1.0),
    "blend by weight, uncertainty": (lambda x: Blend(LINE, CURVE, x).u_kpa(-30.0), 0.0, 1.0),
    "weight": (lambda x: drift_weight(x, 1_000, 2_000), 0.0, 3_000.0),
    "temperature by signal": (lambda x: EFFECT.at_reference_kpa(x, 35.0, 0.3), -110.0, 50.0),
    "temperature": (lambda x: EFFECT.at_reference_kpa(-30.0, x, 0.3), -10.0, 60.0),
    "total head": (lambda x: total_head_m(x, 0.3), -10.0, 90.0),
}
FORMULAE = POWERS | EXACT


@pytest.mark.parametrize("name", FORMULAE)
@settings(deadline=None, max_examples=50)
@given(data=st.data())
def test_an_array_gives_what_each_number_gives(name: str, data: st.DataObject) -> None:
    formula, lowest, highest = FORMULAE[name]
    values = data.draw(st.lists(st.floats(lowest, highest), min_size=1, max_size=20))
    together = formula(np.array(values))
    assert isinstance(together, np.ndarray)
    assert together.dtype == np.float64
    tolerance = 1e-13 if name in POWERS else 0.0
    np.testing.assert_allclose(together, [formula(value) for value in values], rtol=tolerance, atol=tolerance)


@pytest.mark.parametrize("name", FORMULAE)
def test_a_missing_value_stays_missing(name: str) -> None:
    formula, lowest, _ = FORMULAE[name]
    assert math.isnan(formula(math.nan))
    together = formula(np.array([lowest, math.nan]))
    assert not math.isnan(together[0])
    assert math.isnan(together[1])


KINDS: list[Transducer] = [
    *GENERIC.values(),
    CurrentLoop(0.0, -100.0, 150.0),
    LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_above_v=4.8),
]
EDGES = [0.0, 0.25, 0.3, 1.0, 3.6, 3.8, 4.0, 4.75, 20.5, 21.0, 820.0, 15564.0, 16383.0, 16384.0, 2.0**24, 2.0**26]


@pytest.mark.parametrize("kind", KINDS, ids=str)
@settings(deadline=None, max_examples=50)
@given(
    signals=st.lists(st.sampled_from(EDGES) | st.floats(-1.0, 30.0) | st.floats(0.0, 7e4), min_size=1, max_size=20),
    supply_v=st.floats(0.0, 7.0),
)
def test_a_column_of_signals_has_the_faults_of_each(kind: Transducer, signals: list[float], supply_v: float) -> None:
    column = np.array(signals)
    together = kind.faults(column, supply_v)
    assert together.dtype == np.uint8
    assert [Cause(number) for number in together] == [kind.fault(signal, supply_v) for signal in signals]
    np.testing.assert_array_equal(kind.faults(column, np.full(len(signals), supply_v)), together)


@settings(deadline=None)
@given(
    st.builds(Adc, bits=st.integers(2, 24), full_scale_v=st.just(5.0), signed=st.booleans()),
    st.lists(st.integers(-40_000, 70_000) | st.floats(-10.0, 300.0) | st.just(math.nan), min_size=1, max_size=20),
)
def test_a_column_of_codes_has_the_rails_of_each(adc: Adc, codes: list[float]) -> None:
    expected = [adc.at_rail(code) for code in codes]
    np.testing.assert_array_equal(adc.at_rails(np.array(codes, dtype=np.float64)), expected)


def test_the_physics_do_without_numpy() -> None:
    modules = pkgutil.walk_packages(parchd.physics.__path__, "parchd.physics.")
    imports = "; ".join(f"import {module.name}" for module in modules)
    assert "parchd.physics.calibration.curve" in imports
    check = f"{imports}; import sys; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", check], check=False).returncode == 0
