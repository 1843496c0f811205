"""The water column against worked values of another program: rho(T) g h, rho after Tanaka 2001, g = 9.80665 m/s2."""

import pytest

from parchd.physics.head import head_kpa, inclined_height_m, tension_kpa
from parchd.physics.water import density_kg_m3
from parchd.units import from_kpa

TEMPERATURES_C = (4.0, 10.0, 20.0, 30.0, 40.0)
TABLE = {
    0.10: (0.9806, 0.9804, 0.9789, 0.9764, 0.9730),
    0.15: (1.4710, 1.4706, 1.4684, 1.4646, 1.4595),
    0.30: (2.9419, 2.9411, 2.9367, 2.9292, 2.9191),
    0.45: (4.4129, 4.4117, 4.4051, 4.3938, 4.3786),
    0.60: (5.8838, 5.8822, 5.8734, 5.8584, 5.8382),
    0.90: (8.8258, 8.8234, 8.8102, 8.7876, 8.7573),
    1.00: (9.8064, 9.8037, 9.7891, 9.7640, 9.7303),
    1.20: (11.7677, 11.7645, 11.7469, 11.7168, 11.6764),
}
CELLS = [
    (height_m, temperature_c, expected)
    for height_m, row in TABLE.items()
    for temperature_c, expected in zip(TEMPERATURES_C, row, strict=True)
]


@pytest.mark.parametrize(("height_m", "water_c", "expected"), CELLS)
def test_each_cell_of_the_head_table_comes_out(height_m: float, water_c: float, expected: float) -> None:
    assert head_kpa(height_m, water_c) == pytest.approx(expected, abs=1e-4)


def test_example_a_thirty_kilopascals_of_vacuum_over_sixty_centimetres() -> None:
    assert tension_kpa(-30.0, 0.60, 20.0) == pytest.approx(24.13, abs=0.005)


def test_example_b_a_cup_in_free_water_has_no_tension() -> None:
    assert tension_kpa(-5.87, 0.60, 20.0) == pytest.approx(0.0, abs=0.005)


def test_example_c_water_stands_above_the_cup() -> None:
    tension = tension_kpa(-2.0, 0.60, 20.0)
    assert tension == pytest.approx(-3.87, abs=0.005)
    centimetres = -tension * 1e5 / (density_kg_m3(20.0) * 9.80665)
    assert centimetres == pytest.approx(39.5, abs=0.1)
    assert from_kpa(-tension, "cmH2O") == pytest.approx(39.5, abs=0.1)


def test_a_metre_of_tube_at_45_degrees_spans_71_centimetres() -> None:
    height_m = inclined_height_m(1.0, 45.0)
    assert height_m == pytest.approx(0.7071, abs=5e-5)
    assert head_kpa(height_m, 20.0) == pytest.approx(6.92, abs=0.005)


def test_ten_centimetres_of_lost_water_are_one_kilopascal_of_understated_tension() -> None:
    wrong, right = tension_kpa(-30.0, 0.60, 20.0), tension_kpa(-30.0, 0.50, 20.0)
    assert right - wrong == pytest.approx(0.98, abs=0.005)
