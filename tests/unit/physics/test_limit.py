import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.atmosphere import ALTITUDE_MAX_M, ALTITUDE_MIN_M, station_pressure_kpa
from parchd.physics.limit import GAS_MARGIN_KPA, physical_ceiling_kpa, ratio_limit_kpa, usable_limit_kpa

ALTITUDES = st.floats(ALTITUDE_MIN_M, ALTITUDE_MAX_M - 100.0)
TEMPERATURES = st.floats(0.0, 60.0)
HEIGHTS = st.floats(-1.0, 2.0)


@settings(deadline=None)
@given(ALTITUDES, TEMPERATURES, HEIGHTS)
def test_the_limit_falls_with_altitude(altitude_m: float, water_c: float, height_m: float) -> None:
    low, high = station_pressure_kpa(altitude_m), station_pressure_kpa(altitude_m + 100.0)
    assert usable_limit_kpa(high, water_c, height_m) < usable_limit_kpa(low, water_c, height_m)


@settings(deadline=None)
@given(ALTITUDES, TEMPERATURES, HEIGHTS)
def test_the_ceiling_is_the_limit_without_its_margin(altitude_m: float, water_c: float, height_m: float) -> None:
    pressure_kpa = station_pressure_kpa(altitude_m)
    ceiling_kpa = physical_ceiling_kpa(pressure_kpa, water_c, height_m)
    assert ceiling_kpa - usable_limit_kpa(pressure_kpa, water_c, height_m) == pytest.approx(GAS_MARGIN_KPA)
    assert usable_limit_kpa(pressure_kpa, water_c, height_m, 0.0) == ceiling_kpa


def test_a_limit_of_eighty_can_never_be_reached_at_1500_metres() -> None:
    assert usable_limit_kpa(station_pressure_kpa(1500.0), 20.0, 0.0) < 80.0


@settings(deadline=None)
@given(ALTITUDES, TEMPERATURES, HEIGHTS)
def test_the_head_comes_off_either_model_alike(altitude_m: float, water_c: float, height_m: float) -> None:
    pressure_kpa = station_pressure_kpa(altitude_m)
    lost = ratio_limit_kpa(pressure_kpa, water_c, 0.0) - ratio_limit_kpa(pressure_kpa, water_c, height_m)
    offset = usable_limit_kpa(pressure_kpa, water_c, 0.0) - usable_limit_kpa(pressure_kpa, water_c, height_m)
    assert lost == pytest.approx(offset, abs=1e-9)
