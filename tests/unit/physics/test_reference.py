import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.reference import (
    SEALED_AT_KPA,
    Reference,
    from_gauge_kpa,
    gauge_from_absolute_kpa,
    gauge_from_sealed_kpa,
    to_gauge_kpa,
)

AIRS = st.floats(60.0, 110.0)


@settings(deadline=None)
@given(st.sampled_from(Reference), st.floats(-100.0, 50.0), AIRS)
def test_there_and_back_is_the_same_pressure(reference: Reference, gauge_kpa: float, air_kpa: float) -> None:
    indicated = from_gauge_kpa(gauge_kpa, reference, air_kpa)
    assert to_gauge_kpa(indicated, reference, air_kpa) == pytest.approx(gauge_kpa, abs=1e-12)


@settings(deadline=None)
@given(st.floats(-100.0, 50.0), AIRS, st.floats(-3.0, 3.0))
def test_an_error_of_the_barometer_comes_one_to_one_into_the_pressure(kpa: float, air_kpa: float, off: float) -> None:
    wrong = gauge_from_absolute_kpa(kpa, air_kpa + off)
    assert gauge_from_absolute_kpa(kpa, air_kpa) - wrong == pytest.approx(off, abs=1e-9)
    assert to_gauge_kpa(kpa, Reference.GAUGE, air_kpa) == to_gauge_kpa(kpa, Reference.GAUGE, air_kpa + off) == kpa


@settings(deadline=None)
@given(st.floats(-100.0, 50.0), AIRS)
def test_a_gauge_sealed_in_a_vacuum_is_an_absolute_one(kpa: float, air_kpa: float) -> None:
    assert gauge_from_sealed_kpa(kpa, air_kpa, 0.0) == gauge_from_absolute_kpa(kpa, air_kpa)


def test_a_sealed_gauge_is_right_on_the_day_the_air_is_what_was_sealed_in() -> None:
    assert gauge_from_sealed_kpa(-40.0, SEALED_AT_KPA) == pytest.approx(-40.0, abs=1e-12)
    assert gauge_from_sealed_kpa(-40.0, 98.325) == pytest.approx(-37.0, abs=1e-12)


def test_each_reference_says_whether_it_needs_the_air() -> None:
    assert [reference.needs_air for reference in Reference] == [False, True, True]
