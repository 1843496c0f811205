"""Budgets in parts are the sums that every reading carries."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.contract import Unit
from parchd.physics.adc import Adc
from parchd.physics.calibration import Calibration, CalibrationKind
from parchd.physics.reference import Reference
from parchd.physics.transducers import DirectPressure
from parchd.physics.uncertainty import Sources
from parchd.pipeline.budgets import budget_at, in_force_at
from parchd.pipeline.convert import Known, compile_conversion
from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.site import tensiometer

YEAR_US = round(365.25 * 86_400) * US_PER_S
POINTS = ((0.55, 0.0), (-19.3, -20.0), (-39.6, -40.0), (-59.2, -60.0), (-79.5, -80.0))
LATER = tuple((indicated + 0.8, reference) for indicated, reference in POINTS)
BENCH = Calibration(YEAR_US, "1971-01-01", POINTS, reference_u_kpa=0.1)
FIELD = Calibration(2 * YEAR_US, "1972-01-01", LATER)
CURVED = replace(BENCH, degree=2)
REZERO = Calibration(2 * YEAR_US, "1972-01-01", ((0.9, 0.0),), kind=CalibrationKind.ZERO)
ERRORS = Sources(
    accuracy_kpa=1.5, height_m=0.6, height_half_m=0.02, air_u_kpa=0.1, transducer_half_kpa=0.3, drift_kpa_per_year=0.4,
    readings=4, step_kpa=0.05,
)  # fmt: skip
HISTORIES: dict[str, tuple[Calibration, ...]] = {
    "none": (),
    "one": (BENCH,),
    "curved": (CURVED,),
    "two": (BENCH, FIELD),
    "drifting": (replace(BENCH, drifts=True), FIELD),
    "rezeroed": (BENCH, REZERO),
    "one point": (Calibration(YEAR_US, "1971-01-01", ((0.5, 0.0),)),),
}


def setup_of(history: str, transducer: DirectPressure | None = None) -> TensiometerSetup:
    return tensiometer(
        "north-60", "a", transducer or DirectPressure(), height_m=0.6, calibrations=HISTORIES[history], errors=ERRORS
    )


@given(
    history=st.sampled_from(list(HISTORIES)),
    indicated_kpa=st.floats(-85.0, 5.0),
    years=st.floats(0.0, 4.0),
)
def test_a_budget_adds_up_to_what_a_reading_of_that_tension_carries(
    history: str, indicated_kpa: float, years: float
) -> None:
    setup, time_us = setup_of(history), round(years * YEAR_US)
    reading = compile_conversion(setup)(indicated_kpa, Unit.KPA, time_us, Known())
    assert reading.tension_kpa is not None
    made = budget_at(setup, reading.tension_kpa, time_us)
    assert made.budget.expanded_kpa == pytest.approx(reading.uncertainty_kpa, rel=1e-6)
    assert made.in_force.label == reading.calibration


@pytest.mark.parametrize("reference", [Reference.ABSOLUTE, Reference.SEALED])
def test_a_transducer_that_feels_the_air_has_its_calibration_looked_up_at_its_own_pressure(
    reference: Reference,
) -> None:
    shift = 101.3 if reference is Reference.ABSOLUTE else 101.3 - 101.325
    points = tuple((indicated + shift, pressure + shift) for indicated, pressure in POINTS)
    plain = setup_of("one")
    airy = replace(setup_of("one", DirectPressure(reference=reference)), calibrations=(replace(BENCH, points=points),))
    for tension_kpa in (0.0, 30.0, 70.0):
        alike = [budget_at(setup, tension_kpa, YEAR_US).budget.expanded_kpa for setup in (plain, airy)]
        assert alike[0] == pytest.approx(alike[1], rel=1e-9)


def test_what_is_in_force_changes_with_the_date_of_each_calibration() -> None:
    setup = setup_of("two")
    found = [in_force_at(setup, time_us) for time_us in (YEAR_US - 1, YEAR_US, 2 * YEAR_US - 1, 2 * YEAR_US)]
    assert [one.label for one in found] == ["", "1971-01-01", "1971-01-01", "1972-01-01"]
    assert [one.sources.reference_u_kpa for one in found] == [0.0, 0.1, 0.1, 0.0]
    assert [one.age_years for one in found] == pytest.approx([0.0, 0.0, 1.0, 0.0], abs=1e-6)


def test_a_field_check_keeps_the_reference_of_the_bench() -> None:
    assert in_force_at(setup_of("rezeroed"), 3 * YEAR_US).sources.reference_u_kpa == 0.1


@pytest.mark.parametrize(("tension_kpa", "beyond"), [(70.0, False), (75.0, True), (-7.0, True), (-5.8, False)])
def test_a_pressure_without_points_is_told(tension_kpa: float, beyond: bool) -> None:
    """The points span 0 to -80 kPa at the transducer, and 60 cm of water weigh 5.87 kPa (facts 1.4)."""
    assert budget_at(setup_of("one"), tension_kpa, 2 * YEAR_US).beyond_span is beyond


def test_nothing_is_beyond_the_points_of_no_calibration() -> None:
    assert not budget_at(setup_of("none"), 99.0, 0).beyond_span


def test_the_converter_is_part_of_it() -> None:
    fine = replace(setup_of("one"), errors=replace(ERRORS, step_kpa=0.0), adc=Adc(12, 5.0))
    names = [one.name for one in budget_at(fine, 30.0, 2 * YEAR_US).budget.contributions]
    assert "converter" not in names
    assert "converter" in [one.name for one in budget_at(setup_of("one"), 30.0, 2 * YEAR_US).budget.contributions]
