import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.barometer import SWING_KPA, WEATHER_KPA, Believed, barometer_check, station_from_sea_level_kpa

ALTITUDES = st.floats(-200.0, 4000.0)
WEATHER = st.floats(-WEATHER_KPA, WEATHER_KPA)


@settings(deadline=None)
@given(ALTITUDES, WEATHER)
def test_a_barometer_at_the_site_is_believed_in_any_weather(altitude_m: float, weather_kpa: float) -> None:
    assert barometer_check(station_pressure_kpa(altitude_m) + weather_kpa, altitude_m) is Believed.PLAUSIBLE


@settings(deadline=None)
@given(st.floats(650.0, 4000.0), WEATHER)
def test_a_barometer_reduced_to_sea_level_is_found_out(altitude_m: float, weather_kpa: float) -> None:
    assert barometer_check(station_pressure_kpa(0.0) + weather_kpa, altitude_m) is Believed.REDUCED


@settings(deadline=None)
@given(st.floats(150.0, 4000.0), st.floats(-0.2, 0.2))
def test_a_mean_over_weeks_finds_it_out_at_low_altitude_too(altitude_m: float, off_kpa: float) -> None:
    assert barometer_check(station_pressure_kpa(0.0) + off_kpa, altitude_m, swing_kpa=1.5) is Believed.REDUCED
    assert barometer_check(station_pressure_kpa(altitude_m) + off_kpa, altitude_m, swing_kpa=1.5) is Believed.PLAUSIBLE


@pytest.mark.parametrize("barometer_kpa", [1013.25, 10.1, 0.0, -40.0, 95.9, 120.0, float("nan")])
def test_what_is_neither_is_not_believed(barometer_kpa: float) -> None:
    assert barometer_check(barometer_kpa, 1000.0) is Believed.IMPLAUSIBLE


def test_at_the_edge_of_the_swing_a_barometer_is_still_believed() -> None:
    assert barometer_check(station_pressure_kpa(2000.0) + SWING_KPA, 2000.0) is Believed.PLAUSIBLE


@settings(deadline=None)
@given(ALTITUDES)
def test_undoing_the_reduction_gives_the_pressure_at_the_site(altitude_m: float) -> None:
    expected = station_pressure_kpa(altitude_m)
    assert station_from_sea_level_kpa(station_pressure_kpa(0.0), altitude_m) == pytest.approx(expected, abs=1e-9)
