import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.adc import Adc
from parchd.physics.calibration import Blend, Fit, blend, fit, rezero, straight
from parchd.physics.head import head_kpa
from parchd.physics.student import t_factor
from parchd.physics.transducers import Bridge, CurrentLoop, DigitalScale, DirectPressure, LinearVoltage, Transducer
from parchd.physics.uncertainty import (
    Budget,
    Contribution,
    Sources,
    age_years,
    budget,
    compile_expanded,
    inflation,
    rectangular,
    step_kpa,
)

DICE = random.Random(11)
POINTS = tuple((0.3 + x * (1.02 + 1e-4 * x) + DICE.gauss(0.0, 0.05), x) for x in (-10.0 * step for step in range(9)))
LINE, CURVE, THREE = fit(POINTS), fit(POINTS, degree=2), fit(POINTS[::4])
CURVES: list[Fit | Blend | None] = [
    None, straight(0.0, 1.0), LINE, CURVE, THREE, rezero(LINE, 0.9, 0.0), blend(LINE, CURVE, 0.3),
]  # fmt: skip
SMALL = st.floats(0.0, 2.0)
SOURCES = st.builds(
    Sources,
    curve=st.sampled_from(CURVES),
    accuracy_kpa=SMALL,
    reference_u_kpa=SMALL,
    step_kpa=SMALL,
    readings=st.integers(1, 100),
    height_m=st.floats(-0.5, 1.5),
    height_half_m=st.floats(0.0, 0.1),
    water_half_c=st.floats(0.0, 20.0),
    air_u_kpa=SMALL,
    transducer_half_kpa=SMALL,
    drift_kpa_per_year=SMALL,
)
READINGS = st.floats(-100.0, 20.0)
AGES = st.floats(0.0, 10.0)


@settings(deadline=None)
@given(SOURCES, READINGS, AGES)
def test_the_whole_is_never_less_than_any_part(sources: Sources, kpa: float, age: float) -> None:
    made = budget(sources, kpa, age)
    for one in made.contributions:
        assert made.combined_kpa >= one.u_kpa * (1 - 1e-12)
        assert made.expanded_kpa >= one.expanded_kpa * (1 - 1e-12)
    assert made.expanded_kpa >= 2.0 * made.combined_kpa * (1 - 1e-12)
    assert sum(made.share(one) for one in made.contributions) == pytest.approx(1.0 if made.expanded_kpa > 0 else 0.0)


@settings(deadline=None)
@given(SOURCES, READINGS, AGES)
def test_the_quick_form_is_the_budget(sources: Sources, kpa: float, age: float) -> None:
    quick = compile_expanded(sources).kpa(kpa, age)
    assert quick == pytest.approx(budget(sources, kpa, age).expanded_kpa, rel=1e-12, abs=1e-12)


@settings(deadline=None)
@given(SOURCES, st.lists(READINGS, min_size=1, max_size=20), AGES)
def test_a_column_gives_to_the_last_bit_what_each_reading_gives(sources: Sources, kpa: list[float], age: float) -> None:
    compiled = compile_expanded(sources)
    together = compiled.kpa(np.array(kpa), age)
    np.testing.assert_array_equal(together, [compiled.kpa(one, age) for one in kpa])
    by_age = compiled.kpa(np.array(kpa), np.full(len(kpa), age))
    np.testing.assert_array_equal(by_age, together)


@settings(deadline=None)
@given(SOURCES, READINGS, AGES, AGES)
def test_an_unchecked_zero_only_gets_worse(sources: Sources, kpa: float, age: float, more: float) -> None:
    assert budget(sources, kpa, age + more).expanded_kpa >= budget(sources, kpa, age).expanded_kpa


@pytest.mark.parametrize("curve", [None, straight(0.0, 1.0), fit(POINTS[:2]), fit(POINTS[:1])])
def test_without_a_calibration_that_shows_its_scatter_the_data_sheet_counts(curve: Fit | None) -> None:
    first = budget(Sources(curve=curve, accuracy_kpa=1.5), -30.0).contributions[0]
    assert (first.name, first.evaluation) == ("data sheet", "B")
    assert first.u_kpa == pytest.approx(1.5 / math.sqrt(3.0))


def test_a_calibration_comes_first_with_its_degrees_of_freedom() -> None:
    first = budget(Sources(curve=LINE), -30.0).contributions[0]
    assert (first.name, first.evaluation, first.dof) == ("calibration", "A", 7.0)
    assert first.u_kpa == LINE.u_kpa(-30.0)
    assert first.expanded_kpa == pytest.approx(t_factor(7.0) * first.u_kpa)
    assert "9 points" in first.detail


def test_the_words_tell_a_known_scatter_and_a_blend() -> None:
    known = fit(POINTS[:2], s_kpa=0.05)
    assert "known" in budget(Sources(curve=known), -30.0).contributions[0].detail
    mixed = blend(LINE, CURVE, 0.5)
    assert "two calibrations of 9 and 9 points" in budget(Sources(curve=mixed), -30.0).contributions[0].detail


def test_nothing_is_listed_that_adds_nothing() -> None:
    bare = Sources(curve=LINE, height_half_m=0.0, water_half_c=0.0)
    assert [one.name for one in budget(bare, -30.0).contributions] == ["calibration"]


def test_each_source_arrives_with_its_sensitivity() -> None:
    sources = Sources(
        curve=fit(tuple((2.0 * y / 1.02, x) for y, x in POINTS)),
        reference_u_kpa=0.1, step_kpa=0.2, height_m=1.0, height_half_m=0.02, water_c=20.0, water_half_c=10.0,
        air_u_kpa=0.03, transducer_half_kpa=0.3, drift_kpa_per_year=0.4,
    )  # fmt: skip
    found = {one.name: one.u_kpa for one in budget(sources, -30.0, 0.5).contributions}
    del found["calibration"]
    assert sources.curve is not None
    assert found == pytest.approx(
        {
            "reference": 0.1,
            "converter": 0.2 / sources.curve.slope / math.sqrt(12.0),
            "height of water": 9.7891 * 0.02 / math.sqrt(3.0),
            "temperature of water": (head_kpa(1.0, 20.0) - head_kpa(1.0, 30.0)) / math.sqrt(3.0),
            "pressure of the air": 0.03,
            "temperature of transducer": 0.3 / math.sqrt(3.0),
            "zero drift": 0.2 / math.sqrt(3.0),
        },
        rel=1e-5,
    )


def test_near_four_degrees_the_temperature_of_the_water_still_counts() -> None:
    cold = budget(Sources(height_m=1.0, water_c=4.0, water_half_c=4.0), -30.0)
    assert cold.contributions[-1].name == "temperature of water"
    assert cold.contributions[-1].u_kpa == pytest.approx(9.8066e-3 * 0.132 / math.sqrt(3.0), rel=0.01)


def test_the_largest_is_what_to_improve_first() -> None:
    assert budget(Sources(curve=LINE, reference_u_kpa=0.3), -30.0).largest == Contribution(
        "reference", 0.3, "B", "gauge or column of the calibration"
    )
    assert Budget(()).largest is None
    assert (Budget(()).expanded_kpa, Budget(()).k) == (0.0, 2.0)


def test_k_is_two_unless_few_points_stand_behind_the_sum() -> None:
    known, thin = Contribution("a", 0.3, "B", ""), Contribution("b", 0.3, "A", "", dof=2.0)
    assert Budget((known,)).k == pytest.approx(2.0)
    assert Budget((known, thin)).k == pytest.approx(math.hypot(2.0, t_factor(2.0)) / math.sqrt(2.0))
    assert inflation(math.inf) == 1.0


def test_limits_on_either_side_are_a_standard_uncertainty() -> None:
    assert rectangular(-0.3) == rectangular(0.3) == pytest.approx(np.std(np.linspace(-0.3, 0.3, 100_001)), rel=1e-4)


def test_ages_are_years_from_the_check_on_either_side() -> None:
    year_us = round(365.25 * 86_400e6)
    assert age_years(2 * year_us, year_us) == age_years(0, year_us) == 1.0


LOOP = CurrentLoop(0.0, -100.0, shunt_ohm=150.0)
STEPS: list[tuple[Transducer, Adc | None, float]] = [
    (LinearVoltage(0.5, 0.0, 4.5, -100.0), Adc(12, 5.0), 5.0 / 4096 * 25.0),
    (LOOP, Adc(12, 3.3), 3.3 / 4096 / 0.150 / 16 * 100.0),
    (CurrentLoop(0.0, -100.0), Adc(12, 3.3), 0.0),
    (Bridge(3.33, 100.0), Adc(24, 0.04, signed=True), 0.04 / 2**23 / 0.01665 * 100.0),
    (DigitalScale(14, -100.0, 0.0), None, 100.0 / (0.8 * 16384)),
    (LinearVoltage(0.5, 0.0, 4.5, -100.0), None, 0.0),
    (DirectPressure(), Adc(12, 5.0), 0.0),
]


@pytest.mark.parametrize(("transducer", "adc", "expected_kpa"), STEPS)
def test_one_step_of_the_converter_in_kilopascals(transducer: Transducer, adc: Adc | None, expected_kpa: float) -> None:
    assert step_kpa(transducer, adc) == pytest.approx(expected_kpa, rel=1e-6)


def test_a_lower_supply_makes_a_ratiometric_step_larger() -> None:
    bridge = Bridge(3.33, 100.0)
    assert step_kpa(bridge, Adc(24, 0.04), 2.5) == pytest.approx(2 * step_kpa(bridge, Adc(24, 0.04)))


@pytest.mark.parametrize("name", ["accuracy_kpa", "step_kpa", "air_u_kpa", "drift_kpa_per_year", "reference_u_kpa"])
@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf])
def test_sources_that_make_no_sense_are_refused(name: str, value: float) -> None:
    numbers = {name: value}
    with pytest.raises(ValueError, match=f"{name} is 0 or more"):
        Sources(**numbers)  # type: ignore[arg-type]  # one name of many


def test_a_sample_is_one_reading_at_least() -> None:
    with pytest.raises(ValueError, match="one reading at least"):
        Sources(readings=0)


@pytest.mark.parametrize("u_kpa", [-0.1, math.nan, math.inf])
def test_a_contribution_is_a_number(u_kpa: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        Contribution("a", u_kpa, "B", "")
