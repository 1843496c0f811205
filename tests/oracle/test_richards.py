"""The soil water solver against what is known without it, and against SciPy's stiff solver on the same equations."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from parchd.physics.retention import KPA_PER_CM, SOILS, Retention
from parchd.simulator.richards import Flows, Richards, Water, ground_of

Floats = NDArray[np.float64]
THIN = np.full(40, 2.5)
COARSE_TO_FINE = ["sand", "sandy loam", "loam", "silt loam", "clay loam", "clay"]


def soils(names: list[str]) -> list[Retention]:
    return [SOILS[name] for name in names]


def advance(
    solver: Richards, water: Water, days: float, rain_cm_d: Floats, sink: Floats, step_d: float
) -> tuple[Water, Flows]:
    """Step through some days, halving steps that are too long."""
    zero = np.zeros(len(rain_cm_d))
    into, out, taken, off = zero.copy(), zero.copy(), zero.copy(), zero.copy()
    at, step = 0.0, step_d
    while at < days - 1e-12:
        step = min(step, days - at)
        done = solver.step(water, step, rain_cm_d, sink)
        if done is None:
            step /= 2.0
            assert step > 1e-9, "the solver is stuck"
            continue
        water, flows, _ = done
        into, out = into + flows.infiltrated_cm, out + flows.drained_cm
        taken, off = taken + flows.taken_cm, off + flows.ran_off_cm
        at, step = at + step, min(2.0 * step, step_d)
    return water, Flows(into, out, taken, off)


def test_water_at_rest_over_a_closed_bottom_stays_at_rest() -> None:
    ground = ground_of(soils(COARSE_TO_FINE), THIN)
    solver = Richards(ground, free_drainage=False)
    still = np.tile(ground.centre_cm - 150.0, (len(COARSE_TO_FINE), 1))
    water, flows = advance(solver, solver.start(still), 20.0, np.zeros(6), np.zeros_like(still), 0.5)
    assert water.height_cm == pytest.approx(still, abs=0.05)
    assert flows.drained_cm == pytest.approx(np.zeros(6))


def test_over_a_closed_bottom_water_comes_to_rest_with_its_tension_falling_a_centimetre_each_centimetre() -> None:
    ground = ground_of(soils(["sandy loam", "loam"]), np.full(20, 2.5))
    solver = Richards(ground, free_drainage=False)
    water, _ = advance(solver, solver.start(np.full((2, 20), -40.0)), 400.0, np.zeros(2), np.zeros((2, 20)), 1.0)
    assert np.diff(water.height_cm, axis=1) == pytest.approx(np.full((2, 19), 2.5), abs=0.1)


def test_no_water_is_lost_or_made_in_a_month_of_storms_and_thirsty_roots() -> None:
    ground = ground_of(soils(COARSE_TO_FINE), THIN)
    solver = Richards(ground)
    water = solver.start(np.full((6, 40), -100.0))
    before = (solver.content(water.height_cm) * THIN).sum(axis=1)
    net, moved = np.zeros(6), np.zeros(6)
    sink = np.zeros((6, 40))
    sink[:, :20] = 0.005
    for day in range(30):
        rain = np.full(6, 6.0 if day % 6 == 0 else 0.0)
        thirst = np.minimum(sink, 0.3 * np.maximum(water.content - ground.theta_r, 0.0))
        water, flows = advance(solver, water, 1.0, rain, thirst, 0.02)
        net += flows.infiltrated_cm - flows.drained_cm - flows.taken_cm
        moved += flows.infiltrated_cm
    after = (solver.content(water.height_cm) * THIN).sum(axis=1)
    assert np.abs(after - before - net).max() < 1e-3 * moved.max()
    assert (np.abs(after - before - net) < 0.01 * moved).all()


def test_under_standing_water_a_soil_takes_its_saturated_conductivity_in_the_end() -> None:
    ground = ground_of(soils(["sandy loam", "loam", "silt loam"]), THIN)
    solver = Richards(ground, pond_most_cm=1.0)
    rain = 1.5 * ground.ks_cm_d[:, 0]
    water = solver.start(np.full((3, 40), -50.0))
    water, _ = advance(solver, water, 30.0, rain, np.zeros((3, 40)), 0.05)
    _, flows = advance(solver, water, 1.0, rain, np.zeros((3, 40)), 0.05)
    assert flows.infiltrated_cm == pytest.approx(ground.ks_cm_d[:, 0], rel=0.01)
    assert flows.drained_cm == pytest.approx(ground.ks_cm_d[:, 0], rel=0.01)
    assert flows.ran_off_cm == pytest.approx(0.5 * ground.ks_cm_d[:, 0], rel=0.02)


def test_under_steady_rain_the_column_drains_at_the_tension_whose_conductivity_is_the_rain() -> None:
    names = ["sand", "loam", "silt loam"]
    ground = ground_of(soils(names), THIN, entry_cm=0.0)
    solver = Richards(ground)
    rain = np.array([5.0, 0.5, 0.2])
    water, flows = advance(solver, solver.start(np.full((3, 40), -60.0)), 60.0, rain, np.zeros((3, 40)), 1.0 / 24.0)
    assert flows.infiltrated_cm == pytest.approx(60.0 * rain, rel=1e-3)
    for column, name in enumerate(names):
        conducted = SOILS[name].conductivity_cm_d(-water.height_cm[column] * KPA_PER_CM)
        assert conducted == pytest.approx(np.full(40, rain[column]), rel=0.02)


def independent(soil: Retention, thickness: Floats, start_cm: float, rain_cm_d: float, days: float) -> Floats:
    """Solve for the water contents with SciPy: methods of lines, its own curves, BDF with error control."""
    between = (thickness[1:] + thickness[:-1]) / 2.0
    width = soil.theta_s - soil.theta_r

    def heights(theta: Floats) -> Floats:
        filled = np.clip((theta - soil.theta_r) / width, 1e-9, 1.0 - 1e-12)
        return -((filled ** (-1.0 / soil.m) - 1.0) ** (1.0 / soil.n)) / soil.alpha_per_cm

    def change(_: float, theta: Floats) -> Floats:
        height = heights(theta)
        k = soil.conductivity_cm_d(-height * KPA_PER_CM)
        middle = (k[1:] + k[:-1]) / 2.0
        flux = np.concatenate(([rain_cm_d], middle * (1.0 - np.diff(height) / between), [k[-1]]))
        rate: Floats = -np.diff(flux) / thickness
        return rate

    begin = np.full(len(thickness), soil.theta(-start_cm * KPA_PER_CM))
    result = solve_ivp(change, (0.0, days), begin, method="BDF", rtol=1e-8, atol=1e-10)
    assert result.success
    end: Floats = result.y[:, -1]
    return end


@pytest.mark.parametrize(
    ("name", "start_cm", "rain_cm_d", "days"),
    [
        ("loam", -500.0, 4.0, 0.6),
        ("sandy loam", -200.0, 8.0, 0.4),
        ("silt loam", -800.0, 2.0, 1.5),
        ("loam", -30.0, 0.0, 5.0),
    ],
)
def test_a_wetting_front_and_a_draining_column_are_where_an_independent_solver_puts_them(
    name: str, start_cm: float, rain_cm_d: float, days: float
) -> None:
    thickness = np.full(30, 2.0)
    solver = Richards(ground_of([SOILS[name]], thickness, entry_cm=0.0))
    water = solver.start(np.full((1, 30), start_cm))
    water, _ = advance(solver, water, days, np.array([rain_cm_d]), np.zeros((1, 30)), days / 2000.0)
    expected = independent(SOILS[name], thickness, start_cm, rain_cm_d, days)
    assert water.content[0] == pytest.approx(expected, abs=0.004)
    assert (water.content[0] * thickness).sum() == pytest.approx((expected * thickness).sum(), rel=2e-4)


def test_a_front_enters_dry_sand_without_the_solver_getting_stuck() -> None:
    thickness = np.array([4.0, 5.0, 6.0, 7.0, 8.0, 8.0, 8.0, 8.0])
    solver = Richards(ground_of(soils(["sand"]), thickness))
    water, flows = advance(
        solver, solver.start(np.full((1, 8), -3000.0)), 0.3, np.array([20.0]), np.zeros((1, 8)), 0.01
    )
    assert flows.infiltrated_cm[0] == pytest.approx(6.0, rel=1e-6)
    assert -water.height_cm[0, 4] < 50.0


def test_water_that_cannot_enter_stands_and_then_runs_off() -> None:
    solver = Richards(ground_of(soils(["silty clay"]), THIN), pond_most_cm=1.5)
    water = solver.start(np.full((1, 40), -50.0))
    water, flows = advance(solver, water, 0.5, np.array([20.0]), np.zeros((1, 40)), 0.01)
    assert water.pond_cm[0] == pytest.approx(1.5, abs=1e-9)
    assert flows.ran_off_cm[0] + flows.infiltrated_cm[0] + 1.5 == pytest.approx(10.0, rel=1e-6)
