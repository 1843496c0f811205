"""Total head and gradient against worked values: H = -T / 9.80665 - depth, G = (H shallow - H deep) / spacing."""

import pytest

from parchd.physics.flow import CupTension, total_head_m, vertical_flow

# Tension at 0.30 m and 0.60 m: heads where given, gradient, direction.
EXAMPLES = [
    (20.0, 30.0, 4.399, "down"),
    (20.0, 20.0, 1.000, "down"),
    (50.0, 30.0, -5.798, "up"),
    (22.942, 20.0, 0.000, "none"),
]


@pytest.mark.parametrize(("shallow_kpa", "deep_kpa", "gradient", "direction"), EXAMPLES)
def test_the_four_examples_come_out(shallow_kpa: float, deep_kpa: float, gradient: float, direction: str) -> None:
    flow = vertical_flow(CupTension(0.30, shallow_kpa), CupTension(0.60, deep_kpa))
    assert flow.gradient == pytest.approx(gradient, abs=0.0005)
    assert flow.direction == direction


def test_total_heads_of_the_first_example() -> None:
    assert total_head_m(20.0, 0.30) == pytest.approx(-2.3394, abs=5e-5)
    assert total_head_m(30.0, 0.60) == pytest.approx(-3.6591, abs=5e-5)


def test_without_flux_tensions_differ_by_the_weight_of_the_water_between() -> None:
    # rho g dz with 1000 kg/m3 by convention: 2.942 kPa for 0.30 m, 9.81 kPa for a metre.
    flow = vertical_flow(CupTension(0.0, 10.0 + 9.80665), CupTension(1.0, 10.0))
    assert flow.gradient == pytest.approx(0.0, abs=1e-12)


def test_uncertainties_of_0_6_kilopascals_leave_0_29_of_gradient_open() -> None:
    flow = vertical_flow(CupTension(0.30, 22.6, 0.6), CupTension(0.60, 20.0, 0.6))
    assert flow.u_gradient == pytest.approx(0.29, abs=0.005)
    assert flow.gradient == pytest.approx(0.116, abs=0.001)
    assert flow.direction == "unclear"


def test_heads_of_the_tubes_left_in_turn_the_direction_round() -> None:
    # Cups at 0.30 m and 0.60 m, transducers 0.45 m and 0.75 m above them: 3 kPa between the columns.
    true = vertical_flow(CupTension(0.30, 24.0), CupTension(0.60, 20.0))
    uncorrected = vertical_flow(CupTension(0.30, 24.0 + 4.41), CupTension(0.60, 20.0 + 7.34))
    assert true.direction == "up"
    assert uncorrected.direction == "down"
