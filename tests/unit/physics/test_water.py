import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.water import density_kg_m3, vapour_pressure_kpa


@pytest.mark.parametrize(("beyond_c", "end_c"), [(-5.0, 0.0), (-1e300, 0.0), (55.0, 40.0), (1e300, 40.0)])
def test_density_beyond_its_range_is_that_of_the_nearer_end(beyond_c: float, end_c: float) -> None:
    assert density_kg_m3(beyond_c) == density_kg_m3(end_c)


@pytest.mark.parametrize(("beyond_c", "end_c"), [(-237.3, -40.0), (-1e300, -40.0), (150.0, 100.0)])
def test_vapour_pressure_of_a_broken_thermometer_is_that_of_the_nearer_end(beyond_c: float, end_c: float) -> None:
    assert vapour_pressure_kpa(beyond_c) == vapour_pressure_kpa(end_c)


@settings(deadline=None)
@given(st.floats(4.0, 39.9))
def test_water_above_four_degrees_gets_lighter_and_its_vapour_stronger(temperature_c: float) -> None:
    assert density_kg_m3(temperature_c + 0.1) < density_kg_m3(temperature_c)
    assert vapour_pressure_kpa(temperature_c + 0.1) > vapour_pressure_kpa(temperature_c)
