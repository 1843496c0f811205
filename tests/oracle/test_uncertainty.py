"""The uncertainty budget against a worked example, a program of its own and a simulated truth."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.stats import chi2, norm
from uncertainties import ufloat

from parchd.physics.calibration import fit
from parchd.physics.head import tension_kpa
from parchd.physics.uncertainty import (
    Budget,
    Contribution,
    Sources,
    budget,
    compile_expanded,
    inflation,
    rectangular,
)

# Worked by hand after GUM (JCGM 100:2008): u of each; together 0.321 kPa, U = 0.64 kPa with k = 2.
EXAMPLE = {"calibration": 0.056, "reference": 0.289, "converter": 0.006, "height of water": 0.0565, "zero drift": 0.115}

TEN_STEPS = tuple(-10.0 * step for step in range(9))


def test_the_worked_example_comes_out() -> None:
    made = Budget(tuple(Contribution(name, u, "B", "") for name, u in EXAMPLE.items()))
    assert made.combined_kpa == pytest.approx(0.321, abs=0.0005)
    assert made.expanded_kpa == pytest.approx(0.64, abs=0.005)
    assert made.k == pytest.approx(2.0)
    assert made.largest is not None
    assert made.largest.name == "reference"


def test_the_worked_example_comes_out_of_what_is_known_of_the_instrument() -> None:
    # 0.5 % of 100 kPa, a step of 0.020 kPa, a height to 1 cm, 0.2 kPa of drift, all rectangular.
    points = tuple((x + 0.0515 * (-1) ** i, x) for i, x in enumerate(TEN_STEPS))
    sources = Sources(
        curve=fit(points, s_kpa=0.0531), reference_u_kpa=rectangular(0.5), step_kpa=0.020, height_m=0.6,
        height_half_m=0.01, water_half_c=0.0, drift_kpa_per_year=0.2,
    )  # fmt: skip
    made = budget(sources, -40.0, age_years=1.0)
    assert {one.name: one.u_kpa for one in made.contributions} == pytest.approx(EXAMPLE, abs=0.0006)
    assert made.combined_kpa == pytest.approx(0.321, abs=0.0006)
    assert made.expanded_kpa == pytest.approx(0.64, abs=0.005)


def test_the_whole_chain_propagates_as_the_uncertainties_package_has_it() -> None:
    line = fit(tuple((0.4 + 1.03 * x + 0.05 * (-1) ** i, x) for i, x in enumerate(TEN_STEPS)), s_kpa=0.05)
    sources = Sources(
        curve=line, reference_u_kpa=0.1, step_kpa=0.08, height_m=0.6, height_half_m=0.02, water_half_c=0.0,
        air_u_kpa=0.2, drift_kpa_per_year=0.3,
    )  # fmt: skip
    seen = ufloat(-39.2, math.hypot(0.05, 0.08 / math.sqrt(12.0)))
    curve = ufloat(0.0, math.sqrt(line.u_kpa(-39.2) ** 2 - (0.05 / line.slope) ** 2))
    off = ufloat(0.0, 0.1) + ufloat(0.0, 0.2) + ufloat(0.0, 0.3 / math.sqrt(3.0))
    height = ufloat(0.6, 0.02 / math.sqrt(3.0))
    tension = -((seen - line.intercept_kpa) / line.slope + curve + off) - 9.78910 * height
    made = budget(sources, -39.2, age_years=1.0)
    assert made.combined_kpa == pytest.approx(tension.std_dev, rel=1e-6)


@dataclass(frozen=True)
class Bench:
    """How a transducer is calibrated and used; half-widths but for the two noises."""

    references: tuple[float, ...] = TEN_STEPS
    degree: int = 1
    noise_kpa: float = 0.05
    gauge_u_kpa: float = 0.05
    height_half_m: float = 0.01
    drift_half_kpa: float = 0.1
    step_kpa: float = 0.02


ALONE = Bench(gauge_u_kpa=0.0, height_half_m=0.0, drift_half_kpa=0.0, step_kpa=0.0)
CALIBRATION_ALONE = {
    "nine points": ALONE,
    "three points": replace(ALONE, references=(0.0, -40.0, -80.0)),
    "five points": replace(ALONE, references=TEN_STEPS[::2]),
    "a curve": replace(ALONE, degree=2),
    "a curve through five": replace(ALONE, degree=2, references=TEN_STEPS[::2]),
}
WHOLE_CHAIN = {
    "everything": Bench(),
    "a better gauge": Bench(gauge_u_kpa=0.02, drift_half_kpa=0.05),
    "a noisy transducer": Bench(noise_kpa=0.2, height_half_m=0.02),
    "up and down": Bench(references=TEN_STEPS + TEN_STEPS[-2::-1]),
    "six points": Bench(references=(0.0, -10.0, -20.0, -40.0, -60.0, -80.0)),
    "a curve": Bench(degree=2),
}


def coverage(bench: Bench, calibrations: int, seed: int) -> float:
    """Simulate calibrations and one reading after each; give how often the truth lay within U."""
    dice = np.random.default_rng(seed)
    references = np.array(bench.references)
    held = 0
    for _ in range(calibrations):
        a, b, c = dice.uniform(-2.0, 2.0), dice.uniform(0.95, 1.05), dice.uniform(-3e-4, 3e-4) * (bench.degree - 1)
        seen = a + references * (b + c * references) + dice.normal(0.0, bench.noise_kpa, len(references))
        said = references + dice.normal(0.0, bench.gauge_u_kpa)
        curve = fit(tuple(zip(seen.tolist(), said.tolist(), strict=True)), bench.degree)
        sources = Sources(
            curve=curve, reference_u_kpa=bench.gauge_u_kpa, step_kpa=bench.step_kpa, height_m=0.6,
            height_half_m=bench.height_half_m, water_half_c=0.0, drift_kpa_per_year=bench.drift_half_kpa,
        )  # fmt: skip
        gauge, height, drift, noise = (
            dice.uniform(-80.0, 0.0),
            0.6 + dice.uniform(-1.0, 1.0) * bench.height_half_m,
            dice.uniform(-1.0, 1.0) * bench.drift_half_kpa,
            dice.normal(0.0, bench.noise_kpa),
        )
        reading = float(a + gauge * (b + c * gauge) + drift + noise)
        if bench.step_kpa:
            reading = round(reading / bench.step_kpa) * bench.step_kpa
        error = tension_kpa(curve.reference_kpa(reading), 0.6, 20.0) - tension_kpa(gauge, height, 20.0)
        held += abs(error) <= compile_expanded(sources).kpa(reading, 1.0)
    return held / calibrations


@pytest.mark.parametrize("name", CALIBRATION_ALONE)
def test_an_interval_of_k_2_holds_the_truth_of_a_calibration_as_often_as_it_says(name: str) -> None:
    # 95.45 %; 2000 calibrations have a standard deviation of 0.47 %.
    assert coverage(CALIBRATION_ALONE[name], 2000, seed=4) == pytest.approx(0.9545, abs=0.015)


def test_ten_thousand_calibrations_hold_the_truth_in_95_to_97_of_100_cases() -> None:
    assert 0.94 <= coverage(Bench(), 10_000, seed=5) <= 0.97


@pytest.mark.parametrize("name", WHOLE_CHAIN)
def test_the_whole_chain_holds_the_truth_in_94_to_97_of_100_cases(name: str) -> None:
    # 1500 calibrations have a standard deviation of 0.5 %: one of them is allowed on either side.
    assert 0.935 <= coverage(WHOLE_CHAIN[name], 1500, seed=6) <= 0.975


def held_by(dof: int, ratio: float, draws: int = 200_000) -> float:
    """Give how often U holds a Type A error of few degrees of freedom next to a known one, ``ratio`` times as large."""
    quantiles = (np.arange(draws) + 0.5) / draws
    dice = np.random.default_rng(9)
    s = np.sqrt(chi2.ppf(dice.permutation(quantiles), dof) / dof)
    error = norm.ppf(dice.permutation(quantiles)) + ratio * norm.ppf(dice.permutation(quantiles))
    return float(np.mean(np.abs(error) <= 2.0 * np.hypot(inflation(float(dof)) * s, ratio)))


@pytest.mark.parametrize("ratio", [0.0, 0.25, 0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 20])
def test_mixed_with_other_errors_it_holds_the_truth_at_least_as_often(dof: int, ratio: float) -> None:
    most = {1: 0.99, 2: 0.98, 3: 0.975}.get(dof, 0.97)
    assert 0.9535 <= held_by(dof, ratio) <= most
