"""One implementation for a live sample and for a column of history."""

import math
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.adc import Adc
from parchd.physics.atmosphere import ALTITUDE_MAX_M, ALTITUDE_MIN_M, station_pressure_kpa
from parchd.physics.calibration import straight
from parchd.physics.head import head_kpa, inclined_height_m, tension_kpa
from parchd.physics.limit import physical_ceiling_kpa, usable_limit_kpa
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric, shunt_ma
from parchd.physics.water import density_kg_m3, vapour_pressure_kpa

Formula = Callable[[Any], Any]

LINE = straight(0.4, 0.98)

# Name: formula of one argument, lowest and highest argument.
FORMULAE: dict[str, tuple[Formula, float, float]] = {
    "density": (density_kg_m3, -300.0, 300.0),
    "vapour pressure": (vapour_pressure_kpa, -300.0, 300.0),
    "station pressure": (station_pressure_kpa, ALTITUDE_MIN_M, ALTITUDE_MAX_M),
    "head by height": (lambda x: head_kpa(x, 20.0), -3.0, 3.0),
    "head by temperature": (lambda x: head_kpa(0.6, x), -10.0, 60.0),
    "tension by pressure": (lambda x: tension_kpa(x, 0.6, 20.0), -110.0, 50.0),
    "tension by height": (lambda x: tension_kpa(-30.0, x, 20.0), -3.0, 3.0),
    "tension by temperature": (lambda x: tension_kpa(-30.0, 0.6, x), -10.0, 60.0),
    "tension by all": (lambda x: tension_kpa(x, x, x), -10.0, 60.0),
    "sloping tube": (lambda x: inclined_height_m(x, 30.0), -3.0, 3.0),
    "ceiling": (lambda x: physical_ceiling_kpa(x, 20.0, 0.6), 50.0, 110.0),
    "limit by temperature": (lambda x: usable_limit_kpa(101.3, x, 0.6), -10.0, 60.0),
    "limit by margin": (lambda x: usable_limit_kpa(101.3, 20.0, 0.6, x), 0.0, 30.0),
    "unsigned codes": (Adc(12, 3.3, steps="2^N-1").volts, 0.0, 4095.0),
    "signed codes": (Adc(16, 6.144, signed=True, gain=2.0).volts, -32768.0, 65535.0),
    "ratiometric by signal": (lambda x: Ratiometric(0.0, -100.0).gauge_kpa(x, 4.9), 0.0, 5.0),
    "ratiometric by supply": (lambda x: Ratiometric(0.0, -100.0).gauge_kpa(2.5, x), 4.0, 6.0),
    "current loop": (lambda x: CurrentLoop(0.0, -100.0).gauge_kpa(x, 0.0), 0.0, 25.0),
    "linear voltage": (lambda x: LinearVoltage(0.5, 0.0, 4.5, -100.0).gauge_kpa(x, 0.0), 0.0, 5.0),
    "direct": (lambda x: DirectPressure().gauge_kpa(x, 0.0), -110.0, 110.0),
    "direct, vacuum positive": (lambda x: DirectPressure(vacuum_positive=True).gauge_kpa(x, 0.0), -110.0, 110.0),
    "shunt": (lambda x: shunt_ma(x, 150.0), 0.0, 5.0),
    "calibration": (LINE.reference_kpa, -110.0, 50.0),
    "calibration, inverse": (LINE.indicated_kpa, -110.0, 50.0),
}


@pytest.mark.parametrize("name", FORMULAE)
@settings(deadline=None, max_examples=50)
@given(data=st.data())
def test_an_array_gives_what_each_number_gives(name: str, data: st.DataObject) -> None:
    formula, lowest, highest = FORMULAE[name]
    values = data.draw(st.lists(st.floats(lowest, highest), min_size=1, max_size=20))
    together = formula(np.array(values))
    assert isinstance(together, np.ndarray)
    assert together.dtype == np.float64
    # Powers differ by a unit in the last place between NumPy's loops and the C library.
    np.testing.assert_allclose(together, [formula(value) for value in values], rtol=1e-13, atol=1e-13)


@pytest.mark.parametrize("name", FORMULAE)
def test_a_missing_value_stays_missing(name: str) -> None:
    formula, lowest, _ = FORMULAE[name]
    assert math.isnan(formula(math.nan))
    together = formula(np.array([lowest, math.nan]))
    assert not math.isnan(together[0])
    assert math.isnan(together[1])


def test_the_physics_do_without_numpy() -> None:
    modules = "adc atmosphere calibration causes head limit transducers water"
    imports = "; ".join(f"import parchd.physics.{module}" for module in modules.split())
    check = f"{imports}; import sys; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", check], check=False).returncode == 0
