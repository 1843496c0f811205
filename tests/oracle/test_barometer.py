"""Barometers reduced to sea level against an independent program and the standard atmosphere."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.barometer import Believed, barometer_check, station_from_sea_level_kpa
from parchd.physics.reference import gauge_from_absolute_kpa

# metpy 1.7.1, altimeter_to_station_pressure of 1013.25 hPa.
STATION_KPA = {500.0: 95.49, 1000.0: 89.90, 1800.0: 81.51}


@pytest.mark.parametrize(("altitude_m", "expected"), STATION_KPA.items())
def test_a_reduced_pressure_goes_back_to_the_pressure_at_the_site(altitude_m: float, expected: float) -> None:
    assert station_from_sea_level_kpa(101.325, altitude_m) == pytest.approx(expected, abs=0.3)


@pytest.mark.parametrize("altitude_m", range(0, 3001, 500))
def test_the_standard_atmosphere_reduced_and_back_stays_within_half_a_kilopascal(altitude_m: float) -> None:
    standard_kpa = ATMOSPHERE_1976(altitude_m).P / 1000.0
    assert station_from_sea_level_kpa(101.325, altitude_m) == pytest.approx(standard_kpa, abs=0.45)


def test_the_trap_of_sea_level_at_1000_metres_costs_eleven_kilopascals() -> None:
    # FAO-56 eq. 7: 101.30 kPa against 90.02 kPa.
    at_site, reduced = station_pressure_kpa(1000.0), station_pressure_kpa(0.0)
    wrong, right = gauge_from_absolute_kpa(50.0, reduced), gauge_from_absolute_kpa(50.0, at_site)
    assert right - wrong == pytest.approx(11.3, abs=0.05)
    assert barometer_check(reduced, 1000.0) is Believed.REDUCED
    assert barometer_check(at_site, 1000.0) is Believed.PLAUSIBLE
