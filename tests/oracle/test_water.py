"""Water against steam tables, FAO-56 and an independent program."""

import numpy as np
import pytest
import refet.calcs

from parchd.physics.water import density_kg_m3, vapour_pressure_kpa

# IAPWS-95 at 101.325 kPa, computed with two programs (iapws 1.5.5 and chemicals 1.5.2) that agree to all digits.
IAPWS_95 = {
    4: 999.9749, 5: 999.9666, 10: 999.7025, 15: 999.1026, 20: 998.2072, 25: 997.0476, 30: 995.6495,
    35: 994.0333, 40: 992.2164,
}  # fmt: skip

# Tanaka et al. 2001, Metrologia 38:301: the equation evaluated independently, three decimals.
TANAKA = {0: 999.843, 4: 999.975, 5: 999.967, 10: 999.703, 15: 999.103, 20: 998.207, 25: 997.047, 30: 995.649,
          35: 994.033, 40: 992.215}  # fmt: skip

# FAO-56 eq. 11, evaluated independently (pyet 1.5.0, refet 0.5.0), three decimals.
VAPOUR = {0: 0.611, 5: 0.872, 10: 1.228, 15: 1.705, 20: 2.338, 25: 3.168, 30: 4.243, 35: 5.623, 40: 7.376, 45: 9.583}


@pytest.mark.parametrize(("temperature_c", "expected"), IAPWS_95.items())
def test_density_agrees_with_the_steam_tables(temperature_c: float, expected: float) -> None:
    assert density_kg_m3(temperature_c) == pytest.approx(expected, abs=0.0015)


@pytest.mark.parametrize(("temperature_c", "expected"), TANAKA.items())
def test_density_is_that_of_tanaka(temperature_c: float, expected: float) -> None:
    assert density_kg_m3(temperature_c) == pytest.approx(expected, abs=0.00051)


@pytest.mark.parametrize(("temperature_c", "expected"), [(24.5, 3.075), (15.0, 1.705)])
def test_vapour_pressure_is_that_of_fao_56_example_3(temperature_c: float, expected: float) -> None:
    assert vapour_pressure_kpa(temperature_c) == pytest.approx(expected, abs=0.0005)


def test_the_mean_vapour_pressure_of_fao_56_example_3_comes_out() -> None:
    assert (vapour_pressure_kpa(24.5) + vapour_pressure_kpa(15.0)) / 2 == pytest.approx(2.39, abs=0.005)


@pytest.mark.parametrize(("temperature_c", "expected"), VAPOUR.items())
def test_vapour_pressure_keeps_to_the_table(temperature_c: float, expected: float) -> None:
    assert vapour_pressure_kpa(temperature_c) == pytest.approx(expected, abs=0.001)


def test_vapour_pressure_agrees_with_refet() -> None:
    temperature_c = np.linspace(-5.0, 50.0, 111)
    theirs = refet.calcs.sat_vapor_pressure(temperature_c)
    np.testing.assert_allclose(vapour_pressure_kpa(temperature_c), theirs, rtol=1e-12)
