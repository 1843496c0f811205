"""The usable limit against published limits and a table made by another program (FAO-56 eq. 7 and 11)."""

import pytest

from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.limit import physical_ceiling_kpa, ratio_limit_kpa, usable_limit_kpa

CEILING_KPA = {0.0: 98.96, 500.0: 93.19, 1000.0: 87.69, 1500.0: 82.44, 1800.0: 79.42, 2000.0: 77.45, 2500.0: 72.70,
               3000.0: 68.18}  # fmt: skip
LIMIT_KPA = {0.0: 85.0, 500.0: 79.2, 1000.0: 73.7, 1500.0: 68.4, 1800.0: 65.4, 2000.0: 63.4, 2500.0: 58.7, 3000.0: 54.2}
RATIO_KPA = {0.0: 86.1, 500.0: 81.2, 1000.0: 76.5, 1500.0: 72.1, 1800.0: 69.5, 2000.0: 67.8, 2500.0: 63.8, 3000.0: 59.9}

# Standard atmosphere less IAPWS vapour pressure at 20 C (fluids 1.3.1, iapws 1.5.5): another model for both terms.
CEILING_US76_KPA = {0.0: 98.99, 500.0: 93.12, 1000.0: 87.54, 1500.0: 82.22, 1800.0: 79.16, 3000.0: 67.78}


@pytest.mark.parametrize(("altitude_m", "expected"), CEILING_KPA.items())
def test_the_physical_ceiling_keeps_to_the_table(altitude_m: float, expected: float) -> None:
    assert physical_ceiling_kpa(station_pressure_kpa(altitude_m), 20.0, 0.0) == pytest.approx(expected, abs=0.0051)


@pytest.mark.parametrize(("altitude_m", "expected"), CEILING_US76_KPA.items())
def test_the_physical_ceiling_is_near_that_of_the_standard_atmosphere(altitude_m: float, expected: float) -> None:
    assert physical_ceiling_kpa(station_pressure_kpa(altitude_m), 20.0, 0.0) == pytest.approx(expected, abs=0.41)


@pytest.mark.parametrize(("altitude_m", "expected"), LIMIT_KPA.items())
def test_the_usable_limit_keeps_to_the_table(altitude_m: float, expected: float) -> None:
    assert usable_limit_kpa(station_pressure_kpa(altitude_m), 20.0, 0.0) == pytest.approx(expected, abs=0.051)


@pytest.mark.parametrize(("altitude_m", "expected"), RATIO_KPA.items())
def test_the_other_model_keeps_to_the_table(altitude_m: float, expected: float) -> None:
    assert ratio_limit_kpa(station_pressure_kpa(altitude_m), 20.0, 0.0) == pytest.approx(expected, abs=0.051)


@pytest.mark.parametrize("published_kpa", [85.0, 85.3])
def test_the_margin_gives_the_published_limits_at_sea_level(published_kpa: float) -> None:
    # ISO 11276 (about -85 kPa) and ASTM D3404 (-867 cm of water); Stannard 1992 (-870 cm of water).
    assert usable_limit_kpa(101.325, 20.0, 0.0) == pytest.approx(published_kpa, abs=0.4)


@pytest.mark.parametrize(("height_m", "loss_kpa"), [(1.0, 9.8), (0.3, 2.9)])
def test_a_tube_takes_its_head_off_the_limit(height_m: float, loss_kpa: float) -> None:
    loss = usable_limit_kpa(101.3, 20.0, 0.0) - usable_limit_kpa(101.3, 20.0, height_m)
    assert loss == pytest.approx(loss_kpa, abs=0.05)


def test_a_head_space_in_the_sun_costs_seven_kilopascals() -> None:
    # FAO-56 eq. 11: 9.583 kPa at 45 C against 2.338 kPa at 20 C.
    assert usable_limit_kpa(101.3, 20.0, 0.0) - usable_limit_kpa(101.3, 45.0, 0.0) == pytest.approx(7.245, abs=0.001)
