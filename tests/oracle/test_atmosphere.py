"""Pressure of the air against FAO-56, an independent program and the standard atmosphere."""

import numpy as np
import pytest
import refet.calcs
from fluids.atmosphere import ATMOSPHERE_1976

from parchd.physics.atmosphere import station_pressure_kpa

# FAO-56 eq. 7 evaluated independently, two decimals.
TABLE = {0: 101.30, 100: 100.12, 200: 98.96, 300: 97.80, 500: 95.53, 800: 92.19, 1000: 90.02, 1500: 84.78, 1800: 81.76,
         2000: 79.79, 2500: 75.04, 3000: 70.51, 4000: 62.14}  # fmt: skip


@pytest.mark.parametrize(("altitude_m", "expected"), [(1800.0, 81.8), (1200.0, 87.9)])
def test_the_worked_examples_of_fao_56_come_out(altitude_m: float, expected: float) -> None:
    # FAO-56 example 2 (1800 m) and example 4's site (1200 m), as the pyet 1.5.0 test suite quotes them.
    assert station_pressure_kpa(altitude_m) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(("altitude_m", "expected"), TABLE.items())
def test_the_table_comes_out(altitude_m: float, expected: float) -> None:
    assert station_pressure_kpa(altitude_m) == pytest.approx(expected, abs=0.0055)


def test_it_agrees_with_refet() -> None:
    altitude_m = np.linspace(-400.0, 5000.0, 109)
    theirs = refet.calcs.air_pressure(altitude_m, method="asce")
    np.testing.assert_allclose(station_pressure_kpa(altitude_m), theirs, rtol=1e-12)


@pytest.mark.parametrize("altitude_m", range(0, 3001, 250))
def test_it_stays_within_what_it_says_of_the_standard_atmosphere(altitude_m: float) -> None:
    standard_kpa = ATMOSPHERE_1976(altitude_m).P / 1000.0
    assert -0.05 < station_pressure_kpa(altitude_m) - standard_kpa < 0.4
